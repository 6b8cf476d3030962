"""What a verification of the issued orders finds: each in a plain sentence, known again by its fingerprint."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import Literal

Kind = Literal[
    "revision-altered",  # a row of an issued order was changed
    "revision-missing",  # a revision was deleted: the log of changes still shows that it, or its place, was there
    "older-backup",  # the whole database stands where it stood before a revision was issued
    "document-altered",  # the bytes of a document were changed
    "document-missing",
    "plan-altered",  # the plan that a revision was issued from reads otherwise now
    "survey-altered",
    "erasure-undone",  # a name that was erased, or an order whose retention had ended, stands there again
    "guards-dropped",  # the database no longer refuses to alter what is kept
    "not-anchored",  # a revision that this service did not issue
    "anchor-missing",
    "anchor-altered",
    "key-missing",
    "other-anchor",  # the anchor and the database do not belong together
    "database-corrupt",
]
# What is found of the anchor's files says nothing of the database: it counts where they stand and nowhere else.
OF_THE_FILES = ("anchor-missing", "anchor-altered", "key-missing", "other-anchor")
# What a project's chain of revisions no longer is: each as it was issued, and none missing.
OF_THE_CHAIN = ("revision-altered", "revision-missing", "older-backup", "not-anchored")


@dataclass(frozen=True)
class Finding:
    """One finding. `observed` is what stands there now, so that an acknowledged finding that changes is a new one."""

    kind: Kind
    says: str
    project_id: str | None = None
    revision: int | None = None
    subject: str = ""
    observed: str = ""

    @property
    def fingerprint(self) -> str:
        """What it is known again by: all of it but its words. Why a revision is missing may be seen otherwise later."""
        kind = "missing" if self.kind in ("revision-missing", "older-backup") else self.kind
        parts = [kind, self.project_id, self.revision, self.subject, self.observed]
        return hashlib.sha256(json.dumps(parts).encode()).hexdigest()[:32]


@dataclass(frozen=True)
class Verified:
    """What a verification looked at and found; `acknowledged` with who did."""

    findings: tuple[Finding, ...] = ()
    acknowledged: tuple[tuple[Finding, str], ...] = ()
    revisions: int = 0
    documents: int = 0


def findings_as_json(findings: tuple[Finding, ...]) -> str:
    """Findings as they are kept."""
    return json.dumps([asdict(one) for one in findings], ensure_ascii=False)


def findings_from_json(text: str) -> tuple[Finding, ...]:
    """Findings as they were kept."""
    return tuple(Finding(**one) for one in json.loads(text))
