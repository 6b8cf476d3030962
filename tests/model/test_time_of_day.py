"""A time of day as it stands on the site's gate: to the minute, without a zone, and the same again from JSON."""

from __future__ import annotations

from datetime import time

import pytest
from pydantic import TypeAdapter, ValidationError

from optimiser.model.time_of_day import TimeOfDay

GATE: TypeAdapter[time] = TypeAdapter(TimeOfDay)


@pytest.mark.parametrize("written", ["07:00", "00:00", "23:59"])
def test_a_time_comes_back_as_it_was_written(written: str) -> None:
    assert GATE.dump_python(GATE.validate_python(written), mode="json") == written


@pytest.mark.parametrize("written", ["07:00Z", "07:00+10:00", "07:00:30", "07:00:00.5"])
def test_a_zone_or_seconds_which_would_be_lost_are_refused(written: str) -> None:
    with pytest.raises(ValidationError, match="to the minute, such as 07:00, without a zone"):
        GATE.validate_python(written)
