"""These tests are about the compiled kernels: without them they would compare the references with themselves."""

from __future__ import annotations

import pytest
from hypothesis import Phase, settings

from optimiser.kernels.loading import LIBRARIES, compiled_library

# `--hypothesis-profile=mutants`: a failure is enough, nobody reads its smallest example
settings.register_profile("mutants", phases=(Phase.explicit, Phase.generate), database=None)


@pytest.fixture(autouse=True, scope="session")
def _compiled_kernels() -> None:
    missing = [name for name in LIBRARIES if compiled_library(name) is None]
    assert not missing, f"these kernels are not compiled: {missing}; `pip install -e .` builds them"
