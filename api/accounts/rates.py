"""How often a company may call, and how often an address may fail to show a key.

Counted in this process's memory: with several serving processes each counts for itself.
"""

from __future__ import annotations

from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter

from api.http.problem_details import Problem

_REFUSALS_PER_MINUTE = 30


class RateCounter:
    """Requests counted over the last minute. `per_minute` 0 sets no limit."""

    def __init__(self, per_minute: int) -> None:
        self._counter = MovingWindowRateLimiter(MemoryStorage())
        self._requests = RateLimitItemPerMinute(per_minute, namespace="requests") if per_minute else None
        self._refusals = RateLimitItemPerMinute(_REFUSALS_PER_MINUTE, namespace="refusals")

    def count(self, company_id: str) -> None:
        """Counts a company's request. Raises Problem 429 beyond its rate."""
        if self._requests is not None and not self._counter.hit(self._requests, company_id):
            raise _too_many(f"More than {self._requests.amount} requests in a minute.")

    def count_refusal(self, address: str) -> None:
        """Counts a request without a usable key. Raises Problem 429 when an address has tried too often."""
        if not self._counter.hit(self._refusals, address):
            raise _too_many("Too many requests without a usable API key.")


def _too_many(detail: str) -> Problem:
    return Problem(429, "too-many-requests", detail, headers={"Retry-After": "10"})
