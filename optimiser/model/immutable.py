"""What every model here is made of: it never changes, knows all of its fields, and equals itself read back."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Immutable(BaseModel):
    """A value that never changes once it is made; a change is a copy (`model_copy`).

    An unknown field is refused, so that a misspelt one is never silently ignored. Where a field is called otherwise in
    files, its alias is the contract's name and either name may be given.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)
