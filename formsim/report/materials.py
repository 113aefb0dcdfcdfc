"""The shipped materials as a table, and one material with every value and its source."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from formsim.case.card import MaterialCard
from formsim.case.library import NEEDED, completion, library, missing, nominal
from formsim.case.named_card import raw_material, sound_card
from formsim.case.rules import yield_stress
from formsim.errors import FormsimError
from formsim.report.flow_figure import flow_figure
from formsim.report.lines import folded, table
from formsim.report.style import save_figure

_WORDS = {
    "young": ("Young's modulus", "MPa"),
    "poisson": ("Poisson's ratio", "-"),
    "density": ("density", "kg/m3"),
    "flow": ("flow curve", "MPa"),
    "r_values": ("r-values", "-"),
    "recovery": ("recovery", ""),
    "heat_capacity": ("heat capacity", "J/(kg K)"),
    "forming_limit": ("limit curve", ""),
    "damage": ("damage", "-"),
    "cut_edge": ("cut edge", ""),
    "tested": ("tested", "mm, MPa, %"),
}
_NOMINAL = {
    "proof_stress": "proof stress Rp0.2",
    "tensile_strength": "tensile strength Rm",
    "elongation": "elongation",
    "exponent": "hardening exponent",
    "r90": "r at 90 degrees",
    "n90": "n at 90 degrees",
}


def materials_text() -> str:
    """Name, kind of flow curve, yield stress, mean r-value and source of every library material.

    Materials of which no source gives all stand below, with what they lack.
    """
    whole = [raw for raw in library().values() if not missing(raw)]
    partly = [raw for raw in library().values() if missing(raw)]
    rows = [_row(MaterialCard.model_validate(raw)) for raw in whole]
    head = ("name", "flow curve", "yield [MPa]", "mean r", "source")
    lacking = [
        (raw["name"], ", ".join(missing(raw)), *_strengths(raw["name"]), raw["source"])
        for raw in partly
    ]
    second = ("incomplete", "lacks", "Rp0.2", "Rm", "source")
    example = partly[0]
    return "\n\n".join(
        (
            table(head, rows, left=(0, 1, 4), widest={4: 42}),
            table(second, lacking, left=(0, 1, 2, 3, 4), widest={4: 42}),
            _advice(example),
        )
    )


def material_text(name: str) -> str:
    """One material, of the library or of a card file: every value with its source.

    What is missing, and how to complete it, stands below.
    """
    raw = raw_material(name)
    lacks = missing(raw)
    rows = list(_value_rows(raw))
    said = nominal(name) if name in library() else {}
    rows += [(_NOMINAL.get(key, key), text, "", "nominal") for key, text in said.items()]
    parts = [
        "\n".join(folded(f"{raw.get('name', name)}: {raw.get('source', 'no source given')}")),
        table(("", "value", "unit", "source"), rows, left=(0, 1, 2, 3), widest={1: 38, 3: 30}),
    ]
    if raw.get("invented"):
        parts.append("invented data")
    if lacks:
        parts.append(_advice(raw))
    return "\n\n".join(parts)


def shown_text(name: str | None, into: Path | None) -> str:
    """The list of materials, or one of them, whose picture is saved where a folder is given."""
    if name is None:
        if into is not None:
            message = "a picture is of one material: name it before --into"
            raise FormsimError(message, hint="formsim materials lists the names")
        return materials_text()
    text = material_text(name)
    if into is None:
        return text
    paths = save_material(name, into)
    if paths is None:
        return f"{text}\n\nno picture: {name} has no flow curve of its own"
    return f"{text}\n\nwritten: {paths[0]}, {paths[1]}"


def save_material(name: str, folder: Path) -> tuple[Path, Path] | None:
    """Save the picture of a material's flow curve; None where it has none."""
    raw = raw_material(name)
    if missing(raw):
        return None
    card = sound_card(raw)
    folder.mkdir(parents=True, exist_ok=True)
    return save_figure(partial(flow_figure, card), folder / f"{card.name}-flow")


def _row(card: MaterialCard) -> tuple[str, ...]:
    return (
        card.name,
        card.flow.kind,
        f"{yield_stress(card):.0f}",
        f"{card.r_bar:.2f}",
        card.source
        if "invented" in card.source.lower() or not card.invented
        else f"invented: {card.source}",
    )


def _advice(raw: Mapping[str, Any]) -> str:
    """How a case completes a material; the line can be copied."""
    lacks = missing(raw)
    return (
        f"No source at hand gives the {', '.join(lacks)}. A case completes such a card with:\n"
        f"  {completion(raw['name'], lacks)}"
    )


def _strengths(name: str) -> tuple[str, str]:
    """Proof stress and strength that are known, without where from."""
    said = nominal(name)
    keys = ("proof_stress", "tensile_strength")
    first, second = (said.get(key, "-").partition(" (")[0] for key in keys)
    return first, second


def _value_rows(raw: Mapping[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    told = raw.get("sources", {})
    for key, (words, unit) in _WORDS.items():
        if key in raw:
            value, source = raw[key], "invented" if raw.get("invented") else "no source noted"
            if isinstance(value, Mapping) and "source" in value:
                source, value = value["source"], {k: value[k] for k in value if k != "source"}
            yield words, _value(value), unit, told.get(key, source)
        elif key in NEEDED:
            yield words, "-", "", "no source gives it"


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_value(item)}" for key, item in value.items())
    if isinstance(value, list):
        return " ".join(_value(item) for item in value)
    return f"{value:g}" if isinstance(value, int | float) else str(value)
