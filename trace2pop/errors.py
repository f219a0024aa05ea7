"""One class per cause that stops a run, each with an exit code and the next step to take."""

from typing import ClassVar

_LONGEST = 500


def shown(text: str) -> str:
    """Return a text as it may be printed: one line of bounded length, nothing in it that steers.

    Names of files come from anywhere; what a terminal would obey (escapes, a turned reading
    direction) is written out by its number.
    """
    line = " ".join(text.split())
    if len(line) > _LONGEST:
        line = f"{line[: _LONGEST // 2]} ... {line[-_LONGEST // 2 :]}"
    return harmless(line)


def harmless(text: str) -> str:
    """Return a text with all that a terminal would obey written out by its number."""
    return "".join(c if c.isprintable() or c == "\u00a0" else ascii(c)[1:-1] for c in text)


class Trace2popError(Exception):
    """A cause that stops the run.

    ``str(error)`` is one line for the maker: what happened, with its number. ``error.advice`` says
    what to do next. ``exit_code`` is public (docs/errors.md).
    """

    exit_code: ClassVar[int] = 1

    def __init__(self, message: str, advice: str) -> None:
        super().__init__(shown(message))
        self.advice = shown(advice)


class UsageError(Trace2popError):
    """A choice on the command line or in the settings file that can't be."""

    exit_code = 2


class PictureError(Trace2popError):
    """The picture is missing, damaged, too large or of a kind that can't be read."""

    exit_code = 3


class TraceError(Trace2popError):
    """No motif was found, or it is too doubtful to cut."""

    exit_code = 4


class FitError(Trace2popError):
    """The motif can't be made to close inside the card."""

    exit_code = 5


class FragileError(Trace2popError):
    """What is left after the thin features come off can't be cut as one piece."""

    exit_code = 6


class SupportError(Trace2popError):
    """No set of beams holds the motif."""

    exit_code = 7


class SheetError(Trace2popError):
    """A piece doesn't fit the sheet or the cutter."""

    exit_code = 8


class OutputError(Trace2popError):
    """The folder can't be written, or holds something that would be lost."""

    exit_code = 9


class BusyError(OutputError):
    """Another run is writing the folder."""


class CheckError(Trace2popError):
    """The written pieces failed a check."""

    exit_code = 10


class FaultError(Trace2popError):
    """Something the program was not made to meet: a fault of its own."""

    exit_code = 70


class BatchError(Trace2popError):
    """Some cards of a batch were not made."""

    exit_code = 11


class InterruptedRunError(Trace2popError):
    """The maker stopped the run."""

    exit_code = 130
