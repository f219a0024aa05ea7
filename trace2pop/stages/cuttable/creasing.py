"""Places where the motif crosses its crease over too little paper for a score."""

import shapely

from trace2pop.limits import SCORE_EDGE
from trace2pop.model.finding import Finding
from trace2pop.stages.cuttable.say import place

_FAR = 1e4


def unscored(body: shapely.Polygon) -> list[Finding]:
    """Return a note on each crossing of u = 0 too short to be scored, from head to foot.

    A score keeps ``limits.SCORE_EDGE`` off both edges, so it needs more than twice that.
    """
    line = shapely.LineString([(0.0, -_FAR), (0.0, _FAR)])
    shared = [span for span in shapely.get_parts(body.intersection(line)) if span.length > 0]
    spans = sorted(shared, key=lambda span: float(span.bounds[1]))
    least = 2 * SCORE_EDGE.value
    scored = [span for span in spans if span.length > least]
    if not scored or len(scored) == len(spans):
        return []
    folds = shapely.union_all(scored)
    sides = (shapely.box(-_FAR, -_FAR, 0, _FAR), shapely.box(0, -_FAR, _FAR, _FAR))
    parts = [piece for side in sides for piece in shapely.get_parts(body.intersection(side))]
    loose = [piece for piece in parts if piece.intersection(folds).length == 0]
    return [_note(span, loose, least) for span in spans if span.length <= least]


def _note(span: shapely.Geometry, loose: list[shapely.Geometry], least: float) -> Finding:
    _, head, _, foot = span.bounds
    beyond = [piece.bounds for piece in loose if piece.intersection(span).length > 0]
    at, length = place((0.0, (head + foot) / 2)), round(float(span.length), 2)
    start = (
        f"The motif crosses its crease over {span.length:.1f} mm of paper here, and a score needs "
        f"more than {least:.0f} mm."
    )
    if not beyond:
        advice = f"{start} Fold it with the rest, along a ruler."
        return Finding("unscored-fold", "note", at, length, least, advice)
    reach = min(max(-left, right) for left, _, right, _ in beyond)
    advice = (
        f"{start} What lies beyond reaches {reach:.1f} mm over the crease: leave it flat when you "
        "fold the motif; closed, it stays inside the card. The placing gauge keeps clear of it."
    )
    return Finding("unscored-crossing", "note", at, length, least, advice)
