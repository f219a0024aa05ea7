"""Pictures of what was found: the trace, the sag, the thickness, rise against size."""

from trace2pop.formats.picture_maps import sag_map, thickness_map
from trace2pop.formats.picture_sizes import trade_off
from trace2pop.formats.picture_trace import trace_picture
from trace2pop.model.guide import Guide


def picture_files(guide: Guide, trace: bytes | None = None) -> dict[str, bytes]:
    """Return the pictures as PNG by their names in the card's folder, in the guide's language.

    ``trace`` is that of the trace where it is there already.
    """
    found = {"pictures/trace.png": trace or trace_picture(guide)}
    if len(guide.sheets.parts.plan.sag.points):
        found["pictures/sag.png"] = sag_map(guide)
    if guide.sheets.parts.plan.closed.areas:
        found["pictures/thickness.png"] = thickness_map(guide)
    found["pictures/sizes.png"] = trade_off(guide)
    return found
