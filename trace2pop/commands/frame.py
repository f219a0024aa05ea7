"""trace2pop frame: the capture frame to print."""

from pathlib import Path

from trace2pop.console import Console
from trace2pop.errors import OutputError, UsageError
from trace2pop.formats.frame_pdf import frame_pdf
from trace2pop.geometry.frame import PAPERS, frame_layout


def frame(out: Path, paper: str, *, force: bool, console: Console) -> None:
    """Write the frame's PDF.

    Raises:
        UsageError: where ``paper`` is none of the frame's papers.
        OutputError: where the file is there already or can't be written.
    """
    if paper not in PAPERS:
        raise UsageError(f"there is no frame for {paper}", f"choose {' or '.join(PAPERS)}")
    content = frame_pdf(frame_layout(paper))
    try:
        with out.open("wb" if force else "xb") as handle:
            handle.write(content)
    except FileExistsError:
        raise OutputError(f"{out} is there already", "name another file, or add --force") from None
    except OSError as error:
        raise OutputError(
            f"{out} can't be written: {error.strerror}", "choose a place you may write to"
        ) from None
    console.result(
        [
            ("file", str(out)),
            ("next", "print it at 100 % and measure its ruler; lay the art inside, take the photo"),
        ]
    )
