"""`python -m api.accounts`: an operator's people, API keys and sessions, in the database that DATABASE_URL names."""

from __future__ import annotations

import argparse
import sys

from api.accounts import operating
from api.accounts.names import UnusableName
from api.accounts.roles import ROLES
from api.settings import UnusableSetting, settings_from
from api.storage.engine import Storage
from api.storage.trouble import UnusableDatabase

_ROLE = "each may do what those before it may"
_UNTIL = "a day or a moment (ISO 8601, UTC), or a number of days from now such as 90d; 'never' where it may"


def main(arguments: list[str] | None = None) -> int:
    """Does what is asked: 0 done, 1 there is no such thing or the database cannot be used, 2 unusable input."""
    options = _parser().parse_args(arguments)
    try:
        storage = Storage(settings_from().database_url)
        storage.upgrade()
    except UnusableSetting as error:
        print(error, file=sys.stderr)
        return 2
    except UnusableDatabase as error:
        print(error, file=sys.stderr)
        return 1
    try:
        if options.command == "log":
            for part in operating.export_log(storage, options):
                sys.stdout.write(part)
            return 0
        with storage.writing() as connection:
            for line in options.act(connection, options):
                print(line)
    except operating.NotThere as error:
        print(error, file=sys.stderr)
        return 1
    except UnusableName as error:
        print(error, file=sys.stderr)
        return 2
    finally:
        storage.close()
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m api.accounts", description="People, API keys and sessions of the service."
    )
    commands = parser.add_subparsers(dest="command", required=True)
    _add_keys(commands)
    _add_people(commands)
    _add_log(commands)
    return parser


def _add_keys(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    add = commands.add_parser("add", help="make a key and print it: this once, only its hash is kept")
    add.set_defaults(act=operating.add)
    add.add_argument("company", help="whose rows the key sees; made when it is new")
    add.add_argument("name", help="what uses it, at most 80 characters: written beside every change")
    add.add_argument("--role", choices=ROLES, default="plan", help=_ROLE)
    add.add_argument("--person", help="whose it is: an account's id or e-mail address")
    add.add_argument("--expires", help=_UNTIL)
    listing = commands.add_parser("list", help="every key without its secret")
    listing.set_defaults(act=operating.list_keys)
    expire = commands.add_parser("expire", help="say when a key expires")
    expire.set_defaults(act=operating.expire)
    expire.add_argument("key", help="the key or its id")
    expire.add_argument("at", help=_UNTIL)
    rotate = commands.add_parser("rotate", help="give a key a new secret and print it: this once")
    rotate.set_defaults(act=operating.rotate)
    rotate.add_argument("key", help="the key or its id")
    rotate.add_argument("--old-until", default="1d", help=f"the secret before is good until {_UNTIL} (1d)")
    revoke = commands.add_parser("revoke", help="end a key at once")
    revoke.set_defaults(act=operating.revoke)
    revoke.add_argument("key", help="the key or its id")


def _add_log(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    log = commands.add_parser("log", help="who did what from where and when: the log, to standard output")
    log.add_argument("--form", choices=("csv", "jsonl"), default="csv", help="csv, or a JSON object a line")
    log.add_argument("--company", help="a company's lines alone; else the whole service's")
    log.add_argument("--since", help="no lines before this day or moment (ISO 8601, UTC)")


def _add_people(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    people = commands.add_parser("people", help="every account")
    people.set_defaults(act=operating.list_people)
    add = commands.add_parser("add-person", help="make an account and print its id")
    add.set_defaults(act=operating.add_person)
    add.add_argument("company", help="whose rows the person sees; made when it is new")
    add.add_argument("name", help="the person's, at most 80 characters: written beside every change")
    add.add_argument("--role", choices=ROLES, default="plan", help=_ROLE)
    add.add_argument("--email", help="by which an identity server's sign-in finds the account")
    change = commands.add_parser("change-person", help="give a person another role")
    change.set_defaults(act=operating.change_person)
    change.add_argument("person", help="the account's id or e-mail address")
    change.add_argument("--role", choices=ROLES, required=True, help=_ROLE)
    end = commands.add_parser("end-person", help="end an account at once, with its keys")
    end.set_defaults(act=operating.end_person)
    end.add_argument("person", help="the account's id or e-mail address")
    sessions = commands.add_parser("sessions", help="every browser that is signed in")
    sessions.set_defaults(act=operating.list_sessions)
    end = commands.add_parser("end-sessions", help="sign browsers out at once")
    end.set_defaults(act=operating.end_sessions)
    whose = end.add_mutually_exclusive_group(required=True)
    whose.add_argument("--session", help="one, by its id")
    whose.add_argument("--person", help="a person's: the account's id or e-mail address")
    whose.add_argument("--key", help="a key's: the key or its id")
    whose.add_argument("--all", action="store_true", help="everybody's")


if __name__ == "__main__":
    sys.exit(main())
