"""The window of a part: what it is given, what it shows, and what is said where there is none."""

import os
import shutil
import signal
import subprocess
import sys
import time
from contextlib import contextmanager

import numpy as np
import pytest

from formsim.errors import DependencyError
from formsim.report import view, window
from formsim.report.view import has_screen, show_part
from formsim.results import store
from formsim.stages.sheet import Sheet
from tests.unit.shaped import METAL, blank, draw_record, shaped

STAMP = store.Stamp("Demo <cup>", "0123456789ab", "0.1.0")
MESSAGE = "report.html|formsim report"


@pytest.fixture
def result(tmp_path):
    """Two stages, the second one deeper."""
    folder = store.create_folder(tmp_path / "cup", "", STAMP)
    disc = blank(columns=24)
    store.start_series(folder, disc)
    for stage in (0, 1):
        states = [
            shaped(disc, lambda r, z, k=k: (r, z + k * r**2)) for k in (0.0, 0.01 + 0.01 * stage)
        ]
        frames = draw_record(disc, states).frames
        times = [stage + 0.1 * k for k in range(len(frames))]
        store.append_frames(folder, Sheet(disc, METAL, states[0]), frames, stage, times)
    store.write_summary(folder, {"stages": [{"name": "draw"}, {"name": "dome"}], "finished": True})
    return folder.path


def test_the_window_is_given_the_end_of_every_stage(result, tmp_path):
    arrays = view._states(result)
    np.savez(tmp_path / "part.npz", names=np.array(["draw"]), shown=-1, **arrays)
    parts, first = window.read_parts(tmp_path / "part.npz")
    assert first == 1
    assert [name for name, _, _ in parts] == ["1 draw", "2 not finished"]
    for (_, outline, thickness), lift in zip(parts, (0.01, 0.02), strict=True):
        # Lower and upper face of a disc of radius 30 and 0.5 mm, lifted by lift R^2.
        assert np.allclose(outline[0, -1], [30.0, lift * 900], atol=1e-6)
        assert np.allclose(outline[1, -1] - outline[0, -1], [0.0, 0.5], atol=1e-6)
        assert thickness[0] == pytest.approx(0.5, rel=1e-4)


@pytest.mark.slow
def test_the_slider_changes_the_part(result, tmp_path):
    pyvista = pytest.importorskip("pyvista")
    np.savez(
        tmp_path / "part.npz", names=np.array(["draw", "dome"]), shown=1, **view._states(result)
    )
    parts, first = window.read_parts(tmp_path / "part.npz")
    try:
        plotter = pyvista.Plotter(off_screen=True, window_size=[400, 300])
        window.build(plotter, parts, first, "Demo")
    except RuntimeError as error:
        pytest.skip(str(error))
    deep = plotter.bounds
    slider = getattr(plotter, "widgets", plotter).slider_widgets[0]
    slider.GetRepresentation().SetValue(1)
    slider.InvokeEvent("EndInteractionEvent")
    assert slider.GetRepresentation().GetTitleText() == "stage"
    assert plotter.bounds[5] == pytest.approx(9.5, abs=0.01) and deep[5] == pytest.approx(
        18.5, abs=0.01
    )
    assert len(plotter.scalar_bars) == 1
    plotter.close()


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("Xvfb") is None, reason="no Xvfb, a screen without a display")
def test_on_a_screen_the_part_is_seen(result):
    with screen() as name:
        environment = {**os.environ, "DISPLAY": name}
        command = [sys.executable, "-m", "formsim", "view", str(result)]
        shown = subprocess.Popen(command, env=environment, start_new_session=True)
        try:
            seen = seen_on(name, shown)
        finally:
            os.killpg(shown.pid, signal.SIGTERM)
            shown.wait(timeout=20)
    # The window has white paper, and on it the part and the scale in colours of their own.
    white = (seen == 255).all(axis=2)
    coloured = np.ptp(seen.astype(int), axis=2) > 60
    assert white.mean() > 0.3 and coloured.mean() > 0.01


@contextmanager
def screen():
    """A screen of its own, without a display; its name."""
    reading, writing = os.pipe()
    command = [
        "Xvfb",
        "-displayfd",
        str(writing),
        "-screen",
        "0",
        "1280x900x24",
        "-nolisten",
        "tcp",
    ]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    server = subprocess.Popen(command, pass_fds=[writing], **quiet)
    os.close(writing)
    try:
        with os.fdopen(reading) as told:
            yield f":{told.readline().strip()}"
    finally:
        server.terminate()
        server.wait(timeout=20)


def seen_on(name, shown):
    """Pixels of a screen as soon as there is something on it, (height, width, 3)."""
    grab = pytest.importorskip("PIL.ImageGrab").grab
    until = time.monotonic() + 90.0
    while time.monotonic() < until:
        assert shown.poll() is None, "the window has ended"
        seen = np.asarray(grab(xdisplay=name).convert("RGB"))
        if (seen == 255).all(axis=2).mean() > 0.3:
            return seen
        time.sleep(0.5)
    return pytest.fail("nothing was seen on the screen")


def test_screens():
    assert has_screen("darwin", {}) and has_screen("win32", {})
    assert has_screen("linux", {"DISPLAY": ":0"})
    assert not has_screen("linux", {}) and not has_screen("linux", {"DISPLAY": ""})


def test_without_a_screen_it_is_said_what_to_do(result, monkeypatch):
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    with pytest.raises(DependencyError, match="no screen") as caught:
        show_part(result)
    assert "formsim report" in caught.value.hint and "formsim export" in caught.value.hint
    (result / "report.html").write_text("")
    with pytest.raises(DependencyError) as caught:
        show_part(result)
    assert f"open {result / 'report.html'} in a browser" in caught.value.hint
    assert caught.value.exit_code == 1


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="a screen that does not answer, as X11 has it")
def test_a_screen_that_does_not_answer(result):
    environment = {**os.environ, "DISPLAY": ":77"}
    command = [sys.executable, "-m", "formsim", "view", str(result)]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 1 and "no window can be opened" in done.stderr
    assert "try: " in done.stderr and "Traceback" not in done.stderr
