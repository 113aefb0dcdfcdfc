"""Mesh of the flat blank: a structured, graded strip of quadrilaterals made by gmsh."""

from __future__ import annotations

import contextlib
import io
import math
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from skfem import MeshQuad

from formsim.arrays import Floats
from formsim.errors import DependencyError, MeshError

_APT = {
    "libGLU.so.1": "libglu1-mesa",
    "libGL.so.1": "libgl1",
    "libXft.so.2": "libxft2",
    "libXcursor.so.1": "libxcursor1",
    "libXinerama.so.1": "libxinerama1",
    "libXfixes.so.3": "libxfixes3",
    "libXrender.so.1": "libxrender1",
    "libXext.so.6": "libxext6",
    "libX11.so.6": "libx11-6",
    "libfontconfig.so.1": "libfontconfig1",
    "libgomp.so.1": "libgomp1",
}


def load_gmsh() -> Any:
    """The gmsh module.

    Raises
    ------
    DependencyError : a system library gmsh needs is missing; names it and how to install it
    """
    try:
        import gmsh
    except OSError as error:
        found = re.match(r"(\S+\.so[.\d]*)", str(error))
        library = found.group(1) if found else str(error)
        message = f"the mesher cannot start: the system library {library} is missing"
        packages = " ".join(sorted(set(_APT.values())))
        hint = f"on Debian or Ubuntu: apt-get install -y --no-install-recommends {packages}"
        raise DependencyError(message, hint=hint) from error
    return gmsh


@contextlib.contextmanager
def _session(gmsh: Any) -> Iterator[None]:
    gmsh.initialize(readConfigFiles=False, interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        yield
    finally:
        gmsh.finalize()


class Rim(NamedTuple):
    """Sheet from the radius ``begin`` on, where columns are ``finer`` times shorter."""

    begin: float
    finer: float


def strip_mesh(
    inner: float,
    outer: float,
    thickness: float,
    *,
    columns: int,
    layers: int,
    even_to: float,
    finer: float = 1.0,
    rim: Rim | None = None,
) -> MeshQuad:
    """Cross-section of a flat blank, lower face at z = 0.

    Columns have one length out to ``even_to`` and shrink in a geometric series beyond, as material
    near the rim is stretched along the wall by about the ratio of its radii.

    Parameters
    ----------
    inner, outer : radius of the centre hole (0 for none) and of the rim [mm]
    thickness : sheet thickness [mm]
    columns, layers : number of elements along and through the sheet
    even_to : radius up to which the columns are equally long [mm]
    finer : how many times shorter they are just beyond it, for a wall that will be ironed
    rim : where they are shorter still; within the columns beyond ``even_to``

    Returns
    -------
    Mesh with the named edges ``bottom``, ``top``, ``centre`` and ``rim``.
    """
    if not 0 <= inner < even_to <= outer or columns < 4 or layers < 1:
        message = (
            f"a strip from {inner:g} to {outer:g} mm, even to {even_to:g} mm,"
            f" with {columns} columns and {layers} layers cannot be made"
        )
        raise MeshError(message, hint="use at least 4 columns and 1 layer")
    gmsh = load_gmsh()
    zones = _zones(inner, outer, columns, even_to, finer, rim)
    with _session(gmsh), tempfile.TemporaryDirectory() as folder:
        _add_strip(gmsh, inner, thickness, zones, layers)
        gmsh.model.mesh.generate(2)
        path = Path(folder) / "blank.msh"
        gmsh.write(str(path))
        with contextlib.redirect_stdout(io.StringIO()):
            return MeshQuad.load(path)


def column_lengths(
    inner: float,
    outer: float,
    columns: int,
    even_to: float,
    finer: float,
    rim: Rim | None = None,
) -> Floats:
    """Length of the columns that ``strip_mesh`` makes, from the centre on, (columns) [mm]."""
    begin, lengths = inner, list[Floats]()
    for end, count, ratio in _zones(inner, outer, columns, even_to, finer, rim):
        series = ratio ** np.arange(count)
        lengths.append((end - begin) * series / series.sum())
        begin = end
    return np.concatenate(lengths)


def _zones(
    inner: float, outer: float, columns: int, even_to: float, finer: float, rim: Rim | None
) -> list[tuple[float, int, float]]:
    """Zones (end radius, columns, ratio of neighbouring lengths)."""
    if outer - even_to < 1e-9 * outer:
        return [(outer, columns, 1.0)]
    shrink = even_to / outer
    share, worked = finer * graded_share(even_to, outer, even_to, outer), 0.0
    if rim is not None:
        worked = finer * rim.finer * graded_share(rim.begin, outer, even_to, outer)
        share = finer * graded_share(even_to, rim.begin, even_to, outer)
    whole = share + worked + even_to - inner
    fewest = 2 if rim is None else 4
    graded = min(columns - 2, max(fewest, round(columns * (share + worked) / whole)))
    even = (even_to, columns - graded, 1.0)
    if rim is None:
        return [even, (outer, graded, shrink ** (1.0 / (graded - 1)))]
    last = min(graded - 2, max(2, round(graded * worked / (share + worked))))
    at = _graded_length(rim.begin, even_to, outer)
    first = graded - last
    return [
        even,
        (rim.begin, first, at ** (1.0 / (first - 1))),
        (outer, last, (shrink / at) ** (1.0 / (last - 1))),
    ]


def graded_share(begin: float, end: float, even_to: float, outer: float) -> float:
    """Columns between two radii beyond ``even_to``, times the length of those before it [mm].

    Lengths that shrink in a series fall in proportion to the way, to ``even_to/outer`` at the rim.
    """
    first, last = (_graded_length(radius, even_to, outer) for radius in (begin, end))
    return (end - begin) * math.log(first / last) / (first - last)


def _graded_length(radius: float, even_to: float, outer: float) -> float:
    """Length of a column beyond ``even_to`` over that of one before it."""
    return 1.0 - (1.0 - even_to / outer) * (radius - even_to) / (outer - even_to)


def _add_strip(
    gmsh: Any, inner: float, thickness: float, zones: list[tuple[float, int, float]], layers: int
) -> None:
    geo = gmsh.model.geo
    lower, upper = geo.addPoint(inner, 0, 0), geo.addPoint(inner, thickness, 0)
    left = centre = geo.addLine(lower, upper)
    bottom, top, faces = [], [], []
    geo.mesh.setTransfiniteCurve(left, layers + 1)
    for radius, count, ratio in zones:
        low, high = geo.addPoint(radius, 0, 0), geo.addPoint(radius, thickness, 0)
        along, back = geo.addLine(lower, low), geo.addLine(upper, high)
        right = geo.addLine(low, high)
        geo.mesh.setTransfiniteCurve(right, layers + 1)
        for curve in (along, back):
            geo.mesh.setTransfiniteCurve(curve, count + 1, "Progression", ratio)
        face = geo.addPlaneSurface([geo.addCurveLoop([along, right, -back, -left])])
        geo.mesh.setTransfiniteSurface(face)
        geo.mesh.setRecombine(2, face)
        bottom.append(along)
        top.append(back)
        faces.append(face)
        left, lower, upper = right, low, high
    geo.synchronize()
    named = [("bottom", bottom), ("top", top), ("centre", [centre]), ("rim", [left])]
    for name, curves in named:
        gmsh.model.addPhysicalGroup(1, curves, name=name)
    gmsh.model.addPhysicalGroup(2, faces, name="sheet")
