"""From files of tensile tests to a card and its figures."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic_core import PydanticCustomError

from formsim.case.base import LENGTH, NAME, THICKNESS
from formsim.case.card import ANGLE, DENSITY, POISSON, YOUNG, MaterialCard
from formsim.errors import Fault, FormsimError, TensileError
from formsim.pipeline.critical_damage import (
    FRACTURE_FIGURE,
    Break,
    break_of,
    fracture_maker,
    refuse_present,
)
from formsim.pipeline.option_values import idle_options, number_of, option_of
from formsim.report.fracture_text import fracture_text
from formsim.report.tensile_tables import headers_text
from formsim.results.files import writing
from formsim.tensile.card import Elastic, Given, card_of, card_text, elastic_of, r_assumption
from formsim.tensile.columns import Declared, declared_columns
from formsim.tensile.evaluate import Range, Ranges, Values, evaluate
from formsim.tensile.families import Points
from formsim.tensile.fit import Fit, fit_all, points_of
from formsim.tensile.fracture import Broken
from formsim.tensile.gather import Tests, mean_of
from formsim.tensile.rank import Ranking, rank
from formsim.tensile.record import Specimen, TensileTest, read_test

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Asked:
    """What is asked of the evaluation.

    Attributes
    ----------
    files : repeats of one test
    angle : of these to the rolling direction [deg]
    across : files of tests at other angles, for the r-values [deg]
    law : kind of the law that goes into the card; None for the recommended one
    broken : what was measured of the break; None for no critical damage
    """

    files: Sequence[Path]
    given: Given
    specimen: Specimen = field(default_factory=Specimen)
    declared: Mapping[str, Declared] = field(default_factory=dict)
    ranges: Ranges = field(default_factory=Ranges)
    angle: float = 0.0
    across: Mapping[float, Sequence[Path]] = field(default_factory=dict)
    law: str | None = None
    drop_loops: bool = False
    broken: Break | None = None


@dataclass(frozen=True)
class Evaluated:
    """What the tests gave.

    Attributes
    ----------
    tests : evaluated, by angle
    points : mean points the laws were fitted to
    ranking : fitted laws in order
    chosen : that of the card
    card : of the sheet
    assumed : what nobody measured or gave, in words
    warnings : what does not fit together, in words
    measured : break that was measured; None where none was given
    bar : of the card, pulled to it
    """

    tests: Tests
    points: Points
    ranking: Ranking
    chosen: Fit
    elastic: Elastic
    card: MaterialCard
    assumed: tuple[str, ...]
    warnings: tuple[str, ...]
    given: Given
    measured: Break | None = None
    bar: Broken | None = None

    @property
    def broken(self) -> str:
        """The bar of the card pulled to its break, in words; empty where none was measured."""
        if self.bar is None or self.measured is None:
            return ""
        return fracture_text(self.bar, self.measured.offset)

    def card_with(self, fit: Fit) -> MaterialCard:
        """Card of the sheet with another of the laws, its critical damage by that law too.

        Raises
        ------
        FormsimError : the bar of that law does not come to the break that was measured
        """
        card = card_of(self.given, self.elastic, self.tests, fit, self.ranking)
        if self.measured is None:
            return card
        try:
            return self.measured.of(card)[0]
        except FormsimError as error:
            message = f"the case with {fit.kind}: {error}"
            hint = "leave out --case, or give the reduction of area of the break"
            raise FormsimError(message, hint=hint) from error


def evaluate_tests(asked: Asked, prepare: Callable[[], None] = lambda: None) -> Evaluated:
    """Evaluate tests, fit all laws and make a card.

    Parameters
    ----------
    prepare : called before anything is solved

    Raises
    ------
    TensileError : with every fault of all files
    """
    groups = {asked.angle: asked.files, **asked.across}
    found = _evaluated(groups, asked)
    across = {angle: found[angle] for angle in asked.across}
    tests = Tests(asked.angle, found[asked.angle], across)
    elastic = elastic_of(tests.along, asked.given)
    points = points_of(tests.along)
    uniform = mean_of(tests.along, lambda one: one.uniform_true)
    strength = mean_of(tests.along, lambda one: one.strength)
    ranking = rank(fit_all(points, elastic.young), uniform, strength)
    chosen = _chosen(ranking, asked.law)
    card = card_of(asked.given, elastic, tests, chosen, ranking)
    bar = None
    if asked.broken is not None:
        prepare()
        card, bar = asked.broken.of(card)
    assumed = (*elastic.assumed, *filter(None, [r_assumption(tests)]))
    warnings = (*elastic.warnings, *_file_warnings(found))
    return Evaluated(
        tests,
        points,
        ranking,
        chosen,
        elastic,
        card,
        assumed,
        warnings,
        asked.given,
        asked.broken,
        bar,
    )


def _file_warnings(found: Mapping[float, Sequence[Values]]) -> list[str]:
    """What does not fit together in each file, once for the files it is said of."""
    told: dict[str, list[str]] = {}
    for one in (one for group in found.values() for one in group):
        for text in one.test.warnings:
            told.setdefault(text, []).append(one.test.file)
    return [f"{', '.join(files)}: {text}" for text, files in told.items()]


def asked_of(options: Mapping[str, Any]) -> Asked:
    """What the options of the command ask for, strains in per cent turned into fractions.

    Raises
    ------
    TensileError : with all options that cannot be used
    """
    faults: list[Fault] = []
    if not options["files"]:
        faults.append(Fault("FILE", "", "name the files of at least one test"))
    if options["into"] is None:
        faults.append(Fault("--into", "", "name the folder for card and figures: --into cards"))
    declared: dict[str, Declared] = {}
    try:
        declared = declared_columns(options["column"])
    except ValueError as error:
        faults.append(Fault("--column", "", str(error)))
    _check_files(declared, options, faults)
    sizes = {}
    for name in ("gauge_length", "width", "thickness"):
        sizes[name] = number_of(_SIZES[name], option_of(name), options[name], faults)
    own = {
        name: number_of(band, option_of(name), options[name], faults)
        for name, band in _CARD.items()
    }
    if not options["name"]:
        faults.append(Fault("--name", "", "name the card: --name my-sheet"))
    elif not re.fullmatch(NAME, options["name"]):
        expected = "expected a name of letters, digits, - and _ of at most 60"
        faults.append(Fault("--name", options["name"], expected))
    angle = number_of(ANGLE, "--angle", options["angle"], faults) or 0.0
    across = _angles(options["at"], angle, faults)
    ranges = [_range_of(options, name, faults) for name in ("n_range", "r_range")]
    measured = break_of(options, faults)
    faults += _idle(options)
    if faults:
        what = "options"
        raise TensileError(what, faults)
    given = Given(options["name"], **own, metal=options["metal"], invented=options["invented"])
    return Asked(
        options["files"],
        given,
        Specimen(**sizes),
        declared,
        Ranges(*ranges),
        angle,
        across,
        options["fit"],
        options["drop_loops"],
        measured,
    )


def known_headers(options: Mapping[str, Any]) -> str:
    """The headers that are understood, where nothing else is asked for.

    Raises
    ------
    TensileError : with every other option that was given
    """
    words = "does nothing beside --headers, which only lists headers: leave one of them out"
    others = {name: words for name in options if name not in _ALWAYS}
    faults = idle_options(options, others)
    if options["files"]:
        faults[0] = replace(faults[0], key="FILE")
    if faults:
        what = "options"
        raise TensileError(what, faults)
    return headers_text()


_ALWAYS = ("headers", "debug", "command")


def _idle(options: Mapping[str, Any]) -> list[Fault]:
    """Options that would do nothing in this combination."""
    instead = {}
    if options["case"] is None:
        instead["columns"] = "is the mesh of a case: name one with --case, or leave it out"
    if all(options[name] is not None for name in _CARD):
        instead["metal"] = (
            "does nothing beside --young, --poisson and --density, which say all it would: leave it"
            " out"
        )
    return idle_options(options, instead)


def _check_files(
    declared: Mapping[str, Declared], options: Mapping[str, Any], faults: list[Fault]
) -> None:
    """Columns declared of files that are not among those named."""
    files = [path.name for path in options["files"]]
    files += [Path(file).name for _, *group in options["at"] for file in group]
    for place, one in declared.items():
        if one.file is not None and one.file not in files:
            expected = f"no such file among {', '.join(files)}"
            faults.append(Fault("--column", place, expected))


def _angles(
    groups: Sequence[Sequence[str]], own: float, faults: list[Fault]
) -> dict[float, list[Path]]:
    found: dict[float, list[Path]] = {}
    for first, *files in groups:
        try:
            angle = float(ANGLE.read(float(first)))
        except (ValueError, PydanticCustomError):
            expected = "expected an angle from 0 to 90 degrees, then files: --at 45 FILE"
            faults.append(Fault("--at", first, expected))
            continue
        if not files:
            faults.append(Fault("--at", first, "expected files behind the angle: --at 45 FILE"))
        elif angle == own:
            faults.append(Fault("--at", first, "is the angle of the first files: see --angle"))
        else:
            found.setdefault(angle, []).extend(Path(file) for file in files)
    return found


def _range_of(options: Mapping[str, Any], name: str, faults: list[Fault]) -> Range | None:
    pair = options[name]
    if pair is None:
        return None
    low, high = pair
    if not 0.0 < low < high < 100.0:
        expected = "expected two plastic strains in per cent, the second larger"
        faults.append(Fault(option_of(name), f"{low:g} {high:g}", expected))
        return None
    return 0.01 * low, 0.01 * high


_SIZES = {"gauge_length": LENGTH, "width": LENGTH, "thickness": THICKNESS}
_CARD = {"young": YOUNG, "poisson": POISSON, "density": DENSITY}


def save_evaluation(done: Evaluated, folder: Path, *, replace: bool = False) -> list[Path]:
    """Write the card and its figures into a folder.

    Raises
    ------
    StoreError : a file of that name is there, or the folder cannot be written
    """
    from formsim.report.style import save_figure
    from formsim.report.tensile_figures import curve_figure, extrapolation_figure

    name = done.card.name
    card = folder / f"{name}.toml"
    figures: dict[Path, Callable[[], Figure]] = {
        folder / f"{name}-curves": partial(curve_figure, done.tests, done.points, done.ranking),
        folder / f"{name}-extrapolation": partial(extrapolation_figure, name, done.ranking),
    }
    if done.bar is not None and done.measured is not None:
        draw = fracture_maker(name, done.bar, done.measured, done.tests.along)
        figures[folder / f"{name}{FRACTURE_FIGURE}"] = draw
    refuse_present(
        [card, *(path.with_name(path.name + ".svg") for path in figures)], replace=replace
    )
    text = card_text(done.card, done.ranking, done.assumed, done.warnings)
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
        card.write_text(text, encoding="utf-8")
        made = [path for place, make in figures.items() for path in save_figure(make, place)]
    return [card, *made]


def _evaluated(
    groups: Mapping[float, Sequence[Path]], asked: Asked
) -> dict[float, tuple[Values, ...]]:
    """All files evaluated; the faults of all of them at once."""
    found: dict[float, tuple[Values, ...]] = {}
    wrong: list[TensileError] = []
    seen: dict[str, str] = {}
    for angle, files in groups.items():
        good = []
        for file in files:
            try:
                test = read_test(file, asked.specimen, asked.declared, drop_loops=asked.drop_loops)
                _refuse_same(test, seen)
                good.append(evaluate(test, asked.ranges))
            except TensileError as error:
                wrong.append(error)
        found[angle] = tuple(good)
    if len(wrong) == 1:
        raise wrong[0]
    if wrong:
        faults = [
            replace(fault, key=f"{error.source}, {fault.key}")
            for error in wrong
            for fault in error.faults
        ]
        hints = dict.fromkeys(error.hint for error in wrong if error.hint)
        what = f"{len(wrong)} of {sum(map(len, groups.values()))} files"
        raise TensileError(what, faults, hint="; ".join(hints))
    return found


def _refuse_same(test: TensileTest, seen: dict[str, str]) -> None:
    """Refuse a file that holds what another holds: it would count as a repeat without scatter.

    Parameters
    ----------
    seen : names of the files read before, by digest; that of the test is added
    """
    other = seen.get(test.digest)
    seen.setdefault(test.digest, test.file)
    if other is not None:
        expected = f"holds the same as {other}: every file is expected to be a test of its own"
        hint = "name every test once; a repeat is pulled on a test piece of its own"
        raise TensileError(test.file, [Fault("file", "", expected)], hint=hint)


def _chosen(ranking: Ranking, law: str | None) -> Fit:
    if law is None:
        return ranking.best
    known = {fit.kind: fit for fit in ranking.fits}
    if law not in known:
        message = f"no law is called {law}"
        raise FormsimError(message, hint=f"known are {', '.join(known)}")
    return known[law]
