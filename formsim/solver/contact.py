"""Contact of the faces with rigid tools: a compact smooth law, Coulomb friction, exact tangents.

The pressure per reference area is ``p = k d phi((a - g)/d)``: gap ``g``, softness ``d``, stiffness
``k`` of the tool and offset ``a`` of the point. ``phi`` is twice continuously differentiable, zero
below -4 and the identity above 4. Moving the offset is the augmented-Lagrangian update of this law
(Bertsekas, Constrained Optimization and Lagrange Multiplier Methods, 1982), so that pressures do
not depend on the stiffness. Friction is a return mapping on the slip since the last accepted state.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.geometry.distance import closest
from formsim.kernels import kernel
from formsim.solver.body import FACE_POINTS

REACH = 4.0
FAR = 1e3
STICK = 0.01


@kernel
def contact_law(y: float) -> tuple[float, float]:
    """``phi`` and its slope."""
    if y <= -REACH:
        return 0.0, 0.0
    if y >= REACH:
        return y, 1.0
    q = y + REACH
    c = 1.0 / (4 * REACH * REACH * REACH)
    return 0.25 * c * q * q * q * (3 * REACH - y), c * q * q * (2 * REACH - y)


@kernel
def contact_forces(
    u: Floats,
    u_old: Floats,
    nodes: Floats,
    face_element: Ints,
    face_local: Ints,
    face_nodes: Ints,
    face_shape: Floats,
    face_weight: Floats,
    pieces: Floats,
    piece_start: Ints,
    face_start: Ints,
    z: Floats,
    z_old: Floats,
    friction: Floats,
    log_stiffness: Floats,
    reference: float,
    softness: float,
    deepest: float,
    offset: Floats,
    drag_old: Floats,
    drag: Floats,
    pressure: Floats,
    gap: Floats,
    border: Ints,
    block: Floats,
    copied: Ints,
    force: Floats,
    column: Floats,
    row: Floats,
    totals: Floats,
    want: bool,
    firm: float,
) -> None:
    """Add the contact forces of all tools to the element blocks.

    Parameters
    ----------
    u, u_old : displacement now and at the last accepted state, (n_unknowns) [mm]
    nodes : reference positions, (n_nodes, 2) [mm]
    face_* : facets of all touched edges one behind the other, see ``Faces``
    pieces, piece_start : outline pieces of all tools and where each tool begins
    face_start : first and last facet of each tool, (n_tools, 2)
    z, z_old : axial tool positions now and at the last accepted state, the first n_tools [mm]
    friction : Coulomb number [-], (n_tools)
    log_stiffness, reference : logarithm of the contact stiffness over its reference [-], (n_tools),
        and the reference [N/mm3]
    softness, deepest : softness of the law and the depth beyond which a point counts as passed [mm]
    offset, drag_old : offset [mm] and old friction stress [MPa], (n_tools, n_faces, n_points)
    drag, pressure, gap : friction stress, pressure [MPa] and gap [mm], likewise; set
    border : position of each tool in the border of unknown tool positions, -1 for none, the first
        n_tools
    block, force : element tangents and forces; added to
    copied : -1 where a tangent is altered, see ``element_forces``
    column, row : border column and row, (n_border, n_unknowns); added to
    totals : radial and axial force on each tool [N], axial stiffness [N/mm], points in contact and
        frictional work of the step [N mm], (n_tools, 5); set
    firm : share of its limit up to which friction that holds counts in the tangent
    """
    out = np.zeros(6)
    for t in range(len(friction)):
        mu = friction[t]
        stiffness = reference * math.exp(log_stiffness[t])
        stick = STICK * stiffness
        b = border[t]
        for k in range(5):
            totals[t, k] = 0.0
        for f in range(face_start[t, 0], face_start[t, 1]):
            e = face_element[f]
            for g in range(face_weight.shape[1]):
                drag[t, f, g] = 0.0
                pressure[t, f, g] = 0.0
                gap[t, f, g] = FAR
                r = 0.0
                h = 0.0
                vr = 0.0
                vz = 0.0
                for a in range(3):
                    n = face_shape[f, g, a]
                    j = face_nodes[f, a]
                    r += n * (nodes[j, 0] + u[2 * j])
                    h += n * (nodes[j, 1] + u[2 * j + 1])
                    vr += n * (u[2 * j] - u_old[2 * j])
                    vz += n * (u[2 * j + 1] - u_old[2 * j + 1])
                if not closest(pieces, piece_start[t], piece_start[t + 1], r, h - z[t], out):
                    continue
                if out[0] < -deepest:
                    continue
                gap[t, f, g] = out[0]
                y = (offset[t, f, g] - out[0]) / softness
                if y <= -REACH:
                    continue
                phi, slope = contact_law(y)
                p = stiffness * softness * phi
                dp = stiffness * slope
                nr, nz, tr, tz, bend = out[1], out[2], out[3], out[4], out[5]
                vz -= z[t] - z_old[t]
                slip = vr * tr + vz * tz
                lift = vr * nr + vz * nz
                tau = drag_old[t, f, g] + stick * slip
                limit = mu * p
                holds = abs(tau) <= limit
                sign = 1.0 if tau > 0 else -1.0
                slid = 0.0
                if not holds:
                    slid = (abs(tau) - limit) / stick
                    tau = sign * limit
                drag[t, f, g] = tau
                pressure[t, f, g] = p
                w = face_weight[f, g]
                fr = (-p * nr + tau * tr) * w
                fz = (-p * nz + tau * tz) * w
                totals[t, 0] += fr
                totals[t, 1] += fz
                totals[t, 3] += 1
                totals[t, 4] += w * abs(tau) * slid
                for a in range(3):
                    n = face_shape[f, g, a]
                    i = face_local[f, a]
                    force[e, i] += n * fr
                    force[e, 8 + i] += n * fz
                if not want:
                    continue
                copied[e] = -1
                c_tt = -p * bend
                c_tn = 0.0
                if holds:
                    if abs(tau) <= firm * limit:
                        c_tt += stick * (1.0 - bend * lift)
                else:
                    c_tn = -sign * mu * dp
                c_nt = -tau * bend
                krr = w * (dp * nr * nr + c_tt * tr * tr + c_tn * tr * nr + c_nt * nr * tr)
                krz = w * (dp * nr * nz + c_tt * tr * tz + c_tn * tr * nz + c_nt * nr * tz)
                kzr = w * (dp * nz * nr + c_tt * tz * tr + c_tn * tz * nr + c_nt * nz * tr)
                kzz = w * (dp * nz * nz + c_tt * tz * tz + c_tn * tz * nz + c_nt * nz * tz)
                totals[t, 2] += kzz
                for a in range(3):
                    na = face_shape[f, g, a]
                    i = face_local[f, a]
                    if b >= 0:
                        m = 2 * face_nodes[f, a]
                        column[b, m] -= na * krz
                        column[b, m + 1] -= na * kzz
                        row[b, m] += na * kzr
                        row[b, m + 1] += na * kzz
                    for c in range(3):
                        v = na * face_shape[f, g, c]
                        j = face_local[f, c]
                        block[e, i, j] += v * krr
                        block[e, i, 8 + j] += v * krz
                        block[e, 8 + i, j] += v * kzr
                        block[e, 8 + i, 8 + j] += v * kzz


@dataclass(frozen=True)
class Grip:
    """What contact remembers from one accepted state to the next.

    Attributes
    ----------
    drag, pressure : friction stress and pressure, (n_tools, n_faces, n_points) [MPa]
    gap : gap of the points, ``FAR`` where no tool is near, likewise [mm]
    offset : gap offset of the points, likewise [mm]
    log_stiffness : logarithm of the tools' contact stiffness over its reference, (n_tools)
    """

    drag: Floats
    pressure: Floats
    gap: Floats
    offset: Floats
    log_stiffness: Floats


def no_grip(n_tools: int, n_faces: int, n_points: int = FACE_POINTS) -> Grip:
    """Contact memory of tools that have touched nothing yet."""
    zero = np.zeros((n_tools, n_faces, n_points))
    return Grip(zero, zero, zero + FAR, zero, np.zeros(n_tools))


@dataclass(frozen=True)
class Tuning:
    """How fast stiffness and offsets follow the gaps, in multiples of the sheet's own scales.

    Attributes
    ----------
    softness : of the contact law [mm]
    stiffness : reference of the contact stiffness [N/mm3]
    settle : travel over which the stiffness follows [mm]
    relax_travel : travel over which a point moves its offset by the full relaxation [mm]
    least_force, least_pressure : below them a tool is left alone [N], [MPa]
    """

    softness: float
    stiffness: float
    settle: float
    relax_travel: float
    least_force: float
    least_pressure: float


RELAX = 0.3
FADE = 0.7
OFFSET_LIMIT = 4.0
AWAY = 8.0
SOFTEST, STIFFEST = -5.0, 4.0


def tuning(thickness: float, yield_stress: float, factor: float = 1.0) -> Tuning:
    """Contact settings that follow from thickness [mm] and yield stress [MPa] alone.

    ``factor`` scales the stiffness; results must not depend on it.
    """
    softness = 0.004 * thickness
    return Tuning(
        softness=softness,
        stiffness=factor * 0.2 * yield_stress / (0.75 * softness),
        settle=0.7 * thickness,
        relax_travel=0.14 * thickness,
        least_force=0.85 * yield_stress * thickness**2,
        least_pressure=yield_stress / 30.0,
    )


def contact_values(y: Floats) -> Floats:
    """``phi`` of many arguments."""
    q = np.clip(y + REACH, 0.0, 2 * REACH)
    inner = q**3 * (4 * REACH - q) / (16 * REACH**3)
    return np.where(y < REACH, inner, y)


_ARGUMENTS = np.linspace(-REACH, REACH, 2001)
_VALUES = contact_values(_ARGUMENTS)


def same_pressure(grip: Grip, log_stiffness: Floats, softness: float) -> Grip:
    """Contact memory with other stiffnesses and with offsets that leave all pressures as they are.

    Points at the limit of their offset bear a little more or less.

    Parameters
    ----------
    log_stiffness : of the tools, (n_tools)
    """
    limit = OFFSET_LIMIT * softness
    loaded = np.flatnonzero(grip.offset - grip.gap > -REACH * softness)
    tool = np.unravel_index(loaded, grip.gap.shape)[0]
    gap, offset = grip.gap.ravel()[loaded], np.clip(grip.offset, -limit, limit)
    law = contact_values((grip.offset.ravel()[loaded] - gap) / softness)
    wanted = law * np.exp(grip.log_stiffness - log_stiffness)[tool]
    argument = np.where(wanted < REACH, np.interp(wanted, _VALUES, _ARGUMENTS), wanted)
    moved = np.clip(gap + softness * argument, -limit, limit)
    offset.flat[loaded] = np.where(law > 0.0, moved, offset.flat[loaded])
    return replace(grip, offset=offset, log_stiffness=log_stiffness)


def adapt(
    grip: Grip,
    weight: Floats,
    face_start: Ints,
    travel: float,
    settings: Tuning,
    elsewhere: Floats | None = None,
) -> Grip:
    """Stiffness and offsets for the next step, from the gaps of the accepted one.

    The stiffness of a tool drives its pressure-weighted mean gap to the mean offset, the offset of
    a point drives its own gap to zero. A tool that carries next to nothing returns to the reference
    stiffness, so that it is not soft when the load comes.

    Parameters
    ----------
    weight : ring areas of the points, (n_faces, n_points) [mm2]
    face_start : first and last facet of each tool, (n_tools, 2)
    travel : stroke of the accepted step [mm]
    elsewhere : of points that are not seen here and keep their pressure, for each tool: contact
        force [N], its moments of offset and gap [N mm] and the log stiffness then, (n_tools, 4)
    """
    offset, log_stiffness = grip.offset.copy(), grip.log_stiffness.copy()
    share = travel / settings.relax_travel
    unseen = np.zeros((len(face_start), 4)) if elsewhere is None else elsewhere
    _follow(
        grip.pressure,
        grip.gap,
        weight,
        face_start,
        unseen,
        settings.softness,
        1.0 - math.exp(-travel / settings.settle),
        1.0 - (1.0 - RELAX) ** share,
        FADE**share,
        settings.least_force,
        settings.least_pressure,
        offset,
        log_stiffness,
    )
    return replace(grip, offset=offset, log_stiffness=log_stiffness)


@kernel
def _within(value: float, limit: float) -> float:
    return min(max(value, -limit), limit)


@kernel
def _follow(
    pressure: Floats,
    gap: Floats,
    weight: Floats,
    face_start: Ints,
    unseen: Floats,
    d: float,
    follow: float,
    relax: float,
    fade: float,
    least_force: float,
    least_pressure: float,
    offset: Floats,
    log_stiffness: Floats,
) -> None:
    """Offsets and stiffnesses after a step, changed in place; see ``adapt``."""
    for t in range(face_start.shape[0]):
        first, last = face_start[t]
        seen = 0.0
        pressed = 0.0
        gaps = 0.0
        for f in range(first, last):
            for g in range(weight.shape[1]):
                p = pressure[t, f, g]
                seen += p * weight[f, g]
                pressed += p * p * weight[f, g]
                if p > 0.0:
                    gaps += p * weight[f, g] * gap[t, f, g]
        if seen + unseen[t, 0] < least_force or pressed < least_pressure * seen:
            if unseen[t, 0] == 0.0:
                log_stiffness[t] *= 1.0 - follow
            continue
        offsets = 0.0
        for f in range(first, last):
            for g in range(weight.shape[1]):
                p = pressure[t, f, g]
                if p > 0.0:
                    moved = offset[t, f, g] - relax * _within(gap[t, f, g], 2 * d)
                    offset[t, f, g] = _within(moved, OFFSET_LIMIT * d)
                    offsets += p * weight[f, g] * offset[t, f, g]
                elif gap[t, f, g] > AWAY * d:
                    offset[t, f, g] *= fade
        total = seen + unseen[t, 0]
        # Points not seen keep their pressure: a stiffer tool needs less offset there.
        stiffer = log_stiffness[t] - unseen[t, 3]
        offsets += unseen[t, 1] - unseen[t, 0] * d * stiffer
        gaps += unseen[t, 2]
        miss = _within(offsets / total, d) - _within(gaps / total, 3 * d)
        moved = log_stiffness[t] + 0.5 * follow * miss / d
        log_stiffness[t] = min(max(moved, SOFTEST), STIFFEST)
