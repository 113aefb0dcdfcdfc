"""A material card by its name: of the library, or a card file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from formsim.case.card import MaterialCard
from formsim.case.card_file import KNOWN, resolved
from formsim.case.faults import faults_of
from formsim.case.library import library, nearest
from formsim.errors import CaseError, FormsimError


def raw_material(name: str) -> Mapping[str, Any]:
    """Raw card of a library material, which may lack values, or of a card file.

    Raises
    ------
    FormsimError : there is no such material or file
    """
    if name in library():
        return library()[name]
    if not name.lower().endswith(".toml"):
        message = f"no library material is called {name}"
        raise FormsimError(
            message, hint=f"{nearest(name)}; or name a card file, such as {name}.toml"
        )
    try:
        return cast("Mapping[str, Any]", resolved({"card": name}, Path()))
    except PydanticCustomError as error:
        message = error.message().removeprefix(f"{KNOWN}; ")
        raise FormsimError(message, hint="formsim materials lists those of the library") from None


def sound_card(raw: Mapping[str, Any]) -> MaterialCard:
    """Card of raw values.

    Raises
    ------
    CaseError : with every fault of the card
    """
    try:
        return MaterialCard.model_validate(raw)
    except ValidationError as error:
        raise CaseError(str(raw.get("name", "card")), faults_of(error, raw, MaterialCard)) from None
