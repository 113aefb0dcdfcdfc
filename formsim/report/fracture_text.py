"""The simulated bar of a tensile test and its critical damage, as plain text for a terminal."""

from __future__ import annotations

from formsim.report.lines import folded, table
from formsim.tensile.fracture import Broken, Moment
from formsim.tensile.round_bar import DIAMETER, FLAW, PARALLEL, PROPORTION

STANDS_FOR = (
    "A round bar breaks from the middle of a round neck. A flat specimen of thin sheet ends in a"
    " slanted local neck, and its edges, grain and texture count, none of which a round bar has:"
    " the value is that of the metal in tension, to compare places and designs with, and no more"
    " certain than the flow curve beyond its uniform strain"
)


def fracture_text(broken: Broken, offset: float | None) -> str:
    """The pull of the bar, its critical damage, and what it stands for.

    Parameters
    ----------
    offset : constant of Oyane's law; None for that of Cockcroft and Latham
    """
    said = [
        f"Round bar of this flow curve, {DIAMETER:g} x {PARALLEL:g} mm, isotropic, {100 * FLAW:g} %"
        f" thinner in its middle, pulled to {broken.fracture.words}:"
    ]
    lines = [*folded(said[0]), "", _moments_table(broken, offset), ""]
    for text in _words(broken, offset):
        lines += folded(text)
    return "\n".join(lines)


def _moments_table(broken: Broken, offset: float | None) -> str:
    head = (
        "",
        "Z\n[%]",
        f"A{PROPORTION:g}\n[%]",
        "ln(S0/S)\n[-]",
        "F/S0\n[MPa]",
        "mean over\nequivalent stress",
        f"damage,\n{law_name(offset)}",
    )
    rows = [_row("", one, offset) for one in broken.way]
    if broken.largest is not None:
        rows.insert(0, _row("largest force", broken.largest, offset))
    rows.append(_row("break", broken.last, offset))
    return table(head, rows, left=(0,))


def _row(name: str, moment: Moment, offset: float | None) -> tuple[str, ...]:
    return (
        name,
        f"{100.0 * moment.reduction:.1f}",
        f"{100.0 * moment.elongation:.1f}",
        f"{moment.area_strain:.3f}",
        f"{moment.stress:.1f}",
        f"{moment.triaxiality:.3f}",
        f"{moment.taken.by_law(offset):.3f}",
    )


def law_name(offset: float | None) -> str:
    """Damage law in words."""
    return "Cockcroft-Latham" if offset is None else f"Oyane, offset {offset:g}"


def _words(broken: Broken, offset: float | None) -> list[str]:
    """What has to be known of the critical value."""
    last = broken.last.taken.by_law(offset)
    told = [
        f"critical damage by {law_name(offset)}, in the middle of the neck at the break: {last:.3f}"
    ]
    if broken.flat is not None:
        told.append(
            "a flat specimen of this card with the same area has taken"
            f" {broken.flat.by_law(offset):.3f} by closed form, simple tension and then plane"
            " strain in Hill's neck; how far both are apart tells how much the shape of the neck"
            " matters"
        )
    told += [f"WARNING: {text}" for text in broken.warnings]
    return [*told, f"{STANDS_FOR}."]
