"""What is planned here is sought briefly: the rules of a job that goes on, and of a refit, hold of any plan."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True, scope="module")
def _searched_briefly(searched_briefly: None) -> None:
    """Every test of the folder."""
