"""The proof that beams hold: the motif's bending on a fine net with all its parts."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.limits import FOLD_LENGTH
from trace2pop.mechanism import wire
from trace2pop.mechanism.beam import flange_pair
from trace2pop.mechanism.mesh import Net, net
from trace2pop.mechanism.plate import Plate, rigidity, shares, weight
from trace2pop.model.card import Beam, FreeEnd, Sag
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import SupportSettings
from trace2pop.model.stock import Stocks
from trace2pop.stages.supports.ends import Ends, free_ends
from trace2pop.stages.supports.places import Stretch

GRAIN = 90.0
"""The grain of motif and beams runs along the crease."""
_BETWEEN = 1.01
"""Half the distance of candidate lines, and a trace."""


@dataclass(frozen=True, eq=False)
class Sheet:
    """The motif as a plate: its outline, papers, load and what its crease carries.

    ``pressure`` in N/mm2 is the handling load; ``beam`` the rigidity of a flange; ``stiff`` are
    parts of a half that no beam can reach, held by the crease's own stiffness ``spring`` in N.
    ``wires`` are glued along its back: line (n, 2) and diameter.
    """

    shape: shapely.Polygon
    bending: FloatArray
    beam: FloatArray
    pressure: float
    handling_load: float
    stiff: shapely.Geometry
    spring: float
    taper_deg: float
    wires: tuple[tuple[FloatArray, float], ...] = ()

    def on(self, mesh: Net) -> tuple[FloatArray, FloatArray]:
        """Return each triangle's rigidity (m, 3, 3) and load (m,), with the wires glued on."""
        count = len(mesh.triangles)
        bending = np.repeat(self.bending[None], count, axis=0)
        pressure = np.full(count, self.pressure)
        for line, diameter in self.wires:
            rigid, heavy = wire.added(mesh, line, diameter)
            bending += rigid
            pressure += self.handling_load * heavy
        return bending, pressure


def sheet(
    shape: shapely.Polygon,
    stocks: Stocks,
    settings: SupportSettings,
    stiff: shapely.Geometry,
    wires: tuple[tuple[FloatArray, float], ...] = (),
) -> Sheet:
    """Return the motif of ``shape`` as a plate."""
    bending = rigidity(stocks["motif"], GRAIN)
    return Sheet(
        shape=shape,
        bending=bending,
        beam=rigidity(stocks["beam"], GRAIN),
        pressure=weight(stocks["motif"]) * settings.handling_load,
        handling_load=settings.handling_load,
        stiff=stiff,
        spring=float(bending[0, 0] / FOLD_LENGTH.value),
        taper_deg=settings.taper,
        wires=wires,
    )


def prove(given: Sheet, beams: Sequence[Beam], limit: float, size: float, ends: Ends) -> Sag:
    """Return how far the motif sags on ``beams`` under the handling load, free ``ends`` apart.

    The web lines hold the deflection at zero and let the motif turn. Where a flange lies, its
    stiffness is added to the motif's, as layers that slide. The crease is a hinge.

    Raises:
        FloatingError: where a part is not held at all.
    """
    crease = shapely.LineString([(0.0, -1e4), (0.0, 1e4)])
    webs = [shapely.LineString([(beam.u, beam.v0), (beam.u, beam.v1)]) for beam in beams]
    edges = [
        shapely.LineString([(beam.u + side * beam.flange, v) for v in (beam.v0, beam.v1)])
        for beam in beams
        for side in (-1, 1)
    ]
    plate = Plate(net(given.shape, [crease, *webs, *edges], size), hinge=0.0)
    zones = [flange_pair(b.u, b.v0, b.v1, b.flange, b.taper_deg) for b in beams]
    covered = shares(plate.net, zones)[:, None, None]
    springs = crease_springs(plate, given)
    bending, load = given.on(plate.net)
    bent = plate.bend(bending + covered * given.beam, load, held(plate, beams), springs)
    sag = Sag(
        max=0.0,
        limit=limit,
        at=(0.0, 0.0),
        handling_load=given.handling_load,
        points=plate.net.points,
        triangles=plate.net.triangles,
        depth=bent.depth,
    )
    return judged(sag, ends)


def judged(sag: Sag, ends: Ends) -> Sag:
    """Return the same sag, judged with free ``ends`` apart."""
    depth = np.where(ends.at(sag.points) < 0, np.abs(sag.depth), -1.0)
    worst = int(np.argmax(depth))
    return replace(
        sag,
        max=float(abs(sag.depth[worst])),
        at=(float(sag.points[worst, 0]), float(sag.points[worst, 1])),
        free=ends.sags(sag.points, sag.depth),
    )


def out_of_reach(
    given: Sheet, places: Sequence[Stretch], limit: float, size: float, *, mirrored: bool
) -> tuple[Ends, tuple[FreeEnd, ...]]:
    """Return the ends that sag past ``limit`` even with beams on all ``places``, and how far.

    No choice of beams can do better: every line is held and every flange is there. The lines stand
    so near one another that the paper between them is taken as held, too.
    """
    from scipy.spatial import cKDTree

    plate = Plate(
        net(given.shape, [shapely.LineString([(0.0, -1e4), (0.0, 1e4)])], size), hinge=0.0
    )
    pairs = [flange_pair(p.u, p.v0, p.v1, p.flange, given.taper_deg) for p in places]
    covered = shares(plate.net, [shapely.union_all(pairs)])[:, None, None]
    on = _beside(plate.net.points, places)
    bending, load = given.on(plate.net)
    bent = plate.bend(
        bending + covered * given.beam, load, np.flatnonzero(on), crease_springs(plate, given)
    )
    points, depth = plate.net.points, np.abs(bent.depth)
    if mirrored:
        depth = np.maximum(depth, depth[cKDTree(points).query(points * [-1, 1])[1]])
    ends = free_ends(points, plate.net.triangles, depth, limit)
    return ends, ends.sags(points, depth)


def _beside(points: FloatArray, places: Sequence[Stretch]) -> NDArray[np.bool_]:
    """Return which of ``points`` (n, 2) lie on a fold line of ``places``, or just beside one."""
    u, v0, v1 = np.array([(place.u, place.v0, place.v1) for place in places]).T
    across = np.abs(points[:, 0, None] - u)
    along = np.maximum(np.maximum(v0 - points[:, 1, None], points[:, 1, None] - v1), 0.0)
    on: NDArray[np.bool_] = (np.hypot(across, along) <= _BETWEEN).any(axis=1)
    return on


def held(plate: Plate, beams: Sequence[Beam]) -> NDArray[np.int64]:
    """Return the points of the net on the web lines."""
    u, v = plate.net.points.T
    on = np.zeros(len(u), dtype=bool)
    for beam in beams:
        on |= (np.abs(u - beam.u) < 1e-3) & (v > beam.v0 - 1e-3) & (v < beam.v1 + 1e-3)
    return np.flatnonzero(on)


def crease_springs(plate: Plate, given: Sheet) -> FloatArray:
    """Return the fold stiffness of each hinged edge: zero but beside parts no beam can reach."""
    middles = plate.net.points[plate.edges[plate.hinged[:, 0]]].mean(axis=1)
    if given.stiff.is_empty or not len(middles):
        return np.zeros(len(middles))
    near = shapely.dwithin(given.stiff, shapely.points(middles), 1e-3)
    result: FloatArray = np.where(near, given.spring, 0.0)
    return result


def mesh_size(shape: shapely.Polygon, points: int) -> float:
    """Return the mesh size that gives about ``points`` points."""
    return float(np.sqrt(shape.area / (points * np.sqrt(3) / 2)))
