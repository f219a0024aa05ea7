"""What a program that makes cards calls besides the stages."""

from pathlib import Path

from trace2pop import output
from trace2pop.commands.check import check_written
from trace2pop.commands.files import card_files
from trace2pop.commands.make import SETTINGS_FILE, settings_text
from trace2pop.model.settings import Settings
from trace2pop.pipeline import Made
from trace2pop.settings import Project


def write_card(
    made: Made, settings: Settings, picture: Path, folder: Path, *, force: bool = False
) -> tuple[str, ...]:
    """Write a card's folder: checked before it is put in place, whole or not at all.

    ``picture`` and ``settings`` are those the card was made of; card.toml names them. Returns the
    names of files that were kept because someone had changed them, which ``force`` replaces.

    Raises:
        OutputError: where the folder isn't empty (unless ``force``) or can't be written.
        CheckError: where the written files don't pass their check; nothing is put in place then.
    """
    project = Project(picture.resolve(), settings)
    with output.opened(folder.absolute(), force=force, rerun=False) as delivery:
        text = settings_text(project, folder.absolute(), made)
        files = {**card_files(made, settings), SETTINGS_FILE: text}
        return delivery.deliver(files, check_written).kept
