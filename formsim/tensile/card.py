"""The material card that tensile tests give, with where each value comes from."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from types import MappingProxyType
from typing import Any

from formsim.case.base import LENGTH, THICKNESS
from formsim.case.card import MaterialCard
from formsim.case.limits import STEEL
from formsim.case.toml_text import inline
from formsim.errors import Fault, TensileError
from formsim.tensile.evaluate import SOFT, TENFOLD, Values
from formsim.tensile.fit import FIRST, Fit
from formsim.tensile.gather import Tests, mean_of, scatter
from formsim.tensile.rank import Ranking

COMMON = "common practice, no source"
_TESTED: Mapping[str, Callable[[Values], float | None]] = MappingProxyType(
    {
        "proof_strength": lambda one: one.proof,
        "tensile_strength": lambda one: one.strength,
        "uniform_percent": lambda one: 100.0 * one.uniform_plastic,
        "hardening_exponent": lambda one: one.hardening,
    }
)
"""Values a card keeps of its tests, by their keys there."""

LEAST_R2 = 0.995
"""Correlation of the elastic line below which its slope is no Young's modulus."""

MISMATCH = 0.15
"""How far an elastic slope may be off the Young's modulus of the metal; our own number."""


@dataclass(frozen=True)
class Metal:
    """Usual constants of a metal, common practice without a source.

    Attributes
    ----------
    softest, stiffest : Young's moduli between which a slope is taken for this metal [MPa]
    young, poisson, density : usual values [MPa, -, kg/m3]
    """

    softest: float
    stiffest: float
    young: float
    poisson: float
    density: float


METALS: Mapping[str, Metal] = MappingProxyType(
    {
        "aluminium": Metal(62e3, 78e3, 70e3, 0.33, 2700.0),
        "steel": Metal(*STEEL, 210e3, 0.30, 7850.0),
    }
)


@dataclass(frozen=True)
class Given:
    """What the user says of the sheet; None for what is measured or assumed."""

    name: str
    young: float | None = None
    poisson: float | None = None
    density: float | None = None
    metal: str | None = None
    invented: bool = False


@dataclass(frozen=True)
class Elastic:
    """Elastic constants and density with their sources, assumptions and warnings in words."""

    young: float
    poisson: float
    density: float
    sources: Mapping[str, str]
    assumed: tuple[str, ...]
    warnings: tuple[str, ...] = ()


def elastic_of(tests: Sequence[Values], given: Given) -> Elastic:
    """Young's modulus, Poisson's ratio and density: as given, measured, or usual for the metal.

    Raises
    ------
    TensileError : nothing tells which metal it is, or the elastic slope is not that of the metal
    """
    slope = mean_of(tests, lambda one: one.line.slope)
    straight = min(one.line.r2 for one in tests) >= LEAST_R2
    name = given.metal or _metal_of(slope if given.young is None else given.young)
    metal = METALS.get(name or "")
    young = given.young
    sources: dict[str, str] = {"young": "given"}
    assumed: list[str] = []
    warnings = _mismatch(tests, given, metal, slope, straight)
    if metal is not None and given.metal is None:
        by = "the Young's modulus given" if given.young else f"an elastic slope of {_gpa(slope)}"
        assumed.append(f"the metal is {name}, by {by}; --metal says otherwise")
    if young is None and metal is not None:
        if straight and metal.softest <= slope <= metal.stiffest:
            young, sources["young"] = slope, "measured: mean elastic slope"
        else:
            young = metal.young
            sources["young"] = f"assumed for {name}: {COMMON}; slope measured {_gpa(slope)}"
            told = f"usual for {name}; the tests show a slope of {_gpa(slope)}"
            assumed.append(f"Young's modulus {_gpa(young)}, {told}")
    found: dict[str, float | None] = {"poisson": given.poisson, "density": given.density}
    for key, unit in (("poisson", ""), ("density", " kg/m3")):
        sources[key] = "given"
        if found[key] is None and metal is not None:
            found[key] = getattr(metal, key)
            sources[key] = f"assumed for {name}: {COMMON}"
            assumed.append(f"{_WORDS[key]} {found[key]:g}{unit}, usual for {name}")
    poisson, density = found["poisson"], found["density"]
    if young is None or poisson is None or density is None:
        lacking = [key for key, value in {"young": young, **found}.items() if value is None]
        raise _unknown(tests, lacking, slope)
    digits = float(f"{young:.4g}")
    return Elastic(digits, poisson, density, sources, tuple(assumed), warnings)


def _mismatch(
    tests: Sequence[Values], given: Given, metal: Metal | None, slope: float, straight: bool
) -> tuple[str, ...]:
    """Warning of an elastic slope far from that of the metal.

    Raises
    ------
    TensileError : the slope contradicts the metal named, and no Young's modulus is given
    """
    usual = given.young or (metal.young if metal else slope)
    if abs(slope / usual - 1.0) <= MISMATCH:
        return ()
    if slope < SOFT:
        told = f"the elastic slope of {_gpa(slope)} is that of the machine, with no gauge on the"
        return (f"{told} piece; if there was one, {_causes(tests, slope)}",)
    other = _metal_of(slope)
    of = f" (that of {other})" if other and other != given.metal else ""
    told = f"the tests show an elastic slope of {_gpa(slope)}{of}, not about {_gpa(usual)}"
    told += f": {_causes(tests, slope)}"
    if given.young is not None or not straight:
        return (told,)
    what = "card"
    hint = "--young X states Young's modulus where the slope of the tests is known to be off"
    raise TensileError(what, [Fault("--metal", given.metal or "", told)], hint=hint)


def _unknown(tests: Sequence[Values], lacking: Sequence[str], slope: float) -> TensileError:
    """Constants that nothing tells, and why the elastic slope does not."""
    what = "card"
    known = ", ".join(METALS)
    if slope >= SOFT and "young" in lacking:
        causes = _causes(tests, slope)
        end = "" if causes.endswith("?") else "."
        expected = (
            f"is that of no metal known here ({known}): {causes}{end} For another metal"
            f" give {', '.join(f'--{key}' for key in lacking)}"
        )
        return TensileError(what, [Fault("elastic slope", _gpa(slope), expected)])
    message = (
        f"an elastic slope of {_gpa(slope)} does not tell which metal it is: give one of {known},"
        f" or {', '.join(f'--{key}' for key in lacking)}"
    )
    faults = [Fault("--metal", "", message)]
    hint = (
        "a soft slope is that of the machine: record the extension with a gauge on the piece; if"
        f" there was one, {_causes(tests, slope)}"
    )
    return TensileError(what, faults, hint=hint if slope < SOFT else "")


def _causes(tests: Sequence[Values], slope: float) -> str:
    """What makes an elastic slope wrong, likeliest first."""
    for factor, words in ((10.0, "a tenth of"), (0.1, "ten times")):
        metal = _metal_of(factor * slope)
        if metal is not None:
            return f"the slope is {words} that of {metal}: {TENFOLD}"
    sizes = "; ".join(dict.fromkeys(one.test.sizes for one in tests if one.test.sizes))
    if sizes:
        return f"is a size of the test piece wrong ({sizes}), a unit, or the metal?"
    return "is a unit of stress or strain wrong, or the metal?"


def _gpa(modulus: float) -> str:
    return f"{modulus / 1e3:.4g} GPa"


_WORDS = {"poisson": "Poisson's ratio", "density": "density"}


def _metal_of(young: float) -> str | None:
    return next(
        (name for name, one in METALS.items() if one.softest <= young <= one.stiffest), None
    )


def card_of(
    given: Given, elastic: Elastic, tests: Tests, fit: Fit, ranking: Ranking
) -> MaterialCard:
    """Card of a sheet with one of the fitted laws as its flow curve."""
    sources = dict(elastic.sources)
    sources["flow"] = _flow_source(tests, fit, ranking)
    raw: dict[str, Any] = {
        "name": given.name,
        "source": f"tensile tests {_files(tests.along)}, at {tests.angle:g} degrees",
        "young": elastic.young,
        "poisson": elastic.poisson,
        "density": elastic.density,
        "flow": fit.table,
        "invented": given.invented,
        "tested": tested_of(tests),
    }
    r_values, told = _r_values(tests)
    if r_values is not None:
        raw["r_values"], sources["r_values"] = r_values, told
    return MaterialCard.model_validate(raw | {"sources": sources})


def tested_of(tests: Tests) -> dict[str, Any]:
    """What a card keeps of the tests its flow curve was fitted to: sizes, values, scatter."""
    along = tests.along
    found: dict[str, Any] = {"repeats": len(along), "angle": tests.angle}
    for name in ("thickness", "gauge_length", "width"):
        size = scatter(along, attrgetter(f"test.piece.{name}"))
        band = THICKNESS if name == "thickness" else LENGTH
        if size is not None and band.low <= size.mean <= band.high:
            found[name] = float(f"{size.mean:.6g}")
    for name, value in _TESTED.items():
        if (kept := scatter(along, value)) is not None:
            found[name] = {"mean": float(f"{kept.mean:.5g}")}
            if kept.deviation is not None:
                found[name]["deviation"] = float(f"{kept.deviation:.3g}")
    if "hardening_exponent" in found:
        low, high = along[0].hardening_range
        between = {"low_percent": 100.0 * low, "high_percent": 100.0 * high}
        found["hardening_exponent"] |= {k: float(f"{v:.4g}") for k, v in between.items()}
    return found


def r_assumption(tests: Tests) -> str:
    """What is assumed of the r-values where not all were measured; empty for nothing."""
    measured = tests.r_by_angle()
    every = [one for group in (tests.along, *tests.across.values()) for one in group]
    if not measured and any(one.test.width_strain is not None for one in every):
        return (
            "THE CARD IS ISOTROPIC: a width was recorded, but it grows, narrows more than constant"
            " volume allows (is the gauge length or the width wrong?), or has fewer than three rows"
            " between the plastic strains r is taken over (see --r-range); no r-values"
        )
    if not measured:
        unused = dict.fromkeys(header for one in every for header in one.test.unused)
        hint = ""
        if unused:
            headers = ", ".join(f'"{header}"' for header in unused)
            hint = f"; if one of {headers} is it, declare it: --column width_change=..."
        return (
            "THE CARD IS ISOTROPIC: no column of a change of width was recognised, so that there"
            f" are no r-values{hint}"
        )
    if not {0.0, 45.0, 90.0} <= set(measured):
        angles = ", ".join(f"{angle:g}" for angle in measured)
        return f"mean r-value from {angles} degrees alone: 0, 45 and 90 are needed for the mean"
    return ""


def card_text(
    card: MaterialCard, ranking: Ranking, assumed: Sequence[str], warnings: Sequence[str] = ()
) -> str:
    """Card as a TOML file, the other fitted laws as comments."""
    plain = card.model_dump(exclude_none=True, exclude_defaults=True)
    sources, tested = plain.pop("sources"), plain.pop("tested", {})
    lines = [
        "# Material card from tensile tests; a case takes it with"
        f' material = {{ card = "{card.name}.toml" }}',
        "# Units: MPa, kg/m3. The flow curve is measured up to a plastic strain of"
        f" {ranking.uniform:.4f} and extrapolated beyond.",
        *(f"# WARNING: {text}" for text in warnings),
        *(f"# Assumed: {text}." for text in assumed),
        *(f"{key} = {inline(value)}" for key, value in plain.items()),
        "",
        "# Other laws fitted to the same points; swap one in to see what the choice changes.",
        *(
            f"# flow = {inline(fit.table.model_dump(exclude_defaults=True))}"
            f"   # rms {fit.rms:.2f} MPa"
            for fit in ranking.fits
            if fit.table != card.flow
        ),
        "",
        "[sources]",
        *(f"{key} = {inline(text)}" for key, text in sources.items()),
        "",
        "# The tests the flow curve was fitted to, in mm, MPa and per cent; for the record.",
        "[tested]",
        *(f"{key} = {inline(value)}" for key, value in tested.items()),
    ]
    return "\n".join(lines) + "\n"


def _flow_source(tests: Tests, fit: Fit, ranking: Ranking) -> str:
    uniform = f"{ranking.uniform:.4f}"
    foretold = "none" if fit.uniform is None else f"{fit.uniform:.4f}"
    edge = f"; at the end of its band: {', '.join(fit.edges)}" if fit.edges else ""
    return (
        f"{fit.kind} fitted by least squares to {len(tests.along)} test(s) {_files(tests.along)}"
        f" between plastic strains of {FIRST:g} and {uniform} (largest force), rms {fit.rms:.2f}"
        f" MPa; uniform strain of the fit {foretold}{edge}; beyond {uniform} extrapolated"
    )[:2000]


def _r_values(tests: Tests) -> tuple[dict[str, Any] | None, str]:
    measured = tests.r_by_angle()
    if not measured:
        return None, ""
    values = {angle: float(f"{one.mean:.4g}") for angle, one in measured.items()}
    ranges = {one.r_range for group in (tests.along, *tests.across.values()) for one in group}
    low, high = min(low for low, _ in ranges), max(high for _, high in ranges)
    told = f"measured over plastic strains of {100 * low:.1f} to {100 * high:.1f} %, ISO 10113"
    files = "; ".join(
        f"{angle:g} degrees {_files(group)}" for angle, group in sorted(tests.across.items())
    )
    told = f"{told}; {files}" if files else told
    if set(values) == {0.0, 45.0, 90.0}:
        return {"r0": values[0.0], "r45": values[45.0], "r90": values[90.0]}, told
    if len(values) > 2 and min(values) == 0.0 and max(values) == 90.0:
        many: dict[str, Any] = {"angle": list(values), "r": list(values.values())}
        if 45.0 in values:
            many["r_bar"] = (values[0.0] + 2.0 * values[45.0] + values[90.0]) / 4.0
        return many, told
    mean = sum(values.values()) / len(values)
    return {"r_bar": float(f"{mean:.4g}")}, f"{told}; {r_assumption(tests)}"


def _files(tests: Sequence[Values]) -> str:
    return ", ".join(f"{one.test.file} ({one.test.digest})" for one in tests)
