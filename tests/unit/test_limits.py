"""Every limit has one value and a source."""

import ast
from collections import Counter
from pathlib import Path

from trace2pop import limits


def test_no_name_is_given_twice() -> None:
    tree = ast.parse(Path(limits.__file__).read_text("utf-8"))
    names = [
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    ]
    assert [name for name, count in Counter(names).items() if count > 1] == []


def test_every_limit_says_where_it_comes_from() -> None:
    rows = {name: row for name, row in vars(limits).items() if isinstance(row, limits.Limit)}
    assert rows
    assert [name for name, row in rows.items() if len(row.source) < 4] == []
