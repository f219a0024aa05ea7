"""Sheets: pieces laid on stock."""

from trace2pop.stages.sheets.stage import sheets

__all__ = ["sheets"]
