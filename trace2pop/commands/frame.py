"""trace2pop frame: the capture frame to print."""

from pathlib import Path

from trace2pop.commands.single import write_single
from trace2pop.console import Console
from trace2pop.errors import UsageError
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
    write_single(out, content, force=force)
    console.result(
        [
            ("file", str(out)),
            ("next", "print it at 100 % and measure its ruler; lay the art inside, take the photo"),
        ]
    )
