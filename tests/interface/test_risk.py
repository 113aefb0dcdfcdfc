"""A run with limits: verdict by zone, tables, figures, exit code; and the damage behind it."""

import json

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.cli import main
from formsim.pipeline.run import run_case
from formsim.report.lines import grid_text
from formsim.report.risk_figures import limit_figure, margin_figure
from formsim.report.risk_table import over_lines, risk_table
from formsim.results.damage import damage_law
from formsim.results.store import RISK, _load_table
from formsim.results.wrinkling import worst_rings
from formsim.solver.damage import SQUEEZED, TENSION
from tests.interface.small import PLAIN_OUTPUT, small_cup, torn_cup

ORDER = ("over", "watch", "safe")

LIMITS = """
[limits]
max_thinning_percent = {thinning}
forming_limit = {{ kind = "marciniak_kuczynski", imperfection = 0.99, source = "invented" }}
damage = {{ kind = "cockcroft_latham", critical = {critical}, source = "invented" }}
watch_percent = 20
"""


def with_limits(thinning=15.0, critical=0.6) -> str:
    return small_cup(more=LIMITS.format(thinning=thinning, critical=critical))


@pytest.fixture(scope="module")
def run():
    return run_case(parse_case(with_limits(), "cup.toml"))


def test_every_zone_has_a_row_for_every_risk_of_the_sheet(run):
    for risk in ("thinning", "limit curve", "damage"):
        found = {row.zone for row in run.risks.rows if row.risk == risk and row.stage == "draw"}
        assert {"base", "nose", "wall", "rim"} <= found


def test_verdicts_follow_the_margins(run):
    for row in run.risks.rows:
        if row.margin is None:
            assert row.verdict in ("no limit given", "not judged")
            continue
        assert row.margin == pytest.approx(1.0 - max(row.value, 0.0) / row.limit)
        if row.own:
            wanted = "over" if row.margin < 0 else "watch" if row.margin < 0.2 else "safe"
            assert row.verdict == wanted
        assert row.source
        assert row.reason.endswith(tuple("abcdefghijklmnopqrstuvwxyz%0123456789"))


def test_a_thickened_rim_uses_nothing_of_its_limits(run):
    found = {(row.stage, row.risk, row.zone): row for row in run.risks.rows}
    thick = found["draw", "thinning", "rim"]
    assert thick.value < 0.0
    assert thick.margin == 1.0
    assert "thicker than at first, the limit is 15; nothing of the limit is used" in thick.reason
    curve = found["draw", "limit curve", "rim"]
    assert (curve.verdict, curve.value) == ("not judged", None)
    assert "no limit applies" in curve.source
    assert "wrinkle index" in curve.reason


def test_both_readings_of_the_limit_curve_are_told(run):
    row = next(r for r in run.risks.rows if r.risk == "limit curve" and r.zone == "nose")
    assert "% of the straight way to the limit curve" in row.source
    assert "% at equal minor strain" in row.reason
    trace = run.risks.traces[0]
    known = ~trace.squeezed & (trace.level > 0.0)
    assert known.any()
    assert np.all(trace.share[known] >= trace.straight[known])


def test_states_after_springback_stand_at_the_last_stroke(run):
    for trace, record in zip(run.risks.traces, run.line.stages, strict=True):
        assert trace.phases[-1] == "springback"
        assert trace.strokes[-1] == pytest.approx(record.stroke)
        assert trace.strokes[-1] > 2.0


@pytest.mark.slow
def test_a_table_that_does_not_reach_the_part_makes_its_zones_watched():
    """The nose of the cup is stretched both ways, beyond a table that ends in plane strain."""
    limit = (
        '[limits]\nforming_limit = { kind = "table", strain = "true", unit = "fraction",'
        ' source = "invented", minor = [-0.01, 0.0], major = [0.02, 0.01] }\n'
    )
    made = run_case(parse_case(small_cup(more=f"\n{limit}"), "cup.toml"))
    beyond = [row for row in made.risks.rows if "beyond the right end" in row.source]
    assert beyond
    assert {row.verdict for row in beyond} <= {"watch", "over", "not judged"}
    watched = [row.reason for row in beyond if row.verdict == "watch"]
    assert all(text.endswith("measure the curve further to the right") for text in watched)


def test_limits_of_the_user_become_checks_and_pass(run):
    kinds = [c["name"] for c in run.summary["checks"] if c["kind"] == "limit"]
    assert [name for name in kinds if "limit curve" in name]
    assert [name for name in kinds if "damage" in name]
    assert run.summary["passed"]


def test_without_limits_none_is_made_up(small_run):
    own = [row for row in small_run.risks.rows if row.risk in ("thinning", "limit curve", "damage")]
    assert {row.verdict for row in own} == {"no limit given"}
    assert {row.limit for row in own} == {None}
    assert not [row for row in small_run.risks.rows if row.own]
    assert damage_law(small_run.case).critical is None
    assert "no limit" in grid_text(risk_table(small_run.summary))


def test_damage_grows_and_is_carried_from_stage_to_stage(run):
    draw, dome = run.risks.traces
    for trace in (draw, dome):
        assert np.all(np.diff(trace.damage, axis=0) >= -1e-12)
    assert dome.damage[0] == pytest.approx(draw.damage[-1], abs=1e-12)
    assert dome.damage[-1].max() > 0.01


def test_the_strain_bounds_the_damage(run):
    """The principal stress of a sheet is at most 2/sqrt3 of the flow stress without pressure."""
    state = run.line.stages[-1].final
    tension = state.damage[..., TENSION]
    assert np.all(tension <= 1.3 * state.strain + 1e-12)
    assert np.all(state.damage[..., SQUEEZED] <= state.strain + 1e-12)


def test_a_stretched_pole_has_the_damage_of_balanced_tension():
    """Both principal stresses equal the flow stress of an isotropic sheet: the integral is the
    plastic strain, to what bending adds."""
    text = """title = "b"
source = "invented"
[sheet]
material = "can-body-demo"
thickness = 0.5
blank_diameter = 60.0
[mesh]
columns = 60
[output]
frames = 4
figures = false
picture = false
[[stage]]
kind = "bulge"
diameter = 60.0
height = 6.0
"""
    made = run_case(parse_case(text, "bulge.toml"))
    formed = made.line.stages[0].formed
    pole = formed.damage[:2, :, TENSION].mean()
    assert pole == pytest.approx(formed.strain[:2].mean(), rel=0.02)


@pytest.mark.slow
def test_windows_and_all_columns_agree_on_the_damage(small_run):
    """The largest only as runs of all columns with increments 1 to 3 % shorter: 0.34 % apart."""
    exact = run_case(parse_case(small_cup(), "cup.toml"), exact=True)
    one, other = (made.risks.traces[-1].damage[-1] for made in (small_run, exact))
    most = other > 0.7 * other.max()
    assert most.sum() > 10
    assert one[most].mean() == pytest.approx(other[most].mean(), rel=1e-3)
    assert one.max() == pytest.approx(other.max(), rel=3.4e-3)
    assert one == pytest.approx(other, abs=0.02 * other.max())


def test_a_torn_place_is_far_beyond_its_limits(tmp_path):
    """The place that tore must not hide as ironed or behind its neighbours."""
    limits = LIMITS.format(thinning=15.0, critical=0.6)
    case, folder = tmp_path / "torn.toml", tmp_path / "out"
    case.write_text(torn_cup() + limits)
    assert main(["run", str(case), "--into", str(folder), "--quiet"]) == 2
    summary = json.loads((folder / "summary.json").read_text())
    over = {row["risk"]: row for row in reversed(summary["risk"]) if row["verdict"] == "over"}
    assert over["limit curve"]["value"] > 3.0
    assert over["damage"]["zone"] == over["limit curve"]["zone"] == "nose"


@pytest.mark.slow
def test_tools_that_did_not_do_it_are_not_blamed():
    """The wall is drawn thin; the dome that follows does not touch it."""
    tight = run_case(parse_case(with_limits(thinning=0.5, critical=0.05), "cup.toml"))
    rows = {(row.stage, row.zone, row.risk): row for row in tight.risks.rows}
    for risk in ("thinning", "damage"):
        assert "larger nose or die radius" in rows["draw", "wall", risk].reason
        assert "a stage before brings it" in rows["dome", "wall", risk].reason
    assert "a shallower dome" in rows["dome", "dome crown", "thinning"].reason


def test_the_order_is_by_severity(run):
    worst = run.risks.worst
    words = [row.verdict for row in worst]
    judged = [word for word in words if word in ORDER]
    assert judged == sorted(judged, key=ORDER.index)
    margins = [row.margin for row in worst if row.verdict == "safe"]
    assert margins == sorted(margins)
    pairs = [(row.risk, row.zone) for row in run.risks.worst]
    assert len(pairs) == len(set(pairs))


def test_rings_are_loose_pressed_and_said_once(run):
    rings = worst_rings(run.line.stages[0])
    assert len(rings) == len(set(rings))
    for ring in rings:
        assert ring.pressure > 0.0
        assert ring.width > 2.0 * ring.thickness
        assert ring.index == pytest.approx(ring.pressure / ring.buckling)
    advice = [row for row in run.risks.rows if row.risk == "wrinkle index"]
    assert advice
    assert "over" not in {row.verdict for row in advice}


@pytest.mark.slow
def test_tables_and_figures_of_a_run(tmp_path, capsys):
    case, folder = tmp_path / "cup.toml", tmp_path / "out"
    text = with_limits(thinning=2.0, critical=0.05)
    case.write_text(text.replace(PLAIN_OUTPUT, "\n[output]\nframes = 4\npicture = false\n"))
    assert main(["run", str(case), "--into", str(folder), "--quiet"]) == 3
    said = capsys.readouterr().out
    assert "of the case not kept" in said
    assert "OVER" in said
    summary = json.loads((folder / "summary.json").read_text())
    table = _load_table(folder / RISK)
    rows = list(zip(table.columns["risk"], table.columns["zone"], strict=True))
    assert {(row["risk"], row["zone"]) for row in summary["risk"]} == set(rows)
    over = [row for row in summary["risk"] if row["verdict"] == "over"]
    assert {"thinning", "damage"} <= {row["risk"] for row in over}
    way = _load_table(folder / "damage.csv")
    assert max(way.columns["largest_damage"]) > 0.05
    for name in ("limit-curve", "margin"):
        assert (folder / "figures" / f"{name}.png").stat().st_size > 10_000


def test_figures_show_the_curve_and_the_limits(run):
    axes = limit_figure(run.risks).axes[0]
    labels = axes.get_legend_handles_labels()[1]
    assert any(label.startswith("Marciniak-Kuczynski") for label in labels)
    assert any("% at equal minor strain" in label for label in labels)
    beside = [text.get_text() for text in axes.texts]
    assert "wall: watch" in beside and any(text.endswith("safe") for text in beside)
    panels = margin_figure(run.risks).axes
    assert len(panels) == 3
    for panel in panels:
        # watch_percent = 20 of the case: a line at 80 % below that at 100 %.
        assert {100.0, 80.0} <= {line.get_ydata()[0] for line in panel.lines}
        words = [text.get_text() for text in panel.texts]
        assert "dome crown\nsafe" in words
    assert "wall\nwatch" in [text.get_text() for text in panels[0].texts]


def test_a_limit_of_physics_is_told_on_top():
    row = {"verdict": "over", "own": False, "stage": "iron", "reason": "the wall breaks"}
    assert list(over_lines({"risk": [row]})) == ["over, iron: the wall breaks"]
    assert list(over_lines({})) == []


BODY = """
title = "ironed, trimmed, necked, flanged"
source = "invented"
start = { kind = "cup", diameter = 40.0, corner_radius = 3.0, height = 16.0 }
[sheet]
material = "can-body-demo"
thickness = 0.5
[mesh]
columns = 120
[limits]
cut_edge = { hoop_strain = 0.05, source = "invented" }
forming_limit = { kind = "swift_hill" }
[output]
frames = 6
figures = false
picture = false
[[stage]]
kind = "iron"
punch = { diameter = 39.0, nose_radius = 2.5 }
rings = [{ bore = 39.86, land = 0.6 }, { bore = 39.72, land = 0.6, spacing = 6.0 }]
friction = { punch = 0.10, ring = 0.03 }
[[stage]]
kind = "trim"
height = 17.0
[[stage]]
kind = "neck"
die = { diameter = 38.6, entry_radius = 3.0, throat_radius = 3.0 }
pilot = { clearance = 0.42 }
depth = 5.0
[[stage]]
kind = "flange"
tool = { diameter = 37.4, radius = 2.0 }
depth = 2.0
"""


@pytest.mark.slow
def test_rings_necks_and_edges_of_a_body():
    """Walls count as ironed behind the rings; a limit of physics is told, an edge limit checked."""
    made = run_case(parse_case(BODY, "body.toml"))
    found = {(row.stage, row.risk, row.zone): row for row in made.risks.rows}
    ring = found["iron", "ironing", "ring-2"]
    assert ring.value == pytest.approx(made.summary["stages"][0]["rings"][1]["stress_ratio"])
    assert (ring.limit, ring.verdict, ring.own) == (1.0, "safe", False)
    assert found["neck", "neck load", "wall"].value == pytest.approx(
        made.summary["stages"][2]["neck"]["load_ratio"]
    )
    edge = found["flange", "edge stretch", "edge"]
    assert (edge.verdict, edge.limit, edge.own) == ("over", 0.05, True)
    assert [check.name for check in made.checks if not check.passed] == [
        "flange: edge stretch, edge"
    ]
    assert found["iron", "limit curve", "wall"].verdict == "safe"
    assert found["trim", "limit curve", "wall"].verdict == "not judged"
    assert "ironed" in found["trim", "limit curve", "wall"].source
    before, after = (trace.damage[-1] for trace in made.risks.traces[:2])
    assert after[:-1] == pytest.approx(before[: len(after) - 1], abs=1e-12)
