"""The report of an inspection: what is not covered is said first, nothing is judged, equal input gives equal bytes."""

from __future__ import annotations

import csv
import io
import re

from PIL import Image
from pypdf import PdfReader

from optimiser.takeoff.inspection import PhotographOf, inspection
from optimiser.writing.office.inspection_report import inspection_csv, inspection_pdf
from tests.takeoff.test_inspection import first_two, loop, record

FIRST, SECOND = first_two()
TOLD = record(
    {"event": "fitted", "piece": FIRST},
    {"event": "inspected", "piece": FIRST, "note": "joint at its end: =tape lifts", "by": "inspector"},
)
SHOT = (PhotographOf("p1", FIRST, "joint"),)


def text_of(pdf: bytes) -> str:
    words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return re.sub(r"\s+", " ", words)


def test_the_csv_has_a_row_a_part_and_leaves_empty_what_nobody_said() -> None:
    levels = inspection(loop(), TOLD, SHOT)
    rows = list(csv.DictReader(io.StringIO(inspection_csv(levels))))
    assert len(rows) == sum(len(level.parts) for level in levels)
    joint = next(row for row in rows if (row["piece"], row["part"]) == (FIRST, "joint at its end"))
    assert (joint["fitted_by"], joint["seen_by"], joint["photographs"]) == ("crew 2", "inspector", "p1")
    assert joint["remark"] == "'=tape lifts"  # no spreadsheet takes it for a formula
    other = next(row for row in rows if row["piece"] == SECOND)
    assert (other["fitted_by"], other["seen_by"], other["open"]) == ("", "", "fitted, seen")


def test_the_pdf_says_first_what_is_not_covered_and_judges_nothing() -> None:
    levels = inspection(loop(), TOLD, SHOT)
    text = text_of(inspection_pdf(loop(), levels, "2027-03-02"))
    open_parts, parts = len(levels[0].not_covered), len(levels[0].parts)
    assert f"Not yet covered: {open_parts} of {parts} joints and brackets" in text
    assert "does not judge the seal" in text
    assert "licensed practitioner" in text
    assert "tape lifts" in text
    assert "fall protection" in text
    for word in ("complies", "compliant", "approved.", "passed"):
        assert word not in text.lower()


def test_equal_input_gives_equal_bytes_on_both_papers() -> None:
    levels = inspection(loop(), TOLD, SHOT)
    for paper in ("A4", "Letter"):
        first = inspection_pdf(loop(), levels, "2027-03-02", paper)
        assert first == inspection_pdf(loop(), levels, "2027-03-02", paper)


def test_a_level_that_is_wholly_seen_says_so() -> None:
    told = record({"event": "fitted", "level": "L1"}, {"event": "inspected", "level": "L1"})
    text = text_of(inspection_pdf(loop(), inspection(loop(), told), "2027-03-02"))
    assert "Every joint and bracket of this level is on record as fitted and as seen by somebody" in text
    assert "with its level" in text


def jpeg(width: int, height: int) -> bytes:
    """A grey picture."""
    file = io.BytesIO()
    Image.new("RGB", (width, height), (128, 128, 128)).save(file, "JPEG")
    return file.getvalue()


def test_photographs_are_shown_under_the_part_that_they_are_of_and_unreadable_ones_are_told() -> None:
    shots = (*SHOT, PhotographOf("p2", SECOND, "joint"), PhotographOf("p3", SECOND, "joint"))
    levels = inspection(loop(), TOLD, shots)
    pictures = {"p1": jpeg(64, 48), "p2": jpeg(48, 64)[:200]}
    pdf = inspection_pdf(loop(), levels, "2027-03-02", pictures=pictures)
    images = [image for page in PdfReader(io.BytesIO(pdf)).pages for image in page.images]
    assert [image.image.size for image in images if image.image] == [(64, 48)]
    text = text_of(pdf)
    assert f"{FIRST}, joint at its end (p1)" in text
    assert "This picture cannot be read." in text
    assert "1 more is not shown here" in text
    assert pdf == inspection_pdf(loop(), levels, "2027-03-02", pictures=pictures)
