"""Figures of an ironing stage: mean force of its ring, section where it works, true peak."""

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.pipeline.run import run_case
from formsim.report import figures, section
from formsim.report.style import styled
from formsim.results.forces import force_curves
from formsim.results.ironing import mean_force
from tests.interface.rings import one_ring

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def line(ironed_run):
    return ironed_run.line


def test_the_mean_of_a_ring_is_drawn_over_its_work(line):
    mean = mean_force(line.stages[0], "ring")
    with styled():
        axes = figures.force_figure(line.stages[0]).axes[0]
    drawn = next(one for one in axes.get_lines() if "mean" in str(one.get_label()))
    assert np.allclose(drawn.get_ydata(), 1e-3 * mean.force)
    assert drawn.get_xdata().tolist() == [mean.first, mean.last]
    assert f"{1e-3 * mean.force:.2f} kN" in drawn.get_label()


def test_the_label_of_a_peak_is_the_largest_row(line):
    peak = np.abs(force_curves(line.stages[0]).force).max()
    with styled():
        texts = [t.get_text() for t in figures.force_figure(line.stages[0]).axes[0].texts]
    assert f"{1e-3 * peak:.2f}" in texts


def test_the_section_shows_the_ring_at_work_and_says_so(line):
    record = line.stages[0]
    frame = section.peak_frame(record)
    assert frame is not None and 0.0 < frame.stroke < record.stroke
    with styled():
        title = section.section_figure(line, 0).axes[0].get_title(loc="left")
    assert " ".join(title.split()) == (
        f"iron: near the largest force, stroke {frame.stroke:.2f} of {record.stroke:.2f} mm"
    )
    places = section.placed_tools(record, frame.state)
    assert (
        places["ring"].points(per_arc=4)[:, 1].min() < frame.state.places(record.body)[:, 1].max()
    )


def test_a_stage_that_ends_under_load_shows_its_end():
    record = run_case(parse_case(one_ring(stroke="1.5"), "ring.toml")).line.stages[0]
    assert section.peak_frame(record) is None
