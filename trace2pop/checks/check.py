"""Judges a card's folder from its written files alone."""

from pathlib import Path

from trace2pop.checks.base import check_base, read_base
from trace2pop.checks.beams import build_beams, check_flanges
from trace2pop.checks.contours import check_pieces, check_sheets_lines
from trace2pop.checks.folder import read_folder
from trace2pop.checks.formats import check_formats
from trace2pop.checks.insertion import Standing, check_insertions
from trace2pop.checks.layout import check_layout
from trace2pop.checks.motion import check_motif, check_motion, check_numbers, motif_piece
from trace2pop.checks.node import PlanError
from trace2pop.checks.others import check_others
from trace2pop.checks.report import Judge, Report
from trace2pop.errors import UsageError


def check(folder: Path) -> Report:
    """Read a card's folder back and judge it.

    Nothing that wrote the files is used to read them: pieces are rebuilt from their lines, put
    together, and closed. What can't be read is a failure, and the rest is judged as far as it goes.

    Raises:
        UsageError: where ``folder`` is no folder.
    """
    if not folder.is_dir():
        raise UsageError(
            f"{folder} is no folder", "name the folder that trace2pop make wrote for a card"
        )
    judge = Judge()
    read = read_folder(folder, judge)
    if read is None:
        return Report(tuple(judge))
    try:
        check_pieces(read, judge)
        check_sheets_lines(read.sheets, judge)
        check_layout(read, judge)
        beams = build_beams(read, judge)
        base = read_base(read, judge)
        motif = motif_piece(read, judge)
        if motif is not None:
            check_flanges(read, beams, motif.on_card(motif.paper), judge)
            check_motif(read, motif, judge)
        if base is not None:
            check_base(read, base, beams, judge)
        if base is not None and motif is not None:
            inset = read.plan.choice("supports", "inset")
            paper = motif.on_card(motif.paper)
            check_insertions(Standing(base, beams, paper, inset), judge)
            check_motion(read, base, motif, beams, judge)
            check_numbers(read, base, motif, judge)
        check_others(read, base, motif, beams, judge)
        check_formats(read, judge)
    except PlanError as error:
        judge.holds("plan", "card.json", False, str(error))
    return Report(tuple(judge))
