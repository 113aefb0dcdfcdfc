"""A card file with another name and damage: everything else stays as its writer left it."""

import difflib
import tomllib

import pytest

from formsim.case.card_edit import edited_card

LAW = {"kind": "oyane", "offset": 0.3, "critical": 0.71, "source": 'broken at "62 %"'}
TOP = """# Our coil 4711, tests of March
# a case takes it with { card = "coil.toml" }

source   = "tests # not a comment"   # the lab
name = "coil"
young = 70_000.0        # from three tests
"""
REST = """
# the flow curve follows
[flow]
kind = "voce"   # best of six
saturation = 420.0
drop = 140.0
rate = 12.0

[sources]
young = "measured"
"""
INLINE = 'damage = { kind = "cockcroft_latham", critical = 0.4, source = "guess" } # tried\n'
DOTTED = (
    'damage.kind = "oyane" # a\ndamage.offset = 0.1\ndamage.critical = 1.0\ndamage.source="x"\n'
)
TABLE = """
[damage]   # of the old coil
# checked twice
kind = "cockcroft_latham"
fracture_strain = 0.6
source = "guess"
"""
TEXTS = {
    "none": TOP + REST,
    "inline": TOP + INLINE + REST,
    "dotted": TOP + DOTTED + REST,
    "table": TOP + TABLE + REST,
    "last": TOP + REST + TABLE,
    "flat": TOP + 'flow = { kind = "voce", saturation = 420.0, drop = 140.0, rate = 12.0 }',
    "base": '# half\nbase = "aa3104-h19"\n\n# ours\n[flow]\nkind = "hollomon"\n',
    "lists": 'r = [\n  [1.0],\n]\n# on\n[flow]\nkind = "a"\n',
    "sourced": TOP + INLINE + REST + 'damage = "a guess"\nflow = "tests"\n',
    "windows": (TOP + INLINE + REST).replace("\n", "\r\n"),
    "only_tables": '[flow]\nkind = "a"\n',
}


@pytest.mark.parametrize("kind", TEXTS)
def test_only_the_lines_of_name_and_damage_differ(kind):
    text = TEXTS[kind]
    edited = edited_card(text, "coil-broken", LAW)
    assert edited is not None
    raw, before = tomllib.loads(edited), tomllib.loads(text)
    assert raw["name"] == "coil-broken" and raw["damage"] == LAW
    same = {key: value for key, value in raw.items() if key not in ("name", "damage", "sources")}
    assert same == {key: value for key, value in before.items() if key in same}
    assert "damage" not in raw.get("sources", {})
    changed = [
        line[2:]
        for line in difflib.ndiff(text.splitlines(), edited.splitlines())
        if line[0] in "+-"
    ]
    own = ("name", "damage", "kind", "offset", "critical", "source", "fracture_strain")
    assert all(line.startswith(own) or "{ card =" in line for line in changed), changed
    assert not any("# the lab" in line or "# best" in line for line in changed)
    comments = [line for line in text.splitlines() if line.lstrip().startswith("#")]
    kept = [line.replace("coil-broken.toml", "coil.toml") for line in edited.splitlines()]
    assert [line for line in kept if line.lstrip().startswith("#")] == comments
    assert ("\r\n" in edited) == ("\r\n" in text)


def test_a_comment_stays_with_the_table_below_it():
    edited = edited_card(TEXTS["none"], "new", LAW)
    assert "# the flow curve follows\n[flow]" in edited
    assert edited.index("damage = ") < edited.index("# the flow curve follows")


def test_a_card_edited_twice_is_the_card_edited_once():
    for text in TEXTS.values():
        once = edited_card(text, "a", LAW)
        assert edited_card(edited_card(text, "b", LAW), "a", LAW) == once
        assert edited_card(once, "a", LAW) == once
