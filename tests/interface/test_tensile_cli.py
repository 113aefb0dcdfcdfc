"""From tests to a card to a run, as a user types it; and what a user gets wrong."""

import argparse
import json
import re
import shlex
import shutil
import tomllib
from pathlib import Path

import pytest

from formsim.case.load import load_case
from formsim.case.named_card import raw_material, sound_card
from formsim.cli import main
from formsim.options import add_tensile
from formsim.pipeline.critical_damage import OF_TESTS
from tests.interface.small import PLAIN_OUTPUT, small_cup, torn_cup

ROOT = Path(__file__).parents[2]
DATA = ROOT / "cases" / "data"
README = (ROOT / "README.md").read_text(encoding="utf-8")
SIZES = ["--gauge-length", "50", "--width", "12.5", "--thickness", "0.28"]
DONE, BAD_INPUT = 0, 1


def readme_commands():
    part = README[README.index("### From a tensile test") :]
    block = re.search(r"^```sh\n(.*?)^```$", part, re.MULTILINE | re.DOTALL)[1]
    return [shlex.split(line)[1:] for line in block.replace("\\\n", " ").splitlines()]


@pytest.fixture(scope="module")
def card_folder(tmp_path_factory):
    """Folder in which the commands of the README were run, and what they printed."""
    folder = tmp_path_factory.mktemp("readme")
    shutil.copytree(ROOT / "cases", folder / "cases")
    with pytest.MonkeyPatch.context() as patch, (folder / "printed.txt").open("w") as said:
        patch.chdir(folder)
        patch.setattr("sys.stdout", said)
        codes = [main(command) for command in readme_commands()]
    assert codes == [DONE] * len(codes)
    return folder


@pytest.mark.slow
def test_the_commands_of_the_readme(card_folder):
    printed = (card_folder / "printed.txt").read_text()
    assert max(map(len, printed.splitlines())) <= 100
    for said in ("Rp0.2", "mean of 2", "standard deviation", "ISO 6892-1", "recommended: "):
        assert said in printed
    assert "WHAT LIES BEYOND IS EXTRAPOLATION" in " ".join(printed.split())
    laws = ("voce", "swift", "hollomon", "ludwik", "hockett_sherby", "swift_voce")
    for law in laws:
        assert re.search(rf"^draw +{law} ", printed, re.MULTILINE)
    assert "90 columns x 2 layers" in printed
    assert printed.count("spread") == 2 + 4
    assert re.search(r"^limit curve +voce +0\.9\d+ +watch", printed, re.MULTILINE)
    assert "IT HANGS ON THE LAW" in printed
    names = {path.name for path in (card_folder / "cards").iterdir()}
    figures = {
        f"my-sheet-{what}.{end}" for what in ("curves", "extrapolation") for end in ("svg", "png")
    }
    assert names == {"my-sheet.toml"} | figures


@pytest.mark.slow
def test_a_case_runs_with_the_card_and_its_result_stands_alone(card_folder, capsys):
    text = small_cup(output=PLAIN_OUTPUT)
    line = next(line for line in text.splitlines() if line.startswith("material ="))
    case = card_folder / "cases" / "ours.toml"
    case.write_text(text.replace(line, 'material = { card = "../cards/my-sheet.toml" }'))
    assert main(["check", str(case)]) == DONE
    assert "ears expected" in capsys.readouterr().out
    result = card_folder / "result"
    assert main(["run", str(case), "--quiet", "--into", str(result)]) == DONE
    kept = (result / "case.toml").read_text()
    assert "my-sheet.toml" not in kept
    assert "fitted by least squares" in kept
    summary = json.loads((result / "summary.json").read_text())
    assert load_case(result / "case.toml").digest == summary["digest"] == load_case(case).digest
    assert summary["stages"][0]["ears"]["count"] == 2
    assert "ears" not in summary["stages"][1]


def tensile(folder, *more, files=("invented_sheet_0a.csv",), name="x", sizes=SIZES):
    paths = [str(DATA / file) if "/" not in file else file for file in files]
    into = ["--into", str(folder / "cards")]
    return main(["tensile", *paths, *sizes, "--name", name, *into, *more])


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """Folder with the card and figures of one test by itself."""
    folder = tmp_path_factory.mktemp("plain")
    assert tensile(folder) == DONE
    return folder


def test_a_card_is_not_written_over(undrawn, plain, tmp_path, capsys):
    shutil.copytree(plain, tmp_path, dirs_exist_ok=True)
    assert tensile(tmp_path) == BAD_INPUT
    assert "--replace" in capsys.readouterr().err
    assert tensile(tmp_path, "--replace") == DONE


def test_a_law_of_ones_own_choice(undrawn, tmp_path, capsys):
    assert tensile(tmp_path, "--fit", "swift") == DONE
    assert "flow curve of the card: swift, as asked" in capsys.readouterr().out
    assert 'flow = { kind = "swift"' in (tmp_path / "cards" / "x.toml").read_text()
    assert tensile(tmp_path, "--fit", "cubic", name="y") == BAD_INPUT
    assert "known are" in capsys.readouterr().err


@pytest.mark.slow
def test_sizes_may_name_their_unit(undrawn, tmp_path):
    sizes = ["--gauge-length", "5 cm", "--width", "0.0125 m", "--thickness", "280 um"]
    assert tensile(tmp_path / "a", "--young", "69 GPa", sizes=sizes) == DONE
    assert tensile(tmp_path / "b", "--young", "69000") == DONE
    texts = [(tmp_path / name / "cards" / "x.toml").read_text() for name in "ab"]
    assert texts[0] == texts[1]


def test_two_runs_write_the_same_card(undrawn, plain, tmp_path):
    assert tensile(tmp_path) == DONE
    texts = [(folder / "cards" / "x.toml").read_text() for folder in (plain, tmp_path)]
    assert texts[0] == texts[1]


def test_all_faulty_options_are_told_at_once(tmp_path, capsys):
    wrong = ["--young", "70", "--column", "x", "--at", "45", "--n-range", "5", "2"]
    assert tensile(tmp_path, *wrong, name="a b") == BAD_INPUT
    said = capsys.readouterr().err
    for option in ("--young", "--column", "--at", "--n-range", "--name"):
        assert f"  - {option}" in said
    assert 'did you mean "70 GPa"' in said
    assert not (tmp_path / "cards").exists()


@pytest.mark.parametrize(
    ("pair", "said"),
    [
        (["--at", "0", "f.csv"], "is the angle of the first files"),
        (["--at", "x", "f.csv"], "expected an angle from 0 to 90"),
        (["--at", "95", "f.csv"], "expected an angle from 0 to 90"),
        (["--angle", "120"], "expected an angle to the rolling direction from 0 to 90"),
        (["--angle", "along"], "this text does not begin with a number"),
    ],
)
def test_angles_that_cannot_be_used(tmp_path, capsys, pair, said):
    assert tensile(tmp_path, *pair) == BAD_INPUT
    assert said in capsys.readouterr().err


def test_the_faults_of_all_files_are_told(tmp_path, capsys):
    bad = tmp_path / "short.csv"
    bad.write_text("Force [kN];Extension [mm]\n1;2\n3;4\n")
    files = (str(bad), "invented_sheet_0a.csv", str(tmp_path / "none.csv"))
    assert tensile(tmp_path, files=files) == BAD_INPUT
    said = capsys.readouterr().err
    assert "2 of 3 files" in said
    assert "short.csv, row: 2 rows are too few" in said
    assert "none.csv, file: no such file" in said


def test_one_test_does_not_count_as_two(tmp_path, capsys):
    """A copy under another name holds the same test, at whatever angle it is named."""
    first, copy = DATA / "invented_sheet_0a.csv", tmp_path / "repeat.csv"
    copy.write_bytes(first.read_bytes())
    command = ["tensile", str(first), str(copy), "--at", "45", str(first), *SIZES]
    assert main([*command, "--name", "s", "--into", str(tmp_path / "c")]) == BAD_INPUT
    said = capsys.readouterr().err
    assert "repeat.csv, file: holds the same as invented_sheet_0a.csv" in said
    assert "invented_sheet_0a.csv, file: holds the same as invented_sheet_0a.csv" in said
    assert not (tmp_path / "c").exists()


def test_a_case_at_fault_is_told_before_it_is_run(tmp_path, capsys):
    case = tmp_path / "cup.toml"
    case.write_text(small_cup(("thickness = 0.28", "thickness = 280")))
    assert tensile(tmp_path, "--case", str(case)) == BAD_INPUT
    assert "sheet.thickness = 280" in capsys.readouterr().err
    assert not (tmp_path / "cards").exists()


def test_columns_of_files_that_differ(undrawn, tmp_path, capsys):
    other = tmp_path / "other.csv"
    text = (DATA / "invented_sheet_0b.csv").read_text(encoding="utf-8")
    head = next(line for line in text.splitlines() if not line.startswith("#"))
    other.write_text(text.replace(head, "K1;K2;K3"))
    files = ("invented_sheet_0a.csv", str(other))
    assert tensile(tmp_path, files=files) == BAD_INPUT
    assert 'the file has 1 "K1"' in capsys.readouterr().err
    names = ("force@other.csv=K1:kN", "extension@other.csv=K2:mm")
    declared = [word for name in names for word in ("--column", name)]
    assert tensile(tmp_path, *declared, files=files) == DONE
    printed = " ".join(capsys.readouterr().out.split())
    assert 'columns of other.csv: force from "K1" in kN, extension from "K2" in mm' in printed
    assert 'columns not used: "K3"' in printed
    assert tensile(tmp_path, "--column", "force@none.csv=K1:kN", files=files) == BAD_INPUT
    assert "no such file among invented_sheet_0a.csv, other.csv" in capsys.readouterr().err


def test_a_slope_that_contradicts_the_metal_writes_no_card(undrawn, tmp_path, capsys):
    assert tensile(tmp_path, "--metal", "steel") == BAD_INPUT
    said = capsys.readouterr().err
    assert "gauge length 50 mm, width 12.5 mm, thickness 0.28 mm" in said
    assert not (tmp_path / "cards").exists()
    assert tensile(tmp_path, "--metal", "steel", "--young", "210 GPa") == DONE
    assert "WARNING: the tests show" in capsys.readouterr().out
    assert "# WARNING: the tests show" in (tmp_path / "cards" / "x.toml").read_text()


def test_the_known_headers_are_listed(capsys):
    assert main(["tensile", "--headers"]) == DONE
    printed = capsys.readouterr().out
    for word in ("width_change", "standardkraft", "probendicke", "--column"):
        assert word in printed
    assert main(["tensile"]) == BAD_INPUT
    said = capsys.readouterr().err
    for missing in ("FILE", "--into", "--name"):
        assert missing in said


@pytest.mark.slow
def test_a_law_with_which_the_case_fails_is_told(tmp_path, capsys):
    case = tmp_path / "cup.toml"
    case.write_text(torn_cup())
    assert tensile(tmp_path, "--case", str(case), "--columns", "40") == DONE
    printed = " ".join(capsys.readouterr().out.split())
    assert "40 columns x 2 layers" in printed
    assert printed.count("not finished: stage") == 6


def test_a_folder_that_cannot_be_made(tmp_path, capsys):
    (tmp_path / "cards").write_text("a file")
    assert tensile(tmp_path) == BAD_INPUT
    assert "cannot be written" in capsys.readouterr().err


def test_a_library_material_is_shown_and_drawn(tmp_path, capsys):
    assert main(["materials", "aa6016-t4", "--into", str(tmp_path / "new")]) == DONE
    printed = capsys.readouterr().out
    assert "read through" in printed
    assert "0.601" in printed
    assert {path.suffix for path in (tmp_path / "new").iterdir()} == {".svg", ".png"}


def test_a_library_material_without_a_curve_has_no_picture(tmp_path, capsys):
    assert main(["materials", "dc04", "--into", str(tmp_path / "new")]) == DONE
    assert "no picture: dc04 has no flow curve" in capsys.readouterr().out
    assert main(["materials", "dc99"]) == BAD_INPUT
    assert "nearest: dc0" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()
    assert main(["materials", "--into", str(tmp_path)]) == BAD_INPUT


def test_a_card_file_is_shown_and_drawn_like_a_library_material(
    plain, tmp_path, capsys, monkeypatch
):
    shutil.copytree(plain, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path / "cards")
    capsys.readouterr()
    assert main(["materials", "x.toml", "--into", "pictures"]) == DONE
    printed = capsys.readouterr().out
    assert printed.startswith("x: tensile tests invented_sheet_0a.csv")
    assert "Young's modulus" in printed
    assert {path.name for path in Path("pictures").iterdir()} == {"x-flow.svg", "x-flow.png"}
    assert main(["materials", "y.toml"]) == BAD_INPUT
    assert "x.toml" in capsys.readouterr().err
    text = Path("x.toml").read_text()
    Path("bad.toml").write_text(text.replace("poisson = 0.33", "poisson = 3.3"))
    assert main(["materials", "bad.toml", "--into", "pictures"]) == BAD_INPUT
    assert "poisson" in capsys.readouterr().err


@pytest.mark.slow
def test_a_break_gives_the_card_its_critical_damage(undrawn, tmp_path, capsys):
    assert tensile(tmp_path, "--fracture", "reduction_of_area=55") == DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "largest force" in said and "A round bar breaks" in said
    card = tomllib.loads((tmp_path / "cards" / "x.toml").read_text())
    assert card["damage"]["kind"] == "cockcroft_latham"
    # Between the strain of the area and a third more, as a neck only adds tension.
    assert 0.80 < card["damage"]["critical"] < 1.33
    assert "reduction of area of 55 %" in card["damage"]["source"]
    names = {path.name for path in (tmp_path / "cards").iterdir()}
    assert {"x-fracture.svg", "x-fracture.png"} < names and "x-fracture.svg" in said


@pytest.mark.slow
def test_a_card_that_is_there_is_pulled(tmp_path, capsys):
    asked = ["tensile", "--card", "can-body-demo", "--fracture", "area_strain=0.5"]
    assert main(asked) == DONE
    assert 'damage = { kind = "cockcroft_latham"' in capsys.readouterr().out
    more = ["--oyane", "0.3", "--name", "torn", "--into", str(tmp_path)]
    assert main([*asked, *more]) == DONE
    assert main([*asked, *more]) == BAD_INPUT
    assert "--replace" in capsys.readouterr().err
    assert tomllib.loads((tmp_path / "torn.toml").read_text())["damage"]["offset"] == 0.3
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"torn.toml", "torn-fracture.svg", "torn-fracture.png"}
    capsys.readouterr()
    assert main(["materials", str(tmp_path / "torn.toml")]) == DONE
    printed = capsys.readouterr().out
    # The damage tells its own source, in the column of sources.
    assert re.search(r"^damage +kind oyane, critical [\d.]+,.* - +simulated", printed, re.M)
    assert max(map(len, printed.splitlines())) <= 100


CARDS = {
    "full": """# Our coil, tests of March\r
name = "coil"   # as in the store\r
source = "the lab"\r
young = 70000.0\r
poisson = 0.33\r
density = 2700.0\r
damage = { kind = "cockcroft_latham", critical = 0.4, source = "a guess" }\r
\r
[flow]   # best of six\r
kind = "swift"\r
strength = 500.0\r
prestrain = 0.01\r
exponent = 0.2\r
""",
    "of_the_library": """base = "dc04"   # what the library knows

# our own curve
flow = { kind = "swift", strength = 550.0, prestrain = 0.005, exponent = 0.22 }
""",
}


@pytest.mark.parametrize("kind", CARDS)
def test_a_card_of_a_file_keeps_its_text(tmp_path, kind, capsys):
    file = tmp_path / "coil.toml"
    file.write_text(CARDS[kind], newline="")
    asked = ["tensile", "--card", str(file), "--fracture", "reduction_of_area=60"]
    assert main([*asked, "--name", "torn", "--into", str(tmp_path)]) == DONE
    before = CARDS[kind].splitlines(keepends=True)
    after = (tmp_path / "torn.toml").read_bytes().decode().splitlines(keepends=True)
    own = ("name = ", "damage = ")
    assert [line for line in after if not line.startswith(own)] == [
        line for line in before if not line.startswith(own)
    ]
    assert 'name = "torn"' in "".join(after)
    card = sound_card(raw_material(str(tmp_path / "torn.toml")))
    old = sound_card(raw_material(str(file)))
    assert card.damage is not None and card.damage.critical > 0.9
    same = {"name": old.name, "source": old.source, "damage": old.damage}
    assert card.model_copy(update=same) == old
    capsys.readouterr()
    # A case takes it, and is judged by its critical value.
    case = tmp_path / "cup.toml"
    text = small_cup()
    line = next(line for line in text.splitlines() if line.startswith("material ="))
    case.write_text(text.replace(line, 'material = { card = "torn.toml" }'))
    assert load_case(case).damage == card.damage


def test_a_card_that_is_not_there_is_told_without_a_case(capsys):
    assert main(["tensile", "--card", "none.toml", "--fracture", "area_strain=0.5"]) == BAD_INPUT
    said = capsys.readouterr().err
    assert "none.toml: file: no such file" in said and "case" not in said
    case = str(ROOT / "cases" / "canister_cup.toml")
    assert main(["tensile", "--card", case, "--fracture", "area_strain=0.5"]) == BAD_INPUT
    assert "canister_cup.toml is a case" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--fracture", "62"], "known are reduction_of_area"),
        (["--fracture", "reduction_of_area=0.62"], "from 2 to 87 %"),
        (["--oyane", "0.2"], "--fracture tells"),
        pytest.param(
            *(["--fracture", "elongation=60"], "not come to an elongation"), marks=pytest.mark.slow
        ),
        (["--fracture", "thickness_strain=2.5"], "at most"),
    ],
)
def test_a_break_that_cannot_be(undrawn, tmp_path, capsys, options, told):
    assert tensile(tmp_path, *options) == BAD_INPUT
    assert told in capsys.readouterr().err
    assert not (tmp_path / "cards").exists()


def test_a_card_is_pulled_only_to_a_break(capsys):
    assert main(["tensile", "--card", "can-body-demo", "tests.csv", "--name", "y"]) == BAD_INPUT
    said = capsys.readouterr().err
    assert "3 faults" in said and "--fracture: " in said and "not both" in said
    assert main(["tensile", "--card", "aa3104-h19", "--fracture", "area_strain=0.9"]) == BAD_INPUT
    assert "has no flow" in capsys.readouterr().err


BESIDE = {
    "--fit": ["swift"],
    "--case": ["cup.toml"],
    "--columns": ["40"],
    "--at": ["45", "a.csv"],
    "--angle": ["0"],
    "--column": ["force=1:N"],
    "--gauge-length": ["50"],
    "--width": ["12.5"],
    "--thickness": ["0.3"],
    "--young": ["70000"],
    "--poisson": ["0.3"],
    "--density": ["2700"],
    "--metal": ["steel"],
    "--n-range": ["2", "4"],
    "--r-range": ["2", "4"],
    "--drop-loops": [],
    "--invented": [],
}


def test_options_of_tests_are_refused_beside_a_card(capsys):
    words = [word for option, values in BESIDE.items() for word in (option, *values)]
    asked = ["tensile", "--card", "can-body-demo", "--fracture", "area_strain=0.5"]
    assert main([*asked, *words, "--replace"]) == BAD_INPUT
    said = capsys.readouterr().err
    assert f"{len(BESIDE) + 1} faults" in said
    for option in (*BESIDE, "--replace"):
        assert re.search(rf"^  - {option}( = .*)?: ", said, re.MULTILINE), option
    assert main(["tensile", "--headers", *words, "tests.csv"]) == BAD_INPUT
    said = capsys.readouterr().err
    assert f"{len(BESIDE) + 1} faults" in said and "FILE = tests.csv" in said
    assert main(["tensile", "--headers", "--debug"]) == DONE


def test_every_option_of_tests_is_known_beside_a_card():
    """A new option of files of tests has to say what it does beside a card."""
    parser = argparse.ArgumentParser()
    add_tensile(parser)
    names = set(vars(parser.parse_args([]))) - {"files", "headers"}
    both = {"name", "into", "fracture", "oyane", "card", "replace"}
    assert names == both | set(OF_TESTS)


def test_options_that_would_do_nothing_are_told(tmp_path, capsys):
    constants = ["--young", "70000", "--poisson", "0.33", "--density", "2700"]
    assert tensile(tmp_path, "--columns", "40", *constants, "--metal", "aluminium") == BAD_INPUT
    said = capsys.readouterr().err
    assert "2 faults" in said and "name one with --case" in said and "leave it out" in said
    assert main(["worker", str(tmp_path), "key", "--share", str(tmp_path)]) == BAD_INPUT
    assert "not allowed with argument" in capsys.readouterr().err
    twice = ["--fracture", "area_strain=0.5", "--fracture", "area_strain=0.7"]
    assert main(["tensile", "--card", "can-body-demo", *twice]) == BAD_INPUT
    said = capsys.readouterr().err
    assert "--fracture is given twice: area_strain=0.5, then area_strain=0.7" in said
