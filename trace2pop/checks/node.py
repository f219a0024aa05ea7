"""A value of card.json that knows where it stands."""

import math


class PlanError(Exception):
    """Something card.json should hold is missing or is no number; says what and where."""


class Node:
    """A value of card.json and the way to it, so that a fault can be told with its place."""

    def __init__(self, value: object, path: str = "") -> None:
        self.value = value
        self.path = path

    def __getitem__(self, key: str | int) -> "Node":
        path = f"{self.path}.{key}".lstrip(".")
        if isinstance(self.value, dict) and key in self.value:
            return Node(self.value[key], path)
        if isinstance(self.value, list) and isinstance(key, int) and key < len(self.value):
            return Node(self.value[key], path)
        raise PlanError(f"{path} is missing")

    def rows(self) -> list["Node"]:
        """Return the rows of a list."""
        if not isinstance(self.value, list):
            raise PlanError(f"{self.path} is no list")
        return [Node(row, f"{self.path}.{number}") for number, row in enumerate(self.value)]

    def number(self) -> float:
        """Return a finite number."""
        if isinstance(self.value, bool) or not isinstance(self.value, int | float):
            raise PlanError(f"{self.path} is no number")
        if not math.isfinite(self.value):
            raise PlanError(f"{self.path} is not finite")
        return float(self.value)

    def text(self) -> str:
        """Return a text."""
        if not isinstance(self.value, str):
            raise PlanError(f"{self.path} is no text")
        return self.value

    def pair(self) -> tuple[float, float]:
        """Return two numbers."""
        first, second = (row.number() for row in self.rows()[:2])
        return first, second

    def maybe(self) -> "Node | None":
        """Return None for null."""
        return None if self.value is None else self
