"""The version in a call's address. The bare addresses are its aliases: an answer keeps the form that was called."""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

VERSION = "/v1"
_ADDRESSES = ("Location", "Content-Location")


class VersionedAddressMiddleware:
    """Names the addresses in the headers of a versioned call's answer with the version too."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not is_versioned(scope["path"]):
            await self.app(scope, receive, send)
            return

        async def send_versioned(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name in _ADDRESSES:
                    address = headers.get(name, "")
                    if address.startswith("/") and not is_versioned(address):
                        headers[name] = VERSION + address
            await send(message)

        await self.app(scope, receive, send_versioned)


def is_versioned(path: str) -> bool:
    """Whether an address names the version."""
    return path.startswith(f"{VERSION}/")
