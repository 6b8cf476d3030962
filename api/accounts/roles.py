"""What people and keys may do: each role may do what those before it may."""

from __future__ import annotations

from typing import Literal

Role = Literal["read", "plan", "issue", "administer"]
ROLES: tuple[Role, ...] = ("read", "plan", "issue", "administer")


def allows(held: str, needed: Role) -> bool:
    """Whether a role may do what another may: administer may issue, issue may plan, plan may read."""
    return ROLES.index(held) >= ROLES.index(needed)


def role_named(text: str) -> Role | None:
    """The role of this name."""
    return next((role for role in ROLES if role == text), None)
