"""Judges a written folder by a path that shares no code with what wrote it."""

from trace2pop.checks.check import check
from trace2pop.checks.report import Report, Row

__all__ = ["Report", "Row", "check"]
