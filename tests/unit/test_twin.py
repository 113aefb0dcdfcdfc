"""A file of two copies is whole whatever happens to a change, and old copies catch up."""

import os
from pathlib import Path

import pytest

from formsim.results.twin import changed, drop_twin, new_file


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "series"
    with new_file(path) as new:
        new.write_text("0")
    return path


def grow(path, number):
    """Bring the copy up to date, then add a number: what a series does."""
    with changed(path) as part:
        part.write_text(path.read_text() + str(number))


def names(path):
    return sorted(file.name for file in path.parent.iterdir())


def test_two_copies_change_places(path):
    first = path.stat().st_ino
    copies = []
    for k in range(1, 5):
        grow(path, k)
        copies.append(path.stat().st_ino)
    assert path.read_text() == "01234"
    assert names(path) == ["series", "series.part"]
    assert Path(f"{path}.part").read_text() == "0123"
    assert copies[1] == copies[3] == first != copies[0] == copies[2]
    drop_twin(path)
    assert names(path) == ["series"]


def test_a_file_system_of_single_names(path, monkeypatch):
    def refuse(*_args):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    for k in range(1, 4):
        grow(path, k)
    assert path.read_text() == "0123"
    assert names(path) == ["series"]


@pytest.mark.parametrize("calls", [0, 1])
def test_an_interrupt_between_two_renamings(path, monkeypatch, calls):
    grow(path, 1)
    true_replace, left = Path.replace, [calls]

    def stopped(self, target):
        if not left[0]:
            raise KeyboardInterrupt
        left[0] -= 1
        return true_replace(self, target)

    monkeypatch.setattr(Path, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        grow(path, 2)
    monkeypatch.undo()
    assert path.read_text() == ("01", "012")[calls]
    assert names(path) == ["series"]
    grow(path, 3)
    assert path.read_text() == ("013", "0123")[calls]


def test_a_failed_change_leaves_the_file_alone(path):
    def fail():
        with changed(path) as part:
            part.write_text("torn")
            raise ValueError

    with pytest.raises(ValueError):
        fail()
    assert path.read_text() == "0"
    assert names(path) == ["series"]


def test_a_new_file_drops_what_a_killed_run_left(path):
    for ending in (".part", ".old"):
        Path(f"{path}{ending}").write_text("torn")
    with new_file(path) as new:
        new.write_text("new")
    assert path.read_text() == "new"
    assert names(path) == ["series"]
