"""What the section in motion is given: which states, how exact, which colours."""

import base64

import numpy as np
import pytest

from formsim.errors import StoreError
from formsim.report import viewer_data as viewer
from formsim.report.viewer_data import COLOURS, chosen_stops, packed
from formsim.results import store
from formsim.results.series_read import Stop
from formsim.stages.sheet import Sheet
from tests.unit.shaped import METAL, blank, draw_record, line_of, shaped

STAMP = store.Stamp("Demo", "0123456789ab", "0.1.0")


def stops(*counts):
    """Stages of so many states each, the last one after springback."""
    found = []
    for stage, count in enumerate(counts):
        for k in range(count):
            phase = 0 if k == 0 else 2 if k == count - 1 else 1
            found.append(Stop(len(found), float(len(found)), stage, phase))
    return found


def test_short_runs_keep_all_states():
    assert chosen_stops(stops(41, 2, 30)) == stops(41, 2, 30)
    assert chosen_stops([]) == []


def test_long_runs_keep_the_ends_of_every_stage():
    found = stops(*[42] * 18, 2, 2)
    kept = chosen_stops(found, most=200)
    assert len(kept) <= 200
    for stage in range(20):
        own = [stop for stop in found if stop.stage == stage]
        ours = [stop for stop in kept if stop.stage == stage]
        assert {own[0], own[-2], own[-1]} <= set(ours)
        assert [stop.number for stop in ours] == sorted({stop.number for stop in ours})


def test_packed_numbers_are_within_half_a_step():
    rng = np.random.default_rng(7)
    rows = [rng.uniform(-3, 120, (3, n)) for n in (50, 50, 31)]
    rows = [np.concatenate([row, np.full((1, row.shape[1]), 0.3)]) for row in rows]
    text, scales = packed(rows)
    numbers = np.frombuffer(base64.b64decode(text), "<i2")
    offset, step = np.array(scales).T
    assert step[0] == pytest.approx(123 / 65534, rel=0.05)
    for row in rows:
        own, numbers = numbers[: row.size].reshape(row.shape), numbers[row.size :]
        back = offset[:, None] + step[:, None] * own
        assert np.abs(back - row).max() <= 0.51 * step.max()
        assert np.allclose(back[3], 0.3)
    assert len(numbers) == 0


def test_what_is_no_number_is_refused():
    with pytest.raises(StoreError, match="no numbers"):
        packed([np.array([[1.0, np.nan]])])


def luminance(colour):
    """Relative luminance, W3C, Web Content Accessibility Guidelines 2.2, section "Terms"."""
    parts = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def test_colours_can_be_told_apart_by_lightness_alone():
    """Whoever sees no hue still sees which is more; both ends of a signed scale differ in blue."""
    level = [luminance(colour) for colour in COLOURS["level"]]
    assert np.all(np.diff(level) > 0.03)
    signed = [luminance(colour) for colour in COLOURS["signed"]]
    assert max(signed) == signed[2] and signed[1] > signed[0] and signed[3] > signed[4]
    blue, orange = (int(COLOURS["signed"][k][5:], 16) for k in (0, -1))
    assert blue - orange > 100


@pytest.fixture
def result(tmp_path):
    """A disc bulged in one stage, with its tools."""
    folder = store.create_folder(tmp_path / "cup", "", STAMP)
    disc = blank(columns=24)
    states = [
        shaped(disc, lambda r, z, k=k: (r, z + 0.01 * k * r**2), strain=0.1 * k) for k in range(4)
    ]
    record = draw_record(disc, states)
    store.start_series(folder, disc)
    sheet = Sheet(disc, METAL, states[0])
    store.append_frames(folder, sheet, record.frames, 0, list(range(5)))
    store.write_tools(folder, line_of(disc, record))
    return folder.path


SUMMARY = {"stages": [{"name": "draw"}]}


def test_states_lines_and_tools_of_a_result(result):
    data = viewer.viewer_data(result, SUMMARY)
    assert [frame["stroke"] for frame in data["frames"]][:4] == pytest.approx(
        [0, 3.33333, 6.66667, 10]
    )
    assert data["frames"][2]["tools"] == pytest.approx([6.66667, 0.5])
    assert data["frames"][4]["tools"] == [None, None]
    assert [tool["name"] for tool in data["stages"][0]["tools"]] == ["die", "punch"]
    assert min(r for tool in data["stages"][0]["tools"] for r, _ in tool["points"]) >= 0
    assert data["shown"] == 4 and data["place"] == "radius in the flat blank"
    numbers = np.frombuffer(base64.b64decode(data["numbers"]), "<i2").reshape(5, 8, 25)
    values = [offset + step * numbers[:, c] for c, (offset, step) in enumerate(data["scales"])]
    way = np.array(data["meshes"][0]["way"])
    # The middle of the disc at R is lifted by 0.01 k R^2.
    assert np.allclose(values[1][3], 0.25 + 0.03 * way**2, atol=1e-3)
    assert np.allclose(values[5][3], 0.3, atol=1e-4)
    assert np.allclose(data["meshes"][0]["first"], 0.5)


def test_a_result_without_tools_has_none(result):
    (result / "tools.json").unlink()
    data = viewer.viewer_data(result, SUMMARY)
    assert data["stages"][0]["tools"] == [] and data["frames"][2]["stroke"] is None


def test_a_long_sheet_is_thinned_out(result, monkeypatch):
    monkeypatch.setattr(viewer, "MOST_LINES", 10)
    way = viewer.viewer_data(result, SUMMARY)["meshes"][0]["way"]
    assert len(way) == 10 and way[0] == 0.0 and way[-1] == 30.0


@pytest.mark.parametrize("spoilt", [None, b"rubbish"])
def test_without_a_series_there_is_no_section(result, spoilt):
    file = result / "sheet.vtkhdf"
    file.unlink()
    if spoilt:
        file.write_bytes(spoilt)
    with pytest.raises(StoreError):
        viewer.viewer_data(result, SUMMARY)
