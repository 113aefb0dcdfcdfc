"""Fitted laws, their order, and the card that comes of them."""

import re
import statistics
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from formsim.case.card import MaterialCard
from formsim.errors import TensileError
from formsim.material.flow import HockettSherby, Hollomon, Ludwik, Swift, SwiftVoce, Voce
from formsim.material.model import Material
from formsim.results.theory.instability import considere_strain
from formsim.tensile.card import Given, card_of, card_text, elastic_of, r_assumption
from formsim.tensile.evaluate import Ranges, evaluate
from formsim.tensile.families import FAMILIES, Points, band
from formsim.tensile.fit import fit_all, fit_family, points_of
from formsim.tensile.gather import Tests, scatter
from formsim.tensile.rank import rank
from formsim.tensile.record import TensileTest
from tests.unit.bars import YOUNG, bar, pulled

Tests.__test__ = False
LAWS = {
    "voce": Voce(405.0, 105.0, 18.0),
    "swift": Swift(478.2, 0.0068, 0.2895),
    "hollomon": Hollomon(500.0, 0.2, YOUNG),
    "ludwik": Ludwik(150.0, 350.0, 0.45),
    "hockett_sherby": HockettSherby(420.0, 200.0, 6.0, 0.7),
}


def evaluated(curve, seed=1, **more):
    strain, stress, width = bar(curve, seed=seed, **more)
    lines = np.arange(2, len(strain) + 2)
    test = TensileTest(f"bar{seed}.csv", "0", strain, stress, width, lines, "stress, strain")
    return evaluate(test, Ranges())


def exact(curve, count=100, noise=0.0):
    strain = np.linspace(0.002, considere_strain(curve), count)
    scatter_of = noise * np.random.default_rng(3).standard_normal(count)
    return Points(strain, curve.stress(strain) + scatter_of)


@pytest.mark.parametrize("kind", LAWS)
def test_each_law_finds_its_own_constants(kind):
    curve = LAWS[kind]
    fit = fit_family(FAMILIES[kind], exact(curve), YOUNG)
    assert fit.rms < 1e-3
    assert not fit.edges
    for name, value in fit.table.model_dump(exclude={"kind", "linear"}).items():
        assert value == pytest.approx(getattr(curve, name), rel=2e-4), name


# Considere 1885, closed forms: Hollomon e = n in total strain, Swift e = n - e0,
# Voce e = ln[B (1 + C)/A]/C; VALIDATION A5.
def test_uniform_strain_of_the_fits_is_that_of_the_closed_forms():
    fits = {kind: fit_family(FAMILIES[kind], exact(LAWS[kind]), YOUNG) for kind in LAWS}
    first = (500.0 / YOUNG) ** (1.0 / 0.8)
    assert fits["hollomon"].uniform == pytest.approx(0.2 - first, rel=1e-3)
    assert fits["swift"].uniform == pytest.approx(0.2895 - 0.0068, rel=1e-3)
    assert fits["voce"].uniform == pytest.approx(np.log(105.0 * 19.0 / 405.0) / 18.0, rel=1e-3)


def test_a_law_that_starts_flat_has_a_uniform_strain_too():
    """An exponent above 1 gives no hardening at first yield, and then more."""
    flat, even = HockettSherby(398.0, 96.0, 26.0, 1.1), HockettSherby(398.0, 96.0, 26.0, 1.0)
    found = [
        fit_family(FAMILIES["hockett_sherby"], Points(strain, curve.stress(strain)), YOUNG).uniform
        for curve in (flat, even)
        for strain in [np.linspace(0.002, 0.09, 80)]
    ]
    slope, level = flat.slope(found[0]), flat.stress(found[0])
    assert float(slope) == pytest.approx(float(level), rel=0.02)
    assert found[0] == pytest.approx(found[1], rel=0.2)


def test_errors_of_the_constants_are_those_of_many_noisy_fits():
    """Standard deviation over 60 noisy samples against the error each fit states."""
    points = exact(LAWS["voce"])
    rng = np.random.default_rng(7)
    found = [
        fit_family(
            FAMILIES["voce"],
            Points(points.strain, points.stress + rng.standard_normal(len(points.strain))),
            YOUNG,
        )
        for _ in range(60)
    ]
    for name in ("saturation", "drop", "rate"):
        values = [getattr(fit.table, name) for fit in found]
        told = np.mean([fit.errors[name] for fit in found])
        assert np.std(values, ddof=1) == pytest.approx(told, rel=0.3), name
        assert np.mean(values) == pytest.approx(getattr(LAWS["voce"], name), rel=0.02)


def test_bounds_are_the_bands_of_the_card():
    from formsim.case import card

    for kind, family in FAMILIES.items():
        assert all(low < high for low, high in zip(family.low, family.high, strict=True)), kind
    assert FAMILIES["ludwik"].high == tuple(
        band(card.Ludwik, name)[1] for name in ("yield_stress", "strength", "exponent")
    )
    assert FAMILIES["swift"].high[2] == 0.99


def test_a_constant_at_the_end_of_its_band_is_told():
    strain = np.linspace(0.002, 0.1, 60)
    fit = fit_family(FAMILIES["ludwik"], Points(strain, 200.0 + 300.0 * strain**1.4), YOUNG)
    assert fit.edges == ("exponent",)


@pytest.mark.parametrize("share", [0.3, 0.8])
def test_the_blend_finds_its_share(share):
    points = exact(SwiftVoce(LAWS["swift"], LAWS["voce"], share))
    fits = {fit.kind: fit for fit in fit_all(points, YOUNG)}
    blend = fits["swift_voce"]
    assert 0.0 < blend.table.share < 1.0
    assert blend.rms <= min(fits["swift"].rms, fits["voce"].rms)
    assert blend.errors["share"] > 0.0


@pytest.mark.parametrize("kind", ["voce", "swift", "ludwik", "hockett_sherby"])
def test_the_law_the_bar_is_made_of_fits_alike_the_best(kind):
    tests = [evaluated(LAWS[kind], seed, noise=0.5, toe=0.0005) for seed in (1, 2, 3)]
    uniform = float(np.mean([one.uniform_true for one in tests]))
    ranking = rank(fit_all(points_of(tests), YOUNG), uniform, tests[0].strength)
    assert kind in [fit.kind for fit in ranking.fits[: ranking.alike]]
    best = ranking.best
    assert abs(best.uniform - uniform) < 0.08 * uniform
    assert ranking.spread(1.0)[0] <= float(best.curve.stress(1.0)) <= ranking.spread(1.0)[1]
    low, high = ranking.spread(1.0, alike=False)
    assert low <= ranking.spread(1.0)[0]
    assert high >= ranking.spread(1.0)[1]


def test_laws_told_apart_need_no_uniform_strain():
    points = exact(LAWS["swift"])
    fits = fit_all(points, YOUNG)
    ranking = rank([fits[1]], 0.28, 250.0)
    assert ranking.why.endswith("no other law fits as well")


def test_repeats_count_alike_however_many_rows_they_have():
    few, many = evaluated(LAWS["swift"], rows=300), evaluated(LAWS["swift"], rows=5000)
    points = points_of([few, many])
    assert len(points.strain) == 200
    assert points.strain.min() >= 0.002


def test_a_curve_too_short_to_fit_is_refused():
    with pytest.raises(TensileError, match="too short|only"):
        points_of([evaluated(Voce(301.0, 1.0, 800.0), beyond=3.0)])


def test_scatter_over_repeats():
    tests = [evaluated(LAWS["voce"], seed, noise=1.0) for seed in (1, 2, 3, 4)]
    found = scatter(tests, lambda one: one.proof)
    values = [one.proof for one in tests]
    assert found.mean == pytest.approx(np.mean(values))
    assert found.deviation == pytest.approx(np.std(values, ddof=1))
    assert scatter(tests[:1], lambda one: one.proof).deviation is None
    assert scatter(tests, lambda one: None) is None


def made(r=0.7, across=None, **given):
    tests = Tests(
        0.0, (evaluated(LAWS["swift"], r=r), evaluated(LAWS["swift"], 2, r=r)), across or {}
    )
    points = points_of(tests.along)
    ranking = rank(fit_all(points, YOUNG), tests.along[0].uniform_true, tests.along[0].strength)
    elastic = elastic_of(tests.along, Given("my-sheet", **given))
    card = card_of(Given("my-sheet", **given), elastic, tests, ranking.best, ranking)
    return tests, ranking, elastic, card


def test_the_card_states_what_was_measured_and_what_assumed():
    tests, ranking, elastic, card = made()
    assert card.young == pytest.approx(YOUNG, rel=0.01)
    assert (card.poisson, card.density) == (0.33, 2700.0)
    assert card.sources["young"] == "measured: mean elastic slope"
    assert "common practice, no source" in card.sources["poisson"]
    assert "bar1.csv (0), bar2.csv (0)" in card.sources["flow"]
    assert "extrapolated" in card.sources["flow"]
    assert card.r_bar == pytest.approx(0.7, rel=0.01)
    assert "0, 45 and 90 are needed" in r_assumption(tests)
    assert len(elastic.assumed) == 3
    assert elastic.assumed[0].startswith("the metal is aluminium, by an elastic slope of 69.")
    assert elastic.warnings == ()


def test_the_card_is_written_as_toml_a_case_reads():
    _, ranking, elastic, card = made(invented=True)
    text = card_text(card, ranking, elastic.assumed)
    assert MaterialCard.model_validate(tomllib.loads(text)) == card
    assert card.invented
    others = [line[2:].split("   #")[0] for line in text.splitlines() if line.startswith("# flow")]
    assert len(others) == 5
    for line in others:
        plain = card.model_dump() | tomllib.loads(line)
        assert MaterialCard.model_validate(plain).flow.kind != card.flow.kind


def test_the_card_keeps_what_was_tested():
    """Mean and standard deviation of two repeats by the standard library."""
    tests, ranking, elastic, card = made()
    kept, along = card.tested, tests.along
    assert (kept.repeats, kept.angle) == (len(along), tests.angle)
    proofs = [one.proof for one in along]
    assert kept.proof_strength.mean == pytest.approx(statistics.mean(proofs), rel=1e-4)
    assert kept.proof_strength.deviation == pytest.approx(statistics.stdev(proofs), rel=1e-2)
    strengths = [one.strength for one in along]
    assert kept.tensile_strength.mean == pytest.approx(statistics.mean(strengths), rel=1e-4)
    assert kept.uniform_percent.mean == pytest.approx(
        100.0 * statistics.mean(one.uniform_plastic for one in along), rel=1e-4
    )
    low, high = along[0].hardening_range
    assert kept.hardening_exponent.low_percent == pytest.approx(100.0 * low, rel=1e-3)
    assert kept.hardening_exponent.high_percent == pytest.approx(100.0 * high, rel=1e-3)
    text = card_text(card, ranking, elastic.assumed)
    assert "[tested]" in text and f"repeats = {len(along)}" in text


def test_r_by_angle_of_tests_at_three_angles():
    across = {45.0: (evaluated(LAWS["swift"], r=0.4),), 90.0: (evaluated(LAWS["swift"], r=0.9),)}
    card = made(across=across)[3]
    assert [angle for angle, _ in card.r_values.by_angle] == [0.0, 45.0, 90.0]
    assert card.r_bar == pytest.approx((0.7 + 2 * 0.4 + 0.9) / 4, rel=0.01)
    more = across | {22.5: (evaluated(LAWS["swift"], r=0.5),)}
    card = made(across=more)[3]
    assert len(card.r_values.by_angle) == 4
    assert card.r_bar == pytest.approx((0.7 + 2 * 0.4 + 0.9) / 4, rel=0.01)


def test_given_constants_come_before_measured_ones():
    card = made(young=69e3, poisson=0.34, density=2720.0)[3]
    assert (card.young, card.poisson, card.density) == (69e3, 0.34, 2720.0)
    assert card.sources["young"] == "given"


@pytest.mark.parametrize(("young", "metal"), [(205.7e3, "aluminium"), (70e3, "steel")])
def test_a_slope_that_contradicts_the_metal_is_refused(young, metal):
    """Steel 210 GPa and aluminium 70 GPa: common practice, no source."""
    tests = [sized(young)]
    with pytest.raises(TensileError) as caught:
        elastic_of(tests, Given("x", metal=metal))
    (fault,) = caught.value.faults
    assert (fault.key, fault.value) == ("--metal", metal)
    told = float(re.search(r"slope of ([\d.]+) GPa", fault.expected)[1])
    assert told == pytest.approx(1e-3 * young, rel=0.01)
    assert "gauge length 50 mm, width 12.5 mm, thickness 0.8 mm" in fault.expected
    assert "--young" in caught.value.hint
    kept = elastic_of(tests, Given("x", metal=metal, young=100e3))
    assert kept.young == 100e3
    assert "not about 100 GPa" in kept.warnings[0]


def test_a_slope_of_no_metal_points_to_the_sizes_of_the_piece():
    with pytest.raises(TensileError) as caught:
        elastic_of([sized(120e3)], Given("x"))
    (fault,) = caught.value.faults
    assert fault.key == "elastic slope"
    assert "is a size of the test piece wrong (gauge length 50 mm" in fault.expected


def sized(young):
    strain, stress, _ = bar(LAWS["voce"], young=young)
    sizes = "gauge length 50 mm, width 12.5 mm, thickness 0.8 mm"
    lines = np.arange(len(strain))
    test = TensileTest("b.csv", "0", strain, stress, None, lines, "", sizes=sizes)
    return evaluate(test, Ranges())


def test_a_card_without_r_says_loudly_that_it_is_isotropic():
    one = sized(70e3)
    lost = replace(one, test=replace(one.test, unused=("Lateral [mm]",)))
    told = r_assumption(Tests(0.0, (lost,), {}))
    assert told.startswith("THE CARD IS ISOTROPIC: no column of a change of width")
    assert '"Lateral [mm]"' in told
    width = replace(one, test=replace(one.test, width_strain=np.zeros(len(one.test.strain))))
    assert "a width was recorded" in r_assumption(Tests(0.0, (width,), {}))


def test_a_slope_that_tells_no_metal_asks_for_constants():
    strain, stress, _ = bar(LAWS["voce"])
    lines = np.arange(len(strain))
    test = TensileTest("b.csv", "0", strain + stress / 20e3, stress, None, lines, "")
    values = evaluate(test, Ranges())
    with pytest.raises(TensileError) as caught:
        elastic_of([values], Given("x"))
    assert [fault.key for fault in caught.value.faults] == ["--metal"]
    assert "give of" in caught.value.hint or "gauge on the piece" in caught.value.hint
    elastic = elastic_of([values], Given("x", metal="aluminium"))
    assert elastic.young == 70e3
    assert "assumed" in elastic.sources["young"]
    assert "is that of the machine" in elastic.warnings[0]


@pytest.mark.parametrize("r_bar", [0.5, 1.0, 1.8])
def test_the_solver_pulls_the_card_back_out_of_a_bar(r_bar):
    """A tensile test made with the solver's own kernel gives the values of its card."""
    card = MaterialCard.model_validate(
        {
            "name": "sheet",
            "source": "invented",
            "young": 70e3,
            "poisson": 0.3,
            "density": 2700.0,
            "flow": {"kind": "voce", "saturation": 350.0, "drop": 150.0, "rate": 12.0},
            "r_values": {"r_bar": r_bar},
        }
    )
    strain, stress, width = pulled(card)
    test = TensileTest("s.csv", "0", strain, stress, width, np.arange(len(strain)), "")
    values = evaluate(test, Ranges())
    assert values.r == pytest.approx(r_bar, rel=1e-3)
    assert values.line.slope == pytest.approx(70e3, rel=0.01)
    curve = Material.from_card(card).flow
    assert values.uniform_true == pytest.approx(considere_strain(curve), rel=0.03)
    fit = fit_family(FAMILIES["voce"], points_of([values]), 70e3)
    for name in ("saturation", "drop", "rate"):
        assert getattr(fit.table, name) == pytest.approx(getattr(card.flow, name), rel=0.01), name


def test_a_slope_ten_times_off_asks_for_the_unit():
    """An extension in mm that the file calls cm, and one in cm that it calls mm."""
    strain, stress, _ = bar(LAWS["voce"])
    lines = np.arange(len(strain))
    soft = evaluate(TensileTest("b.csv", "0", 10.0 * strain, stress, None, lines, ""), Ranges())
    with pytest.raises(TensileError) as caught:
        elastic_of([soft], Given("x"))
    assert "a tenth of that of aluminium: is the unit of extension" in caught.value.hint
    warned = elastic_of([soft], Given("x", metal="aluminium")).warnings
    assert "a tenth of that of aluminium" in warned[0]
    with pytest.raises(TensileError, match="ten times that of one, is the unit of extension"):
        evaluate(TensileTest("b.csv", "0", 0.1 * strain, stress, None, lines, ""), Ranges())
