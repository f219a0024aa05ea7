"""Sheets: pieces laid on stock, and the white mock-up on pages of its own."""

from trace2pop.stages.sheets.mockup import mockup_pages
from trace2pop.stages.sheets.stage import sheets

__all__ = ["mockup_pages", "sheets"]
