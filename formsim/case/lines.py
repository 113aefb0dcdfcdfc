"""Line numbers of the keys of a TOML text, found without parsing its values."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from formsim.case.earlier import Earlier

_KEY = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_PATH = rf"{_KEY}(?:\s*\.\s*{_KEY})*"
_HEADER = re.compile(rf"\s*(\[\[?)\s*({_PATH})\s*\]")
_ENTRY = re.compile(rf"\s*({_PATH})\s*=")
_PART = re.compile(_KEY)
_TOKEN = re.compile(r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*|[\[\]{}]', re.DOTALL)


@dataclass(frozen=True)
class Origin:
    """Where a case was read from.

    Attributes
    ----------
    name : what messages call the file
    folder : to which files named in it are relative
    lines : line of every key path
    earlier : the result the case starts from; None where it starts from none
    """

    name: str = "case"
    folder: Path = Path()
    lines: Mapping[str, int] = field(default_factory=dict, compare=False)
    earlier: Earlier | None = None


def key_lines(text: str) -> dict[str, int]:
    """Line on which each key path of a TOML text is set, such as ``stage[0].punch``."""
    found: dict[str, int] = {}
    counts: dict[str, int] = {}
    prefix, depth, quote = "", 0, ""
    for number, line in enumerate(text.splitlines(), start=1):
        if depth == 0 and not quote:
            if header := _HEADER.match(line):
                prefix = _header_path(_parts(header[2]), header[1] == "[[", counts)
                found.setdefault(prefix, number)
                continue
            if entry := _ENTRY.match(line):
                found.setdefault(_joined(prefix, _parts(entry[1])), number)
        depth, quote = _nesting(line, depth, quote)
    return found


def line_of(key: str, lines: Mapping[str, int]) -> int:
    """Line of a key path or of the nearest table around it; 0 when unknown."""
    while key:
        if key in lines:
            return lines[key]
        key = key[: max(key.rfind("."), key.rfind("["), 0)]
    return 0


def _parts(path: str) -> list[str]:
    return [part.strip("\"'") for part in _PART.findall(path)]


def _joined(prefix: str, parts: list[str]) -> str:
    return ".".join([prefix, *parts] if prefix else parts)


def _header_path(parts: list[str], is_list: bool, counts: dict[str, int]) -> str:
    path = ""
    for part in parts[:-1]:
        path = _joined(path, [part])
        path += f"[{counts[path] - 1}]" if path in counts else ""
    path = _joined(path, parts[-1:])
    if is_list:
        counts[path] = counts.get(path, 0) + 1
        path += f"[{counts[path] - 1}]"
    return path


def _nesting(line: str, depth: int, quote: str) -> tuple[int, str]:
    position = 0
    while position < len(line):
        if quote:
            end = line.find(quote, position)
            if end < 0:
                return depth, quote
            position, quote = end + 3, ""
            continue
        token = _TOKEN.search(line, position)
        if token is None:
            break
        mark, position = token[0], token.end()
        if mark in ('"""', "'''"):
            quote = mark
        elif mark in "[{":
            depth += 1
        elif mark in "]}":
            depth = max(depth - 1, 0)
    return depth, quote
