"""The two faces that print is set in, and text in the letters that they have."""

from __future__ import annotations

import unicodedata
from functools import cache

from optimiser.writing.drawing.shapes import without_control_characters

PLAIN, BOLD = "Vera", "VeraBd"


@cache
def register_faces() -> frozenset[int]:
    """Registers the two faces with reportlab, once, and tells which code points both can draw."""
    from reportlab import rl_config
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    rl_config.useA85 = 0  # binary streams: a fifth smaller, and much of the writing time was the encoding
    drawn: set[int] | None = None
    for name in (PLAIN, BOLD):
        face = TTFont(name, f"{name}.ttf")
        pdfmetrics.registerFont(face)
        letters = set(face.face.charToGlyph)
        drawn = letters if drawn is None else drawn & letters
    return frozenset(drawn or ())


def printable(text: str) -> str:
    """The text in letters that the print's faces can draw.

    A letter with an accent that they lack stands without it; any other shows its Unicode number, <4EAC>.
    """
    text = without_control_characters(text)
    if text.isascii():
        return text
    drawn = register_faces()
    out = []
    for letter in text:
        if ord(letter) in drawn:
            out.append(letter)
            continue
        plain = "".join(
            part for part in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(part)
        )
        out.append(plain if plain and all(ord(part) in drawn for part in plain) else f"<{ord(letter):04X}>")
    return "".join(out)
