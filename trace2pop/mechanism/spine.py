"""The outer card's spine as its flat pieces have it: the maker may have overruled the plan's."""

from trace2pop.model.pieces import Parts


def spine_of(parts: Parts) -> float:
    """Return the distance of the outer card's two scores, 0 where it has one fold."""
    width = parts.plan.cut.placed.card.outer.width
    for part in parts.parts:
        if part.name == "outer":
            return max(0.0, round(part.size[0] - 2 * width, 6))
        if part.name.startswith("outer-hinge"):
            folds = [s.line[0, 0, 0] for s in part.strokes if s.fold]
            return max(0.0, round(float(max(folds) - min(folds)), 6)) if folds else 0.0
    return parts.plan.closed.spine
