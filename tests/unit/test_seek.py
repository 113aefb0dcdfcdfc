"""Searches on invented laws, through the contract of engines."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from formsim.errors import CaseError, FormsimError, StoreError
from formsim.study.confirm import columns_of
from formsim.study.foreseen import START
from formsim.study.kept import read_study
from formsim.study.seek import Search
from formsim.study.seek_preview import preview_text
from formsim.study.seek_text import seek_text
from formsim.study.sought_read import sought_of
from tests.interface.small import small_cup
from tests.unit.standin import NOSE, StandIn

THINNING = "draw.max_thinning_percent <= 10"
NONE = dict.fromkeys(("until", "prefer", "within", "keep", "longest"))
CHANGE = f"{NOSE} = 2:6"
DIE = "stage.draw.die.radius"


def nose_of(case):
    return float(case["stage"][0]["punch"]["nose_radius"])


def thinning(law):
    """A measure that hangs on the nose radius alone."""
    return lambda case: {"max_thinning_percent": float(law(nose_of(case)))}


SMALLEST, LARGEST = "smallest nose_radius", "largest nose_radius"
LOG = thinning(lambda r: 14 - 3 * np.log(r))


@pytest.fixture
def case(tmp_path):
    path = tmp_path / "cup.toml"
    path.write_text(small_cup(), encoding="utf-8")
    return path


def search(case, *change, law, stop=None, **more):
    options = {**NONE, "case": case, "change": list(change or [CHANGE]), "most": 30, **more}
    options["until"] = options["until"] if "until" in more else [THINNING]
    return Search(sought_of(options), case.parent / "study", StandIn(law, stop))


def seek(case, *change, law, replace=False, **more):
    call = search(case, *change, law=law, **more)
    found = call.conduct(replace=replace)
    text = seek_text(found, call.folder)
    folder = str(call.folder)
    assert max(map(len, text.replace(folder, "study").splitlines())) <= 100
    return found, call.engine.asked, text


def test_the_smallest_value_that_fulfils(case):
    """14 - 3 ln(r) = 10 at r = exp(4/3) = 3.794."""
    found, asked, text = seek(case, law=LOG, prefer=SMALLEST)
    (best,) = found.best.numbers
    assert np.exp(4 / 3) <= best <= np.exp(4 / 3) + 0.04
    assert len(asked) == len(found.trials) <= 8
    assert "monotone so far" in text and "not monotone" not in text
    assert "does not fulfil it (reject), so the border lies within" in text
    assert "one mesh (90 columns)" in text


def test_largest_and_within(case):
    found, _, text = seek(case, law=thinning(lambda r: 6 + r), prefer=LARGEST, within=0.001)
    assert found.best.numbers[0] == pytest.approx(4.0, abs=0.001)
    assert found.best.numbers[0] <= 4.0 and "monotone so far" in text


def test_steps_are_kept(case):
    found, asked, _ = seek(
        case,
        f"{NOSE} = 2:6:0.25",
        law=LOG,
        prefer=SMALLEST,
    )
    assert found.best.numbers == (4.0,)
    assert all(4.0 * one.numbers[0] == round(4.0 * one.numbers[0]) for one in found.trials)
    assert len(set(asked)) == len(asked)


def test_units_are_those_of_the_call(case):
    found, _, text = seek(
        case,
        f"{NOSE} = 0.2:0.6 cm",
        law=lambda c: {
            "max_thinning_percent": 14
            - 30 * float(c["stage"][0]["punch"]["nose_radius"].split()[0])
        },
        prefer=SMALLEST,
    )
    assert found.best.numbers[0] == pytest.approx(4 / 30, abs=0.1) and " cm" in text


def test_the_preferred_end_may_do(case):
    found, asked, text = seek(case, law=thinning(lambda r: 5 + r / 9), prefer=SMALLEST)
    assert found.best.numbers == (2.0,) and len(asked) == 2
    assert "the end of the range" in text


def test_without_a_wish_the_first_that_fulfils_does(case):
    found, asked, _ = seek(case, law=thinning(lambda r: 8 + (r - 4) ** 2))
    assert found.best.fulfils and len(asked) == 5


def test_nothing_reaches_it(case):
    found, asked, text = seek(case, law=thinning(lambda r: 20 - r), prefer=SMALLEST)
    assert found.best is None and len(asked) == 5 and found.settled
    assert "no value of those tried fulfils it" in text
    assert f"closest: {NOSE} = 6 mm: draw.max_thinning_percent 14 % (variant 2)" in text
    assert "a bound is missed by 40 % of it" in " ".join(text.split())


def test_a_window_between_two_ends_that_fail(case):
    """Fulfilled from 3.2 to 4.1 only: 10 + 8 (r - 3.2) (r - 4.1)."""
    found, _, text = seek(
        case, law=thinning(lambda r: 10 + 8 * (r - 3.2) * (r - 4.1)), prefer=SMALLEST
    )
    assert 3.2 <= found.best.numbers[0] <= 3.3
    assert "not monotone" in text and found.settled


def test_a_narrow_window_is_found_by_the_law(case):
    """Five evenly spaced values all miss it, and the measure bends towards it."""
    found, _, _ = seek(
        case,
        law=thinning(lambda r: 10 + 4 * ((r - 3.55) ** 2 - 0.15**2)),
        prefer=LARGEST,
    )
    assert found.best is not None and 3.4 <= found.best.numbers[0] <= 3.7


def test_noise_wastes_no_runs(case):
    """A bent law with a hundredth of noise, as of a coarse mesh."""

    def law(nose):
        return 9.5 + 2.0 * (nose - 4.5) ** 2 * (nose < 4.5) + 0.1 * np.sin(1e4 * nose)

    found, asked, text = seek(case, law=thinning(law), prefer=SMALLEST)
    assert found.best.numbers[0] == pytest.approx(4.0, abs=0.15)
    assert len(asked) <= 15 and found.settled


def test_variants_that_tear_do_not_fulfil_and_are_told(case):
    def law(one):
        nose = nose_of(one)
        return "torn" if nose < 3.1 else {"max_thinning_percent": 9.0 - 0.1 * nose}

    found, _, text = seek(case, law=law, prefer=SMALLEST)
    assert 3.1 <= found.best.numbers[0] <= 3.14
    assert "torn: the sheet has torn" in text and "does not fulfil it (torn)" in text


def test_everything_tears(case):
    found, _, text = seek(case, law=lambda _: "torn", prefer=SMALLEST, most=6)
    assert found.best is None
    assert "no variant came to numbers that are trusted" in text


def test_variants_that_cannot_be_run_do_not_fulfil(case):
    found, asked, text = seek(
        case,
        "sheet.thickness = 0.2:3.0",
        law=lambda one: {"max_thinning_percent": 12 - 10 * float(one["sheet"]["thickness"])},
        prefer="smallest thickness",
    )
    assert found.best.numbers[0] == pytest.approx(0.2, abs=0.05) or found.best.fulfils
    assert "refused" in text and len(asked) < len(found.trials)


def test_two_inputs_and_a_border_between_them(case):
    """Smallest r with 20 - 2 r - d <= 10 for d up to 3: r = 3.5."""

    def law(one):
        die = float(one["stage"][0]["die"]["radius"])
        return {"max_thinning_percent": 20 - 2 * nose_of(one) - die}

    found, asked, text = seek(case, CHANGE, f"{DIE} = 1:3", law=law, prefer=SMALLEST)
    assert 3.5 <= found.best.numbers[0] <= 3.65
    assert len(asked) <= 25 and "not a proof" in text


@pytest.mark.slow
def test_a_cliff_is_approached(case):
    """What is preferred grows up to where the sheet tears, at d = 2."""

    def law(one):
        die = float(one["stage"][0]["die"]["radius"])
        return "torn" if die > 2.0 else {"max_thinning_percent": nose_of(one), "height": die}

    found, _, text = seek(
        case, CHANGE, f"{DIE} = 1:3", law=law, prefer="largest draw.height", most=25
    )
    assert 1.9 <= found.best.numbers[1] <= 2.0
    assert "count as not fulfilling: torn" in text and "further reasons" not in text


def test_a_measure_may_be_preferred(case):
    """Least of (r - 4.4)^2 with height at least 10, everywhere kept."""

    def law(one):
        return {"max_thinning_percent": (nose_of(one) - 4.4) ** 2, "height": 20.0}

    found, asked, _ = seek(
        case, law=law, until=["draw.height >= 10"], prefer="smallest draw.max_thinning_percent"
    )
    assert found.best.numbers[0] == pytest.approx(4.4, abs=0.15)
    assert len(asked) <= 20


def test_nothing_is_solved_twice(case):
    first, asked, _ = seek(case, law=LOG, prefer=SMALLEST)
    again, more, text = seek(case, law=LOG, prefer=SMALLEST)
    assert asked and not more and again.best == first.best
    assert f"{len(asked)} of them solved by an earlier call" in text
    finer, added, _ = seek(case, law=LOG, prefer=SMALLEST, within=0.004)
    assert finer.within < first.within and len(added) <= 4


def test_a_search_that_was_stopped_goes_on(case):
    stopped = search(case, law=LOG, prefer=SMALLEST, stop=3)
    with pytest.raises(KeyboardInterrupt):
        stopped.conduct()
    assert len(stopped.engine.asked) == 3
    found, asked, _ = seek(case, law=LOG, prefer=SMALLEST)
    assert len(asked) == len(found.trials) - 3


def test_the_budget_is_kept_and_told(case):
    found, asked, text = seek(
        case,
        law=LOG,
        prefer=SMALLEST,
        within=1e-6,
        most=5,
    )
    assert len(asked) == 5 and not found.settled
    assert "--most was reached" in text


def test_the_folder_is_a_study(case):
    seek(case, law=LOG, prefer=SMALLEST)
    kept = read_study(case.parent / "study")
    assert kept.study.vary[0].name == NOSE and set(kept.table.columns["status"]) == {"done"}


def test_another_search_needs_replace(case):
    seek(case, law=LOG, prefer=SMALLEST)
    with pytest.raises(StoreError, match="another search or study"):
        seek(case, law=LOG, prefer=LARGEST)
    _, asked, _ = seek(case, law=LOG, prefer=LARGEST, replace=True)
    assert not asked


def test_numbers_that_are_not_trusted_do_not_fulfil(case):
    class Doubted(StandIn):
        def solve(self, path, keys):
            for event in super().solve(path, keys):
                if event.what == "ended":
                    row = path / "rows" / f"{event.key}.json"
                    check = {"name": "draw: work", "kind": "trust", "computed": 0.3, "low": 0.0}
                    check |= {"high": 0.01, "unit": "", "passed": False}
                    raw = json.loads(row.read_text())
                    row.write_text(json.dumps(raw | {"failed_checks": [check]}))
                yield event

    call = search(case, law=thinning(lambda r: 9.0), prefer=SMALLEST, most=5)
    found = Search(call.sought, call.folder, Doubted(thinning(lambda r: 9.0))).conduct()
    assert found.best is None
    assert "not trusted" in seek_text(found, call.folder)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"change": ["nose"]}, "expected KEY = LOW:HIGH"),
        ({"change": [f"{NOSE} = 6:2"]}, "low 6 is not below high 2"),
        ({"change": [f"{NOSE} = 2:6:9"]}, "expected a step above 0"),
        ({"change": [f"{NOSE} = 2:6", f"{NOSE} = 3:4"]}, "is changed twice"),
        ({"change": None}, "nothing may change"),
        ({"until": ["max_thinning_percent = 10"]}, "<= or >="),
        ({"until": ["max_thining_percent <= 10"]}, 'did you mean "max_thinning_percent"'),
        ({"until": ["max_thinning_percent <= 10 kN"]}, "kN is a unit of force"),
        ({"until": ["height <= 10", "height >= 12"]}, "at least 12 and at most 10"),
        ({"until": None, "prefer": None}, "nothing is sought"),
        ({"prefer": "little nose_radius"}, "expected smallest or largest"),
        ({"prefer": "smallest nose"}, "is neither an input that changes"),
        ({"within": -1.0}, "expected a number above 0"),
        ({"within": 0.1}, "add --prefer, or leave it out"),
        ({"most": 1}, "expected a number from 3 to 1000"),
    ],
)
def test_a_call_that_cannot_be_read(case, more, said):
    options = {**NONE, "case": case, "change": [CHANGE], "until": [THINNING], "most": 30, **more}
    with pytest.raises(CaseError) as error:
        sought_of(options)
    assert said in str(error.value)


def test_faults_of_a_call_are_told_together(case):
    options = {**NONE, "case": case, "change": ["nose"], "until": ["low"], "most": 0}
    with pytest.raises(CaseError) as error:
        sought_of(options)
    assert len(error.value.faults) == 3


def test_keys_and_measures_the_case_does_not_have(case):
    law = thinning(lambda r: r)
    with pytest.raises(CaseError, match='"radius"'):
        seek(case, "stage.draw.die.radus = 1:2", law=law)
    with pytest.raises(CaseError, match="needs a top_load stage"):
        seek(case, law=law, until=["crush_load >= 1 kN"])
    assert not (case.parent / "study").exists()


def test_units_and_whole_numbers_come_with_advice(case):
    for change in ("sheet.thickness = 200:300", "mesh.columns = 80:120"):
        with pytest.raises(CaseError) as error:
            seek(case, change, law=LOG)
        assert "whole numbers need a step" in error.value.hint
    found, _, _ = seek(
        case,
        "mesh.columns = 80:120:20",
        law=lambda one: {"max_thinning_percent": one["mesh"]["columns"] / 10},
        prefer="largest columns",
    )
    assert found.best.numbers == (100.0,)


def test_a_study_is_no_case(tmp_path):
    path = tmp_path / "s.toml"
    path.write_text('case = "cup.toml"\n')
    with pytest.raises(FormsimError, match="is a study"):
        sought_of({**NONE, "case": path, "change": [], "most": 30})


def previewed(case, *change, law=LOG, **more):
    call = search(case, *change, law=law, **more)
    text = preview_text(call.preview())
    assert max(map(len, text.splitlines())) <= 100
    return call, " ".join(text.split())


def test_the_plan_of_a_border_solves_nothing(case):
    call, text = previewed(case, prefer=SMALLEST, within=0.1)
    assert not call.engine.asked and not call.folder.exists()
    assert f"smallest {NOSE} with draw.max_thinning_percent at most 10 %" in text
    assert f"tried next: {NOSE} = 2 mm; {NOSE} = 6 mm then the border" in text
    assert "until it lies within 0.1 mm" in text and "at most 30 variants, about" in text
    assert "GB of memory" in text and "starting the workers" in text


def test_the_plan_of_a_guided_search(case):
    _, text = previewed(case, CHANGE, f"{DIE} = 1:3", prefer="smallest draw.punch_force")
    assert text.count(f"; {NOSE} = ") == 7 and "a Gaussian process" in text


def test_the_plan_of_a_search_that_goes_on(case):
    """One that was interrupted goes on with what waits, one that has settled is left alone."""
    with pytest.raises(KeyboardInterrupt):
        seek(case, law=LOG, prefer=SMALLEST, stop=3)
    _, text = previewed(case, prefer=SMALLEST)
    assert "3 variants solved by an earlier call tried next: " in text
    seek(case, law=LOG, prefer=SMALLEST)
    assert "nothing is left to try" in previewed(case, prefer=SMALLEST)[1]


def test_the_plan_tells_faults(case):
    with pytest.raises(CaseError, match="thicknes"):
        previewed(case, "sheet.thicknes = 0.2:0.3", prefer="smallest thicknes")


def test_the_plan_is_the_most_a_search_takes(case):
    """The first variants go side by side, all others one by one."""
    call = search(case, law=LOG, prefer=SMALLEST, most=10)
    call.engine.workers = 2
    found = call.preview()
    begin = found.foreseen.compiling + START
    assert found.seconds == pytest.approx(begin + 9 * found.foreseen.seconds)


def test_steps_that_do_not_lead_to_the_end_are_told(case):
    assert "ends at 5.9 mm: steps of 1.3 mm" not in previewed(case, prefer=SMALLEST)[1]
    call, text = previewed(case, f"{NOSE} = 2:6:1.3", prefer=SMALLEST)
    assert f"{NOSE} ends at 5.9: steps of 1.3 do not lead to 6" in text
    assert call.notes() == [f"{NOSE} ends at 5.9: steps of 1.3 do not lead to 6"]


def test_handbook_rules_the_answer_does_not_keep_are_told(case):
    """A disc that is far too large for one draw, whatever the stand-in measures."""
    disc = "sheet.blank_diameter = 140:180"
    _, _, text = seek(case, disc, law=thinning(lambda _: 5.0), prefer="largest blank_diameter")
    assert "but outside a handbook rule: " in text and "draw ratio" in text
    _, _, text = seek(case, law=LOG, prefer=SMALLEST, replace=True)
    assert "draw ratio" not in text


def on_mesh(moved):
    """Thinning that a finer mesh moves by so much [%]."""

    def law(case):
        fine = case["mesh"]["columns"] > 90
        return {"max_thinning_percent": 14 - 3 * float(np.log(nose_of(case))) + fine * moved}

    return law


def confirmed(case, law, **more):
    call = search(case, law=law, prefer=SMALLEST, **more)
    call = replace(call, confirms=True)
    found = call.conduct()
    return found, " ".join(seek_text(found, call.folder).split()), call


def test_an_answer_that_holds_on_a_finer_mesh(case):
    found, text, call = confirmed(case, on_mesh(-0.5))
    assert found.holds and found.confirmed.columns == 135
    assert "confirmed: on a finer mesh, 135 columns instead of 90, it still holds: " in text
    fine, own = found.confirmed.trial.values[0], found.best.values[0]
    assert fine == pytest.approx(own - 0.5)
    assert f"{fine:.4g} instead of {own:.4g} %" in text
    asked = len(call.engine.asked)
    assert confirmed(case, on_mesh(-0.5))[0].confirmed == found.confirmed
    assert len(call.engine.asked) == asked == len(found.trials) + 1


def test_an_answer_that_does_not_hold_says_what_to_ask_for(case):
    found, text, _ = confirmed(case, on_mesh(0.4))
    assert found.best and not found.holds
    assert "NOT confirmed: on a finer mesh" in text and "it does not hold" in text
    assert 'ask for about "draw.max_thinning_percent <= 9.6"' in text
    assert "the same command with --confirm" not in text


def test_an_answer_that_tears_on_a_finer_mesh(case):
    def law(one):
        return "torn" if one["mesh"]["columns"] > 90 else LOG(one)

    found, text, _ = confirmed(case, law)
    assert not found.holds
    assert "comes to no trusted numbers (torn): the sheet has torn" in text


def test_a_confirmation_is_offered(case):
    assert "the same command with --confirm" in seek(case, law=LOG, prefer=SMALLEST)[2]


def test_a_changed_mesh_is_not_confirmed(case):
    law = {"law": lambda one: {"max_thinning_percent": one["mesh"]["columns"] / 10}}
    call = replace(search(case, "mesh.columns = 80:120:20", **law), confirms=True)
    for what in (call.preview, call.conduct):
        with pytest.raises(FormsimError, match="the mesh itself is changed"):
            what()
    assert not call.engine.asked


def test_a_time_limit_goes_into_the_study(case):
    seek(case, law=LOG, prefer=SMALLEST, longest="5 min")
    assert read_study(case.parent / "study").job.longest == 300.0


def test_meshes_that_follow_the_radii_are_told(case):
    """Without columns a sharper nose asks for more of them; the numbers are not of one mesh."""
    text = case.read_text(encoding="utf-8")
    case.write_text(text.replace("columns = 90", "layers = 2"), encoding="utf-8")
    found, _, told = seek(case, f"{NOSE} = 0.5:6", law=LOG, prefer=SMALLEST)
    words = re.search(r"\((\d+) to (\d+) columns, the answer (\d+)\)", " ".join(told.split()))
    low, high, own = map(int, words.groups())
    assert low < high and "one mesh" not in told
    assert own == columns_of(found.plan, found.plan.variants[found.best.variant - 1])
