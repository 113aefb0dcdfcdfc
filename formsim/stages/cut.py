"""The rim cut square: the mesh ends at a height, the state of what is left is kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.errors import GeometryError
from formsim.geometry.strip import strip_of
from formsim.solver.body import Body, build_body
from formsim.solver.numbering import Columns
from formsim.solver.part import columns_of
from formsim.solver.state import between_stages
from formsim.solver.strain import strain_modes, volume_strain
from formsim.stages.remesh import (
    corner_lines,
    find,
    point_places,
    same_points,
    value_at,
)
from formsim.stages.sheet import Sheet

SHORTEST = 1.0 / 3.0
"""Least length of the last column over that of the one it is cut from; a shorter one is merged."""

FEWEST = 4
"""Columns that must be left, as of any strip."""

REACH = 3
"""Columns on either side of the cut among which moved nodes and points are looked for."""


VOLUME_STEPS, VOLUME_MISS = 12, 1e-9
"""Steps at most and largest miss of the volume strain of a point of the last column."""


@dataclass(frozen=True)
class Wall:
    """Where a body can be cut square.

    Attributes
    ----------
    first, last : columns of the wall, the last one not included
    lowest, highest : axial ends of it that a level cut clears [mm]
    """

    first: int
    last: int
    lowest: float
    highest: float


def cut_square(sheet: Sheet, height: float) -> Sheet:
    """The sheet without what stands above a height over its lowest point.

    The material layers stay what they are: every node of the new rim slides along its layer to
    the cut, and the lines before it stay where they were. The last column is as long as half to
    one and a half of the column the cut runs through.

    Raises
    ------
    GeometryError : the cut does not run through the wall, below the whole rim, or leaves too little
    """
    body, places = sheet.body, sheet.state.places(sheet.body)
    columns, bottom = columns_of(body), float(places[:, 1].min())
    wall = wall_of(body, places)
    if not wall.lowest < bottom + height < wall.highest:
        raise _no_wall(height, wall.lowest - bottom, wall.highest - bottom)
    met = _crossings(columns, places, wall, bottom + height)
    kept = min(round(float(met.mean())), int(met.min() + 1.0 - SHORTEST))
    if kept < FEWEST:
        message = f"a square cut {height:g} mm above the lowest point leaves {kept} columns"
        raise GeometryError(message, hint=f"more columns under [mesh]: {FEWEST} must be left")
    cut = _cut_body(body, met, kept)
    u = _displacements(sheet, cut, kept, bottom + height)
    u = _with_its_volume(sheet, cut, u, kept)
    plastic = _plastic(sheet, cut, u, kept)
    damage, heat = (_carried(sheet, cut, kept, v) for v in (sheet.state.damage, sheet.state.heat))
    state = between_stages(u.ravel(), plastic, damage, heat)
    return Sheet(cut, sheet.material, state)


def wall_of(body: Body, places: Floats) -> Wall:
    """The steep part of the sheet nearest to its rim, steeper than 45 degrees."""
    columns = columns_of(body)
    middle = places[columns.lines + columns.layers]
    steps = np.diff(middle, axis=0)
    steep = np.flatnonzero(steps[:, 1] > np.abs(steps[:, 0]))
    if not steep.size:
        return Wall(0, 0, np.inf, -np.inf)
    last = int(steep[-1]) + 1
    gentle = np.flatnonzero(steps[:last, 1] <= np.abs(steps[:last, 0]))
    first = int(gentle[-1]) + 1 if gentle.size else 0
    ends = [places[columns.stride * k + np.arange(columns.line_nodes), 1] for k in (first, last)]
    highest = min(float(ends[1].min()), float(places[body.edge_nodes("rim"), 1].min()))
    return Wall(first, last, float(ends[0].max()), highest)


def _no_wall(height: float, lowest: float, highest: float) -> GeometryError:
    if not lowest < highest:
        message = f"a square cut {height:g} mm above the lowest point meets no standing wall"
        return GeometryError(message, hint="draw a wall before the trim")
    where = "below the wall" if height <= lowest else "above the lowest point of the rim"
    message = (
        f"a square cut {height:g} mm above the lowest point of the body lies {where}:"
        f" expected a height from {lowest:.3f} to {highest:.3f} mm"
    )
    return GeometryError(message, hint=f"set height below {highest:.2f} mm and within the wall")


def _crossings(columns: Columns, places: Floats, wall: Wall, level: float) -> Floats:
    """Column number with fraction at which each material layer passes a level, (line_nodes)."""
    return np.array(
        [
            _crossing(*_layer(columns, places[:, 1], half), wall, level)
            for half in range(columns.line_nodes)
        ]
    )


def _layer(columns: Columns, values: Floats, half: int) -> tuple[Floats, Floats]:
    """Values along a layer: on the lines, and half-way between them."""
    line = columns.lines
    side = line[:-1] + columns.line_nodes + half // 2
    if half % 2 == 0:
        return values[line + half], values[side]
    corners = [values[line[k : columns.count + k] + half + s] for k in (0, 1) for s in (-1, 1)]
    ends = values[line[:-1] + half] + values[line[1:] + half]
    return values[line + half], 0.5 * (ends + values[side] + values[side + 1]) - 0.25 * sum(corners)


def _crossing(ends: Floats, middles: Floats, wall: Wall, level: float) -> float:
    """Place on a layer, piecewise quadratic, at which it passes a level for the last time."""
    for k in range(wall.last - 1, wall.first - 1, -1):
        a, m, b = ends[k] - level, middles[k] - level, ends[k + 1] - level
        roots = np.roots([2.0 * (a + b - 2.0 * m), 4.0 * m - 3.0 * a - b, a])
        real = roots.real[np.abs(roots.imag) < 1e-12]
        inside = real[(real >= -1e-12) & (real <= 1.0 + 1e-12)]
        if inside.size:
            return k + float(inside.max())
    message = f"the material layers of the wall do not all pass the level {level:g} mm of the cut"
    raise GeometryError(message, hint="choose another height, or trim before this stage")


def _cut_body(body: Body, met: Floats, kept: int) -> Body:
    """Body of the first lines and of one that runs along the cut in the reference."""
    corners = corner_lines(body)
    column = np.minimum(met[::2].astype(int), len(corners) - 2)
    share = (met[::2] - column)[:, None]
    layer = np.arange(corners.shape[1])
    end = (1.0 - share) * corners[column, layer] + share * corners[column + 1, layer]
    return build_body(strip_of(np.concatenate([corners[:kept], end[None]])))


def _displacements(sheet: Sheet, cut: Body, kept: int, level: float) -> Floats:
    """Displacements of the cut body; its last nodes stand level, (n_nodes, 2) [mm]."""
    old, now = columns_of(sheet.body), sheet.state.places(sheet.body)
    columns, same = columns_of(cut), (kept - 1) * old.stride + old.line_nodes
    u = np.empty((len(cut.nodes), 2))
    u[:same] = sheet.state.u.reshape(-1, 2)[:same]
    layers = [*range(old.layers + 1), *(half // 2 for half in range(old.line_nodes))]
    for node, layer in enumerate(layers, start=same):
        u[node] = _moved(sheet.body, now, cut.nodes[node], layer, kept) - cut.nodes[node]
    rim = columns.stride * kept + np.arange(old.line_nodes)
    u[rim, 1] = level - cut.nodes[rim, 1]
    return u


def _with_its_volume(sheet: Sheet, cut: Body, u: Floats, kept: int) -> Floats:
    """Displacements at which the points of the last column keep the volume of the metal there.

    Between the points of an element its volume may wander by per cents, which is no stress as long
    as nobody looks. The last column has its points elsewhere: left as they are found, its nodes
    would squeeze it to its yield stress, and the rim would curl when it is released. They give way,
    by as little as will do; the rim stays level.
    """
    body, columns = sheet.body, columns_of(cut)
    n, same = (kept - 1) * columns.layers, columns.lines[kept - 1] + columns.line_nodes
    kept_volume = volume_strain(body, sheet.state.places(body))[..., None]
    wanted = np.array(
        [
            along_layer(body, kept_volume, point_places(cut)[n + layer], layer, kept)[:, 0]
            for layer in range(columns.layers)
        ]
    )
    free = np.zeros(u.shape, dtype=bool)
    free[same:] = True
    free[columns.lines[kept] :, 1] = False
    u = u.copy()

    def miss(moved: Floats) -> Floats:
        trial = u.copy()
        trial[free] = moved
        off: Floats = volume_strain(cut, cut.nodes + trial)[n:] - wanted
        return off.ravel()

    moved = u[free]
    size = 1e-6 * float(np.ptp(cut.nodes[-columns.line_nodes :]))
    for _ in range(VOLUME_STEPS):
        now = miss(moved)
        if float(np.abs(now).max()) < VOLUME_MISS:
            break
        slope = np.array([(miss(moved + step) - now) / size for step in size * np.eye(len(moved))])
        moved = moved - np.linalg.lstsq(slope.T, now, rcond=1e-9)[0]
    u[free] = moved
    return u


def _moved(body: Body, now: Floats, place: Floats, layer: int, kept: int) -> Floats:
    """Where a reference place near the cut is now, (2) [mm]."""
    columns = columns_of(body)
    spot = find(body, place, min(layer, columns.layers - 1), _near(columns, kept))
    return value_at(columns, now, spot)


def _near(columns: Columns, kept: int) -> range:
    return range(max(0, kept - REACH), min(columns.count, kept + REACH))


def _plastic(sheet: Sheet, cut: Body, u: Floats, kept: int) -> Floats:
    """Plastic state of the cut body, (n_el, n_q, 4) [-].

    In the last column the elastic strains and the equivalent plastic strain are interpolated
    along the layer, and the plastic modes are what is left of the strain: so the stress is as
    smooth as it was, and within the yield surface, although the mesh is another.
    """
    body, state = sheet.body, sheet.state
    whole = _unchanged(body, cut, state.plastic, kept)
    elastic = strain_modes(body, state.places(body)) - state.plastic[..., :3]
    known = np.concatenate([elastic, state.plastic[..., 3:]], axis=2)
    last = _last_column(body, cut, known, kept)
    last[..., :3] = strain_modes(cut, cut.nodes + u)[len(whole) :] - last[..., :3]
    return np.concatenate([whole, last])


def _carried(sheet: Sheet, cut: Body, kept: int, values: Floats) -> Floats:
    """Damage or heat of the cut body, in its last column interpolated along the layer."""
    if not values.size:
        return values
    last = _last_column(sheet.body, cut, values, kept)
    return np.concatenate([_unchanged(sheet.body, cut, values, kept), last])


def _unchanged(body: Body, cut: Body, values: Floats, kept: int) -> Floats:
    """Values of the points of all columns but the last, (n_el - layers, n_q, n)."""
    n = (kept - 1) * columns_of(body).layers
    same = same_points(point_places(body)[:n], point_places(cut)[:n])
    carried: Floats = np.take_along_axis(values[:n], same[:, :, None], axis=1)
    return carried


def _last_column(body: Body, cut: Body, known: Floats, kept: int) -> Floats:
    """Values of the points of the last column, interpolated along the layers, (layers, n_q, n)."""
    layers = columns_of(body).layers
    places = point_places(cut)[-layers:]
    carried = [along_layer(body, known, places[k], k, kept) for k in range(layers)]
    return np.stack(carried)


def along_layer(body: Body, known: Floats, places: Floats, layer: int, kept: int) -> Floats:
    """Values of the points, interpolated along a layer to other places in it, (n_places, n)."""
    columns = columns_of(body)
    near = _near(columns, kept)
    element = np.array([c * columns.layers + layer for c in near])
    own = point_places(body)[element]
    spots = [[find(body, p, layer, range(c, c + 1)) for p in own[k]] for k, c in enumerate(near)]
    s = np.array([[spot.column + 0.5 * spot.xi for spot in row] for row in spots]).ravel()
    eta = np.array([[spot.eta for spot in row] for row in spots]).ravel()
    values = known[element].reshape(len(s), -1)
    carried = []
    for place in places:
        spot = find(body, place, layer, near)
        row = np.flatnonzero(np.abs(eta - spot.eta) < 0.5)
        row = row[np.argsort(s[row])]
        at = spot.column + 0.5 * spot.xi
        carried.append([np.interp(at, s[row], v) for v in values[row].T])
    return np.array(carried)
