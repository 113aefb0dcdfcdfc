"""Searches and predictions with real workers on a coarse mesh, and calls that cannot be."""

import csv

import pytest

from formsim.cli import main

DONE, BAD_INPUT, CHECK_FAILED = 0, 1, 3
NOSE = "stage.draw.punch.nose_radius"


def seek(case, *more):
    words = ["seek", str(case), "--change", f"{NOSE} = 2:3:0.25", "--into"]
    return main([*words, str(case.parent / "study"), "--workers", "1", "--quiet", *more])


def rows(case):
    with (case.parent / "study" / "table.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.slow
def test_a_search_and_a_prediction_from_it(case, capsys):
    """The bound lies between what the ends come to; then the study of the border answers."""
    until = ("--until", "draw.max_thinning_percent <= 3.3", "--prefer", "smallest nose_radius")
    assert seek(case, *until) == DONE
    told = capsys.readouterr().out
    solved = rows(case)
    thin = {float(row[f"{NOSE} [mm]"]): row for row in solved}
    good = [
        nose
        for nose, row in thin.items()
        if float(row["draw.max_thinning_percent [%]"]) <= 3.3 and row["verdict"] == "good"
    ]
    assert f"found: {NOSE} = {min(good):g} mm" in told
    assert min(good) - 0.25 in thin
    assert "do not release a tool" in told
    assert seek(case, *until) == DONE
    assert f"{len(solved)} of them solved by an earlier call" in capsys.readouterr().out
    vary = ("--vary", f"{NOSE} = 2:3:0.25", "--measure", "draw.max_thinning_percent")
    study = str(case.parent / "study")
    sweep = ["sweep", str(case), *vary, "--into", study, "--replace", "--quiet", "--workers", "1"]
    assert main(sweep) == DONE
    capsys.readouterr()
    assert main(["predict", study, "--at", "nose_radius = 2.4"]) == DONE
    said = capsys.readouterr().out
    assert "predicted and not solved" in said and "5 rows are few" in said


@pytest.mark.slow
def test_a_search_that_cannot_succeed_says_so(case, capsys):
    until = ("--until", "draw.max_thinning_percent <= 0.1", "--most", "3")
    assert seek(case, *until) == CHECK_FAILED
    told = capsys.readouterr().out
    assert "no value of those tried fulfils it; --most was reached" in told
    assert "closest: " in told and "a bound is missed by" in " ".join(told.split())


def test_faults_of_a_search_come_with_advice(case, capsys):
    assert seek(case, "--until", "draw.max_thining_percent <= 3", "--prefer", "best") == BAD_INPUT
    told = capsys.readouterr().err
    assert "2 faults" in told and 'did you mean "max_thinning_percent"' in told
    assert seek(case, "--until", "draw.max_thinning_percent <= 3", "--on", "moon") == BAD_INPUT
    assert "expected local, slurm" in capsys.readouterr().err


def test_a_prediction_needs_a_study(tmp_path, capsys):
    assert main(["predict", str(tmp_path), "--at", "nose_radius = 3"]) == BAD_INPUT
    assert "holds no study" in capsys.readouterr().err
