"""`python -m api.accounts add|list|revoke`: an operator's API keys, in the database that DATABASE_URL names."""

from __future__ import annotations

import argparse
import sys

from api.accounts.keys import ROLES
from api.accounts.repository import all_keys, revoke_key
from api.accounts.service import add_key
from api.settings import UnusableSetting, settings_from
from api.storage.engine import Storage
from api.storage.trouble import UnusableDatabase


def main(arguments: list[str] | None = None) -> int:
    """Does what is asked: 0 done, 1 no such key, 2 unusable input."""
    parser = argparse.ArgumentParser(prog="python -m api.accounts", description="API keys of the service.")
    commands = parser.add_subparsers(dest="command", required=True)
    add = commands.add_parser("add", help="make a key and print it: this once, only its hash is kept")
    add.add_argument("company", help="whose rows the key sees; made when it is new")
    add.add_argument("name", help="who or what uses it: written beside every change")
    add.add_argument("--role", choices=ROLES, default="plan", help="each may do what those before it may")
    commands.add_parser("list", help="every key without its secret")
    revoke = commands.add_parser("revoke", help="end a key")
    revoke.add_argument("key", help="the key or its id")
    options = parser.parse_args(arguments)
    try:
        storage = Storage(settings_from().database_url)
        storage.upgrade()
    except UnusableSetting as error:
        print(error, file=sys.stderr)
        return 2
    except UnusableDatabase as error:
        print(error, file=sys.stderr)
        return 1
    with storage.writing() as connection:
        if options.command == "add":
            print(add_key(connection, options.company, options.name, options.role))
        elif options.command == "list":
            for company, key_id, name, role, made, ended in all_keys(connection):
                print(
                    f"{key_id}  {role:5}  {company}: {name}  made {made}"
                    + (f", ended {ended}" if ended else "")
                )
        else:
            key_id = options.key.removeprefix("bo_").partition("_")[0]
            if not revoke_key(connection, key_id):
                print(f"there is no key {key_id} that could be ended; see `list`", file=sys.stderr)
                return 1
    storage.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
