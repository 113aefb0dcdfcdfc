"""One thread, no display, fixed random examples, and floating point errors that are heard."""

import os

import pytest
from hypothesis import settings

os.environ["MPLBACKEND"] = "agg"
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

settings.register_profile("fixed", derandomize=True, deadline=None)
settings.load_profile("fixed")


@pytest.fixture(autouse=True)
def floating_point_errors_raise():
    import numpy as np

    with np.errstate(divide="raise", invalid="raise", over="raise"):
        yield
