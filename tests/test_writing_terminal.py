"""The summary on the terminal: the proof in words, every warning, and nothing a name could break."""

from __future__ import annotations

import dataclasses
import io
from pathlib import Path

import pytest
from rich.console import Console

from optimiser.comparison import compare
from optimiser.plan import NotPlanned
from optimiser.writing import gap_table
from optimiser.writing.terminal import MOST_PLACES, progress_bar, show_plan
from optimiser.writing.words import grouped_money, place_in_words, proofs_in_words, waste_in_words
from tests.small_plan import small_plan, small_project


def place(number: int) -> NotPlanned:
    return NotPlanned(
        run=f"R-{number}",
        level="L02",
        from_mm=0,
        to_mm=500,
        what="piece",
        reason="the gap is 900 mm.",
        mend="measure it again",
    )


def test_the_proof_is_stated_in_words() -> None:
    plan = small_plan()
    assert proofs_in_words(plan) == ("1 board of B-120; no cutting of these pieces can use fewer: proved.",)
    (proof,) = plan.proofs
    open_ended = proof.model_copy(update={"boards": 212, "lower_bound": 211, "optimal": False})
    assert proofs_in_words(plan.model_copy(update={"proofs": (open_ended,)})) == (
        "212 boards of B-120; no cutting of these pieces can use fewer than 211.",
    )


def test_amounts_have_the_places_of_their_currency() -> None:
    assert grouped_money(12_345_600, "AUD") == "AUD 123,456.00"
    assert grouped_money(12_345_600, "JPY") == "JPY 123,456"
    assert grouped_money(12_345_650, "JPY") == "JPY 123,456.50"  # nothing is rounded away
    assert grouped_money(12_345_600, "KWD") == "KWD 123,456.00"


def test_the_proof_of_several_boards_is_about_cost() -> None:
    plan = small_plan()
    (proof,) = plan.proofs
    both = proof.model_copy(
        update={"codes": ("B-120", "B-90"), "cost_cents": 1_234_500, "lower_bound_cents": 1_200_000}
    )
    boards = {"B-120": plan.boards["B-120"], "B-90": plan.boards["B-120"]}
    assert proofs_in_words(plan.model_copy(update={"proofs": (both,), "boards": boards})) == (
        "1 board (1 of B-120, 1 of B-90) for AUD 12,345.00 before packs are rounded up;"
        " no cutting of these pieces can cost less than AUD 12,000.00.",
    )


def test_waste_and_places_read_as_sentences() -> None:
    assert waste_in_words(small_plan()) == (
        "1.20 m2 bought: 0.79 m2 fitted, 0.41 m2 left over in reusable sizes, 0.00 m2 scrap (0.0%)."
    )
    assert place_in_words(place(1)) == "level L02, run R-1, 0 to 500 mm: the gap is 900 mm; measure it again"
    assert grouped_money(123_456_789, "AUD") == "AUD 1,234,567.89"


def test_the_summary_shows_what_matters(capsys: pytest.CaptureFixture[str]) -> None:
    show_plan(small_plan(not_planned=(place(1),)), Path("out"))
    shown = " ".join(capsys.readouterr().out.split())
    for words in (
        "Example House (invented) - PO-17",
        "4 pieces on 2 levels",
        "no cutting of these pieces can use fewer: proved.",
        "L01 2027-02-22 2027-02-01",
        "Total AUD 313.60",
        "NOT PLANNED: 1",
        "the gap is 900 mm; measure it again",
        "Placeholders",
        "fall protection",
        "out/cutting-sheets.pdf",
    ):
        assert words in shown


def test_long_lists_of_places_end_in_a_count(capsys: pytest.CaptureFixture[str]) -> None:
    show_plan(small_plan(not_planned=tuple(place(n) for n in range(MOST_PLACES + 5))), None)
    shown = capsys.readouterr().out
    assert f"NOT PLANNED: {MOST_PLACES + 5}" in shown
    assert "and 5 more" in shown


def test_names_can_neither_style_nor_move_the_cursor(capsys: pytest.CaptureFixture[str]) -> None:
    show_plan(small_plan(small_project("[red]House[/red] \x1b[2J :smile:")), None)
    shown = capsys.readouterr().out
    assert "[red]House[/red]" in shown
    assert ":smile:" in shown
    assert "\x1b" not in shown


def test_there_is_no_progress_bar_without_a_terminal() -> None:
    with progress_bar() as progress:
        assert progress is None


def test_the_table_of_gaps_is_whole_on_eighty_columns() -> None:
    text = io.StringIO()
    found = compare(small_project(), from_mm=148, to_mm=152)
    large = [
        dataclasses.replace(option, cost_cents=23_456_700, boards=2_345, joints=12_345)
        for option in found.options
    ]
    Console(file=text, width=80).print(gap_table.options_table("Options", large, "AUD"))
    assert "…" not in text.getvalue()
    assert "234,567.00" in text.getvalue()
