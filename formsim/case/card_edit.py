"""A card file under another name and with another damage law, the rest as its writer left it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from formsim.case.lines import key_lines
from formsim.case.toml_text import inline

DAMAGE = "damage"


def edited_card(text: str, name: str, law: Mapping[str, Any]) -> str | None:
    """Text of a card file with a name and a damage law; only the lines of these differ.

    A source that stands under ``sources`` for the damage that was there goes with it, and comments
    that call the file by its old name follow the new one.

    Parameters
    ----------
    text : of a sound card file
    law : table of the damage law

    Returns
    -------
    None where the lines cannot be found and the card has to be written anew.
    """
    import tomlkit

    wanted = _wanted(tomllib.loads(text), name, law)
    with_lines = _with_missing(_renamed(text, name), {"name": name, DAMAGE: dict(law)})
    document: Any = tomlkit.parse(with_lines)
    document["name"] = name
    held = document[DAMAGE]
    if isinstance(held, tomlkit.items.InlineTable):
        document[DAMAGE] = tomlkit.value(inline(law))
    else:
        _set_keys(held, law)
    if DAMAGE in document.get("sources", {}):
        del document["sources"][DAMAGE]
    edited = tomlkit.dumps(document)
    return edited if tomllib.loads(edited) == wanted else None


def _set_keys(held: Any, law: Mapping[str, Any]) -> None:
    """Keys of a table that stands on lines of its own, whose comments stay."""
    for key in [key for key in held if key not in law]:
        del held[key]
    for key, value in law.items():
        held[key] = value


def _wanted(raw: Mapping[str, Any], name: str, law: Mapping[str, Any]) -> dict[str, Any]:
    """What the edited text has to say."""
    wanted = {**raw, "name": name, DAMAGE: dict(law)}
    if "sources" in raw:
        told = raw["sources"]
        wanted["sources"] = {key: told[key] for key in told if key != DAMAGE}
    return wanted


def _renamed(text: str, name: str) -> str:
    """Comments on lines of their own that name the file as a case takes it follow its name."""
    old = tomllib.loads(text).get("name")
    before, after = f'{{ card = "{old}.toml" }}', f'{{ card = "{name}.toml" }}'
    return "".join(
        line.replace(before, after) if line.lstrip().startswith("#") else line
        for line in text.splitlines(keepends=True)
    )


def _with_missing(text: str, values: Mapping[str, Any]) -> str:
    """Text with a line for every key it lacks, behind its other keys and before any table."""
    present = tomllib.loads(text)
    lines, end = text.splitlines(keepends=True), "\r\n" if "\r\n" in text else "\n"
    headers = [k for k in key_lines(text).values() if lines[k - 1].lstrip().startswith("[")]
    place = min(headers, default=len(lines) + 1) - 1
    while headers and place > 0 and lines[place - 1].lstrip()[:1] in ("#", ""):
        place -= 1
    if 0 < place <= len(lines) and not lines[place - 1].endswith("\n"):
        lines[place - 1] += end
    new = [f"{key} = {inline(value)}{end}" for key, value in values.items() if key not in present]
    return "".join([*lines[:place], *new, *lines[place:]])
