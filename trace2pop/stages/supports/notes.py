"""What the maker may want to know about the beams that were chosen."""

from trace2pop.model.card import Sag
from trace2pop.model.finding import Finding
from trace2pop.stages.supports.refusal import place


def on_sag(sag: Sag) -> tuple[Finding, ...]:
    """Return a finding for each end that stands out free."""
    return tuple(
        Finding(
            rule="free-end",
            severity="warning",
            where=place(*end.at),
            measured=round(end.sag, 2),
            limit=sag.limit,
            advice=(
                "No beam has room near this end of the motif, or none beside the others, so it "
                "stands out free: it droops "
                f"{end.sag / sag.handling_load:.2f} mm by its own weight, {end.sag:.1f} mm when "
                "handled. Glue a strip of the same paper behind it, or choose heavier paper "
                "(--motif-stock), narrower flanges (--flanges), or make it wider."
            ),
        )
        for end in sag.free
    )
