"""One thread, no display, fixed random examples, and floating point errors that are heard."""

import gc
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


@pytest.fixture(autouse=True, scope="module")
def what_a_file_remembers_is_forgotten(request):
    """Runs that a file of tests keeps in a cache of its own live as long as the file."""
    yield
    for own in vars(request.module).values():
        if hasattr(own, "cache_clear") and own.__module__ == request.module.__name__:
            own.cache_clear()
    # Figures hold themselves in circles; what lives on is not looked through again.
    gc.collect()
    gc.freeze()


@pytest.fixture
def undrawn(monkeypatch):
    """Figures are made, but drawn without lines: for tests that only read words."""
    monkeypatch.setattr("formsim.report.style._drawn", lambda _: b"<svg/>")
    monkeypatch.setattr("formsim.report.style._save_pixels", lambda _, path: path.touch())
