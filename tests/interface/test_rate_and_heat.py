"""Rate and heat of whole cases: what is refused, what comes out, and that nothing else changes."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.errors import CaseError
from formsim.pipeline.run import Run, run_case
from formsim.report.preflight import stages_text
from formsim.report.table import result_text
from formsim.results import store
from formsim.results.strength import pressure_figures
from formsim.results.summary import TRUST
from tests.interface.small import PLAIN_OUTPUT, small_cup
from tests.interface.test_bad_cases import BULGE

MATERIAL = 'material = "can-body-demo"           # a name'
POWER = 'strain_rate = { kind = "power_law", card_rate = "0.001 /s", exponent = 0.02 }'
COWPER = 'strain_rate = { kind = "cowper_symonds", doubling_rate = 40.4, exponent = 5 }'
CAPACITY = "heat_capacity = 900"
HEATING = (
    "heating = { softening = { kind = 'johnson_cook', melting_temperature = 640, exponent = 1 } }"
)
HOT = (CAPACITY, HEATING)


def cup(*keys: str, speed: str = "", warm: str = "", more: str = "") -> str:
    """The small cup of a card with more keys, with a speed for its draw and its dome."""
    own = "".join(f", {key}" for key in keys)
    given = f'\nspeed = "{speed}"' if speed else ""
    return small_cup(
        (MATERIAL, f'material = {{ base = "can-body-demo"{own} }} # a name'),
        ('kind = "draw" ', f'kind = "draw"{given} '),
        ('kind = "dome" ', f'kind = "dome"{given}{warm} '),
        more=more,
    )


def faults(text: str) -> dict[str, str]:
    with pytest.raises(CaseError) as caught:
        parse_case(text, "bad.toml")
    return {fault.key: f"{fault.value} {fault.expected}" for fault in caught.value.faults}


@cache
def made(*keys: str, speed: str = "", warm: str = "", exact: bool = False) -> Run:
    return run_case(parse_case(cup(*keys, speed=speed, warm=warm), "cup.toml"), exact=exact)


def test_a_rate_law_asks_every_stage_for_its_speed():
    told = faults(cup(POWER))
    assert set(told) == {"stage[0].speed", "stage[1].speed"}
    assert "is missing" in told["stage[0].speed"]
    assert "200 mm/s" in told["stage[0].speed"]


def test_keys_that_would_do_nothing_are_refused():
    told = faults(cup(speed="1 m/s", warm="\nwarm = true"))
    assert "1000 would do nothing: the material has no strain_rate" in told["stage[0].speed"]
    assert "has no heating" in told["stage[1].warm"]
    first = cup(*HOT).replace('kind = "draw" ', 'kind = "draw"\nwarm = true ')
    assert "no stage is before it" in faults(first)["stage[0].warm"]


@pytest.mark.parametrize(
    ("keys", "where", "said"),
    [
        ((HEATING,), "sheet.material", "heat_capacity"),
        ((*HOT, "strain_rate = { kind = 'cowper', doubling_rate = 40, exponent = 5 }"),
         "sheet.material.strain_rate.kind", "cowper_symonds"),
        (("strain_rate = { kind = 'power_law', card_rate = 0.001, exponent = 5 }",),
         "sheet.material.strain_rate.exponent", "0 to 0.5"),
        ((CAPACITY, HEATING.replace("640", "640, per_kelvin = 1")),
         "sheet.material.heating.softening.per_kelvin", "melting_temperature"),
        ((CAPACITY, "heating = { heat_share = 1.5 }"),
         "sheet.material.heating.heat_share", "0 to 1"),
        ((CAPACITY, HEATING.replace("{ soft", "{ reference_temperature = 300, soft")
          .replace("640", "250")), "sheet.material.heating", "must be above"),
    ],
)  # fmt: skip
def test_a_card_with_faults_says_what_was_expected(keys, where, said):
    assert said in faults(cup(*keys))[where]


def test_check_tells_what_rate_and_heat_will_do():
    """1 + (8.108/40.4)**0.2 at 300 mm/s over 37 mm; 100 MPa warm by 0.9e8/(2720*900) K."""
    said = " ".join(stages_text(parse_case(cup(COWPER, *HOT, speed="300 mm/s"), "cup")).split())
    assert "1.477 at 1 /s" in said
    assert "8.108 /s by speed over radius: flow stress times 1.725" in said
    assert "warm by 36.8 K" in said
    assert "rate " not in stages_text(parse_case(small_cup(), "cup"))


def test_the_name_of_a_case_without_rate_and_heat_is_what_it_was():
    """A speed and a law change it; keys that are not set do not count."""
    plain = parse_case(small_cup(), "cup")
    assert "heating" not in plain.sheet.material.model_dump(exclude_none=True)
    digests = {parse_case(cup(POWER, speed=f"{v} mm/s"), "cup").digest for v in (100, 200)}
    assert len({*digests, plain.digest}) == 3
    assert parse_case(cup(), "cup").digest == parse_case(cup(), "cup").digest


@pytest.mark.slow
def test_laws_without_effect_give_the_plain_run_bit_for_bit():
    still = "strain_rate = { kind = 'power_law', card_rate = 0.001, exponent = 0.0 }"
    no_heat = "heating = { heat_share = 0, softening = { kind = 'linear', per_kelvin = 0.001 } }"
    plain, paced = made(), made(still, CAPACITY, no_heat, speed="300 mm/s")
    for one, other in zip(plain.line.stages, paced.line.stages, strict=True):
        for state in ("formed", "final"):
            for name in ("u", "plastic", "damage", "positions"):
                mine, theirs = (getattr(getattr(r, state), name) for r in (one, other))
                np.testing.assert_array_equal(mine, theirs)
    assert not plain.line.stages[0].final.heat.size


@pytest.mark.slow
@pytest.mark.parametrize("law", [POWER, COWPER])
def test_a_run_with_all_of_it_can_be_trusted(law):
    """Equilibrium, volume, contact and energy of the trust table, at its usual limits."""
    run = made(law, *HOT, speed="300 mm/s")
    trust = [row for row in run.summary["checks"] if row["kind"] == TRUST]
    assert not [row["name"] for row in trust if not row["passed"]]
    assert any("not found as elastic" in row["name"] for row in trust)
    assert sum("not found as rise of temperature" in row["name"] for row in trust) == 2
    lost = [row["computed"] for row in trust if "lost to heat within one" in row["name"]]
    assert all(0.0 < share < 0.05 for share in lost)
    found = run.summary["stages"][0]["rate_and_heat"]
    assert found["speed"] == 300.0
    assert 10.0 < found["highest_strain_rate"] < 1000.0
    assert found["highest_factor"] > 1.05
    assert 40.0 < found["highest_temperature"] < 250.0
    assert "flow stress times" in result_text(run.summary)


@pytest.mark.slow
def test_a_faster_draw_is_harder_by_the_factor_of_the_law():
    """Ten times the speed: 10**0.02 = 1.047 on flow stress and so on the draw, whose holder force
    stays; punch force within 1 % of it."""
    slow, fast = (made(POWER, speed=f"{v} mm/s").summary for v in (30, 300))
    ratio = fast["stages"][0]["peak_force"]["punch"] / slow["stages"][0]["peak_force"]["punch"]
    assert ratio == pytest.approx(10.0**0.02, rel=0.01)
    plain = made().summary["stages"][0]["peak_force"]["punch"]
    assert slow["stages"][0]["peak_force"]["punch"] > 1.1 * plain


@pytest.mark.slow
def test_a_faster_bulge_needs_more_pressure_by_the_factor_of_the_law():
    """The whole disc flows at rates that go with the speed: pressure goes with 10**m, to 1e-3."""
    law = f'material = {{ base = "check-bulge-020", {POWER} }}'
    text = BULGE.partition("[[expect]]")[0].replace('material = "check-bulge-020"', law)
    text = text.replace("height = 25.0", 'height = 10.0\nspeed = "V mm/s"')
    text += "\n[mesh]\ncolumns = 30\n" + PLAIN_OUTPUT
    peaks = []
    for speed in ("10", "100"):
        run = run_case(parse_case(text.replace("V", speed), "bulge"))
        peaks.append(run.summary["stages"][0]["peak_pressure"])
    assert peaks[1] / peaks[0] == pytest.approx(10.0**0.02, rel=1e-3)


@pytest.mark.slow
def test_windows_agree_with_all_columns():
    """As without rate and heat: thickness to 0.3 %, forces to 0.7 % (README, How fast)."""
    keys = (COWPER, *HOT)
    part, whole = made(*keys, speed="300 mm/s"), made(*keys, speed="300 mm/s", exact=True)
    assert part.summary["stages"][0]["windows"]["count"] > 3
    for one, other in zip(part.summary["stages"], whole.summary["stages"], strict=True):
        assert one["min_thickness"] == pytest.approx(other["min_thickness"], rel=3e-3)
        assert one["peak_force"]["punch"] == pytest.approx(other["peak_force"]["punch"], rel=7e-3)
        heat = (row["rate_and_heat"]["highest_temperature"] - 20.0 for row in (one, other))
        assert next(heat) == pytest.approx(next(heat), rel=0.02)


@pytest.mark.slow
def test_a_warm_stage_starts_with_the_heat_of_the_one_before():
    cold, warm = (made(*HOT, warm=key) for key in ("", "\nwarm = true"))
    assert (cold.line.stages[1].frames[0].state.heat[..., 0] == 20.0).all()
    kept = cold.line.stages[0].final.heat[..., 0]
    np.testing.assert_array_equal(warm.line.stages[1].frames[0].state.heat[..., 0], kept)
    hot = warm.summary["stages"][1]["rate_and_heat"]["highest_temperature"]
    assert hot > cold.summary["stages"][1]["rate_and_heat"]["highest_temperature"] + 20.0


@pytest.mark.slow
def test_a_case_goes_on_from_a_warm_result_bit_for_bit(tmp_path: Path):
    keys = (POWER, *HOT)
    text = cup(*keys, speed="300 mm/s", warm="\nwarm = true")
    head, dome = text.index('[[stage]]\nkind = "dome"'), text.index("# mesh")
    draw = text[:head] + text[text.rindex("[mesh]\ncolumns") :]
    first = run_case(parse_case(draw, "first.toml", tmp_path), tmp_path / "first", text=draw)
    rest = 'title = "Goes on"\nsource = "invented"\n'
    rest += 'start = { kind = "result", result = "first" }\n' + PLAIN_OUTPUT + text[head:dome]
    gone_on = run_case(parse_case(rest, "rest.toml", tmp_path))
    whole = made(*keys, speed="300 mm/s", warm="\nwarm = true")
    for name in ("u", "plastic", "heat"):
        wanted = getattr(whole.line.stages[1].final, name)
        np.testing.assert_array_equal(getattr(gone_on.line.stages[-1].final, name), wanted)
    table = store.load_thickness(first.folder).columns
    assert max(table["temperature_degc"]) > 40.0


@pytest.mark.slow
def test_trim_and_strength_take_a_warm_cup():
    """A trim carries the heat along; a slow test of the body knows no rates."""
    more = '\n[[stage]]\nkind = "trim"\nheight = 26.0\n\n[[stage]]\nkind = "pressurise"\n'
    text = cup(COWPER, *HOT, speed="300 mm/s", more=more)
    run = run_case(parse_case(text, "cup.toml"))
    assert run.summary["ended"] == "finished"
    trim, held = run.line.stages[2:]
    assert trim.final.heat.shape == (*trim.final.strain.shape, 4)
    assert pressure_figures(held, run.case.stages[3], run.case.stages[:3]).limit > 0.2
    assert held.formed.heat[..., 2].max() <= 1.0
