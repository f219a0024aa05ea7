"""docs/findings.md names every finding the program can make."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOC = (ROOT / "docs" / "findings.md").read_text("utf-8")
WORD = r"([a-z]+(?:-[a-z]+)*)"
NAMED = (
    re.compile(rf'(?:Finding|_doubt|_add)\(\s*"{WORD}"'),
    re.compile(r'note\(\s*"([a-z]+(?:-[a-z]+)+)"'),
    re.compile(rf'rule="{WORD}"'),
)


def test_every_finding_is_documented() -> None:
    source = "\n".join(
        path.read_text("utf-8")
        for folder in ("stages", "mechanism", "commands")
        for path in sorted((ROOT / "trace2pop" / folder).rglob("*.py"))
    )
    rules = {rule for pattern in NAMED for rule in pattern.findall(source)} - {"evenodd"}
    assert len(rules) > 15
    assert sorted(rule for rule in rules if f"`{rule}`" not in DOC) == []
