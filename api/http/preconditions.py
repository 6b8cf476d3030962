"""If-Match: which versions a request says that it replaces; If-None-Match: what its sender has already."""

from __future__ import annotations

import re

from api.http.problem_details import Problem


def versions_in(if_match: str | None) -> frozenset[int] | None:
    """The versions that If-Match names; None: any ('*', RFC 9110, section 13.1.1).

    Raises Problem 428 without the header, 412 when it names no version.
    """
    if if_match is None:
        raise Problem(428, "precondition-required", "Send If-Match with the ETag of the version you replace.")
    if if_match.strip() == "*":
        return None
    versions = frozenset(int(digits) for digits in re.findall(r'(?<!W/)"(\d{1,9})"', if_match))
    if not versions:
        raise Problem(
            412,
            "precondition-failed",
            'If-Match names no version: send the ETag as it was answered, such as "3".',
        )
    return versions


def names_etag(if_none_match: str, etag: str) -> bool:
    """Whether If-None-Match names an ETag by the weak comparison; '*' names any (RFC 9110, sections 8.8.3.2 and
    13.1.2)."""
    known = re.findall(r'(?:W/)?("[^"]*")', if_none_match)
    return if_none_match.strip() == "*" or etag.removeprefix("W/") in known
