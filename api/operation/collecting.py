"""Garbage is looked for between requests, so that nobody waits for it in the middle of a page."""

from __future__ import annotations

import gc

from starlette.types import ASGIApp, Receive, Scope, Send

YOUNG = 1  # the generations that hold what the last requests left
MOST_YOUNG = 500_000  # objects, some tens of pages: with more it is looked for whatever is being answered


def collect_seldom() -> None:
    """What is here now stays and is not looked through again; further garbage is looked for after so many objects."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(MOST_YOUNG, 10, 10)


class CollectingBetween:
    """An application after whose last answer, when nobody else waits for one, young garbage is collected: plans that
    their readers and these readers that their plans hold on to (a page leaves some 50,000 objects so)."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.answering = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answers a request; what is no request is passed on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        self.answering += 1
        try:
            await self.app(scope, receive, send)
        finally:
            self.answering -= 1
            if not self.answering:
                gc.collect(YOUNG)
