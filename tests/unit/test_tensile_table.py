"""Files of tensile tests: separators, decimal commas, headers, units, and what is refused."""

import numpy as np
import pytest

from formsim.case.units import known_unit
from formsim.errors import TensileError
from formsim.material.flow import Swift
from formsim.tensile.columns import declared_columns, split_header
from formsim.tensile.record import Specimen, read_test
from formsim.tensile.table import read_table
from tests.unit.bars import bar, table_text

SHEET = Swift(478.2, 0.0068, 0.2895)
STRAIN, STRESS, WIDTH = bar(SHEET, rows=120, r=0.6)
PIECE = Specimen(50.0, 12.5, 0.8)
COLUMNS = {
    "Force [kN]": STRESS * 12.5 * 0.8e-3,
    "Extension [mm]": 50.0 * STRAIN,
    "Width change [mm]": -12.5 * WIDTH,
}


def written(folder, text, encoding="utf-8"):
    path = folder / "test.csv"
    path.write_bytes(text.encode(encoding))
    return path


def read(folder, text, specimen=PIECE, declare=(), encoding="utf-8", **more):
    path = written(folder, text, encoding)
    return read_test(path, specimen, declared_columns(declare), **more)


def same(test, coarser=1.0):
    """Written with six decimals, so ``coarser`` in larger units."""
    np.testing.assert_allclose(test.stress, STRESS, atol=2e-4)
    np.testing.assert_allclose(test.strain, STRAIN, atol=2e-8 * coarser)
    np.testing.assert_allclose(test.width_strain, WIDTH, atol=6e-7 * coarser)


@pytest.mark.parametrize(
    ("separator", "decimal"), [(",", "."), (";", "."), (";", ","), ("\t", ","), ("\t", ".")]
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_separators_decimals_and_encodings(tmp_path, separator, decimal, encoding):
    same(read(tmp_path, table_text(COLUMNS, separator, decimal), encoding=encoding))


def test_columns_apart_by_spaces_are_declared_by_number(tmp_path):
    text = table_text(COLUMNS, "  ", ".").replace("[", "").replace("]", "")
    declare = ("force=1:kN", "extension=2:mm", "width_change=3:mm")
    same(read(tmp_path, text, declare=declare))


def test_comments_lines_above_and_a_row_of_units(tmp_path):
    rows = table_text(COLUMNS, ";", ",").splitlines()[1:]
    head = [
        "# invented",
        "Specimen;A 7",
        "",
        "Kraft;Verlängerung;Breitenänderung",
        "[kN];[mm];[mm]",
    ]
    same(read(tmp_path, "\n".join([*head, *rows])))


def test_engineering_stress_and_strain_need_no_sizes(tmp_path):
    columns = {
        "strain (%)": 100 * STRAIN,
        "stress / MPa": STRESS,
        "transverse strain [%]": 100 * WIDTH,
    }
    same(read(tmp_path, table_text(columns), Specimen()))
    columns = {"elongation %": 100 * STRAIN, "stress_N/mm²": STRESS, "width strain [-]": WIDTH}
    same(read(tmp_path, table_text(columns), Specimen()))


def test_other_columns_do_no_harm_and_are_told(tmp_path):
    text = table_text({"Time [s]": np.arange(len(STRAIN)) * 0.1, **COLUMNS})
    test = read(tmp_path, text)
    same(test)
    assert test.unused == ("Time [s]",)
    assert test.sizes == "gauge length 50 mm, width 12.5 mm, thickness 0.8 mm"


@pytest.mark.parametrize(
    "names",
    [
        ("Standardkraft [kN]", "Dehnung [mm]", "Breitenabnahme [mm]"),
        ("PRÜFKRAFT in kN", "Verlängerung in mm", "Breitenänderung in mm"),
        ("Zugkraft / kN", "Längenänderung / mm", "Delta b / mm"),
    ],
)
def test_german_headers(tmp_path, names):
    columns = dict(zip(names, COLUMNS.values(), strict=True))
    test = read(tmp_path, table_text(columns, ";", ","))
    same(test)
    assert test.unused == ()


def test_german_stress_and_strain(tmp_path):
    columns = {
        "Dehnung [%]": 100 * STRAIN,
        "Spannung [MPa]": STRESS,
        "Querdehnung [%]": 100 * WIDTH,
    }
    same(read(tmp_path, table_text(columns, ";", ","), Specimen()))


SIZED = "Probendicke;0,8;mm\nProbenbreite [mm];12,5\nMesslänge: 5 cm\n"


def test_sizes_stated_above_the_columns_are_taken(tmp_path):
    text = SIZED + table_text(COLUMNS, ";", ",")
    test = read(tmp_path, text, Specimen())
    same(test)
    assert test.warnings == ()
    other = read(tmp_path, text, Specimen(thickness=0.28))
    assert other.stress == pytest.approx(test.stress * 0.8 / 0.28)
    assert "the file states 0.8 mm, --thickness 0.28 mm was taken" in other.warnings[0]


def test_columns_are_declared_for_every_file_or_for_one(tmp_path):
    text = table_text(renamed(force="Channel 1"))
    same(read(tmp_path, text, declare=["force@test.csv=Channel 1:kN"]))
    same(read(tmp_path, text, declare=["force=Channel 9:N", "force@test.csv=Channel 1:kN"]))
    with pytest.raises(TensileError, match="force@FILE"):
        read(tmp_path, text, declare=["force=Channel 9:N", "force@other.csv=Channel 1:kN"])


def test_empty_fields_of_the_width_are_left_out(tmp_path):
    lines = table_text(COLUMNS).splitlines()
    lines[40] = ",".join(lines[40].split(",")[:2]) + ","
    test = read(tmp_path, "\n".join(lines))
    assert np.isnan(test.width_strain[39])
    assert np.isnan(test.width_strain).sum() == 1


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("Force [kN]", ("Force", "kN")),
        ("strain / %", ("strain", "%")),
        ("load_N", ("load", "N")),
        ("Extension in mm", ("Extension", "mm")),
        ("strain (-)", ("strain", "")),
        ("stress (N/mm^2)", ("stress", "N/mm2")),
        ("Channel 1", ("Channel 1", None)),
        ("force", ("force", None)),
    ],
)
def test_headers_are_split_into_name_and_unit(text, known):
    assert split_header(text) == known


def test_units_are_known_in_any_usual_spelling():
    assert [known_unit(text) for text in ("KN", "MPA", "N/mm²", "mm/mm", "%", "furlong")] == [
        "kN",
        "MPa",
        "N/mm2",
        "",
        "%",
        None,
    ]


def renamed(**names):
    columns = dict(zip(COLUMNS, COLUMNS.values(), strict=True))
    swap = {"force": "Force [kN]", "extension": "Extension [mm]", "width": "Width change [mm]"}
    given = {swap[key]: name for key, name in names.items()}
    return {given.get(name, name): values for name, values in columns.items()}


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        (
            renamed(force="Channel 1"),
            'no column for stress or force.*1 "Channel 1".*--column force',
        ),
        (renamed(force="Force"), "force = Force: has no unit; declare it with --column force"),
        (renamed(force="Force [mm]"), "mm is no unit of this quantity"),
        (renamed(width="Load [N]"), '1 "Force .kN." and 3 "Load .N." may both be it'),
        (renamed(force="True stress [MPa]"), "true values cannot be used"),
    ],
)
def test_columns_that_are_not_understood(tmp_path, columns, said):
    with pytest.raises(TensileError, match=said):
        read(tmp_path, table_text(columns))


def test_a_strain_without_unit_is_not_guessed(tmp_path):
    columns = {"strain": 100 * STRAIN, "stress [MPa]": STRESS}
    with pytest.raises(TensileError, match="largest value is .* per cent is likely"):
        read(tmp_path, table_text(columns), Specimen())
    assert len(read(tmp_path, table_text(columns), declare=["strain=strain:%"]).strain) == len(
        STRAIN
    )


def test_sizes_that_are_needed_are_all_told(tmp_path):
    with pytest.raises(TensileError) as caught:
        read(tmp_path, table_text(COLUMNS), Specimen())
    assert {fault.key for fault in caught.value.faults} == {
        "--gauge-length",
        "--width",
        "--thickness",
    }


@pytest.mark.parametrize(
    ("declare", "said"),
    [
        ("force", "declares no column"),
        ("power=1:N", "quantities are force"),
        ("force=Channel 9:kN", 'no such column; the file has 1 "Force'),
        ("force=9:kN", "no such column"),
        ("force=1:mm", "mm is no unit of this quantity"),
    ],
)
def test_declarations_that_cannot_be_used(tmp_path, declare, said):
    with pytest.raises((TensileError, ValueError), match=said):
        read(tmp_path, table_text(COLUMNS), declare=[declare])


def test_faulty_lines_are_all_told_with_their_number(tmp_path):
    lines = table_text(COLUMNS, ";").splitlines()
    lines[10], lines[20], lines[30] = "stop;;", "1.0;2.0", "1,0;2,0;3,0"
    with pytest.raises(TensileError) as caught:
        read(tmp_path, "\n".join(lines))
    assert [(fault.line, fault.expected.split(":")[0]) for fault in caught.value.faults] == [
        (11, "is no number"),
        (21, "has 2 fields, the first has 3"),
        (31, "decimal points and decimal commas in one file"),
    ]
    assert caught.value.faults[0].key == 'column 1 "Force [kN]"'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no row of at least two numbers"),
        ("Force [kN],Extension [mm]\n1,2,3,4\n5,6,7,8\n", "cannot be told apart"),
        ("Force [kN];Extension [mm]\n1;2;3\n5;6;7\n", "header has 2 columns and the rows have 3"),
        ("Force [kN];Extension [mm]\n" + "1;2\n" * 7, "7 rows are too few"),
        ("Force [kN];Extension [mm]\n" + "-1;2\n" * 30, "is below zero"),
    ],
)
def test_files_that_hold_no_test(tmp_path, text, said):
    with pytest.raises(TensileError, match=said):
        read(tmp_path, text)


def test_files_that_cannot_be_read(tmp_path):
    (tmp_path / "other.csv").write_text("x")
    with pytest.raises(TensileError, match="no such file") as caught:
        read_table(tmp_path / "test.csv")
    assert "other.csv" in caught.value.hint
    with pytest.raises(TensileError, match="is a folder"):
        read_table(tmp_path)


def looped(fall):
    """The test with an unloading loop, or a slip of the gauge, at a third of its rows."""
    at = len(STRAIN) // 3
    down = np.linspace(0.0, fall, 10)
    strain = np.concatenate(
        [STRAIN[:at], STRAIN[at] - down / 70e3 - 1e-3 * (down > 0), STRAIN[at:]]
    )
    stress = np.concatenate([STRESS[:at], STRESS[at] - down, STRESS[at:]])
    return table_text({"strain [-]": strain, "stress [MPa]": stress}), at


def test_unloading_loops_are_refused_or_left_out(tmp_path):
    text, at = looped(120.0)
    with pytest.raises(TensileError, match=rf"line {at + 3}: .* unloaded here; --drop-loops"):
        read(tmp_path, text)
    test = read(tmp_path, text, drop_loops=True)
    assert np.all(np.diff(test.strain) > -1e-9)
    assert len(STRAIN) - 3 <= len(test.strain) <= len(STRAIN) + 1


def test_an_extension_that_goes_back_is_refused(tmp_path):
    with pytest.raises(TensileError, match="the extension goes back"):
        read(tmp_path, looped(1.0)[0])


def test_rows_after_the_break_are_left_out(tmp_path):
    columns = {
        "strain [-]": [*STRAIN, *STRAIN[-1] * np.array([1.0, 0.9, 0.8, 0.8, 0.8])],
        "stress [MPa]": [*STRESS, *np.array([60.0, 2.0, 1.0, 1.0, 1.0])],
    }
    test = read(tmp_path, table_text(columns))
    assert abs(len(test.strain) - len(STRAIN)) <= 3
    assert test.stress[-1] > 0.5 * STRESS.max()


def test_umlauts_written_out_and_columns_headed_by_a_unit(tmp_path):
    force, extension, width = COLUMNS.values()
    written_out = {"Pruefkraft [kN]": force, "Verlaengerung [cm]": 0.1 * extension}
    same(read(tmp_path, table_text(written_out | {"Breitenaenderung [mm]": width}, ";", ",")), 10.0)
    units = {"kN": force, "cm": 0.1 * extension, "Width change [mm]": width}
    same(read(tmp_path, table_text(units, ";", ",")), 10.0)
    shares = {"Force [kN]": force, "Strain (mm/mm)": STRAIN, "Width strain (mm/mm)": WIDTH}
    same(read(tmp_path, table_text(shares, ";", ",")), 50.0)


def test_a_unit_alone_does_not_stand_against_a_name(tmp_path):
    columns = {"mm": 0.0 * STRAIN, **COLUMNS}
    test = read(tmp_path, table_text(columns, ";", ","))
    same(test)
    assert test.unused == ("mm",)


def test_two_columns_headed_by_the_same_unit_are_not_guessed(tmp_path):
    columns = {"kN": COLUMNS["Force [kN]"], "mm": 50.0 * STRAIN, "mm ": 0.0 * STRAIN}
    text = table_text(columns, ";", ",")
    with pytest.raises(TensileError, match='2 "mm" and 3 "mm" may both be it.*extension="3:UNIT"'):
        read(tmp_path, text)
    with pytest.raises(TensileError, match='= mm: columns 2 and 3 are called so.*="2:UNIT"'):
        read(tmp_path, text, declare=["extension=mm:mm"])
    read(tmp_path, text, declare=["extension=2:mm"])


@pytest.mark.parametrize("strange", ["°C", "K", "V"])
def test_a_row_of_units_may_hold_one_that_is_not_known(tmp_path, strange):
    headers = "time;force;extension;width change;temperature\n"
    rows = np.column_stack([np.arange(len(STRAIN)), *COLUMNS.values(), 0.0 * STRAIN + 21.0])
    lines = "".join(";".join(f"{value:.9f}" for value in row) + "\n" for row in rows)
    test = read(tmp_path, f"{headers}s;kN;mm;mm;{strange}\n{lines}")
    same(test)
    assert test.unused == ("time", "temperature")


def test_units_below_a_size_of_the_test_piece_are_headers(tmp_path):
    force, extension, width = COLUMNS.values()
    columns = {"kN": force, "mm": extension, "Width change [mm]": width}
    same(read(tmp_path, "Probendicke;0.28;mm\n" + table_text(columns, ";")))


def test_a_missing_column_is_not_looked_for_in_one_that_is_taken(tmp_path):
    columns = {name: COLUMNS[name] for name in list(COLUMNS)[::2]}
    with pytest.raises(TensileError, match="all of them are taken.* lacks the extension"):
        read(tmp_path, table_text(columns))
    with pytest.raises(TensileError, match='--column extension="3:UNIT"'):
        read(tmp_path, table_text(columns | {"Channel 3": STRAIN}))
