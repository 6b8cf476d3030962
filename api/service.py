"""What every route needs, made once: settings, database, queue of jobs, rates, and places to plan at once."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Annotated

from anyio import CapacityLimiter
from fastapi import Depends, Request

from api.settings import Settings
from api.storage.engine import Storage

if TYPE_CHECKING:
    from api.accounts.rates import Rates
    from api.jobs.pulse import Pulse
    from api.jobs.queue import JobQueue


class Service:
    """The running service. `stopping` is set when it drains, so that open event streams end."""

    def __init__(self, settings: Settings) -> None:
        from api.accounts.rates import Rates
        from api.jobs.pulse import Pulse
        from api.jobs.queue import JobQueue

        self.settings = settings
        self.storage = Storage(settings.database_url)
        self.storage.upgrade()
        self.queue: JobQueue = JobQueue(self.storage)
        self.rates: Rates = Rates(settings.rate_per_minute)
        self.places = CapacityLimiter(settings.processes)
        self.waiting = CapacityLimiter(1000)
        self.stopping = threading.Event()
        self.pulse: Pulse = Pulse(self)

    def close(self) -> None:
        """Closes the database."""
        self.queue.close()
        self.storage.close()


def service_of(request: Request) -> Service:
    """The service that a request came to."""
    service: Service = request.app.state.service
    return service


TheService = Annotated[Service, Depends(service_of)]
