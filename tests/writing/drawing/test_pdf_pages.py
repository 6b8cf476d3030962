"""Tables over several pages."""

from __future__ import annotations

import io

import pypdf
import pytest

from optimiser.writing.drawing.pdf_file import Frame, pdf_of
from optimiser.writing.drawing.pdf_pages import Column, Pages


@pytest.mark.parametrize("rows", range(40, 56))
def test_a_sum_stands_on_a_page_with_a_row_that_it_sums(rows: int) -> None:
    pages = Pages("A4")
    pages.new_page("Lines")
    lines = [(f"line {number}", "1") for number in range(rows)]
    pages.table(
        [Column("what", 200), Column("number", 100)],
        [*lines, ("together", str(rows))],
        bold_rows=lambda row: row == rows,
    )
    made = pypdf.PdfReader(io.BytesIO(pdf_of(Frame("Invented", "Order 1", "", "Lines"), [pages])))
    last = made.pages[-1].extract_text()
    assert "together" in last
    assert f"line {rows - 1}" in last
    if rows == 55:
        assert len(made.pages) == 2
