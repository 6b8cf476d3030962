"""One name for one quantity on pages, on paper and at the terminal: a table of terms, and the words banned for them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from api.pages.words import TABLES
from optimiser.model.products import Board, Bracket, Tape
from optimiser.tables.columns import Column
from optimiser.writing.office import workbook_order
from optimiser.writing.words import product_size

ROOT = Path(__file__).parent.parent
TEMPLATES = sorted((ROOT / "api" / "pages" / "templates").glob("*.html"))
MODULES = sorted(
    path
    for folder in (
        "optimiser/writing",
        "optimiser/tables",
        "optimiser/commands",
        "optimiser/planning",
        "api/pages",
    )
    for path in (ROOT / folder).rglob("*.py")
    if path.name != "ubl.py"  # whose names are those of the standard
)

TERMS = {
    "needed": "boards, brackets, anchors and rolls that the plan uses, counted singly",
    "allowance": "what is ordered on top of that, for breakage, loss or tolerance",
    "ordered": "what the packs hold",
    "on site": "what is delivered and not yet cut or fitted",
    "level": "a storey",
    "delivery": "what arrives together on a day",
    "left-over": "an offcut that the plan does not use",
    "remainder": "what is left of a board that a later delivery still needs",
    "scrap": "board that is neither fitted nor kept",
    "Order summary": "the page and the sheet that say what the order comes to",
    "Price per pack": "what one pack costs before price breaks",
    "Proved minimum": "what no plan can go below",
}
"""What people read, and what it means; `BANNED` are other words for the same."""

BANNED = {
    r"\bboards? to buy\b": "needed",
    r"\bspare boards?\b": "on site",
    r"\bboards? required\b": "needed",
    r"\brequired (boards?|quantity|packs)\b": "needed",
    r"\b(contingency|overage)\b": "allowance",
    r"\b(stor(e?y|eys|ies))\b": "level",
    r"\b(shipments?|consignments?)\b": "delivery",
    r"\b(leftovers?|remnants?)\b": "left-over",
    r"\bwastage\b": "scrap",
    r"\b(unit price|pack price|price a pack|price/pack|cost per pack)\b": "Price per pack",
    r"\border overview\b": "Order summary",
    r"\bqty\b": "needed",
    r"\b(theoretical|guaranteed) minimum\b": "Proved minimum",
}

HEADINGS = {
    "needed": "Needed",
    "allowance": "Allowance",
    "quantity": "Quantity",
    "per_pack": "Per pack",
    "packs": "Packs",
    "price": "Price per pack",
    "amount": "Amount",
    "lower_bound": "Proved minimum",
    "deliver_on": "Deliver on",
    "order_by": "Order by",
    "measure_by": "Measure by",
}
"""The heading of a column wherever it stands, by the column's name."""


def texts_of_template(path: Path) -> str:
    """What a page says: without tags, placeholders and comments; attributes that are read aloud stay."""
    content = path.read_text(encoding="utf-8")
    spoken = " ".join(re.findall(r'(?:aria-label|title|placeholder|alt)="([^"]*)"', content))
    content = re.sub(r"\{#.*?#\}", " ", content, flags=re.DOTALL)
    content = re.sub(r"\{%.*?%\}|\{\{.*?\}\}", " ", content, flags=re.DOTALL)
    return re.sub(r"<[^>]*>", " ", content) + " " + spoken


def texts_of_module(path: Path) -> Iterator[str]:
    """The texts of a module that someone may read: its strings but for docstrings and names in lower case."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    notes = set()
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list):
            notes |= {id(item.value) for item in body if isinstance(item, ast.Expr)}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or id(node) in notes:
            continue
        if isinstance(node.value, str) and not re.fullmatch(r"[a-z_]+", node.value):
            yield node.value


def found_in(text: str) -> list[str]:
    """The banned words of a text, each with the term that it stands for."""
    return [
        f"{match.group(0)!r}: say {term!r}"
        for pattern, term in BANNED.items()
        for match in re.finditer(pattern, text, re.IGNORECASE)
    ]


def test_a_banned_word_is_found_in_a_page_and_in_a_text() -> None:
    assert found_in("12 spare boards on this storey, unit price 3.00") == [
        "'spare boards': say 'on site'",
        "'storey': say 'level'",
        "'unit price': say 'Price per pack'",
    ]
    assert set(BANNED.values()) <= set(TERMS)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_pages_call_each_quantity_by_its_one_name(path: Path) -> None:
    assert found_in(texts_of_template(path)) == []


def test_papers_and_the_terminal_call_each_quantity_by_its_one_name() -> None:
    said = {
        str(path.relative_to(ROOT)): found
        for path in MODULES
        if (found := [words for text in texts_of_module(path) for words in found_in(text)])
    }
    assert said == {}


def test_a_column_has_one_heading_in_every_table() -> None:
    tables: dict[str, tuple[Column, ...]] = {**TABLES, "office products": workbook_order.PRODUCTS}
    for table, columns in tables.items():
        for column in columns:
            if column.name in HEADINGS:
                assert column.heading == HEADINGS[column.name], table


def test_the_order_page_and_sheet_are_called_order_summary() -> None:
    page = (ROOT / "api" / "pages" / "templates" / "order.html").read_text(encoding="utf-8")
    assert "<h1>Order summary</h1>" in page
    assert "Boards needed" in page


def test_products_are_named_with_their_size() -> None:
    board = Board(code="B-120", length_mm=1200, width_mm=1000, thickness_mm=120)
    assert product_size(board) == "1200 x 1000 x 120 mm"
    assert product_size(Bracket(code="K", length_mm=110)) == "110 mm"
    assert product_size(Tape(code="T", length_mm=50_000)) == "50 m roll"
    assert product_size(Tape(code="T", length_mm=22_500)) == "22.5 m roll"
