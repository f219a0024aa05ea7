"""From a drawn motif to a cut-ready floating-layer pop-up card."""

__version__ = "0.1.0"
