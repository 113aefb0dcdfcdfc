"""Zones of a body behind trim, bake, neck and flange: base and nose by the last punch."""

import math

import numpy as np
import pytest
from pydantic import TypeAdapter

from formsim.case.stage import Stage
from formsim.results.thickness import thickness_profile
from formsim.results.zones import thinnest, upright_zones, zones
from tests.unit.shaped import along, blank, shaped

T = 0.5
CORNER = 4.25
UP = [(16.0, 0.0), (CORNER * math.pi / 2, math.pi / 2), (20.0, 0.0)]
LEAN = math.radians(30.0)
SHOULDER = [(2.0, LEAN), (6.0, 0.0), (2.0, -LEAN), (6.0, 0.0)]
OUT = [(2.0 * math.pi / 2, -math.pi / 2), (4.0, 0.0)]


def stage(**table) -> Stage:
    return TypeAdapter(Stage).validate_python({"name": table["kind"], **table})


PUNCH = {"diameter": 40.0, "nose_radius": 4.0}
DRAW = stage(
    kind="draw", punch=PUNCH, die={"radius": 3.0, "clearance": 0.6}, holder={"force": 5000.0}
)
IRON = stage(kind="iron", punch=PUNCH, rings=[{"bore": 40.8}])
TRIM = stage(kind="trim", height=20.0)
BAKE = stage(kind="bake", factor=0.9)
NECK = stage(kind="neck", die={"diameter": 35.0}, depth=10.0)
FLANGE = stage(kind="flange", tool={"diameter": 33.0, "radius": 2.0}, depth=5.0)


def profile(path, strain=0.0):
    outer = sum(length for length, _ in path)
    body = blank(outer=outer, thickness=T, columns=400)
    return body, shaped(body, along(path, T), strain)


def order(path, now, before=()):
    body, state = profile(path)
    return list(dict.fromkeys(zones(thickness_profile(body, state), now, before)))


@pytest.mark.parametrize("now", [IRON, TRIM, BAKE], ids=lambda s: s.kind)
def test_an_ironed_cut_or_baked_wall_stays_wall(now):
    before = (DRAW,) if now is IRON else (DRAW, IRON)
    assert order(UP, now, before) == ["base", "nose", "wall", "rim"]


def test_the_nose_is_that_of_the_last_punch():
    """A narrower punch before it must not count."""
    small = stage(
        kind="draw",
        punch={"diameter": 24.0, "nose_radius": 4.0},
        die={"radius": 3.0, "clearance": 0.6},
        holder={"force": 5000.0},
    )
    body, state = profile(UP)
    shape = thickness_profile(body, state)
    assert zones(shape, TRIM, (small, IRON)) == zones(shape, IRON)
    assert zones(shape, TRIM, (small,)) != zones(shape, IRON)


def test_a_neck_and_its_shoulder():
    path = [*UP, *SHOULDER]
    assert order(path, NECK, (DRAW, IRON, TRIM)) == ["base", "nose", "wall", "neck", "rim"]
    assert order(path, NECK) == ["base", "wall", "neck", "rim"]


def test_a_flange_behind_a_neck():
    path = [*UP, *SHOULDER, *OUT]
    named = order(path, FLANGE, (DRAW, IRON, NECK))
    assert named == ["base", "nose", "wall", "neck", "flange", "rim"]
    body, state = profile(path)
    shape = thickness_profile(body, state)
    names = np.array(zones(shape, FLANGE, (DRAW, IRON, NECK)))
    narrow = shape.radius[names == "neck"].min()
    first = shape.radius[names == "flange"][0]
    assert narrow + T < first < narrow + T + 0.2


def test_a_flare_of_a_tube_is_a_flange_however_steep():
    path = [*UP, (3.0, -LEAN), (8.0, 0.0)]
    assert order(path, FLANGE) == ["base", "wall", "flange", "rim"]


def test_a_given_cup_has_base_and_wall():
    body, state = profile(UP)
    named = upright_zones(thickness_profile(body, state))
    assert list(dict.fromkeys(named)) == ["base", "wall", "rim"]


def test_the_thinnest_place_of_a_neck():
    path = [*UP, *SHOULDER]
    straight, length = along(path, T), sum(length for length, _ in path)

    def thinned(r, z):
        share = 1.0 - 0.1 * np.exp(-((r - (length - 4.0)) ** 2))
        return straight(r, T / 2 + (z - T / 2) * share)

    body = blank(outer=length, thickness=T, columns=400)
    found = thinnest(body, shaped(body, thinned), BAKE, (DRAW, IRON, NECK))
    assert found.zone == "neck"
    assert found.original_radius == pytest.approx(length - 4.0, abs=0.2)


def test_the_dome_of_a_stroke():
    stroke = stage(
        kind="stroke",
        punch={**PUNCH, "cavity": {"diameter": 24.0, "radius": 1.5, "depth": 8.0}},
        die={"radius": 3.0, "clearance": 0.6},
        sleeve={"diameter": 50.0, "corner_radius": 3.0, "force": 3000.0},
        rings=[{"bore": 40.8, "spacing": 40.0}],
        dome={"crown_radius": 20.0, "shoulder_radius": 2.0, "diameter": 20.0},
        depth=2.0,
    )
    named = order(UP, TRIM, (stroke,))
    assert named == ["dome crown", "dome shoulder", "chime", "nose", "wall", "rim"]


def test_the_chime_of_a_punch_with_a_nose_ring_is_the_ring_it_stands_on():
    """By hand: a ring of diameter 26 and radius 1.5 reaches from 11.5 to 14.5 mm."""
    ring = {"nose_ring": {"diameter": 26.0, "radius": 1.5, "height": 2.0}, "cavity": {"depth": 8.0}}
    dome = stage(
        kind="dome",
        punch={**PUNCH, **ring},
        dome={"crown_radius": 20.0, "shoulder_radius": 2.0, "diameter": 20.0},
        depth=2.0,
        clamp={"force": 5000.0},
    )
    body, state = profile(UP)
    found = thickness_profile(body, state)
    names = np.array(zones(found, dome, (DRAW,)))
    radius = found.radius[names == "chime"]
    assert radius.min() == pytest.approx(11.5, abs=0.15)
    assert radius.max() == pytest.approx(14.5, abs=0.15)
    assert list(dict.fromkeys(names)) == [
        *("dome crown", "dome shoulder", "chime", "nose", "wall", "rim")
    ]
    assert "chime" not in zones(found, DRAW)
