"""The log as files: csv (RFC 4180) and JSON lines (a JSON object a line)."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from typing import Any, Literal

from optimiser.tables.text import as_text

Form = Literal["csv", "jsonl"]
MEDIA_TYPES: dict[Form, str] = {"csv": "text/csv; charset=utf-8", "jsonl": "application/jsonl"}
COLUMNS = (
    "number",
    "at",
    "company",
    "who",
    "operation",
    "subject",
    "result",
    "status",
    "address",
    "account_id",
    "key_id",
    "session_id",
    "request_id",
)


def exported(rows: Iterable[Any], form: Form) -> Iterator[str]:
    """The lines of the log as a file, piece by piece. In csv no text begins as a spreadsheet's formula does."""
    if form == "jsonl":
        for row in rows:
            yield json.dumps({name: getattr(row, name) for name in COLUMNS}, ensure_ascii=False) + "\n"
        return
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([_cell(getattr(row, name)) for name in COLUMNS])
        if text.tell() > 1 << 16:
            yield text.getvalue()
            text.seek(0)
            text.truncate()
    yield text.getvalue()


def _cell(value: Any) -> Any:
    return "" if value is None else as_text(value) if isinstance(value, str) else value
