"""Runs the command line many times from one warm process, each run in a fork that is measured.

Reads a JSON list [folder, argument, ...] a line and answers with a JSON object: exit code, output,
seconds of processor time (of the run and the processes it started), peak memory in MB.
"""

import contextlib
import importlib
import io
import json
import os
import resource
import signal
import sys
import time

from trace2pop import cli

importlib.import_module("trace2pop.commands.make")
ROOM = 4 << 30
"""Bytes of address space a run may ask for, and
PATIENCE: seconds it may take, so that a failing case fails and doesn't take the machine along."""
PATIENCE = 40


def in_child(folder: str, arguments: list[str]) -> int:
    resource.setrlimit(resource.RLIMIT_AS, (ROOM, ROOM))
    signal.alarm(PATIENCE)
    os.chdir(folder)
    sys.argv = ["trace2pop", *arguments]
    try:
        cli.main()
    except SystemExit as ended:
        return int(ended.code or 0)
    return 0


def run(folder: str, arguments: list[str]) -> dict[str, object]:
    reader, writer = os.pipe()
    start = time.monotonic()
    child = os.fork()
    if child == 0:
        os.close(reader)
        text = io.StringIO()
        code = 70
        with contextlib.redirect_stderr(text), contextlib.redirect_stdout(text):
            try:
                code = in_child(folder, arguments)
            except BaseException:
                import traceback

                traceback.print_exc()
        with os.fdopen(writer, "w") as out:
            out.write(text.getvalue())
        os._exit(code)
    os.close(writer)
    with os.fdopen(reader) as heard:
        said = heard.read()
    _, status, used = os.wait4(child, 0)
    return {
        "code": os.waitstatus_to_exitcode(status),
        "said": said,
        "seconds": used.ru_utime + used.ru_stime,
        "wall": time.monotonic() - start,
        "mb": used.ru_maxrss / 1024,
    }


if __name__ == "__main__":
    for line in sys.stdin:
        folder, *arguments = json.loads(line)
        print(json.dumps(run(folder, arguments)), flush=True)
