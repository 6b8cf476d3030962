"""A browser's requests: the cookie that holds its user's key, and whether another site's page caused them.

The cookie is HttpOnly and SameSite=Strict, so that no script reads it and no other site's page has it sent; requests
of other sites' pages are refused on top of that.
"""

from __future__ import annotations

from urllib.parse import urlsplit

from fastapi import Request

COOKIE = "barrier_orders_key"


def from_another_site(request: Request) -> bool:
    """Whether a browser says that a page of another origin caused this request."""
    site, origin = request.headers.get("sec-fetch-site"), request.headers.get("origin")
    if site is not None:
        return site not in ("same-origin", "none")
    return origin is not None and urlsplit(origin).netloc != request.headers.get("host")
