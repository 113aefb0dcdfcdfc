"""What may not matter: the size of the cup, the end a bar is pulled from, the contact stiffness."""

import numpy as np
import pytest

from formsim.material.flow import Swift
from formsim.solver.problem import Support
from formsim.solver.stepping import Steps
from tests.physics.support import (
    axial,
    canister_draw,
    first_draw,
    form_first,
    metal,
    middle_strains,
    named_case,
    problem,
    run,
    strip,
    with_mesh,
)


def scaled(case, factor, stroke):
    """The case with every length of sheet and tools times a factor, forces times its square."""
    stage = first_draw(case)
    lengths = {
        "punch": ("diameter", "nose_radius"),
        "die": ("radius", "clearance", "land", "relief"),
    }
    parts = {
        name: getattr(stage, name).model_copy(
            update={key: factor * getattr(getattr(stage, name), key) for key in keys}
        )
        for name, keys in lengths.items()
    }
    holder = stage.holder
    parts["holder"] = holder.model_copy(
        update={
            "force": factor**2 * holder.force,
            "edge_radius": factor * holder.edge_radius,
            "clearance": factor * holder.clearance,
        }
    )
    sheet = case.sheet.model_copy(
        update={
            "thickness": factor * case.sheet.thickness,
            "blank_diameter": factor * case.sheet.blank_diameter,
        }
    )
    new = stage.model_copy(update={**parts, "stroke": factor * stroke})
    return with_mesh(case.model_copy(update={"sheet": sheet, "stage": (new,)}), 60)


@pytest.mark.slow
@pytest.mark.parametrize("factor", [10.0, 0.1])
def test_ten_times_the_length_is_a_hundred_times_the_force(factor):
    """Similarity of rate-independent plasticity: no setting may know the size."""
    case, stroke = named_case("small_cup_steel"), 4.0
    one, other = (form_first(scaled(case, f, stroke)) for f in (1.0, factor))
    assert len(other.increments) == len(one.increments)
    for tool in ("punch", "die", "holder"):
        force = one.forces(tool)
        np.testing.assert_allclose(
            other.forces(tool) / factor**2, force, atol=1e-4 * force.max(), err_msg=tool
        )
    np.testing.assert_allclose(other.last.u / factor, one.last.u, atol=1e-4 * stroke)


def bar(start_at_flaw):
    """A tapered bar pulled at one end; columns are numbered from one end or the other."""
    length, radius = 20.0, 5.0
    along = np.linspace(0.0, length, 17)

    def shape(place, r):
        z = place if start_at_flaw else length - place
        return r * (0.99 + 0.01 * z / length), z

    body = strip(along, np.linspace(0.0, radius, 3), shape)
    flaw, end = ("centre", "rim") if start_at_flaw else ("rim", "centre")
    supports = (Support(axial(body, flaw)), Support(axial(body, end), lambda s: s))
    task = problem(body, metal(Swift(500.0, 0.01, 0.15), 70e3, 0.3), 1.0, supports=supports)
    frames = run(task, [6.0], Steps(0.01, 0.2, 1e-5))
    force = [frame.force(axial(body, end)) for frame in frames]
    places = frames[-1].state.places(body)
    return np.array(force), places[np.lexsort(np.round(body.nodes, 6).T)]


def test_numbering_from_the_other_end_gives_the_same_bar():
    first, second = bar(True), bar(False)
    np.testing.assert_allclose(second[0], first[0], rtol=1e-6)
    np.testing.assert_allclose(second[1], first[1], atol=1e-6 * 20.0)


def thinnest(formed):
    """Smallest thickness of the middle of the sheet by its strains, over the first one."""
    _, along, hoop = middle_strains(formed.body, formed.last)
    return float(np.exp(-(along + hoop)).min())


@pytest.mark.slow
@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_contact_stiffness_does_not_matter(factor):
    """Half and twice the first stiffness: 0.1 % in minimum thickness, 0.5 % in peak force."""
    one, other = canister_draw(), canister_draw(factor)
    assert thinnest(other) == pytest.approx(thinnest(one), rel=1e-3)
    peak = one.forces("punch").max()
    assert other.forces("punch").max() == pytest.approx(peak, rel=5e-3)
