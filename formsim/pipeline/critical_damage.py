"""Critical damage of a card from a break that was measured, and the card that holds it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from formsim.case.card import MaterialCard
from formsim.case.card_edit import edited_card
from formsim.case.library import library, missing
from formsim.case.limits import OFFSET
from formsim.case.named_card import raw_material, sound_card
from formsim.case.tested import Tested
from formsim.case.toml_file import text_of
from formsim.case.toml_text import inline, toml_text
from formsim.errors import Fault, FormsimError, StoreError, TensileError
from formsim.material.model import Material
from formsim.pipeline.option_values import idle_options, number_of
from formsim.report.fracture_text import fracture_text
from formsim.report.lines import folded
from formsim.results.files import writing
from formsim.tensile.evaluate import Values
from formsim.tensile.fracture import (
    QUANTITIES,
    Broken,
    Fracture,
    break_bar,
    proportion_of,
)
from formsim.tensile.round_bar import PROPORTION

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_THERE = "does nothing with --card, whose card says it: change it there"
_SIZE = "does nothing with --card, which keeps the sizes of its tests: change them under [tested]"
_MEANT = "is for files of tests, not for --card: leave it out"
OF_TESTS: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("gauge_length", "width", "thickness"), _SIZE),
        **dict.fromkeys(("young", "poisson", "density", "metal"), _THERE),
        **dict.fromkeys(("column", "angle", "at", "n_range", "r_range", "drop_loops"), _MEANT),
        "fit": "does nothing with --card, whose flow curve is pulled: put another into it",
        "invented": "does nothing with --card: write invented = true into the card",
        "case": "runs with the laws fitted to tests, not with --card: write the card with --name"
        ' and --into, and put material = { card = "NAME.toml" } into the [sheet] of the case',
        "columns": "is the mesh of --case, which does not go with --card: leave it out",
    }
)
"""Options of files of tests that would do nothing beside a card, and what to do instead."""

FRACTURE_FIGURE = "-fracture"
"""What the name of a card ends with in that of the figure of its bar."""

_FORM = "expected what was measured of the break, with its value"


@dataclass(frozen=True)
class Break:
    """What was measured of a break, and the damage law that is wanted.

    Attributes
    ----------
    kind, value : of the fracture, see ``Fracture``
    offset : constant of Oyane's law; None for that of Cockcroft and Latham
    """

    kind: str
    value: float
    offset: float | None = None

    def of(self, card: MaterialCard) -> tuple[MaterialCard, Broken]:
        """Card with its critical damage, and the bar that was pulled for it.

        Raises
        ------
        FormsimError : the bar of the card does not come to this break
        """
        broken = break_bar(Material.from_card(card), self._fracture(card.tested))
        law: dict[str, Any] = {"kind": "cockcroft_latham"}
        if self.offset is not None:
            law = {"kind": "oyane", "offset": self.offset}
        critical = float(f"{broken.last.taken.by_law(self.offset):.4g}")
        held = card.model_dump(exclude_none=True)
        held["sources"].pop("damage", None)
        held["damage"] = law | {"critical": critical, "source": broken.source}
        return MaterialCard.model_validate(held), broken

    def _fracture(self, tested: Tested | None) -> Fracture:
        """The fracture with the gauge of its test piece, where that is known."""
        sizes = (tested.gauge_length, tested.width, tested.thickness) if tested else (None,) * 3
        length, width, thickness = sizes
        if width is None or thickness is None:
            return Fracture(self.kind, self.value)
        proportion = PROPORTION if length is None else proportion_of(length, width, thickness)
        return Fracture(self.kind, self.value, proportion, width / thickness)


def break_of(options: Mapping[str, Any], faults: list[Fault]) -> Break | None:
    """The break that ``--fracture`` and ``--oyane`` tell of; faults are added to a list."""
    offset = number_of(OFFSET, "--oyane", options["oyane"], faults)
    if options["oyane"] is not None and options["fracture"] is None:
        expected = "is a law for a critical damage: --fracture tells what was measured of the break"
        faults.append(Fault("--oyane", options["oyane"], expected))
    if options["fracture"] is None:
        return None
    kind, equals, text = options["fracture"].partition("=")
    kind = kind.strip()
    if kind not in QUANTITIES or not equals:
        examples = "reduction_of_area=62 (in per cent); known are"
        expected = f"{_FORM}, such as {examples} {', '.join(QUANTITIES)}"
        faults.append(Fault("--fracture", options["fracture"], expected))
        return None
    value = number_of(QUANTITIES[kind], f"--fracture {kind}", text.strip(), faults)
    return None if value is None else Break(kind, value, offset)


@dataclass(frozen=True)
class CardAsked:
    """A card that is there, whose bar is pulled.

    Attributes
    ----------
    card : as it is, under the name asked for
    text : of its file; None for a library material
    broken : what was measured of its break
    into : folder for the completed card; None to write none
    """

    card: MaterialCard
    text: str | None
    broken: Break
    into: Path | None


def card_asked(options: Mapping[str, Any]) -> CardAsked:
    """What the options ask of a card that is there.

    Raises
    ------
    TensileError, CaseError : with all faults of the options, or of the card
    """
    faults: list[Fault] = []
    broken = break_of(options, faults)
    if options["fracture"] is None:
        expected = f"--card goes with it: {_FORM}, such as reduction_of_area=62"
        faults.append(Fault("--fracture", "", expected))
    if options["files"]:
        expected = "expected a card that is there, or files of tests that make one, not both"
        faults.append(Fault("--card", options["card"], expected))
    faults += idle_options(options, OF_TESTS)
    if options["replace"] and options["into"] is None and not options["name"]:
        faults.append(Fault("--replace", "", "nothing is written without --name and --into"))
    if (options["into"] is None) != (not options["name"]):
        option = "--into" if options["into"] is None else "--name"
        other = "--name" if options["into"] is None else "--into"
        expected = f"is needed to write a card, beside {other}; with neither it is only shown"
        faults.append(Fault(option, "", expected))
    if faults or broken is None:
        what = "options"
        raise TensileError(what, faults)
    raw = dict(raw_material(options["card"]))
    if missing(raw):
        lacks = " and no ".join(missing(raw))
        message = f"{options['card']} has no {lacks}, so that no bar can be pulled"
        raise FormsimError(message, hint="complete it in a card file: formsim materials tells how")
    name = {"name": options["name"]} if options["name"] else {}
    text = None if options["card"] in library() else text_of(Path(options["card"]))
    return CardAsked(sound_card(raw | name), text, broken, options["into"])


def broken_card_text(options: Mapping[str, Any], prepare: Callable[[], None]) -> str:
    """Pull the bar of a card that is there; write the card with its damage where it is asked.

    Parameters
    ----------
    prepare : called before anything is solved

    Raises
    ------
    FormsimError : as ``card_asked``, ``Break.of`` and ``save_card``
    """
    wanted = card_asked(options)
    prepare()
    card, broken = wanted.broken.of(wanted.card)
    said = [fracture_text(broken, wanted.broken.offset), "", "for a card or [limits]:"]
    said.append(damage_line(card))
    if wanted.into is not None:
        paths = save_card(card, wanted, broken, replace=options["replace"])
        said += ["", *folded(f"written into {wanted.into}: {', '.join(p.name for p in paths)}")]
    return "\n".join(said)


def damage_line(card: MaterialCard) -> str:
    """The line of a card or of [limits] that holds its critical damage."""
    law = None if card.damage is None else card.damage.model_dump(exclude_none=True)
    return f"damage = {inline(law or {})}"


def save_card(
    card: MaterialCard, asked: CardAsked, broken: Broken, *, replace: bool = False
) -> list[Path]:
    """Write a card with its critical damage, and the figure of its bar, into the folder asked for.

    Of a card file everything but name and damage stays as it is written, comments too.

    Raises
    ------
    StoreError : a file of that name is there, or the folder cannot be written
    """
    from formsim.report.style import save_figure

    folder = asked.into or Path()
    path, figure = folder / f"{card.name}.toml", folder / f"{card.name}{FRACTURE_FIGURE}"
    refuse_present([path, figure.with_name(figure.name + ".svg")], replace=replace)
    plain = card.model_dump(exclude_none=True, exclude_defaults=True)
    text = None if asked.text is None else edited_card(asked.text, card.name, plain["damage"])
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text(text or toml_text(plain), encoding="utf-8", newline="")
        return [path, *save_figure(fracture_maker(card.name, broken, asked.broken), figure)]


def fracture_maker(
    name: str, broken: Broken, measured: Break, tests: Sequence[Values] = ()
) -> Callable[[], Figure]:
    """What draws the figure of a bar."""
    from formsim.report.fracture_figure import fracture_figure

    return partial(fracture_figure, name, broken, measured.offset, tests)


def refuse_present(planned: Iterable[Path], *, replace: bool) -> None:
    """Refuse to write over files of a card that are there, unless they are to be replaced.

    Raises
    ------
    StoreError : one of them is there
    """
    there = next((path for path in planned if path.exists()), None)
    if there is not None and not replace:
        message = f"{there} is there already"
        raise StoreError(message, hint="give another --name, or --replace to write over it")
