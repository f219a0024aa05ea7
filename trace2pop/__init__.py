"""From a drawn motif to a cut-ready floating-layer pop-up card.

As a library: ``make_card`` and ``write_card``, the stages one by one, and the settings they take
(docs/library.md). Each name is loaded when it is first asked for.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trace2pop.errors import Trace2popError
    from trace2pop.library import write_card
    from trace2pop.model.settings import (
        CardSettings,
        CutterSettings,
        FileSettings,
        FragileSettings,
        GivenBeam,
        GuideSettings,
        MotifSettings,
        PictureSettings,
        PieceSettings,
        Settings,
        StockSettings,
        SupportSettings,
        TraceSettings,
    )
    from trace2pop.pipeline import Made, make_card, placed_on_card, plan_of, stocks_of, traced
    from trace2pop.settings import Project, read, with_options
    from trace2pop.stages.capture import capture
    from trace2pop.stages.cuttable import cuttable
    from trace2pop.stages.fit import fit
    from trace2pop.stages.guide import guide
    from trace2pop.stages.parts import parts
    from trace2pop.stages.sheets import sheets
    from trace2pop.stages.supports import supports
    from trace2pop.stages.trace import trace

__version__ = "0.1.0"

_HOMES = {
    "trace2pop.errors": ("Trace2popError",),
    "trace2pop.library": ("write_card",),
    "trace2pop.model.settings": (
        "CardSettings", "CutterSettings", "FileSettings", "FragileSettings", "GivenBeam",
        "GuideSettings", "MotifSettings", "PictureSettings", "PieceSettings", "Settings",
        "StockSettings", "SupportSettings", "TraceSettings",
    ),
    "trace2pop.pipeline": (
        "Made", "make_card", "placed_on_card", "plan_of", "stocks_of", "traced",
    ),
    "trace2pop.settings": ("Project", "read", "with_options"),
    **{
        f"trace2pop.stages.{name}": (name,)
        for name in ("capture", "trace", "fit", "cuttable", "supports", "parts", "sheets", "guide")
    },
}  # fmt: skip

__all__ = [
    "CardSettings", "CutterSettings", "FileSettings", "FragileSettings", "GivenBeam",
    "GuideSettings", "Made", "MotifSettings", "PictureSettings", "PieceSettings", "Project",
    "Settings", "StockSettings", "SupportSettings", "Trace2popError", "TraceSettings", "capture",
    "cuttable", "fit", "guide", "make_card", "parts", "placed_on_card", "plan_of", "read",
    "sheets", "stocks_of", "supports", "trace", "traced", "with_options", "write_card",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Load a name of the library on first use, so that the command answers at once."""
    for home, names in _HOMES.items():
        if name in names:
            value: object = getattr(import_module(home), name)
            globals()[name] = value
            return value
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    """Return the library's names."""
    return sorted({*globals(), *__all__})
