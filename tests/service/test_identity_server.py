"""Signing in by an identity server: there and back with PKCE, state and nonce; only a token that is verified counts."""

from __future__ import annotations

import base64
import hmac
import json
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet, OctKey, RSAKey

from api.accounts.identity_server import Begun, begun_in, verified
from api.accounts.people import add_person
from api.accounts.service import company_named
from api.app import create_app
from api.settings import Settings, UnusableSetting, settings_from, usable_database_url
from api.storage.engine import Storage
from tests.service.conftest import DATABASES, empty_database
from tests.service.identity_server import IdentityServer, identity_server

ADDRESS = "https://orders.example"


@pytest.fixture(scope="module")
def server() -> Iterator[IdentityServer]:
    with identity_server() as found:
        yield found


@dataclass
class Signing:
    """The application with an identity server set."""

    app: Any
    settings: Settings
    storage: Storage
    server: IdentityServer

    def browser(self) -> TestClient:
        """A browser that is not signed in."""
        self.app.state.context.rates._counter.storage.reset()
        return TestClient(self.app, base_url=ADDRESS, follow_redirects=False, raise_server_exceptions=False)

    def leave(self, browser: TestClient, next: str = "/") -> str:
        """Where a browser is sent that wants to sign in at the identity server."""
        answer = browser.get("/sign-in/identity-server", params={"next": next})
        assert answer.status_code == 303, answer.text
        return answer.headers["Location"]

    def sign_in(
        self, subject: str, next: str = "/", browser: TestClient | None = None
    ) -> tuple[TestClient, Any]:
        """A browser after somebody signed in at the identity server, and the answer when it came back."""
        browser = browser or self.browser()
        back = self.server.signed_in(self.leave(browser, next), subject)
        assert back.startswith(f"{ADDRESS}/sign-in/done?")
        return browser, browser.get(back)


@pytest.fixture(scope="module", params=DATABASES)
def signing(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, server: IdentityServer
) -> Iterator[Signing]:
    folder: Path = tmp_path_factory.mktemp("identity")
    (folder / "client-secret").write_text("a secret of the tests\n")
    settings = replace(
        Settings(),
        database_url=usable_database_url(empty_database(request.param, request, f"oidc_{request.param}")),
        keys_required=True,
        rate_per_minute=0,
        base_address=ADDRESS,
        oidc_issuer=server.issuer,
        oidc_client_id="barrier-orders",
        oidc_client_secret_file=str(folder / "client-secret"),
        anchor_file=str(folder / "anchor"),
        signing_key_file=str(folder / "key"),
    )
    app = create_app(settings)
    with TestClient(app):
        yield Signing(app, settings, app.state.context.storage, server)


@pytest.fixture
def by_claims(signing: Signing) -> Signing:
    """The same with the company and the role named by claims."""
    settings = replace(signing.settings, oidc_company_claim="company", oidc_role_claim="roles")
    app = create_app(settings)
    return replace(signing, app=app, settings=settings, storage=app.state.context.storage)


def test_a_person_with_an_account_signs_in_and_has_a_session(signing: Signing, small_project: Any) -> None:
    with signing.storage.writing() as connection:
        ada = add_person(connection, "north", "Ada Example", "plan", "ada@example.com")
    signing.server.knows("subject-ada", email="Ada@example.com", email_verified=True)
    assert "Sign in at 127.0.0.1" in signing.browser().get("/sign-in").text
    browser, answer = signing.sign_in("subject-ada", "/account")
    assert answer.status_code == 200
    assert '<meta http-equiv="refresh" content="0; url=/account">' in answer.text
    cookies = answer.headers.get_list("set-cookie")
    (session,) = [one for one in cookies if one.startswith("barrier_orders_session=bs_")]
    for part in ("HttpOnly", "SameSite=strict", "Secure"):
        assert part in session
    assert "Ada Example" in browser.get("/account").text
    made = browser.post("/v1/projects", json=small_project)
    assert made.status_code == 201
    assert made.json()["created_by"] == f"Ada Example (account {ada})"
    with signing.storage.reading() as connection:
        line = connection.execute(
            sa.text(
                "SELECT * FROM audit_log WHERE operation = 'GET /sign-in/done' ORDER BY number DESC LIMIT 1"
            )
        ).one()
    assert (line.who, line.account_id, line.result) == (f"Ada Example (account {ada})", ada, "done")
    browser.post("/sign-out")
    assert browser.get("/v1/projects").status_code == 401


def test_what_the_server_is_asked_has_a_challenge_a_state_and_a_nonce_and_the_secret(
    signing: Signing,
) -> None:
    browser = signing.browser()
    first, second = (parse_qs(urlsplit(signing.leave(one)).query) for one in (browser, signing.browser()))
    assert first["response_type"] == ["code"]
    assert first["scope"] == ["openid email profile"]
    assert first["redirect_uri"] == [f"{ADDRESS}/sign-in/done"]
    assert first["code_challenge_method"] == ["S256"]
    for fresh in ("state", "nonce", "code_challenge"):
        assert len(first[fresh][0]) >= 43
        assert first[fresh] != second[fresh]
    signing.sign_in("anybody")
    asked = signing.server.asked[-1]
    assert asked["authorization"].startswith("Basic ")
    assert len(asked["code_verifier"]) >= 43
    cookie = signing.browser().get("/sign-in/identity-server").headers["Set-Cookie"]
    for part in ("HttpOnly", "SameSite=lax", "Secure", "Path=/sign-in", "Max-Age=600"):
        assert part in cookie


def test_an_account_is_found_by_its_subject_once_its_address_was_verified(signing: Signing) -> None:
    with signing.storage.writing() as connection:
        add_person(connection, "north", "Grace Example", "read", "grace@example.com")
    signing.server.knows("subject-grace", email="grace@example.com", email_verified=False)
    assert (
        signing.sign_in("subject-grace")[1].status_code == 403
    )  # anybody may say that they have this address
    signing.server.knows("subject-grace", email="grace@example.com", email_verified=True)
    assert signing.sign_in("subject-grace")[1].status_code == 200
    signing.server.knows("subject-grace", email="married@example.com", email_verified=True)
    assert signing.sign_in("subject-grace")[1].status_code == 200
    signing.server.knows("subject-other", email="grace@example.com", email_verified=True)
    refused = signing.sign_in("subject-other")[1]
    assert refused.status_code == 403
    assert "known by another subject already" in refused.text


def test_whoever_has_no_account_is_told_who_makes_one(signing: Signing) -> None:
    signing.server.knows("subject-stranger", email="stranger@example.com", email_verified=True)
    browser, refused = signing.sign_in("subject-stranger")
    assert refused.status_code == 403
    assert "nobody has made an account for it" in refused.text
    assert browser.get("/v1/projects").status_code == 401


def test_claims_name_the_company_and_the_role(by_claims: Signing) -> None:
    with by_claims.storage.writing() as connection:
        company_named(connection, "west")
    by_claims.server.knows(
        "subject-joan", name="Joan Example", company="west", roles=["staff", "plan", "read"]
    )
    browser, answer = by_claims.sign_in("subject-joan")
    assert answer.status_code == 200, answer.text
    assert "The role is <strong>plan</strong>" in browser.get("/account").text
    by_claims.server.knows("subject-joan", name="Joan Example", company="west", roles="administer")
    again, _ = by_claims.sign_in("subject-joan")
    assert again.get("/v1/audit-log").status_code == 200
    assert (
        browser.get("/v1/audit-log").status_code == 200
    )  # the role is the account's, wherever it is signed in
    for claims, why in (
        ({"company": "west", "roles": ["staff"]}, "names none of the roles"),
        ({"company": "west"}, "names none of the roles"),
        ({"company": "nowhere", "roles": "read"}, "names no company that is kept here"),
        ({"roles": "read"}, "names no company"),
        ({"company": "north", "roles": "read"}, "another company"),
    ):
        with by_claims.storage.writing() as connection:
            company_named(connection, "north")
        by_claims.server.knows("subject-joan", **claims)
        refused = by_claims.sign_in("subject-joan")[1]
        assert refused.status_code == 403, claims
        assert why in refused.text


@pytest.mark.parametrize(
    "meddle", ["state", "no-cookie", "other-browser", "issuer", "denied", "code", "verifier"]
)
def test_an_answer_that_was_meddled_with_signs_nobody_in(signing: Signing, meddle: str) -> None:
    with signing.storage.writing() as connection:
        email = f"{meddle}@example.com"
        add_person(connection, "north", "Meddled With", "plan", email)
    signing.server.knows(meddle, email=email, email_verified=True)
    browser = signing.browser()
    back = signing.server.signed_in(signing.leave(browser), meddle)
    if meddle == "state":
        back = back.replace("state=", "state=x")
    elif meddle == "no-cookie":
        browser.cookies.clear()
    elif meddle == "other-browser":
        browser = signing.browser()
        signing.leave(browser)
    elif meddle == "issuer":
        back += "&iss=https://elsewhere.example"
    elif meddle == "denied":
        back = (
            f"{ADDRESS}/sign-in/done?error=access_denied&state={parse_qs(urlsplit(back).query)['state'][0]}"
        )
    elif meddle == "code":
        back = back.replace("code=", "code=x")
    else:
        kept = begun_in(browser.cookies["barrier_orders_sign_in"])
        assert kept is not None
        browser.cookies.clear()
        browser.cookies.set("barrier_orders_sign_in", replace(kept, verifier="x" * 64).as_cookie())
    answer = browser.get(back)
    assert answer.status_code == 401
    assert "barrier_orders_session=bs_" not in str(answer.headers)
    assert browser.get("/v1/projects").status_code == 401


def test_a_code_is_good_once(signing: Signing) -> None:
    with signing.storage.writing() as connection:
        add_person(connection, "north", "Twice Example", "read", "twice@example.com")
    signing.server.knows("subject-twice", email="twice@example.com", email_verified=True)
    browser = signing.browser()
    back = signing.server.signed_in(signing.leave(browser), "subject-twice")
    kept = browser.cookies["barrier_orders_sign_in"]
    assert browser.get(back).status_code == 200
    assert browser.cookies.get("barrier_orders_sign_in") is None
    again = signing.browser()
    again.cookies.set("barrier_orders_sign_in", kept)
    assert again.get(back).status_code == 401


@pytest.mark.parametrize("next", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere"])
def test_coming_back_leads_nowhere_else(signing: Signing, next: str) -> None:
    browser = signing.browser()
    signing.leave(browser, next)
    kept = begun_in(browser.cookies["barrier_orders_sign_in"])
    assert kept is not None
    assert kept.next == "/"


def test_an_identity_server_that_does_not_answer_is_said(signing: Signing) -> None:
    app = create_app(replace(signing.settings, oidc_issuer="http://127.0.0.1:1"))
    browser = TestClient(app, base_url=ADDRESS, follow_redirects=False)
    answer = browser.get("/sign-in/identity-server")
    assert answer.status_code == 503
    assert "does not answer as it should" in answer.text
    assert "API key" in answer.text  # which still lets in


# What an id_token must have


SETTINGS = replace(Settings(), oidc_issuer="https://id.example", oidc_client_id="barrier-orders")
KEY = RSAKey.generate_key(2048, {"kid": "one"})
KEYS = KeySet([RSAKey.import_key(KEY.as_dict(private=False))])


def _claims(**changes: Any) -> dict[str, Any]:
    now = int(time.time())
    good = {
        "iss": "https://id.example",
        "aud": "barrier-orders",
        "sub": "ada",
        "exp": now + 300,
        "iat": now,
        "nonce": "n",
    }
    return {name: value for name, value in {**good, **changes}.items() if value is not None}


def _token(key: Any = KEY, alg: str = "RS256", **changes: Any) -> str:
    return jwt.encode({"alg": alg, "kid": "one"}, _claims(**changes), key, algorithms=[alg])


def test_a_token_that_is_right_is_taken() -> None:
    assert verified(_token(), KEYS, SETTINGS, "n")["sub"] == "ada"
    both = _token(aud=["barrier-orders", "another"], azp="barrier-orders")
    assert verified(both, KEYS, SETTINGS, "n")["sub"] == "ada"
    assert verified(_token(exp=int(time.time()) - 30), KEYS, SETTINGS, "n")["sub"] == "ada"  # clocks differ


@pytest.mark.parametrize(
    "changes",
    [
        {"iss": "https://elsewhere.example"},
        {"iss": None},
        {"aud": "another"},
        {"aud": None},
        {"aud": ["barrier-orders", "another"]},
        {"aud": ["barrier-orders", "another"], "azp": "another"},
        {"azp": "another"},
        {"exp": 1_600_000_000},
        {"exp": None},
        {"iat": None},
        {"nonce": "another"},
        {"nonce": None},
        {"sub": None},
        {"sub": "x" * 256},
        {"sub": 7},
    ],
    ids=str,
)
def test_a_token_with_a_claim_that_is_not_right_is_refused(changes: dict[str, Any]) -> None:
    with pytest.raises(JoseError):
        verified(_token(**changes), KEYS, SETTINGS, "n")


def test_a_token_that_is_not_signed_by_a_key_of_the_servers_is_refused() -> None:
    other = RSAKey.generate_key(2048, {"kid": "one"})
    with pytest.raises(JoseError):
        verified(_token(other), KEYS, SETTINGS, "n")
    head, _, signature = _token().split(".")
    for wrong in (
        f"{head}.{_token(sub='eve').split('.')[1]}.{signature}",
        jwt.encode({"alg": "none"}, _claims(), OctKey.generate_key(), algorithms=["none"]),
        # the server's public key taken for a shared secret (RFC 8725, 2.1)
        _signed_with_the_public_key_as_a_secret(),
        "nonsense",
        "",
    ):
        with pytest.raises((JoseError, ValueError)):
            verified(wrong, KEYS, SETTINGS, "n")


def _signed_with_the_public_key_as_a_secret() -> str:
    """By hand, since a well-kept library refuses to."""
    parts = [{"alg": "HS256", "kid": "one"}, _claims()]
    signed = b".".join(base64.urlsafe_b64encode(json.dumps(part).encode()).rstrip(b"=") for part in parts)
    signature = hmac.digest(KEY.as_pem(private=False), signed, "sha256")
    return (signed + b"." + base64.urlsafe_b64encode(signature).rstrip(b"=")).decode()


def test_a_cookie_that_holds_no_sign_in_begins_none() -> None:
    begun = Begun("state", "nonce", "verifier", "/")
    assert begun_in(begun.as_cookie()) == begun
    for wrong in (
        "",
        "nonsense",
        "e30=",
        "bnVsbA==",
        begun.as_cookie()[:-8],
        replace(begun, state="").as_cookie(),
    ):
        assert begun_in(wrong) is None


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"OIDC_CLIENT_ID": ""}, "go together"),
        ({"OIDC_ISSUER": ""}, "go together"),
        ({"OIDC_ISSUER": "http://id.example"}, "give an https address"),
        ({"OIDC_CLIENT_SECRET_FILE": "/nowhere/secret"}, "there is no such file"),
    ],
)
def test_half_an_identity_server_is_an_unusable_setting(changed: dict[str, str], says: str) -> None:
    given = {"OIDC_ISSUER": "https://id.example", "OIDC_CLIENT_ID": "barrier-orders", **changed}
    environment = {f"BARRIER_ORDERS_{name}": value for name, value in given.items()}
    with pytest.raises(UnusableSetting, match=says):
        settings_from({"DATABASE_URL": "sqlite:////tmp/none.sqlite", **environment})
