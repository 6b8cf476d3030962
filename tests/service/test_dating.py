"""An order is dated by a clock that is right, or not issued."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from api import clock
from tests.service.issued_places import IssuedPlace


class _Shifted(datetime):
    """The clock, set by so many seconds."""

    by = 0.0

    @classmethod
    def now(cls, zone: Any = None) -> datetime:  # type: ignore[override]
        return datetime.now(zone) + timedelta(seconds=cls.by)


@pytest.mark.parametrize(("seconds", "words"), [(7200, "set forward by 7,2"), (-7200, "set back by 7,")])
def test_no_order_is_issued_by_a_clock_that_was_set_while_the_service_ran(
    issued_copy: IssuedPlace, monkeypatch: pytest.MonkeyPatch, seconds: float, words: str
) -> None:
    plan = issued_copy.plans[issued_copy.issued]
    monkeypatch.setattr(clock, "datetime", _Shifted)
    with issued_copy.client() as client:
        monkeypatch.setattr(_Shifted, "by", seconds)
        answer = client.post(f"/plans/{plan}/issue")
        assert answer.status_code == 503
        assert answer.headers["Retry-After"]
        assert words in answer.json()["detail"]
        monkeypatch.setattr(_Shifted, "by", 0.0)
        issued = client.post(f"/plans/{plan}/issue")
        assert issued.status_code == 201
        assert abs(clock.seconds_since(issued.json()["issued_at"])) < 60


def test_no_order_is_issued_before_the_last_one_whenever_the_service_was_started(
    issued_copy: IssuedPlace, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = issued_copy.plans[issued_copy.issued]
    monkeypatch.setattr(clock, "datetime", _Shifted)
    monkeypatch.setattr(_Shifted, "by", -86400.0)
    monkeypatch.setattr(
        clock, "_at_start", clock._seconds()
    )  # the service is started with the clock as it is
    with issued_copy.client() as client:
        answer = client.post(f"/plans/{plan}/issue")
        assert answer.status_code == 503
        expected = "the last revision was issued at" if issued_copy.settings.embedded else "86,400 s apart"
        assert expected in answer.json()["detail"]
