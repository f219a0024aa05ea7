"""The command's entry: what was typed is run, errors become exit codes."""

import os
import re
import signal
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path

from trace2pop import one_thread, rare_sweeps  # noqa: F401  # before numpy is loaded
from trace2pop.console import Console
from trace2pop.errors import InterruptedRunError, Trace2popError, UsageError
from trace2pop.faults import as_error, broken_name

_PLAIN_NAME = re.compile(r"[^*?\[~$%]+\.toml", re.IGNORECASE)
"""The name of a settings file in which no system's shell has anything to put in place."""
_TALK = {"-q": -1, "--quiet": -1, "-v": 1, "--verbose": 1}


def _run(words: Sequence[str]) -> None:
    """Run a command. A card made again as it says itself waits for no reading of flags.

    To load typer and what it reads flags with takes a tenth of such a run.
    """
    again = _made_again(words)
    if again is None:
        from trace2pop.flags import app

        app()
        return
    try:
        from trace2pop.commands.make import make

        settings, console = again
        make(settings, None, {}, force=False, console=console, keep=True)
        sys.stdout.flush()
    except KeyboardInterrupt:
        sys.exit(InterruptedRunError.exit_code)
    except BrokenPipeError:  # nobody reads what is printed, nor shall its last flush complain
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)


def _made_again(words: Sequence[str]) -> tuple[Path, Console] | None:
    """Return the settings file and the console of ``make card.toml`` with no more than -q or -v."""
    names = [word for word in words[1:] if not word.startswith("-")]
    flags = [word for word in words[1:] if word in _TALK]
    if words[:1] != ["make"] or len(names) != 1 or len(flags) > 1:
        return None
    if len(words) != 2 + len(flags) or not _PLAIN_NAME.fullmatch(names[0]):
        return None
    return Path(names[0]), Console(_TALK[flags[0]] if flags else 0)


def _interrupt(*_: object) -> None:
    """Take the system's wish to end as an interrupt, so that the run clears up."""
    raise KeyboardInterrupt


def main() -> None:
    """Run the command line and exit with its documented code."""
    console = Console()
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        _run(sys.argv[1:])
    except Trace2popError as error:
        console.error(error)
        sys.exit(error.exit_code)
    except SystemExit as ended:
        if ended.code == InterruptedRunError.exit_code:  # typer's own code for it
            advice = "nothing was written; run it again when you like"
            console.error(InterruptedRunError("stopped", advice))
        if ended.code == UsageError.exit_code and (name := broken_name(sys.argv[1:])):
            console.error(UsageError(f"{name} has spaces", f'put it between quotes: "{name}"'))
        raise
    except Exception as fault:
        told = as_error(fault)
        if {"-v", "--verbose"} & set(sys.argv):
            traceback.print_exception(fault)
        console.error(told)
        sys.exit(told.exit_code)
