"""docs/findings.md names every finding the program can make."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOC = (ROOT / "docs" / "findings.md").read_text("utf-8")
NAMED = re.compile(
    r"(?:Finding|_doubt|note|_add)\(\s*\"([a-z]+(?:-[a-z]+)*)\"|rule=\"([a-z]+(?:-[a-z]+)*)\""
)


def test_every_finding_is_documented() -> None:
    source = "\n".join(
        path.read_text("utf-8")
        for folder in ("stages", "mechanism", "commands")
        for path in sorted((ROOT / "trace2pop" / folder).rglob("*.py"))
    )
    rules = {first or second for first, second in NAMED.findall(source)} - {"evenodd"}
    assert len(rules) > 15
    assert sorted(rule for rule in rules if f"`{rule}`" not in DOC) == []
