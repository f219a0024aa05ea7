"""trace2pop check: what was written, judged from the files alone."""

from pathlib import Path

from trace2pop.checks import Report, check
from trace2pop.console import Console
from trace2pop.errors import CheckError, UsageError
from trace2pop.output import written_files


def check_folder(folder: Path, console: Console) -> None:
    """Print what a check of a folder found.

    Raises:
        UsageError: where ``folder`` is no folder of a card.
        CheckError: where anything is wrong.
    """
    if not (folder / "card.json").exists() and not written_files(folder):
        raise UsageError(
            f"{folder} isn't the folder of a card", "name a folder that trace2pop make wrote"
        )
    report = check(folder)
    console.result(report.table())
    for message in report.messages():
        console.paragraph(message)
    _refuse(report)


def check_written(folder: Path) -> None:
    """Judge a folder just written, before it is put in place.

    Raises:
        CheckError: where anything is wrong.
    """
    _refuse(check(folder))


def _refuse(report: Report) -> None:
    if report.passed:
        return
    first = report.failures[0]
    more = len(report.failures) - 1
    others = f" (and {more} more)" if more else ""
    raise CheckError(
        f"{first.rule}: {first.where}: {first.text}{others}",
        "cut nothing from this folder; docs/checks.md says what each check means",
    )
