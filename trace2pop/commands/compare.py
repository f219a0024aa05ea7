"""trace2pop compare: what differs between two cards, in numbers and in one picture."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import shapely

from trace2pop.checks.folder import Folder, read_folder
from trace2pop.checks.report import Judge
from trace2pop.commands import differences
from trace2pop.commands.differences import Difference
from trace2pop.commands.single import write_single
from trace2pop.console import Console
from trace2pop.errors import UsageError
from trace2pop.formats.overlay import Layer, overlay_png
from trace2pop.mechanism.beam import flange_pair
from trace2pop.output import changed_files


def compare(first: Path, second: Path, out: Path | None, *, force: bool, console: Console) -> None:
    """Print what differs between two cards' folders, and write one picture of both.

    Raises:
        UsageError: where one of them is no folder of a card.
        OutputError: where the picture is there already or can't be written.
    """
    homes = [path.parent if path.name == "card.toml" else path for path in (first, second)]
    folders = [_read(home) for home in homes]
    layers = [_layer(folder, f"{home}") for folder, home in zip(folders, homes, strict=True)]
    picture = out or Path(f"{homes[0].resolve().name}-{homes[1].resolve().name}.png")
    console.result([("A", str(homes[0])), ("B", str(homes[1]))])
    blocks = (
        ("Choices", differences.choices_made(*homes)),
        ("Numbers", differences.numbers(*folders)),
        ("Outline", differences.outlines(layers[0].motif, layers[1].motif)),
        ("Beams", differences.beams(*folders)),
        ("Findings", differences.findings(*folders)),
    )
    for home in homes:
        if "card.toml" in changed_files(home):
            console.line("")
            console.paragraph(
                f"The choices in {home / 'card.toml'} were changed after the card was made: run "
                f"trace2pop make {home / 'card.toml'}, then compare again."
            )
    told = [_block(title, [*rows], console) for title, rows in blocks]
    if not any(told):
        console.line("nothing differs")
    write_single(picture, overlay_png(*layers), force=force)
    console.result([("picture", str(picture))])


def _read(home: Path) -> Folder:
    judge = Judge()
    folder = read_folder(home, judge) if home.is_dir() else None
    if folder is None or "motif" not in folder.pieces or folder.pieces["motif"].part.origin is None:
        raise UsageError(
            f"{home} isn't the folder of a card", "name two folders that trace2pop make wrote"
        )
    return folder


def _layer(folder: Folder, name: str) -> Layer:
    plan = folder.plan
    flanges = [
        flange_pair(beam.u, beam.v0, beam.v1, beam.flange, beam.taper_deg) for beam in plan.beams
    ]
    motif = folder.pieces["motif"]
    return Layer(
        name=name,
        motif=motif.on_card(motif.paper),
        base=(plan.number("card", "half_width"), plan.number("card", "height")),
        beams=tuple(
            np.asarray(part.exterior.coords)[:-1]
            for shape in flanges
            for part in shapely.get_parts(shape)
        ),
        folds=tuple(np.array([[beam.u, beam.v0], [beam.u, beam.v1]]) for beam in plan.beams),
        hand=tuple(line for part in plan.hand for line in part.lines),
    )


def _block(title: str, rows: Iterable[Difference], console: Console) -> bool:
    found = list(rows)
    if found:
        console.line("")
        cells = [(row.name, row.first, row.second, row.by) for row in found]
        used = 4 if any(row.by for row in found) else 3
        head = (title, "A", "B", "B - A")[:used]
        console.table(head, [row[:used] for row in cells])
    return bool(found)
