"""Small cases for the interface tests: the template cup on a coarse mesh."""

from formsim.case.template import template

COLUMNS = 90
PLAIN_OUTPUT = "\n[output]\nframes = 4\nfigures = false\npicture = false\n"


def small_cup(*changes: tuple[str, str], output: str = PLAIN_OUTPUT, more: str = "") -> str:
    """Text of the template cup on few columns, with some of its lines changed."""
    text = template("cup").replace("[mesh]", "mesh", 1)
    for old, new in changes:
        if old not in text:
            message = f"the template has no {old!r}"
            raise ValueError(message)
        text = text.replace(old, new)
    return f"{text}\n[mesh]\ncolumns = {COLUMNS}\n{output}{more}"


def short_draw(*changes: tuple[str, str], output: str = PLAIN_OUTPUT) -> str:
    """The first millimetre of the small cup's draw, its springback included."""
    text = small_cup(*changes, output=output)
    begin = text.index("[[stage]]", text.index("[[stage]]") + 1)
    return text[:begin].rstrip() + "\nstroke = 1.0\n" + text[text.index("\n[mesh]") :]


def torn_cup() -> str:
    """Cup drawn far beyond the limiting ratio: its base must tear."""
    return small_cup(("blank_diameter = 118.0", "blank_diameter = 200.0"))
