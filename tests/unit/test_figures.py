"""Figures and the rendered picture are made without a display."""

from __future__ import annotations

import subprocess
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from formsim.errors import DependencyError
from formsim.report import figures, render, section, springback
from formsim.report.style import styled
from formsim.stages import shapes
from tests.unit.shaped import along, blank, bulge_record, draw_record, increment, line_of, shaped

T = 0.5
TWICE = ("section-1-draw", "section-2-bulge", "forces-1-draw", "forces-2-bulge")
CUP = [(16.0, 0.0), (4.25 * np.pi / 2, np.pi / 2), (40.0, 0.0)]


@pytest.fixture(scope="module")
def line():
    body = blank(outer=32.0, thickness=T, columns=48)
    flat, cup = shaped(body, lambda r, z: (r, z)), shaped(body, along(CUP, T))
    return line_of(
        body, draw_record(body, [flat, cup]), bulge_record(body, [flat, cup]), thickness=T
    )


def test_all_figures_are_written(line, tmp_path):
    radius = np.linspace(0, 32, 20)
    theory = [("constant volume", radius, np.full(20, T))]
    made = figures.save_figures(line, lambda name: tmp_path / name, theory)
    names = {path.name for path in made}
    assert names == {
        f"{stem}{ending}"
        for stem in (
            "section-1-draw",
            "section-2-bulge",
            "thickness",
            "forces-1-draw",
            "forces-2-bulge",
        )
        for ending in (".svg", ".png")
    }
    for path in made:
        assert path.stat().st_size > 5000
        head = path.read_bytes()[:100]
        assert head.startswith(b"\x89PNG") if path.suffix == ".png" else b"<?xml" in head


def sprung(lift, complete=True):
    """A draw whose flat base has sprung back into a bowl of some depth at the rim [mm]."""
    body = blank(outer=32.0, thickness=T, columns=48)
    flat = shaped(body, lambda r, z: (r, z))
    record = draw_record(body, [flat, flat])
    bowl = shaped(body, lambda r, z: (r, z + lift * (r / 32.0) ** 2))
    release = (increment(0.5, (), ()), increment(1.0, (), ()))
    record = replace(record, release=release, final=bowl, complete=complete)
    return line_of(body, record, thickness=T)


@pytest.mark.slow
def test_a_springback_worth_seeing_has_a_figure(line, tmp_path):
    assert springback.springs_back(sprung(1.0), 0)
    assert not springback.springs_back(sprung(0.05), 0)
    assert not springback.springs_back(sprung(1.0, complete=False), 0)
    assert not springback.springs_back(line, 0)
    made = figures.save_figures(sprung(0.3), lambda name: tmp_path / name)
    assert "springback-1-draw.svg" in {path.name for path in made}


@pytest.mark.parametrize(("lift", "words"), [(0.2, "10 times as large"), (3.0, "to scale")])
def test_small_springback_is_exaggerated(lift, words):
    with styled():
        title = springback.springback_figure(sprung(lift), 0).axes[0].get_title(loc="left")
    assert words in title


def test_stress_of_a_stretched_disc_follows_hooke():
    """Plane strain tension of 0.1 % with plastic strain of the second mode taken away."""
    body = blank(outer=32.0, thickness=T, columns=48)
    metal, strain, plastic = line_of(body).material, 1e-3, 4e-4
    state = shaped(body, lambda r, z: (r * np.exp(strain), z))
    state.plastic[..., 1] = plastic
    _, along, around = springback.face_stresses(body, metal, state)
    spherical = (metal.bulk - 2.0 / 3.0 * metal.shear) * 2.0 * strain
    ratio = np.exp(2.0 * strain)
    shift = plastic / np.sqrt(2.0)
    assert np.allclose(along * ratio, spherical + 2 * metal.shear * (strain - shift))
    assert np.allclose(around * ratio, spherical + 2 * metal.shear * (strain + shift))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "draw, under load"),
        ({"release": ("some",)}, "draw, after springback"),
        ({"complete": False}, "draw, stopped at stroke 10.000 mm (aborted)"),
        ({"complete": False, "ended": "torn"}, "draw, stopped at stroke 10.000 mm (TORN)"),
    ],
)
def test_titles_say_what_is_shown(line, changes, words):
    record = replace(line.stages[0], **changes)
    assert record.condition == words
    changed = replace(line, stages=(record,))
    with styled():
        legend = figures.thickness_figure(changed).legends[0].get_texts()[0].get_text()
        title = section.section_figure(changed, 0).axes[0].get_title(loc="left")
    assert legend.startswith(f"{words}: least ")
    assert ("aborted" in title) == (not record.complete and not record.ended)
    assert ("TORN" in title) == (record.ended == "torn")
    assert "under load" in title


def test_labels_of_equal_minima_do_not_overprint(line):
    """Minima stand in the legend, one below the other."""
    twice = replace(line, stages=(line.stages[0], replace(line.stages[0], name="again")))
    with styled():
        figure = figures.thickness_figure(twice)
        FigureCanvasAgg(figure).draw()
        boxes = [text.get_window_extent() for text in figure.legends[0].get_texts()]
    assert not boxes[0].overlaps(boxes[1])


def test_a_long_line_has_two_columns_and_styles_of_its_own(line):
    many = replace(line, stages=tuple(replace(line.stages[0], name=f"neck-{k}") for k in range(14)))
    with styled():
        figure = figures.thickness_figure(many)
    drawn = [one for one in figure.axes[0].get_lines() if "neck-" in str(one.get_label())]
    assert len({(one.get_color(), one.get_linestyle()) for one in drawn}) == 14
    assert figure.legends[0]._ncols == 2


def test_name_with_a_dot_keeps_its_figures_apart(line, tmp_path):
    from formsim.report.style import new_figure, save_figure

    svg, png = save_figure(lambda: new_figure(2, 2), tmp_path / "section-1-draw 1.5")
    assert (svg.name, png.name) == ("section-1-draw 1.5.svg", "section-1-draw 1.5.png")


def test_axes_carry_units(line):
    with styled():
        made = [
            figures.thickness_figure(line),
            *(figures.force_figure(record) for record in line.stages),
            section.section_figure(line, 0),
        ]
    labels = [
        label for f in made for a in f.axes for label in (a.get_xlabel(), a.get_ylabel()) if label
    ]
    assert labels and all("[" in label for label in labels)
    assert any("MPa" in label for label in labels)


def test_columns_of_the_section_close_the_sheet(line):
    body, state = line.body, line.stages[0].formed
    polygons = section.column_shapes(body, state)
    x = np.array(polygons)
    area = 0.5 * np.abs(
        (x[:, :, 0] * np.roll(x[:, :, 1], -1, 1) - x[:, :, 1] * np.roll(x[:, :, 0], -1, 1)).sum(1)
    )
    assert area.sum() == pytest.approx(32.0 * T, rel=1e-3)


def test_the_whole_section_has_the_area_of_its_columns_in_few_shapes(line):
    """Columns of one shade are one shape; only the arcs within a column are cut short."""
    record = line.stages[0]
    with styled():
        whole, detail, *_ = section.section_figure(line, 0).axes
    shapes = section.column_shapes(line.body, record.formed)

    def area(points):
        x, y = np.asarray(points).T
        return 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))

    merged = [path.vertices[:-1] for path in whole.collections[0].get_paths()]
    assert sum(map(area, merged)) == pytest.approx(sum(map(area, shapes)), rel=2e-3)
    assert len(merged) <= len(shapes)
    enlarged = detail.collections[0].get_paths()
    assert 0 < len(enlarged) < len(shapes)
    assert whole.collections[0].get_clim() == detail.collections[0].get_clim()


@pytest.mark.parametrize(
    ("outline", "inside", "outside"),
    [
        (shapes.flat_punch(20.0, 4.0), (1.0, 30.0), (21.0, 30.0)),
        (shapes.die(21.0, 3.0, 3.0, 0.6), (40.0, -1.0), (20.0, -5.0)),
        (shapes.holder(20.6, 1.5), (30.0, 20.0), (30.0, -1.0)),
        (shapes.dome_tool(60.0, 3.0, 27.0), (1.0, -5.0), (1.0, 1.0)),
        (shapes.flat_ring(28.0, 34.0, 0.5), (31.0, -2.0), (31.0, 0.5)),
        (shapes.round_punch(20.0), (1.0, 30.0), (19.0, 0.5)),
    ],
)
def test_tools_are_filled_on_the_right_side(outline, inside, outside):
    from matplotlib.path import Path

    polygon = Path(section.tool_polygon(outline))
    assert polygon.contains_point(inside)
    assert not polygon.contains_point(outside)


@pytest.mark.slow
def test_picture_is_rendered_without_display(line, tmp_path, monkeypatch):
    monkeypatch.delenv("DISPLAY", raising=False)
    picture = render.save_picture(line.body, line.stages[0].final, tmp_path / "picture")
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert picture.stat().st_size > 20_000


@pytest.mark.parametrize(
    ("code", "error", "word"),
    [
        (1, "ImportError: libGL.so.1: cannot open shared object file", "libGL.so.1"),
        (-11, "WARN| Failed to load EGL! Please install the EGL library", "libEGL.so.1"),
        (1, "Traceback\nRuntimeError: no pipeline", "no pipeline"),
        (-6, "", "stopped"),
    ],
)
def test_missing_graphics_library_is_named(line, tmp_path, monkeypatch, code, error, word):
    def fails(command, **_kwargs):
        return subprocess.CompletedProcess(command, code, "", error)

    monkeypatch.setattr(subprocess, "run", fails)
    with pytest.raises(DependencyError, match=word) as caught:
        render.save_picture(line.body, line.stages[0].final, tmp_path / "picture")
    assert "apt-get install" in caught.value.hint


def test_slow_graphics_are_given_up(line, tmp_path, monkeypatch):
    def sleeps(command, **_kwargs):
        raise subprocess.TimeoutExpired(command, 1.0)

    monkeypatch.setattr(subprocess, "run", sleeps)
    with pytest.raises(DependencyError, match="not drawn"):
        render.save_picture(line.body, line.stages[0].final, tmp_path / "picture")
