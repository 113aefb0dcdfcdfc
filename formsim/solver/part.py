"""A part of the strip as a problem of its own: some neighbouring columns, the rest condensed.

Whatever is known of the whole is cut down to the part, and what comes of the part is put back. A
part of all columns is the whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.errors import MeshError
from formsim.solver.body import Body, Faces
from formsim.solver.contact import Grip
from formsim.solver.hourglass import Guard
from formsim.solver.newton import System
from formsim.solver.numbering import Columns
from formsim.solver.problem import Problem, Support
from formsim.solver.rest import rest_of
from formsim.solver.state import State


@dataclass(frozen=True)
class Span:
    """Neighbouring columns of a strip, and what belongs to them in the whole.

    Attributes
    ----------
    first, last : first column and the one behind the last
    nodes, unknowns, elements : their nodes, both node lines at the ends included
    facets : their contact facets, among those of all touched edges
    """

    first: int
    last: int
    nodes: slice
    unknowns: slice
    elements: slice
    facets: Ints

    @property
    def count(self) -> int:
        """Number of columns."""
        return self.last - self.first


def span_of(system: System, first: int, last: int) -> Span:
    """Columns ``first`` to ``last - 1`` of a strip."""
    columns = columns_of(system.problem.body)
    nodes = slice(columns.stride * first, columns.stride * last + columns.line_nodes)
    elements = slice(columns.layers * first, columns.layers * last)
    element = system.touch.element
    return Span(
        first=first,
        last=last,
        nodes=nodes,
        unknowns=slice(2 * nodes.start, 2 * nodes.stop),
        elements=elements,
        facets=np.flatnonzero((element >= elements.start) & (element < elements.stop)),
    )


def columns_of(body: Body) -> Columns:
    """Columns of a strip.

    Raises
    ------
    MeshError : the mesh has none
    """
    if body.columns is None:
        message = "the mesh has no columns"
        raise MeshError(message, hint="mesh the sheet as a strip with a centre and a rim")
    return body.columns


def cut_out(system: System, span: Span) -> System:
    """The problem of a span; it shares with the whole what is known of its elements."""
    whole = system.problem
    problem = replace(
        whole,
        body=_body(whole.body, span),
        supports=tuple(_support(support, span) for support in whole.supports),
        guard=_guard(whole.guard, span),
    )
    return System(problem, rest=rest_of(system.scratch.rest, span.elements))


def _body(body: Body, span: Span) -> Body:
    columns, el = columns_of(body), span.elements
    return replace(
        body,
        nodes=body.nodes[span.nodes],
        elements=body.elements[el] - span.nodes.start,
        unknowns=body.unknowns[el] - span.unknowns.start,
        along=body.along[el],
        gradient=body.gradient[el],
        radius=body.radius[el],
        volume=body.volume[el],
        columns=Columns(span.count, columns.layers),
        faces={name: _faces(faces, span) for name, faces in body.faces.items()},
    )


def _faces(faces: Faces, span: Span) -> Faces:
    mine = (faces.element >= span.elements.start) & (faces.element < span.elements.stop)
    return Faces(
        element=faces.element[mine] - span.elements.start,
        local=faces.local[mine],
        nodes=faces.nodes[mine] - span.nodes.start,
        shape=faces.shape[mine],
        weight=faces.weight[mine],
    )


def _support(support: Support, span: Span) -> Support:
    """The unknowns of a support that belong to a span; it holds still, see ``separable``."""
    place = support.unknowns - span.unknowns.start
    size = span.unknowns.stop - span.unknowns.start
    return Support(place[(place >= 0) & (place < size)])


def _guard(guard: Guard | None, span: Span) -> Guard | None:
    """Guard of the elements of a span; beyond it nothing needs one."""
    if guard is None:
        return None
    inside = (guard.elements >= span.elements.start) & (guard.elements < span.elements.stop)
    return Guard(guard.elements[inside] - span.elements.start, guard.strength)


def narrowed(state: State, span: Span) -> State:
    """What a state says of a span."""
    return replace(
        state,
        u=state.u[span.unknowns].copy(),
        plastic=state.plastic[span.elements],
        damage=state.damage[span.elements],
        heat=state.heat[span.elements],
        reached=state.reached[span.elements],
        grip=_map_grip(lambda values: values[:, span.facets].copy(), state.grip),
    )


def widened(whole: State, span: Span, part: State) -> State:
    """A state of the whole strip with that of a span put in; the rest stays as it was."""
    u = whole.u.copy()
    u[span.unknowns] = part.u
    carried = {}
    for name in ("plastic", "damage", "heat", "reached"):
        carried[name] = getattr(whole, name).copy()
        carried[name][span.elements] = getattr(part, name)
    return replace(part, u=u, grip=widened_grip(whole.grip, span, part.grip), **carried)


def widened_grip(whole: Grip, span: Span, part: Grip) -> Grip:
    """Contact memory of the whole strip with that of a span put in, stiffness from the span."""

    def put(old: Floats, new: Floats) -> Floats:
        values = old.copy()
        values[:, span.facets] = new
        return values

    return Grip(
        drag=put(whole.drag, part.drag),
        pressure=put(whole.pressure, part.pressure),
        gap=put(whole.gap, part.gap),
        offset=put(whole.offset, part.offset),
        log_stiffness=part.log_stiffness,
    )


def _map_grip(cut: Callable[[Floats], Floats], grip: Grip) -> Grip:
    return replace(
        grip,
        drag=cut(grip.drag),
        pressure=cut(grip.pressure),
        gap=cut(grip.gap),
        offset=cut(grip.offset),
    )


def separable(problem: Problem) -> bool:
    """Whether a part of the strip can be worked on by itself.

    What acts on the whole body at once, or moves its supports, asks for all columns.
    """
    still = all(support.value is None for support in problem.supports)
    everywhere = problem.pressures or problem.ties or problem.loads is not None
    return problem.body.columns is not None and still and not everywhere
