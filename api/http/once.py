"""What several requests want at the same time is made once: the others wait for it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager


class OneAtATime:
    """Lets one thread at a time work on whatever a key names; of other keys as many as like."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._locks: dict[str, tuple[threading.Lock, int]] = {}

    @contextmanager
    def of(self, key: str) -> Iterator[None]:
        """The key is this thread's while the block runs."""
        with self._guard:
            lock, wanted = self._locks.get(key, (threading.Lock(), 0))
            self._locks[key] = (lock, wanted + 1)
        try:
            with lock:
                yield
        finally:
            with self._guard:
                lock, wanted = self._locks[key]
                if wanted == 1:
                    del self._locks[key]
                else:
                    self._locks[key] = (lock, wanted - 1)
