"""Kept states wait a moment and reach the series together, also when a stage ends early."""

import pytest

from formsim.case.load import parse_case
from formsim.errors import ConvergenceError
from formsim.pipeline import making
from formsim.pipeline.run import run_case
from formsim.results import store
from tests.interface.small import short_draw
from tests.unit.test_store import read_steps

OUTPUT = "\n[output]\nframes = 6\nfigures = false\npicture = false\n"


@pytest.fixture
def writings(monkeypatch):
    """Numbers of frames of every writing."""
    counts, append = [], store.append_frames

    def counted(folder, sheet, frames, stage, times):
        counts.append(len(frames))
        append(folder, sheet, frames, stage, times)

    monkeypatch.setattr(store, "append_frames", counted)
    return counts


@pytest.mark.parametrize(("wait", "many"), [(1e9, False), (-1.0, True)])
def test_states_are_written_together_or_one_by_one(tmp_path, monkeypatch, writings, wait, many):
    monkeypatch.setattr(making, "WRITE_EVERY", wait)
    run = run_case(parse_case(short_draw(output=OUTPUT), "cup.toml"), tmp_path / "out")
    kept = len(run.line.stages[0].frames)
    assert writings == ([1] * kept if many else [kept])
    times, _ = read_steps(tmp_path / "out" / "sheet.vtkhdf")
    assert len(times) == kept and times == sorted(set(times))
    assert times[-1] == pytest.approx(making.FREE)


@pytest.mark.parametrize("error", [KeyboardInterrupt, ConvergenceError("demo")])
def test_states_that_wait_are_written_when_a_stage_is_stopped(tmp_path, monkeypatch, error):
    monkeypatch.setattr(making, "WRITE_EVERY", 1e9)

    def stopping(progress):
        if progress.fraction > 0.4:
            raise error

    case = parse_case(short_draw(output=OUTPUT), "cup.toml")
    with pytest.raises((KeyboardInterrupt, ConvergenceError)):
        run_case(case, tmp_path / "out", watch=stopping)
    times, _ = read_steps(tmp_path / "out" / "sheet.vtkhdf")
    assert len(times) >= 3
    assert not list((tmp_path / "out").glob("*.part"))
