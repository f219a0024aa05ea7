"""The chance that any of several jointly normal quantities is positive."""

import numpy as np

from trace2pop.model.outline import FloatArray

_SAME = 1e-9
_NUDGE = 1e-12


def any_positive(values: FloatArray, change: FloatArray) -> float:
    """Return an upper bound of the chance that any of ``values`` (n,) becomes positive.

    ``change`` (n, k) is each one's change by one sigma of k independent normal errors. The bound is
    exact for one or two quantities, and close where some go together and some exclude each other.

    Notes:
        Hunter, "An upper bound for the probability of a union", J. Appl. Prob. 13, 1976 (from
        memory): the single chances less the joint ones along the heaviest spanning tree.

    """
    spread = np.maximum(np.sqrt((change**2).sum(axis=1)), _NUDGE)
    scores = values / spread
    turns = np.clip((change / spread[:, None]) @ (change / spread[:, None]).T, -1, 1)
    count = len(values)
    joint = np.array(
        [[both(scores[i], scores[j], turns[i, j]) for j in range(count)] for i in range(count)]
    )
    single = np.diag(joint).copy()
    tree, total = {0}, float(single.sum())
    while len(tree) < count:
        inside = sorted(tree)
        outside = [index for index in range(count) if index not in tree]
        heaviest = joint[np.ix_(inside, outside)].max(axis=0)
        total -= float(heaviest.max())
        tree.add(outside[int(heaviest.argmax())])
    return min(1.0, total)


def both(first: float, second: float, correlation: float) -> float:
    """Return the chance that two standard normals stay under ``first`` and ``second``.

    By Owen's T function (Owen, Ann. Math. Stat. 27, 1956; from memory).
    """
    from scipy.special import ndtr, owens_t  # 0.1 s to import: only where they are used

    lower, upper = sorted((float(ndtr(first)), float(ndtr(second))))
    if correlation > 1 - _SAME:
        return lower
    if correlation < -1 + _SAME:
        return max(0.0, lower + upper - 1)
    h, k = (score if abs(score) > _NUDGE else _NUDGE for score in (first, second))
    root = np.sqrt(1 - correlation**2)
    tails = owens_t(h, (k / h - correlation) / root) + owens_t(k, (h / k - correlation) / root)
    return max(0.0, float((lower + upper) / 2 - tails - (0.5 if h * k < 0 else 0.0)))
