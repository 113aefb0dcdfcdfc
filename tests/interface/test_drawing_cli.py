"""Drawings from the command line: written, read back, checked, run, and kept with the result."""

import shutil

import ezdxf
import numpy as np
import pytest

from formsim import thickness_profile
from formsim.case.load import load_case, parse_case
from formsim.cli import main
from formsim.errors import CaseError
from formsim.pipeline.run import run_case
from formsim.results import store
from tests.interface.small import small_cup

DONE, BAD_INPUT = 0, 1
TOOLS = ("punch", "die", "holder")


def one_draw(folder: str = "") -> str:
    """Text of the small cup's draw; its tools come from drawings where a folder is given."""
    head, _, rest = small_cup().partition('[[stage]]\nkind = "dome"')
    text = head + rest.partition("friction = 0.08\n")[2]
    for tool in TOOLS if folder else ():
        outline = f'outline = {{ file = "{folder}/1-draw.dxf", layer = "{tool}" }}'
        assert f"{tool} = {{ " in text
        text = text.replace(f"{tool} = {{ ", f"{tool} = {{ {outline}, ", 1)
    return text


def written(folder, text, name="cup.toml"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """Folder with a case, the drawings of its tools, and a case that is made from these."""
    folder = tmp_path_factory.mktemp("drawn")
    plain = written(folder, one_draw())
    assert main(["drawings", str(plain), "--into", str(folder / "tools")]) == DONE
    written(folder, one_draw("tools"), "drawn.toml")
    return folder


@pytest.fixture(scope="module")
def result(drawn):
    text = (drawn / "drawn.toml").read_text(encoding="utf-8")
    run = run_case(load_case(drawn / "drawn.toml"), drawn / "result", text=text)
    return run, drawn / "result"


def test_a_drawing_and_a_picture_of_every_tool(drawn):
    names = {path.name for path in (drawn / "tools").iterdir()}
    pictures = {f"1-draw-{tool}{ending}" for tool in TOOLS for ending in (".svg", ".png")}
    assert names == {"1-draw.dxf"} | pictures
    layers = {one.dxf.layer for one in ezdxf.readfile(drawn / "tools" / "1-draw.dxf").modelspace()}
    assert layers == {*TOOLS, "axis_of_rotation"}


def test_drawings_are_not_written_over(undrawn, drawn, capsys):
    command = ["drawings", str(drawn / "cup.toml"), "--into", str(drawn / "tools")]
    assert main(command) == BAD_INPUT
    assert "already 1-draw.dxf" in capsys.readouterr().err
    assert main([*command, "--replace"]) == DONE
    assert "1-draw.dxf; pictures of them: 6 files" in capsys.readouterr().out


def test_drawings_into_a_file(drawn, capsys):
    command = ["drawings", str(drawn / "cup.toml"), "--into", str(drawn / "cup.toml")]
    assert main(command) == BAD_INPUT
    assert "cannot be written" in capsys.readouterr().err


def test_drawings_of_drawn_tools_show_what_was_understood(drawn, tmp_path):
    command = ["drawings", str(drawn / "drawn.toml"), "--into", str(tmp_path / "again")]
    assert main(command) == DONE
    first, second = (path / "1-draw.dxf" for path in (drawn / "tools", tmp_path / "again"))
    one, other = (places_of(path) for path in (first, second))
    assert one.shape == other.shape and np.abs(one - other).max() < 1e-9
    svg = (tmp_path / "again" / "1-draw-die.svg").read_text(encoding="utf-8")
    assert "1-draw.dxf, layer die" in svg


def places_of(path):
    """Ends of the lines of a drawing."""
    lines = ezdxf.readfile(path).modelspace().query("LINE")
    return np.array([[*one.dxf.start, *one.dxf.end] for one in lines])


def test_check_says_what_was_understood(drawn, capsys):
    assert main(["check", str(drawn / "drawn.toml")]) == DONE
    out = capsys.readouterr().out
    for tool in TOOLS:
        assert f"drawn   stage[0].{tool}.outline: 1-draw.dxf, layer {tool}" in out
    assert "open outline of 7 lines and arcs, drawn in mm" in out


@pytest.mark.parametrize("command", ["check", "run", "drawings"])
def test_a_drawing_at_fault_is_told_with_key_and_line(drawn, tmp_path, capsys, command):
    text = one_draw("tools").replace('layer = "die"', 'layer = "dye"')
    shutil.copytree(drawn / "tools", tmp_path / "tools")
    path = written(tmp_path, text)
    into = [] if command == "check" else ["--into", str(tmp_path / "out")]
    assert main([command, str(path), *into]) == BAD_INPUT
    line = next(k for k, row in enumerate(text.splitlines(), 1) if "dye" in row)
    told = capsys.readouterr().err
    assert f"line {line}: stage[0].die.outline: 1-draw.dxf, layer dye: there is no such" in told
    assert "die (7)" in told
    assert not (tmp_path / "out").exists()


@pytest.mark.slow
def test_a_cup_from_its_own_drawings_is_the_same(result):
    run, _ = result
    plain = run_case(parse_case(one_draw(), "cup.toml"))
    first, second = (
        thickness_profile(one.line.stages[0].body, one.line.stages[0].final).thickness
        for one in (plain, run)
    )
    assert np.abs(first - second).max() < 1e-9
    assert plain.case.digest != run.case.digest


def test_the_result_keeps_its_drawings(result, drawn):
    run, folder = result
    copy = folder / "drawings" / "1-draw.dxf"
    assert copy.read_bytes() == (drawn / "tools" / "1-draw.dxf").read_bytes()
    assert load_case(folder / "case.toml").digest == run.case.digest
    assert "drawings/ (1 files)" in store.kept_files(folder)


def test_a_result_is_replaced_with_its_drawings_and_nothing_else(result, tmp_path):
    folder = shutil.copytree(result[1], tmp_path / "result")
    (folder / "drawings" / "own.dxf").touch()
    case = load_case(folder / "case.toml")
    text = (folder / "case.toml").read_text(encoding="utf-8")
    stamp = store.Stamp(case.title, case.digest, "0")
    files = [stage.die.outline.file for stage in case.stages]
    store.create_folder(folder, text, stamp, replace=True, drawings=files)
    assert load_case(folder / "case.toml").digest == case.digest
    store.create_folder(folder, one_draw(), stamp, replace=True)
    assert [path.name for path in (folder / "drawings").iterdir()] == ["own.dxf"]


def test_a_run_from_python_refuses_a_bad_drawing_before_it_makes_a_folder(drawn, tmp_path):
    text = one_draw("tools").replace("clearance = 0.31", "clearance = 0.33")
    case = parse_case(text, "cup.toml", drawn)
    with pytest.raises(CaseError, match=r"cup.toml: 1 fault\n.*narrowest it is drawn 74.62 mm"):
        run_case(case, tmp_path / "out")
    assert not (tmp_path / "out").exists()
