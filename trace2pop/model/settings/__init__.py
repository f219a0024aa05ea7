"""What the maker chooses: one frozen section a stage, lengths in mm.

Each field carries what the settings file, the command line and the documentation need to know of it
(see ``choice``), so that a choice is described in one place only.
"""

from dataclasses import dataclass, field

from trace2pop.model.settings.art import (
    FeatureChoice,
    FragileSettings,
    MotifSettings,
    PictureSettings,
    TraceSettings,
)
from trace2pop.model.settings.card import (
    CardSettings,
    ForbiddenRegion,
    GivenBeam,
    HandsSettings,
    SupportSettings,
)
from trace2pop.model.settings.choice import Choice, Form, choice
from trace2pop.model.settings.making import (
    CutterSettings,
    FileSettings,
    GuideSettings,
    OwnPaper,
    PieceSettings,
    PrintSettings,
    StockSettings,
)

__all__ = [
    "CardSettings",
    "Choice",
    "CutterSettings",
    "FeatureChoice",
    "FileSettings",
    "ForbiddenRegion",
    "Form",
    "FragileSettings",
    "GivenBeam",
    "GuideSettings",
    "HandsSettings",
    "MotifSettings",
    "OwnPaper",
    "PictureSettings",
    "PieceSettings",
    "PrintSettings",
    "Settings",
    "StockSettings",
    "SupportSettings",
    "TraceSettings",
    "choice",
]


@dataclass(frozen=True)
class Settings:
    """Every choice of a card. Field names are the settings file's sections."""

    picture: PictureSettings = field(default_factory=PictureSettings)
    trace: TraceSettings = field(default_factory=TraceSettings)
    card: CardSettings = field(default_factory=CardSettings)
    motif: MotifSettings = field(default_factory=MotifSettings)
    fragile: FragileSettings = field(default_factory=FragileSettings)
    supports: SupportSettings = field(default_factory=SupportSettings)
    stock: StockSettings = field(default_factory=StockSettings)
    pieces: PieceSettings = field(default_factory=PieceSettings)
    files: FileSettings = field(default_factory=FileSettings)
    hands: HandsSettings = field(default_factory=HandsSettings)
    print: PrintSettings = field(default_factory=PrintSettings)
    cutter: CutterSettings = field(default_factory=CutterSettings)
    guide: GuideSettings = field(default_factory=GuideSettings)
