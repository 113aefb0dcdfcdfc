"""Plan, conduct and table of a study, with an engine that solves nothing."""

import csv
import errno
import json
import re
import tomllib
from pathlib import Path

import pytest

from formsim.case.expect import Wanted
from formsim.case.finding import Finding
from formsim.case.load import load_case
from formsim.errors import CaseError, DiskFullError, StoreError
from formsim.results.findings import findings
from formsim.study import conduct as conductor
from formsim.study import plan as planner
from formsim.study.asked import asked_study, check_same
from formsim.study.call import call_of
from formsim.study.conduct import conduct, solved_rows
from formsim.study.engine import BEGUN, ENDED, FULL, LOST, Event
from formsim.study.folder import PARQUET, RULES, TABLE, locked, open_study, read_job
from formsim.study.foreseen import COMPILING, START, foresee
from formsim.study.handbook import Broken, handbook_lines, handbook_rows, read_handbook
from formsim.study.kept import read_study
from formsim.study.plan import plan_study
from formsim.study.table import table_of, write_rows, write_table
from formsim.study.wanted import beyond
from formsim.study.words import plan_text, result_text
from formsim.study.worker import work
from formsim.version import VERSION
from tests.interface.small import small_cup

THICKNESS = "sheet.thickness = [0.27, 0.28, 0.29]"


class Made:
    """An engine that writes rows as a worker would, and loses those it is told to."""

    workers = 2

    def __init__(self, folder, lost=(), status="done"):
        self.folder, self.lost, self.status, self.asked = folder, list(lost), status, []

    def solve(self, _folder, keys):
        for key in keys:
            self.asked.append(key)
            yield Event(key, BEGUN)
            if key in self.lost:
                self.lost.remove(key)
                yield Event(key, LOST, "its worker was killed (SIGKILL)")
                continue
            _, job = read_job(self.folder.path)
            values = {f"{one.stage}.{one.measure}": 0.25 for one in job.wanted}
            row = {"status": self.status, "measures": values, "keep": job.keep, "seconds": 1.0}
            self.folder.write_row(key, row)
            yield Event(key, ENDED)


@pytest.fixture
def case(tmp_path):
    path = tmp_path / "cup.toml"
    path.write_text(small_cup(), encoding="utf-8")
    return path


@pytest.fixture
def folder(tmp_path):
    return open_study(tmp_path / "study")


def planned(case, *vary, **more):
    asked = asked_study(case, vary or (THICKNESS,), more.pop("design", {}), **more)
    return asked, plan_study(asked.study, asked.case, asked.name)


def solve(case, folder, *vary, engine=None, **more):
    asked, plan = planned(case, *vary, **more)
    engine = engine or Made(folder)
    table = conduct(plan, folder, engine, asked.seen_from(folder.path))
    return table.columns, engine.asked


def written(folder):
    with (folder.path / TABLE).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_inputs_stand_in_the_unit_of_their_key(case):
    _, plan = planned(case, 'stage.draw.holder.force = ["8 kN", 9000]')
    assert [one.values for one in plan.variants] == [(8000.0,), (9000.0,)]
    assert plan.inputs[0].unit == "N"


def test_several_keys_take_one_value(case):
    keys = "stage.draw.punch.nose_radius, stage.dome.punch.nose_radius"
    _, plan = planned(case, f"{keys} = 3:4:1")
    stages = [tomllib.loads(one.text)["stage"] for one in plan.variants]
    assert [[s["punch"]["nose_radius"] for s in both] for both in stages] == [[3, 3], [4, 4]]


def test_a_short_form_and_a_material_are_told_as_they_are_written(case):
    texts = ("stage.draw.friction = [0.06]", 'sheet.material = ["aa6016-t4"]')
    _, plan = planned(case, *texts, design={"kind": "one_at_a_time"})
    base, friction, material = (one.values for one in plan.variants)
    assert friction[0] == 0.06 and material[1] == "aa6016-t4"
    assert base[0] != 0.06 and base[1] != "aa6016-t4"


def test_a_variant_that_cannot_be_run_is_a_row(case, folder):
    columns, solved = solve(case, folder, "sheet.thickness = [0.28, 3.0]")
    assert columns["status"] == ["done", "refused"]
    assert "less than the sheet thickness" in columns["reason"][1]
    assert len(solved) == 1


def test_values_of_a_refused_variant_stand_in_the_unit_of_their_column(case):
    _, plan = planned(case, 'stage.draw.holder.force = ["8 kN", "1 N", "9 kg", -5]')
    assert [one.values[0] for one in plan.variants] == [8000.0, 1.0, None, -5.0]
    assert [bool(one.refused) for one in plan.variants] == [False, True, True, True]
    assert '"9 kg"' in plan.variants[2].refused


def test_per_cent_of_a_refused_variant_stays_per_cent(case):
    _, plan = planned(case, 'limits.max_thinning_percent = ["3 %", "300 %"]')
    assert [one.values[0] for one in plan.variants] == [3.0, 300.0]
    assert plan.variants[1].refused


def test_a_strict_study_tells_all_faults_before_anything_runs(case, folder):
    with pytest.raises(CaseError) as error:
        planned(case, "sheet.thickness = [0.28, 3.0, -1, 4.0]", strict=True)
    told = str(error.value)
    assert "(variants 2, 4; the numbers are those of the first)" in told
    assert "(variant 3)" in told
    assert "line " in told


def test_a_study_of_which_nothing_can_run_is_refused(case):
    with pytest.raises(CaseError, match=r"line \d+: sheet.thickness = 280"):
        planned(case, "sheet.thickness = [280, 290]")


def test_all_keys_that_lead_nowhere_are_told_at_once(case):
    with pytest.raises(CaseError) as error:
        planned(case, "sheet.thicknes = [0.28]", "stage.draw.die.radus = [2.0]")
    assert len(error.value.faults) == 2
    assert '"thickness"?' in str(error.value) and '"radius"?' in str(error.value)


def test_a_measure_no_stage_has_is_told_before_anything_runs(case):
    raw = {"title": "t", "case": str(case), "vary": [{"key": "sheet.thickness", "values": [0.28]}]}
    study = planner.Study.model_validate({**raw, "measure": [{"measure": "crush_load"}]})
    with pytest.raises(CaseError, match=r"measure\[0\].measure .* needs a top_load stage"):
        plan_study(study, case, "s.toml")


def test_faults_of_a_study_file_name_its_lines(case, tmp_path):
    path = tmp_path / "study.toml"
    head = f'title = "t"\ncase = "{case.name}"\n[[vary]]\n'
    path.write_text(f'{head}key = "sheet.thikness"\nvalues = [0.28]\n')
    with pytest.raises(CaseError, match=r"line 4: vary\[0\].key"):
        call_of(asked_study(path, [], {}), tmp_path / "s", 1)
    measure = '[[measure]]\nmeasure = "height"\nstage = "drow"\n'
    path.write_text(f'{head}key = "sheet.thickness"\nvalues = [0.28]\n{measure}')
    with pytest.raises(CaseError, match=r"line 8: measure\[0\].stage"):
        call_of(asked_study(path, [], {}), tmp_path / "s", 1)


def test_nothing_is_solved_twice(case, folder):
    assert len(solve(case, folder)[1]) == 3
    assert solve(case, folder)[1] == []
    columns, solved = solve(case, folder, "sheet.thickness = [0.28, 0.3, 0.28]")
    assert len(solved) == 1
    assert columns["status"] == ["done"] * 3


def test_a_changed_case_is_solved_anew_and_told(case, folder):
    solve(case, folder)
    assert call_of(planned(case)[0], folder.path, 1).notes() == []
    case.write_text(small_cup(("blank_diameter = 118.0", "blank_diameter = 117.0")))
    (note,) = call_of(planned(case)[0], folder.path, 1).notes()
    assert note == (
        "3 variants solved here are of cup.toml, or a file it names, as it was before, or of values"
        " left out since: they do not count any more"
    )
    assert len(solve(case, folder)[1]) == 3
    assert call_of(planned(case)[0], folder.path, 1).notes() == []


def test_a_changed_version_is_solved_anew(case, folder, monkeypatch):
    solve(case, folder)
    for module in (planner, conductor.StudyFolder.row.__globals__):
        target = module if isinstance(module, dict) else vars(module)
        monkeypatch.setitem(target, "VERSION", "9.9.9")
    assert len(solve(case, folder)[1]) == 3


def test_changed_sources_are_solved_anew_and_told(case, folder, monkeypatch):
    solve(case, folder)
    monkeypatch.setattr(planner, "sources", lambda: "f" * 16)
    _, plan = planned(case)
    assert folder.solved_by_others(plan.keys) == (3, 0)
    asked, _ = planned(case)
    notes = call_of(asked, folder.path, 1).notes()
    assert notes == [
        f"3 variants were solved by other sources of formsim {VERSION} and are solved again"
    ]
    assert len(solve(case, folder)[1]) == 3
    assert folder.solved_by_others(plan.keys) == (0, 0)


def test_rows_of_another_version_are_told_apart(case, folder, monkeypatch):
    solve(case, folder)
    monkeypatch.setattr(planner, "VERSION", "9.9.9")
    monkeypatch.setattr("formsim.study.folder.VERSION", "9.9.9")
    assert folder.solved_by_others(planned(case)[1].keys) == (0, 3)


def test_a_worker_of_other_sources_solves_nothing(case, folder, monkeypatch):
    solve(case, folder)
    told, key = [], planned(case)[1].keys[0]
    monkeypatch.setattr("formsim.study.worker.sources", lambda: "f" * 16)
    work(folder.path, [key], told.append)
    assert told[-1].startswith(f"lost {key} the study was planned by other sources")


def test_what_was_stopped_is_tried_again_only_with_more_time(case, folder):
    _, plan = planned(case)
    stopped = {"status": "not converged", "reason": "stopped after 60 s", "longest": 60.0}
    folder.write_row(plan.keys[1], stopped)
    columns, solved = solve(case, folder, longest="1 min")
    assert len(solved) == 2 and columns["status"][1] == "not converged"
    assert columns["verdict"][1] == "" and columns["reason"][1] == "stopped after 60 s"
    assert solve(case, folder, longest="50 s")[1] == []
    assert solve(case, folder, longest="2 min")[1] == [plan.keys[1]]


def test_what_kept_too_little_is_solved_anew(case, folder):
    solve(case, folder, keep="summary")
    assert len(solve(case, folder, keep="curves")[1]) == 3
    assert solve(case, folder, keep="summary")[1] == []


def test_a_worker_lost_once_costs_a_second_try(case, folder):
    _, plan = planned(case)
    columns, solved = solve(case, folder, engine=Made(folder, lost=[plan.keys[1]]))
    assert columns["status"] == ["done"] * 3
    assert solved.count(plan.keys[1]) == 2


def test_a_worker_lost_twice_fails_its_variant_alone(case, folder):
    _, plan = planned(case)
    columns, _ = solve(case, folder, engine=Made(folder, lost=[plan.keys[1]] * 2))
    assert columns["status"] == ["done", "failed", "done"]
    assert columns["reason"][1] == "begun 2 times; its worker was killed (SIGKILL)"
    assert solve(case, folder)[1] == [plan.keys[1]]


def test_the_table_is_written_behind_every_variant(case, folder):
    _, plan = planned(case)
    seen = []

    def watch(standing):
        rows = written(folder)
        seen.append((standing.done, [row["status"] for row in rows].count("done")))

    conduct(plan, folder, Made(folder), {}, watch)
    assert seen[-1] == (3, 3)
    assert all(done == told for done, told in seen)


def test_an_interrupted_study_leaves_a_table_that_waits(case, folder):
    _, plan = planned(case)

    class Stopped(Made):
        def solve(self, path, keys):
            yield from super().solve(path, keys[:1])
            yield Event(keys[1], BEGUN)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        conduct(plan, folder, Stopped(folder), {})
    assert [row["status"] for row in written(folder)] == ["done", "waiting", "waiting"]
    assert len(solved_rows(plan, folder)) == 1


def test_a_full_disk_leaves_the_old_table(case, folder, monkeypatch):
    solve(case, folder)
    before = (folder.path / TABLE).read_text()

    def full(*_args, **_kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_text", full)
    with pytest.raises(StoreError, match="No space left"):
        write_table(folder, table_of(planned(case)[1], {}))
    assert (folder.path / TABLE).read_text() == before


def test_a_full_disk_ends_the_study_with_one_message(case, folder, monkeypatch):
    """A worker that finds no room: the others' rows and the table stay, and nothing is tried on."""
    _, plan = planned(case)

    class Full(Made):
        def solve(self, path, keys):
            yield from super().solve(path, keys[:1])
            yield Event(keys[1], BEGUN)
            yield Event(keys[1], FULL, "no room is left on the disk: x.csv cannot be written")

    with pytest.raises(DiskFullError, match=r"2 variants are not solved; .* x.csv cannot") as error:
        conduct(plan, folder, Full(folder), {})
    assert "what is solved stays" in error.value.hint and str(folder.path) in str(error.value)
    assert [row["status"] for row in written(folder)] == ["done", "waiting", "waiting"]
    assert len(solve(case, folder)[1]) == 2


def test_a_table_that_cannot_be_written_ends_the_study_too(case, folder, monkeypatch):
    """Between two variants the disk runs full, ENOSPC from the system: the last table stays."""
    _, plan = planned(case)
    whole = Path.write_text

    def full(path, *words, **more):
        if path.name.startswith(TABLE) and folder.row(plan.keys[1]):
            raise OSError(errno.ENOSPC, "No space left on device")
        return whole(path, *words, **more)

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(DiskFullError, match=r"1 variant is not solved; .*table.csv"):
        conduct(plan, folder, Made(folder), {})
    assert [row["status"] for row in written(folder)].count("done") == 1
    monkeypatch.undo()
    assert len(solve(case, folder)[1]) == 1


def test_a_worker_without_room_says_so(case, folder, monkeypatch):
    """Whatever part of a run meets the full disk, and however deep the reason lies."""
    solve(case, folder)
    told, key = [], planned(case)[1].keys[0]

    def full(*_words, **_more):
        try:
            raise OSError(errno.EDQUOT, "Disk quota exceeded")
        except OSError as error:
            raise RuntimeError("cannot write") from error

    monkeypatch.setattr("formsim.study.worker.run_case", full)
    work(folder.path, [key], told.append)
    assert told[-1].startswith(f"full {key} {folder.result(key)} cannot be written: ")
    assert not list((folder.path / "results").glob(".*"))


def test_a_file_of_several_lines_of_error_is_full_too(case, folder, monkeypatch):
    """As the library of the time series tells it; the worker says it in one line of its own."""
    solve(case, folder)
    told, key = [], planned(case)[1].keys[0]

    def full(*_words, **_more):
        try:
            raise OSError(errno.ENOSPC, "Can't write\n, file descriptor = 3")
        except OSError as error:
            message = f"the time series cannot be written: {error}"
            raise StoreError(message) from error

    monkeypatch.setattr("formsim.study.worker.run_case", full)
    work(folder.path, [key], told.append)
    said = f"{folder.result(key)} cannot be written: No space left on device ("
    assert told[-1].startswith(f"full {key} {said}")
    assert "\n" not in told[-1]


def test_a_fault_on_a_disk_without_room_is_that_of_the_disk(case, folder, monkeypatch):
    """The library of the time series may only say that a chunk is not there."""
    solve(case, folder)
    told, key = [], planned(case)[1].keys[0]

    def fault(*_words, **_more):
        message = "Can't get storage size of chunk"
        raise RuntimeError(message)

    monkeypatch.setattr("formsim.study.worker.run_case", fault)
    monkeypatch.setattr("formsim.study.room.free_room", lambda _: 4096)
    work(folder.path, [key], told.append)
    assert told[-1].startswith(f"full {key} ")
    monkeypatch.setattr("formsim.study.room.free_room", lambda _: 10**9)
    work(folder.path, [key], told.append)
    assert told[-1] == f"ended {key}" and folder.row(key)["status"] == "failed"


def test_a_damaged_row_is_solved_anew(case, folder):
    _, solved = solve(case, folder)
    (folder.path / "rows" / f"{solved[0]}.json").write_text('{"format": 1, "key')
    assert solve(case, folder)[1] == solved[:1]


def test_parquet_holds_the_same_table(case, folder):
    columns, _ = solve(case, folder, "sheet.thickness = [0.28, 3.0]", 'title = ["a"]')
    import pyarrow.parquet

    table = pyarrow.parquet.read_table(folder.path / PARQUET)
    assert table.column_names == list(columns)
    assert table["sheet.thickness [mm]"].to_pylist() == [0.28, 3.0]
    assert str(table.schema.field("draw.min_thickness [mm]").type) == "double"
    assert list(written(folder)[0]) == list(columns)


def judged(plan, **row):
    rows = {plan.keys[0]: {"status": "done", "measures": {}, **row}}
    table = table_of(plan, rows).columns
    return table["status"][0], table["verdict"][0], table["reason"][0]


def check(kind):
    check = {"name": f"draw: {kind}", "kind": kind, "computed": 2.0, "low": None, "high": 1.0}
    return {**check, "unit": "mm", "passed": False}


def test_verdicts(case):
    _, plan = planned(case)
    assert judged(plan) == ("done", "good", "")
    assert judged(plan, failed_checks=[check("limit")])[1] == "reject"
    assert judged(plan, failed_checks=[check("limit"), check("trust")])[1] == "not trusted"
    assert judged(plan, failed_checks=[check("limit")])[2] == "draw: limit 2, wanted at most 1 mm"
    assert judged(plan, status="torn", reason="why") == ("torn", "reject", "why")
    assert judged(plan, status="not converged", reason="why") == ("not converged", "", "why")


def test_bounds_of_the_study_are_limits_too(case, folder):
    tables = {"title": "t", "case": case.name, "measure": [{"measure": "height", "low": 30.0}]}
    tables["vary"] = [{"key": "sheet.thickness", "values": [0.28]}]
    study = planner.Study.model_validate(tables)
    plan = plan_study(study, case, "s.toml")
    told = judged(plan, measures={"dome.height": 29.0})
    assert told[1:] == ("reject", "dome.height 29 is below 30 mm")
    assert judged(plan, measures={"dome.height": None})[1] == "reject"


def test_a_folder_of_something_else_is_left_alone(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(StoreError, match="holds no study"):
        open_study(tmp_path)


def test_another_study_needs_replace(case, folder):
    solve(case, folder)
    asked, _ = planned(case, "sheet.thickness = [0.3]")
    with pytest.raises(StoreError, match="holds another study"):
        check_same(folder, asked, replace=False)
    check_same(folder, asked, replace=True)
    check_same(folder, planned(case)[0], replace=False)


def test_two_calls_do_not_work_on_one_study(case, folder):
    with locked(folder), pytest.raises(StoreError, match="another formsim works"):
        solve(case, folder)


def test_a_study_of_another_version_is_not_worked_on(case, folder):
    solve(case, folder)
    job = json.loads((folder.path / "job.json").read_text())
    (folder.path / "job.json").write_text(json.dumps({**job, "version": "0.0.1"}))
    with pytest.raises(StoreError, match=r"planned by version 0.0.1"):
        read_job(folder.path)


def test_handbook_rules_of_every_variant_stand_in_its_row(case, folder):
    """The same that check tells of the case by itself, and in the terminal by rule."""
    noses = "stage.draw.punch.nose_radius = [2.0, 4.0, 0.2, 1.5]"
    columns, _ = solve(case, folder, noses)
    _, plan = planned(case, noses)
    alone = [one.advice for one in plan.variants]
    assert columns["handbook_warnings"] == [len(one) if one else 0 for one in alone]
    assert columns["handbook"] == [" | ".join(map(sentence, one)) for one in alone]
    text = case.read_text()
    sharp = case.parent / "sharp.toml"
    nose = re.search(r"nose_radius = [\d.]+", text)[0]
    sharp.write_text(text.replace(nose, "nose_radius = 0.2", 1))
    own = [one for one in findings(load_case(sharp)) if one.verdict != "good"]
    assert len(own) == columns["handbook_warnings"][2] > columns["handbook_warnings"][0]
    lines = handbook_lines(plan.broken, len(plan.variants))
    sharp = "draw: punch nose radius in thicknesses 0.7143 (usual 4 to 8) in 1 variant (3): "
    assert any(sharp in one for one in lines)
    assert "handbook" in result_text(table_of(plan, {}))
    kept = read_study(folder.path).table.broken
    assert handbook_lines(kept, len(plan.variants)) == lines
    assert [(one.variant, one.finding.rule) for one in kept] == [
        (one.number, rule.rule) for one in plan.variants for rule in one.advice
    ]


def sentence(rule):
    return f"{rule.verdict}: {rule.rule} {rule.value:.4g} (usual {rule.limit}): {rule.consequence}"


def test_rules_may_hold_any_marks(case, folder):
    """Sentences are made of the data and never taken apart again."""
    rules = [
        Broken(
            k,
            Finding(
                "a (usual) rule: b | c", value, f"up to {k}", "own", "watch", 'so, "it": fails'
            ),
        )
        for k, value in ((1, 10.0), (2, 9.0), (4, -1.5))
    ]
    write_rows(folder, RULES, handbook_rows(rules))
    assert list(read_handbook(folder.text(RULES))) == rules
    (told,) = handbook_lines(rules, 4)
    assert told == (
        "watch: a (usual) rule: b | c -1.5 to 10 (usual another in each variant)"
        ' in 3 variants (1, 2, 4): so, "it": fails'
    )


def test_a_damaged_list_of_rules_is_told(case, folder):
    solve(case, folder)
    (folder.path / RULES).write_text("variant,rule\n1,draw\n")
    with pytest.raises(StoreError, match="is damaged"):
        read_study(folder.path)


def test_a_refused_variant_has_no_handbook(case, folder):
    columns, _ = solve(case, folder, "sheet.thickness = [0.28, 3.0]")
    assert columns["handbook_warnings"][1] is None and columns["handbook"][1] == ""


@pytest.mark.parametrize(
    ("value", "told"),
    [(30.0004, "30.0004"), (31.0, "31"), (30.04, "30.04"), (30.0000001, "30.0000001")],
)
def test_a_number_just_beyond_its_bound_is_told_with_digits_enough(value, told):
    wanted = Wanted(measure="height", stage="draw", high=30.0)
    assert beyond({"draw.height": value}, [wanted]) == [f"draw.height {told} is above 30 mm"]


def test_the_time_of_a_study_has_its_beginning_in_it(case, monkeypatch):
    """A worker starts, and kernels are compiled where there are none yet."""
    _, plan = planned(case)
    for compiled, begin in ((True, START), (False, START + COMPILING)):
        monkeypatch.setattr("formsim.study.foreseen.is_compiled", lambda done=compiled: done)
        found = foresee(plan.case, [], 2)
        assert found.total(3) == pytest.approx(begin + 2 * found.seconds)
        told = " ".join(plan_text(plan, found, 0).split())
        assert "starting the workers" in told and "included" in told
        assert ("20 s for compiling the kernels" in told) is not compiled
