"""Names of people, keys and companies, and e-mail addresses: what is taken, so that they fit where they are shown."""

from __future__ import annotations

LONGEST = {"name": 80, "company": 120, "e-mail address": 254}  # 254: RFC 5321 less its brackets


class UnusableName(ValueError):  # noqa: N818 (the input's fault)
    """A name cannot be taken; the message says why and what can."""


def usable_name(text: str, what: str = "name") -> str:
    """The name without spaces around it. Raises UnusableName where it is empty, too long, or has characters that are no
    letters, digits, signs or spaces (line ends, NUL, directions of writing)."""
    name, most = text.strip(), LONGEST[what]
    if not name:
        raise UnusableName(f"The {what} is empty: give one of 1 to {most} characters.")
    if len(name) > most:
        raise UnusableName(f"The {what} has {len(name)} characters: give one of at most {most}.")
    if not name.isprintable():
        wrong = next(letter for letter in name if not letter.isprintable())
        raise UnusableName(
            f"The {what} has the character U+{ord(wrong):04X}, which cannot be printed: leave it out."
        )
    return name


def usable_email(text: str) -> str:
    """An e-mail address as it is compared: in small letters. Raises UnusableName where it is none."""
    address = usable_name(text, "e-mail address").casefold()
    local, at, domain = address.rpartition("@")
    if not (local and at and domain) or " " in address:
        raise UnusableName(f"{address!r} is no e-mail address: give one such as ada@example.com.")
    return address
