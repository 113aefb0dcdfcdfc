"""A run that two files of these tests look at: made once, read, never changed."""

import pytest

from formsim.case.load import parse_case
from formsim.pipeline.run import run_case
from tests.interface.rings import one_ring


@pytest.fixture(scope="session")
def ironed_run():
    """A given cup ironed through its ring."""
    return run_case(parse_case(one_ring(stroke='"through"'), "ring.toml"))
