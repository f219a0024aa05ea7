"""The cheapest set under rows of conditions, exactly."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray


@dataclass(frozen=True, eq=False)
class Row:
    """A condition: of the candidates ``members`` at least ``least`` and at most ``most``."""

    members: NDArray[np.int64]
    least: float = 0.0
    most: float = np.inf
    weights: FloatArray | None = None


def cheapest(costs: FloatArray, rows: Sequence[Row], gap: float = 0.0) -> tuple[int, ...] | None:
    """Return the cheapest set of candidates that keeps every row; None where there is none.

    Solved by branch and bound (HiGHS through scipy), without a time limit, until the cost is proved
    to within the share ``gap``.
    """
    import scipy.sparse as sp
    from scipy.optimize import Bounds, LinearConstraint, milp  # 0.4 s to import

    members = [row.members for row in rows]
    weights = [np.ones(len(row.members)) if row.weights is None else row.weights for row in rows]
    ends = np.cumsum([0, *(len(own) for own in members)])
    matrix = sp.csr_array(
        (np.concatenate(weights), np.concatenate(members), ends), shape=(len(rows), len(costs))
    )
    bounds = LinearConstraint(
        matrix,
        np.array([row.least if row.least > 0 else -np.inf for row in rows]),
        np.array([row.most for row in rows]),
    )
    solved = milp(
        costs,
        constraints=bounds,
        bounds=Bounds(0, 1),
        integrality=np.ones(len(costs)),
        options={"mip_rel_gap": gap},
    )
    if solved.x is None:
        return None
    return tuple(int(index) for index in np.flatnonzero(solved.x > 0.5))
