"""What an operator may set, read once from the environment.

`DATABASE_URL` names the database; every other setting is `BARRIER_ORDERS_` and its name in capitals. Sizes in
megabytes, times are seconds.
"""

from __future__ import annotations

import ipaddress
import math
import os
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from urllib.parse import SplitResult, urlsplit

PREFIX = "BARRIER_ORDERS_"
LOG_LEVELS = ("debug", "info", "warning", "error")


class UnusableSetting(ValueError):  # noqa: N818
    """A setting in the environment cannot be used; the message names it and the fix."""


@dataclass(frozen=True)
class Settings:
    """The service's settings. `keys_required`: whether a request needs an API key (any address but loopback
    does). `base_address`: what telephones on site reach the service by (https://orders.example), for the codes on
    labels; '': the codes hold names alone. `embedded_workers`: how many workers `serve` starts and minds itself.
    `signing_key_file` and `anchor_file`: where the key that signs issued orders, and the file that anchors them, are
    ('': beside the embedded database, or in the state folder). `verify_minutes`: how often a worker verifies every
    issued order (0: never). `trusted_proxies`: addresses and networks, divided by commas, whose forwarded headers say
    who calls; none without keys. `renderings_at_once`: documents that are made side by side (0: one more than there are
    processors); `renderings_megabytes`: what of them is kept at most for whoever asks next (0: nothing). What a
    company may have at once (0: no limit): `open_jobs`, `streams`, `storage_megabytes`. `session_hours`: how long a
    browser stays signed in at the most; `session_idle_minutes`: how long it may do nothing meanwhile (0: as long as
    it likes). `oidc_issuer`: the identity server by which people sign in to the pages (OpenID Connect);
    `oidc_company_claim` and `oidc_role_claim`: which of its claims name a person's company and role ('': the
    operator's accounts do)."""

    database_url: str = ""
    keys_required: bool = False
    base_address: str = ""
    embedded_workers: int = 1
    trusted_proxies: str = ""
    connections: int = 1000
    connections_per_address: int = 100
    header_seconds: float = 10.0
    idle_seconds: float = 30.0
    body_seconds: float = 300.0
    body_megabytes: int = 32
    pages_at_once: int = 24
    renderings_at_once: int = 0
    uploads_at_once: int = 8
    waiting_requests: int = 64
    open_jobs: int = 50
    streams: int = 100
    storage_megabytes: int = 20000
    disk_megabytes: int = 200
    renderings_megabytes: int = 500
    parse_seconds: int = 20
    parse_megabytes: int = 1024
    at_once_pieces: int = 3000
    at_once_seconds: int = 10
    at_once_processes: int = 0  # 0: as many as processors
    job_seconds: int = 900
    solver_seconds: float = 120.0  # where a request sets no limit: then the best plan so far is taken
    job_megabytes: int = 4096
    jobs_at_once: int = 2
    rate_per_minute: int = 600
    session_hours: int = 12
    session_idle_minutes: int = 120
    oidc_issuer: str = ""
    oidc_client_id: str = ""
    oidc_client_secret_file: str = ""
    oidc_scope: str = "openid email profile"
    oidc_company_claim: str = ""
    oidc_role_claim: str = ""
    heartbeat_seconds: float = 1.0
    dead_after_seconds: float = 6.0
    poll_seconds: float = 0.2
    drain_seconds: int = 30
    signing_key_file: str = ""
    anchor_file: str = ""
    verify_minutes: int = 60
    log_level: str = "info"

    @property
    def embedded(self) -> bool:
        """Whether the database is the embedded SQLite."""
        return self.database_url.startswith("sqlite")

    @property
    def processes(self) -> int:
        """How many plans are made at once while their requests wait."""
        return self.at_once_processes or len(os.sched_getaffinity(0))

    @property
    def renderings(self) -> int:
        """How many documents are made side by side: one more than there are processors, unless it is set, so that one
        company keeps every processor busy and another still finds a place."""
        return self.renderings_at_once or len(os.sched_getaffinity(0)) + 1

    @property
    def proxies(self) -> list[str]:
        """The addresses and networks whose forwarded headers are believed."""
        return [part.strip() for part in self.trusted_proxies.split(",") if part.strip()]

    @property
    def signing_key_path(self) -> Path:
        """The file of the key that signs issued orders."""
        return self._beside_database("signing-key", self.signing_key_file)

    @property
    def anchor_path(self) -> Path:
        """The file that knows every order that was issued."""
        return self._beside_database("anchor", self.anchor_file)

    def _beside_database(self, what: str, chosen: str) -> Path:
        if chosen:
            return Path(chosen).expanduser()
        if self.embedded:
            return Path(f"{sqlite_path(self.database_url)}.{what}")
        parts = urlsplit(self.database_url)
        name = f"{parts.hostname or 'local'}-{parts.port or 5432}-{parts.path.strip('/') or 'default'}"
        return state_folder(os.environ) / f"{name.replace('/', '_')}.{what}"


def sqlite_path(url: str) -> Path:
    """The file that an embedded database's URL names."""
    return Path(url.partition("://")[2].partition("?")[0].removeprefix("/"))


def state_folder(environment: Mapping[str, str]) -> Path:
    """Where the embedded database lives: the user's state folder of the XDG base directory specification."""
    base = environment.get("XDG_STATE_HOME") or str(
        Path(environment.get("HOME") or "~").expanduser() / ".local/state"
    )
    return Path(base) / "barrier-orders"


def settings_from(environment: Mapping[str, str] = os.environ) -> Settings:
    """The settings of an environment.

    Raises UnusableSetting naming the variable, its value and what is expected.
    """
    found: dict[str, object] = {}
    for field in fields(Settings):
        variable = "DATABASE_URL" if field.name == "database_url" else PREFIX + field.name.upper()
        text = environment.get(variable, "").strip()
        if text:
            found[field.name] = _value_of(variable, text, type(field.default))
    settings = replace(Settings(), **found)  # type: ignore[arg-type]
    if settings.session_hours == 0:
        raise UnusableSetting(f"{PREFIX}SESSION_HOURS is 0: give at least 1, or nobody could stay signed in")
    if settings.log_level.lower() not in LOG_LEVELS:
        raise UnusableSetting(
            f"{PREFIX}LOG_LEVEL is {settings.log_level!r}: give one of {', '.join(LOG_LEVELS)}"
        )
    _refuse_half_an_identity_server(settings)
    return replace(
        settings,
        database_url=usable_database_url(settings.database_url, environment),
        base_address=usable_base_address(settings.base_address),
        trusted_proxies=usable_proxies(settings.trusted_proxies),
    )


def _refuse_half_an_identity_server(settings: Settings) -> None:
    """Raises UnusableSetting where an identity server could not be used as it is set."""
    issuer, secret = settings.oidc_issuer, settings.oidc_client_secret_file
    if bool(issuer) != bool(settings.oidc_client_id):
        raise UnusableSetting(
            f"{PREFIX}OIDC_ISSUER and {PREFIX}OIDC_CLIENT_ID go together: give both, or none"
        )
    parts = _split(issuer)
    if issuer and not (
        parts.scheme == "https" or (parts.scheme == "http" and is_loopback(parts.hostname or ""))
    ):
        raise UnusableSetting(
            f"{PREFIX}OIDC_ISSUER is {issuer!r}: give an https address, or one of this machine to try it out"
        )
    if secret and not Path(secret).expanduser().is_file():
        raise UnusableSetting(f"{PREFIX}OIDC_CLIENT_SECRET_FILE is {secret!r}: there is no such file")


def usable_base_address(text: str) -> str:
    """The service's own address without a slash at its end. Raises UnusableSetting for what is no address of a site."""
    parts = _split(text)
    if text and (parts.scheme not in ("http", "https") or not parts.netloc or parts.query or parts.fragment):
        raise UnusableSetting(
            f"{PREFIX}BASE_ADDRESS is {text!r}: give an address such as https://orders.example"
        )
    return text.rstrip("/")


def _split(address: str) -> SplitResult:
    """The parts of an address; none where it cannot be read as one."""
    try:
        return urlsplit(address)
    except ValueError:
        return SplitResult("", "", "", "", "")


def usable_proxies(text: str) -> str:
    """Addresses and networks. Raises UnusableSetting for anything else: a name or a star would trust whoever it is."""
    for part in filter(None, (part.strip() for part in text.split(","))):
        try:
            ipaddress.ip_network(part)
        except ValueError:
            raise UnusableSetting(
                f"{PREFIX}TRUSTED_PROXIES has {part!r}: give addresses or networks such as 10.0.0.5 or 10.0.0.0/24,"
                " divided by commas"
            ) from None
    return text


def usable_database_url(url: str, environment: Mapping[str, str] = os.environ) -> str:
    """The database's URL with its driver; '' is the embedded SQLite file in the user's state folder.

    Raises UnusableSetting for any other kind of database.
    """
    if not url:
        folder = state_folder(environment)
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        return f"sqlite:///{folder / 'barrier-orders.sqlite'}"
    scheme, _, rest = url.partition("://")
    if scheme == "sqlite" and rest.startswith("/") and len(rest) > 1:
        return url
    if scheme in ("postgres", "postgresql", "postgresql+psycopg"):
        return f"postgresql+psycopg://{rest}"
    raise UnusableSetting(
        f"DATABASE_URL begins with {scheme!r}: give sqlite:///FILE (a file) or postgresql://USER@HOST/NAME"
    )


def is_loopback(host: str) -> bool:
    """Whether a bind address can be reached from this machine only."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def _value_of(variable: str, text: str, kind: type) -> object:
    if kind is bool:
        if text.lower() in ("1", "true", "yes", "on", "0", "false", "no", "off"):
            return text.lower() in ("1", "true", "yes", "on")
        raise UnusableSetting(f"{variable} is {text!r}: give true or false")
    if kind is str:
        return text
    try:
        number = kind(text)
    except ValueError as error:
        raise UnusableSetting(f"{variable} is {text!r}: give a number") from error
    if not (math.isfinite(number) and number >= 0):
        raise UnusableSetting(f"{variable} is {text!r}: give a number that is not negative")
    return number
