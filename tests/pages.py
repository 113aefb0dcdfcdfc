"""Reading a page strictly: every tag closed, every reference and every text collected."""

import base64
import hashlib
import re
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

VOID = {"meta", "link", "img", "input"}
"""Elements without an end by the HTML standard (WHATWG, section 13.1.2), those used here."""

LOADING = ("src", "href", "srcset", "data", "action", "poster", "background", "xlink:href")


@dataclass
class Read:
    tags: list[str] = field(default_factory=list)
    references: list[str] = field(default_factory=list)
    attributes: list[tuple[str, str]] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    texts: dict[str, list[str]] = field(default_factory=dict)

    def all_of(self, tag: str) -> list[str]:
        return self.texts.get(tag, [])

    def values(self, name: str) -> list[str]:
        return [value for key, value in self.attributes if key == name]


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.read, self.open, self.collecting = Read(), [], []

    def handle_starttag(self, tag, attrs):
        self._note(tag, attrs)
        if tag not in VOID:
            self.open.append(tag)
            self.collecting.append([])

    def handle_startendtag(self, tag, attrs):
        assert tag in (*VOID, "path"), f"<{tag}/> closes itself outside a picture"
        self._note(tag, attrs)

    def handle_endtag(self, tag):
        assert self.open and self.open[-1] == tag, f"</{tag}> closes {self.open[-3:]}"
        self.open.pop()
        text = "".join(self.collecting.pop())
        self.read.texts.setdefault(tag, []).append(" ".join(text.split()))

    def handle_data(self, data):
        for texts in self.collecting:
            texts.append(data)

    def _note(self, tag, attrs):
        self.read.tags.append(tag)
        names = [name for name, _ in attrs]
        assert len(set(names)) == len(names), f"<{tag}> names an attribute twice"
        for name, value in attrs:
            self.read.attributes.append((name, value))
            if name in LOADING:
                self.read.references.append(value)
            if name == "id":
                self.read.ids.append(value)


def read_page(page: Path | str) -> Read:
    """A page in its parts; fails where a tag is not closed or closed in the wrong place."""
    text = page.read_text(encoding="utf-8") if isinstance(page, Path) else page
    assert text.startswith("<!DOCTYPE html>\n")
    reader = _Reader()
    reader.feed(text)
    reader.close()
    assert not reader.open, f"never closed: {reader.open}"
    return reader.read


def check_page(page: Path) -> Read:
    """A page that needs nothing else, is small enough and can be walked with a keyboard."""
    read, text = read_page(page), page.read_text(encoding="utf-8")
    assert page.stat().st_size < 8e6
    assert not {"iframe", "object", "embed", "base", "form"} & set(read.tags)
    check_scripts(read, text)
    assert not [name for name, _ in read.attributes if name.startswith("on")]
    assert all(ref.startswith(("#", "data:")) for ref in read.references)
    style = read.all_of("style")[0]
    assert "url(" not in style and "@import" not in style and "//" not in style
    assert "default-src 'none'" in text
    assert len(read.ids) == len(set(read.ids))
    assert all(ref[1:] in read.ids for ref in read.references if ref.startswith("#"))
    assert read.references[1] == "#content", "the first link of the page skips to its content"
    assert all(read.values("alt")) and len(read.values("alt")) == read.tags.count("img")
    assert read.tags.count("caption") == read.tags.count("table")
    headings = [int(tag[1]) for tag in read.tags if tag in ("h1", "h2", "h3", "h4")]
    assert headings.count(1) == 1 and headings[0] == 1
    assert all(b - a <= 1 for a, b in zip(headings, headings[1:], strict=False))
    assert read.tags.count("details") == sum(name == "open" for name, _ in read.attributes)
    return read


def check_scripts(read: Read, text: str) -> None:
    """Data and one script, which the page names by its digest; or none of both."""
    scripts = re.findall(r"<script([^>]*)>(.*?)</script>", text, re.DOTALL)
    assert len(scripts) == read.tags.count("script")
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    named = re.findall(r"script-src ([^;]*)", policy[1])
    if not scripts:
        assert not named
        return
    (kind, data), (plain, code) = scripts
    assert kind == ' type="application/json" id="viewer-data"' and plain == ""
    assert "<" not in data
    digest = base64.b64encode(hashlib.sha256(code.encode()).digest()).decode()
    assert named == [f"'sha256-{digest}'"]
    assert not re.search(r"innerHTML|outerHTML|insertAdjacent|document\.write|eval\(|fetch\(", code)
