"""docs/errors.md lists every exit code, and no two causes share one."""

import runpy
from pathlib import Path

from trace2pop import errors
from trace2pop.commands.job import LOST

DOCS = Path(__file__).parents[2] / "docs"
TABLE = (DOCS / "errors.md").read_text("utf-8")


def classes() -> list[type[errors.Trace2popError]]:
    return [errors.Trace2popError, *errors.Trace2popError.__subclasses__()]


def test_every_class_and_code_is_documented() -> None:
    rows = {
        cells[2].strip(" `"): int(cells[1])
        for cells in (line.split("|") for line in TABLE.splitlines())
        if len(cells) > 4 and cells[1].strip().isdigit()
    }
    rows.pop("")
    assert rows == {kind.__name__: kind.exit_code for kind in classes()}


def test_the_codes_of_a_batch_are_documented() -> None:
    """Those that stand in its summary and are no error's own."""
    assert f" {LOST} is a card whose worker process died" in " ".join(TABLE.split())
    assert LOST not in {kind.exit_code for kind in classes()}


def test_every_finding_is_listed() -> None:
    made = runpy.run_path(str(DOCS / "make_findings.py"))
    assert TABLE.endswith(made["MARK"] + made["table"]()), "run: python docs/make_findings.py"


def test_each_error_is_raised_somewhere() -> None:
    root = Path(errors.__file__).parent
    source = "".join(path.read_text("utf-8") for path in root.rglob("*.py"))
    named = [kind.__name__ for kind in classes()]
    assert [name for name in named if f"{name}(" not in source.replace(f"class {name}(", "")] == []


def test_codes_are_unique() -> None:
    codes = [kind.exit_code for kind in classes()]
    assert len(codes) == len(set(codes))


def test_a_message_is_one_line() -> None:
    error = errors.FitError("sticks out\n by  3 mm", "make it\nsmaller")
    assert str(error) == "sticks out by 3 mm"
    assert error.advice == "make it smaller"


def test_a_message_steers_no_terminal() -> None:
    """ECMA-48's escape, and Unicode's right-to-left override (U+202E), from a file's name."""
    error = errors.PictureError("there is no file a\x1b[2J\u202egnp.b", "see")
    assert str(error) == r"there is no file a\x1b[2J\u202egnp.b"
    assert str(errors.PictureError("池 Wasserläufer 🐟.png", "x")) == "池 Wasserläufer 🐟.png"


def test_a_message_has_an_end() -> None:
    assert len(str(errors.PictureError("a" * 5000, "see"))) < 700
