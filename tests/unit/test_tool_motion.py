"""Tools of a result: what is written comes back."""

import json

import numpy as np
import pytest

from formsim.errors import StoreError
from formsim.results import store
from tests.unit.shaped import blank, draw_record, line_of, shaped

STAMP = store.Stamp("Demo", "0123456789ab", "0.1.0")


@pytest.fixture
def written(tmp_path):
    folder = store.create_folder(tmp_path / "cup", "", STAMP)
    disc = blank(columns=24)
    states = [shaped(disc, lambda r, z: (r, z)) for _ in range(3)]
    record = draw_record(disc, states)
    return record, store.write_tools(folder, line_of(disc, record))


def test_outlines_and_places_come_back(written):
    record, file = written
    (stage,) = store.load_tools(file.parent)
    assert stage.name == "draw" and set(stage.outlines) == {"die", "punch"}
    assert stage.strokes == (0.0, 5.0, 10.0, 1.0)
    assert stage.phases == ("start", "forming", "forming", "springback")
    assert stage.positions[1] == {"die": 5.0, "punch": 0.5} and stage.positions[-1] == {}
    punch = stage.outlines["punch"]
    # A flat punch of radius 20: its side by hand.
    assert np.isclose(punch[:, 0], 20.0, atol=1e-4).any() and punch[:, 0].max() < 20.0001
    assert np.allclose(punch, record.tools[1].outline.points(48), atol=1e-5)


def test_it_belongs_to_the_result(written):
    _, file = written
    assert file.name in store.kept_files(file.parent)
    assert json.loads(file.read_text())["digest"] == STAMP.digest


@pytest.mark.parametrize(
    "text", ["", "[]", '{"format": 1, "stages": [{}]}', '{"format": 9, "stages": []}']
)
def test_what_is_damaged_is_told(written, text):
    _, file = written
    file.write_text(text)
    with pytest.raises(StoreError, match="damaged|format 9") as caught:
        store.load_tools(file.parent)
    assert "run the case again" in caught.value.hint
