"""The findings the program can make, what explain says of them, and docs/findings.md: in step."""

import ast
import re
import runpy
from collections.abc import Iterator
from pathlib import Path

import pytest

from trace2pop.choices import choices
from trace2pop.commands.explain import Explanation, explain, explanations
from trace2pop.console import WIDTH, Console
from trace2pop.errors import UsageError
from trace2pop.model.settings import Settings
from trace2pop.stages.cuttable import found
from trace2pop.stages.cuttable.say import _DONE

ROOT = Path(__file__).parents[2]
MAKERS = {"Finding": 0, "note": 0, "_add": 0, "_doubt": 1}
"""Who makes findings, and which of the arguments is the rule's name."""


def calls(place: str) -> Iterator[ast.Call]:
    where = ROOT / "trace2pop" / place
    for path in sorted(where.rglob("*.py")) if where.is_dir() else [where]:
        tree = ast.parse(path.read_text("utf-8"))
        yield from (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def rules_in_code() -> set[str]:
    """Return the name of every finding that code makes with a name of its own."""
    names = set()
    for place in ("stages", "mechanism", "commands", "pipeline.py", "holding.py"):
        for call in calls(place):
            maker = getattr(call.func, "id", getattr(call.func, "attr", ""))
            if maker not in MAKERS:
                continue
            at = MAKERS[maker]
            given = [item.value for item in call.keywords if item.arg == "rule"]
            given += call.args[at : at + 1]
            names |= {
                str(item.value)
                for item in given
                if isinstance(item, ast.Constant)
                and isinstance(item.value, str)
                and re.fullmatch(r"[a-z]+(-[a-z]+)*", item.value)
            }
    return names - {"grain"}  # a label's words on a piece, by a function that is called note too


def rules_of_thin_features() -> set[str]:
    """Return the names put together from a kind of feature and what was done about it."""
    return {
        f"{kind}-{_DONE[do]}"
        for kind, allowed in found._ALLOWED.items()
        for do in allowed
        if do in _DONE
    }


def named() -> set[str]:
    return {name for row in explanations() for name in row.names or (row.name,)}


def test_every_finding_is_explained_and_nothing_else() -> None:
    rules = rules_in_code() | rules_of_thin_features()
    assert len(rules) > 40
    assert sorted(rules - named()) == []
    assert sorted(named() - rules) == []


def test_the_page_is_what_explain_says() -> None:
    page = runpy.run_path(str(ROOT / "docs" / "make_findings.py"))["page"]
    written = (ROOT / "docs" / "findings.md").read_text("utf-8")
    assert written == page(), "run: python docs/make_findings.py"


@pytest.mark.parametrize("row", explanations(), ids=lambda row: row.name)
def test_an_explanation_is_whole_and_names_options_there_are(row: Explanation) -> None:
    texts = (row.means, row.why, row.past)
    assert row.severity in ("note", "warning", "doubt")
    assert all(text.endswith(".") and "{" not in text for text in texts)
    assert len(row.title) <= WIDTH - 24
    known = {f"--{choice.option}" for _, _, choice in choices()} | {"--force", "--trust"}
    assert set(re.findall(r"--[a-z-]+", " ".join(texts))) <= known
    sections = set(re.findall(r"\[([a-z]+)", " ".join(texts)))
    assert sections <= set(Settings.__dataclass_fields__)


def test_the_severity_is_one_the_finding_has() -> None:
    """Of those whose severity stands beside the rule's name in the code."""
    told = {}
    for place in ("stages", "mechanism", "commands", "pipeline.py", "holding.py"):
        for call in calls(place):
            if getattr(call.func, "id", "") != "Finding":
                continue
            by_name = {item.arg: item.value for item in call.keywords}
            rule, severity = [*call.args[:2], by_name.get("rule"), by_name.get("severity")][:2]
            if isinstance(rule, ast.Constant) and isinstance(severity, ast.Constant):
                told[rule.value] = severity.value
    said = {row.name: row.severity for row in explanations()}
    assert len(told) > 15
    assert {name: said[name] for name in told} == told


def test_explain_reads_in_80_columns(capsys: pytest.CaptureFixture[str]) -> None:
    for name in (None, "pale-edge", "spur-thickened", "weak", "shows-when-closed"):
        explain(name, Console())
        said = capsys.readouterr().out
        assert max(map(len, said.splitlines())) <= WIDTH
        assert name is None or said.startswith(name)
    explain(None, Console())
    said = capsys.readouterr().out
    assert all(name in said for name in named())


def test_an_unknown_finding_names_the_nearest() -> None:
    with pytest.raises(UsageError, match="did you mean pale-edge"):
        explain("pale-egde", Console())
