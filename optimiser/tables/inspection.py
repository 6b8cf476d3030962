"""What was seen of each joint and bracket, a row each."""

from __future__ import annotations

from typing import Any

from optimiser.tables.columns import Column


def _said(which: str, what: str) -> Any:
    def value(part: Any) -> Any:
        said = getattr(part, which)
        found = None if said is None else getattr(said, what)
        return f"{found:%Y-%m-%d %H:%M}" if what == "at" and found is not None else found

    return value


INSPECTION = (
    Column("level", "Level"),
    Column("run", "Run"),
    Column("piece", "Piece", width=16),
    Column("part", "Joint or bracket", width=16, value=lambda part: part.name),
    Column("at_mm", "From run's start", "mm", unit="mm"),
    Column("meets", "Meets, or size", what="the piece or run at the joint's other side; the bracket's code"),
    Column("fitted_by", "Fitted by", value=_said("fitted", "by")),
    Column("fitted_at", "Fitted at", width=16, value=_said("fitted", "at")),
    Column("seen_by", "Seen by", value=_said("seen", "by")),
    Column("seen_at", "Seen at", width=16, value=_said("seen", "at")),
    Column("seen_how", "Seen", what="itself, with its piece, or with its level", value=_said("seen", "how")),
    Column("remark", "Remark", "long text", width=40, value=_said("seen", "remark")),
    Column("photographs", "Photographs", "texts", width=20),
    Column("open", "Not on record yet", "texts", width=16, what="fitted, seen"),
)
