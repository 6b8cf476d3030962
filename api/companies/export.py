"""Everything that is kept of a company, in one file for it to take away.

A zip archive: a table's rows as JSON lines under `tables/`, and what is a document or a photograph as a file of its
own, under the path that the row names; `manifest.json` says what each table holds and the SHA-256 of every member.
Secrets are left out, and so is what is made again of what is here.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from api import clock
from api.backup.archive import whole_private_file
from api.companies.holdings import SECRETS, find_company, rows_of, tables_to_hand_over
from api.orders.anchoring import software
from api.storage.engine import Storage
from api.storage.tables import restored

_ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}


def export(storage: Storage, company: str, path: Path) -> dict[str, int]:
    """Writes a company's data, as it stands at one moment, into a new file that its owner alone reads: by table, how
    many rows. Raises UnknownCompany, FileExistsError."""
    with (
        storage.snapshot() as connection,
        whole_private_file(path) as file,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        company_id = find_company(connection, company)
        members: dict[str, str] = {}
        counts = {}
        for table in tables_to_hand_over():
            rows = connection.execute(_ordered(table, company_id)).mappings()
            lines = [_line(table.name, dict(row), archive, members) for row in rows]
            counts[table.name] = len(lines)
            _add(archive, members, f"tables/{table.name}.jsonl", b"".join(lines))
        manifest = {
            "format": "barrier-orders company 1",
            "company": company,
            "made_at": clock.now(),
            "software": software(),
            "rows": counts,
            "sha256": members,
        }
        archive.writestr("manifest.json", json.dumps(manifest, indent=1, ensure_ascii=False))
    return counts


def _ordered(table: sa.Table, company_id: str) -> sa.Select[tuple[object, ...]]:
    columns = [column for column in table.c if column.name not in SECRETS.get(table.name, ())]
    return sa.select(*columns).where(rows_of(table, company_id)).order_by(*table.primary_key.columns)


def _line(table: str, row: Mapping[str, Any], archive: zipfile.ZipFile, members: dict[str, str]) -> bytes:
    """A row as a line of JSON; what is binary goes into a file of its own, unpacked, which the line names."""
    written = {}
    for column, value in row.items():
        if isinstance(value, bytes | memoryview):
            content = _unpacked(bytes(value))
            value = {"file": _place_of(table, row)}
            _add(archive, members, value["file"], content)
        written[column] = value
    return json.dumps(written, ensure_ascii=False).encode() + b"\n"


def _place_of(table: str, row: Mapping[str, Any]) -> str:
    """Where a row's document stands in the archive, named so that a person finds it."""
    project = f"projects/{row.get('project_id')}"
    match table:
        case "issued_documents":
            return f"{project}/orders/{row['revision']}/{row['name']}"
        case "issued_orders":
            return f"{project}/orders/{row['revision']}/issued-order.json"
        case "project_versions":
            return f"{project}/surveys/{row['version']}.json"
        case "photographs":
            return f"{project}/photographs/{row['photograph_id']}.{_ENDINGS.get(row['media_type'], 'bin')}"
        case "job_results":
            return f"results/{row['job_id']}.json"
    key = "-".join(str(value) for value in row.values() if isinstance(value, str | int))[:80]
    return f"{table}/{key}"


def _unpacked(kept: bytes) -> bytes:
    """What was compressed as it was before; a photograph as it is."""
    try:
        return restored(kept)
    except zlib.error:
        return kept


def _add(archive: zipfile.ZipFile, members: dict[str, str], name: str, content: bytes) -> None:
    archive.writestr(name, content)
    members[name] = hashlib.sha256(content).hexdigest()
