"""Flanging: flaring of a tube over a cone against the work it takes, a flange, and its curl."""

import math

import numpy as np
import pytest

from formsim.errors import ConvergenceError
from formsim.results.flanging import flange_size
from formsim.results.necking import rim_ring
from formsim.stages.flange import rim_slope
from tests.physics.support import Formed, metal_volume
from tests.physics.test_neck import MIDDLE, THICKNESS, flow, load, pushed
from tests.references.cone import bending_load, cone_load

CONE = 'kind = "flange"\ntool = { diameter = 54.8, radius = 10.0, angle = 30.0 }\ndepth = 22.0'
FLAT = 'kind = "flange"\ntool = {{ diameter = 55.6, radius = 2.5 }}\ndepth = {0}'


def edge(formed: Formed) -> float:
    """Radius of the middle of the edge [mm]."""
    return float(formed.last.places(formed.body)[formed.body.edge_nodes("rim"), 0].mean())


@pytest.mark.slow
@pytest.mark.parametrize("friction", [0.0, 0.05, 0.1])
def test_flaring_load_lies_between_the_cone_and_the_cone_with_bending(friction):
    """Work balance, see ``references/cone.py``; the round is the only bend."""
    formed = pushed(CONE, friction=friction)
    least = cone_load(flow, MIDDLE, edge(formed), THICKNESS, 30.0, friction)
    bends = bending_load(flow, MIDDLE, edge(formed), THICKNESS, (10.0,))
    assert least < load(formed) < least + bends


@pytest.mark.slow
@pytest.mark.parametrize("r_bar", [1.0, 0.6])
def test_edge_thins_as_in_hoop_tension(r_bar):
    """Free edge, uniaxial hoop stress: ``t/t0 = (r/r0)^(-1/(1 + r))`` (Hill 1948, memory)."""
    formed = pushed(CONE, r_bar=r_bar)
    ring = rim_ring(formed.body, formed.last)
    ratio = (0.5 * ring.diameter / MIDDLE) ** (-1.0 / (1.0 + r_bar))
    assert ring.thickness / THICKNESS == pytest.approx(ratio, rel=0.01)


@pytest.mark.slow
def test_edge_of_a_flare_is_where_the_shortening_wall_puts_it():
    """Hoop tension shortens the wall: ``r1 = r0 [1 + (m + 1) L sin(a)/r0]^(1/(m + 1))`` with
    ``m = r/(1 + r)`` and the length L of tube that lies on the cone (own integration of Hill 1948,
    sharp corner)."""
    formed = pushed(CONE)
    z = formed.last.places(formed.body)[:, 1]
    corner = float(formed.last.positions[0])
    on_cone = float(formed.body.nodes[z > corner, 1].max() - formed.body.nodes[z > corner, 1].min())
    expected = MIDDLE * (1.0 + 1.5 * on_cone * 0.5 / MIDDLE) ** (1.0 / 1.5)
    assert edge(formed) == pytest.approx(expected, rel=0.01)


@pytest.mark.slow
def test_volume_is_kept():
    formed = pushed(CONE, free=True)
    first = float(formed.body.volume.sum())
    assert metal_volume(formed.body, formed.free) == pytest.approx(first, rel=1e-5)


def test_a_flange_turns_outwards():
    formed = pushed(FLAT.format(2.5), friction=0.08, thickness=0.115, length=30.0)
    size = flange_size(formed.body, formed.last)
    assert 0.0 < size.short_of_flat < 60.0
    assert size.width == pytest.approx(0.5 * size.diameter - 27.885, abs=0.1)
    assert rim_slope(formed.body, formed.last) == pytest.approx(
        math.radians(90.0 - size.short_of_flat)
    )
    assert np.all(formed.forces("tool")[-20:] > 100.0)


def test_a_rim_that_leaves_the_tool_and_curls_is_said():
    with pytest.raises(ConvergenceError) as error:
        pushed(FLAT.format(8.0), friction=0.08, thickness=0.115, length=30.0)
    assert error.value.reason == "curled"
    assert "has left the flange tool and curls" in str(error.value)
    assert error.value.facts["slope"] > 100.0
