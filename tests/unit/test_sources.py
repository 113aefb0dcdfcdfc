"""The digest of the sources: what changes it and what does not."""

import shutil

import pytest

from formsim import sources as module


@pytest.fixture
def digest(tmp_path, monkeypatch):
    """Digest of a copy of some of the package, which may be edited."""
    package = tmp_path / "formsim"
    for room in ("material", "report/templates", "study"):
        shutil.copytree(module.PACKAGE / room, package / room)
    shutil.copy(module.PACKAGE / "cli.py", package)
    monkeypatch.setattr(module, "PACKAGE", package)
    return package, module.sources.__wrapped__


@pytest.mark.parametrize(
    ("file", "counts"),
    [
        ("material/flow.py", True),
        ("material/library.toml", True),
        ("study/wanted.py", True),
        ("report/templates/viewer.js", False),
        ("cli.py", False),
    ],
)
def test_an_edited_file_that_decides_numbers_gives_another_digest(digest, file, counts):
    package, found = digest
    before = found()
    with (package / file).open("a", encoding="utf-8") as text:
        text.write("\n")
    assert (found() != before) is counts


def test_a_file_that_is_moved_gives_another_digest(digest):
    package, found = digest
    before = found()
    (package / "material/flow.py").rename(package / "material/flows.py")
    assert found() != before


def test_what_shows_numbers_may_not_decide_them():
    """Only rooms of the last rows are left out: no other can import them."""
    from tests.test_layers import ROW

    shown = {name.removesuffix(".py") for name in module.SILENT}
    assert all(ROW[room] >= ROW["report"] for room in shown)
