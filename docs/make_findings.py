"""Makes docs/findings.md, and the table at the end of errors.md, from the words of explain.

python docs/make_findings.py
"""

from pathlib import Path

from trace2pop.commands.explain import Explanation, explanations

HEAD = """# What the program tells you about a card

A finding doesn't stop the run. A *doubt* says that the outline may be wrong, a *warning* that
something about the card deserves a look, a *note* is good to know (shown with `-v`, always in
card.json). Each says where, how much, and what to do, and ends with its name in brackets;
`trace2pop explain NAME` shows what stands here.
"""

MARK = "<!-- findings -->\n"


def page() -> str:
    """Return docs/findings.md."""
    rows = explanations()
    parts = list(dict.fromkeys(row.part for row in rows))
    lines = [HEAD]
    for part in parts:
        names = [f"[{row.name}](#{row.name})" for row in rows if row.part == part]
        lines.append(f"- {part}: {', '.join(names)}")
    for part in parts:
        lines += ["", f"## {part}"]
        for row in rows:
            if row.part == part:
                lines += _section(row)
    return "\n".join(lines) + "\n"


def _section(row: Explanation) -> list[str]:
    stands = f" Names: {', '.join(f'`{name}`' for name in row.names)}." if row.names else ""
    return [
        "",
        f"### {row.name}",
        "",
        f"*{row.severity.capitalize()}: {row.title}.*{stands} {row.means}",
        "",
        f"Why the limit: {row.why}",
        "",
        f"How to get past it: {row.past}",
    ]


def table() -> str:
    """Return the table of findings that docs/errors.md ends with."""
    lines = ["| finding | kind | what |", "|---|---|---|"]
    for row in explanations():
        names = ", ".join(f"`{name}`" for name in row.names or (row.name,))
        link = f"[{row.severity}](findings.md#{row.name})"
        lines.append(f"| {names} | {link} | {row.title} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    docs = Path(__file__).parent
    (docs / "findings.md").write_text(page(), "utf-8")
    head, mark, _ = (docs / "errors.md").read_text("utf-8").partition(MARK)
    (docs / "errors.md").write_text(head + mark + table(), "utf-8")
