"""The summary on the terminal: the proof in words, every warning, and nothing a name could break."""

from __future__ import annotations

import io
from decimal import Decimal
from pathlib import Path

import pytest
from rich.console import Console

from optimiser.model.planned_pieces import MovedBracket, NotPlanned
from optimiser.studies.comparison import compare
from optimiser.writing.terminal import gap_table
from optimiser.writing.terminal.summary import (
    MOST_GROUPS,
    MOST_MOVED,
    MOST_PLACES,
    deliveries_table,
    progress_bar,
    show_plan,
)
from optimiser.writing.words import (
    bracket_choices_in_words,
    forecast_in_words,
    grouped_money,
    place_in_words,
    proofs_in_words,
    waste_in_words,
)
from tests.builders import plans_by_hand
from tests.builders.small_plan import small_plan, small_project


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
    anyhow = open_ended.model_copy(update={"lower_bound_any_joints": 209})
    (words,) = proofs_in_words(plan.model_copy(update={"proofs": (anyhow,)}))
    assert words.endswith(" With any joints as few as these, none can use fewer than 209: proved.")
    least = open_ended.model_copy(update={"lower_bound": 212, "lower_bound_any_joints": 212})
    (words,) = proofs_in_words(plan.model_copy(update={"proofs": (least,)}))
    assert words.endswith(
        "can use fewer: proved. With any joints as few as these, none can use fewer: proved."
    )
    boards = plan.boards["B-120"]
    dear = boards.model_copy(update={"packs": 2, "lower_bound_packs": 1})
    assert proofs_in_words(plan.model_copy(update={"proofs": (open_ended,), "boards": {"B-120": dear}})) == (
        "212 boards of B-120; no cutting of these pieces can use fewer than 211.",
    )
    paid = boards.model_copy(update={"packs": 1, "lower_bound_packs": 1})
    (words,) = proofs_in_words(plan.model_copy(update={"proofs": (open_ended,), "boards": {"B-120": paid}}))
    assert words.startswith(
        "212 boards of B-120 in 1 pack; no cutting of these pieces can do with fewer packs: proved."
    )


def test_amounts_have_the_places_of_their_currency() -> None:
    assert grouped_money(Decimal("123456.00"), "AUD") == "AUD 123,456.00"
    assert grouped_money(Decimal("123456.00"), "JPY") == "JPY 123,456"
    assert grouped_money(Decimal("123456.50"), "JPY") == "JPY 123,456.50"  # nothing is rounded away
    assert grouped_money(Decimal("123456.00"), "KWD") == "KWD 123,456.00"


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


def test_the_proof_over_all_joints_of_several_boards_is_about_cost() -> None:
    plan = small_plan()
    (proof,) = plan.proofs
    both = proof.model_copy(
        update={
            "codes": ("B-120", "B-90"),
            "cost_cents": 1_234_500,
            "lower_bound_cents": 1_200_000,
            "lower_bound_cents_any_joints": 1_190_000,
        }
    )
    boards = {"B-120": plan.boards["B-120"], "B-90": plan.boards["B-120"]}
    (words,) = proofs_in_words(plan.model_copy(update={"proofs": (both,), "boards": boards}))
    assert words.endswith("With any joints as few as these, none can cost less than AUD 11,900.00: proved.")


def test_waste_and_places_read_as_sentences() -> None:
    assert waste_in_words(small_plan()) == (
        "1.20 m2 bought: 0.79 m2 fitted, 0.41 m2 left over in reusable sizes, 0.00 m2 scrap (0.0%)."
    )
    assert place_in_words(place(1)) == "level L02, run R-1, 0 to 500 mm: the gap is 900 mm; measure it again"
    assert grouped_money(Decimal("1234567.89"), "AUD") == "AUD 1,234,567.89"


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


def test_places_with_one_cause_are_one_line_and_long_lists_end_in_a_count(
    capsys: pytest.CaptureFixture[str],
) -> None:
    show_plan(small_plan(not_planned=tuple(place(n) for n in range(MOST_PLACES + 7))), None)
    shown = " ".join(capsys.readouterr().out.split())
    assert f"NOT PLANNED: {MOST_PLACES + 7}" in shown
    assert f"{MOST_PLACES + 7} places: the gap is 900 mm; measure it again: level L02, run R-0" in shown
    assert f"R-{MOST_PLACES - 1}, 0 to 500 mm; and 7 more" in shown
    assert shown.count("measure it again") == 1


def test_many_causes_end_in_a_count(capsys: pytest.CaptureFixture[str]) -> None:
    causes = (place(n).model_copy(update={"mend": f"mend {n}"}) for n in range(MOST_GROUPS + 3))
    show_plan(small_plan(not_planned=tuple(causes)), None)
    assert "and 3 more causes: see plan.json" in capsys.readouterr().out


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
    found = compare(small_project(), gaps=range(148, 153))
    large = [
        option.model_copy(update={"cost": Decimal("234567.00"), "boards": 2_345, "joints": 12_345})
        for option in found.options
    ]
    Console(file=text, width=80).print(gap_table.options_table("Options", large, "AUD"))
    assert "…" not in text.getvalue()
    assert "234,567.00" in text.getvalue()


def test_firm_and_forecast_stand_apart_with_the_day_to_measure(capsys: pytest.CaptureFixture[str]) -> None:
    show_plan(plans_by_hand.small_plan(), None)
    shown = " ".join(capsys.readouterr().out.split())
    assert "Level Status Measure by Deliver on" in shown
    assert "L01 firm 2027-02-22 2027-02-01" in shown
    assert "L02 forecast 2027-02-22 2027-03-15 2027-02-22" in shown
    assert "Total AUD 740.40: firm AUD 528.40, forecast AUD 212.00" in shown
    assert "The order covers 290 of 300 possible surveys in every product at once" in shown
    assert "Measure to keep the deliveries: L02 by 2027-02-22." in shown


@pytest.mark.parametrize("wide", [80, 100])
def test_no_product_of_a_delivery_is_cut_off(wide: int) -> None:
    """With a forecast, loads and weights little width is left for the packs."""
    plan = plans_by_hand.small_plan()
    deliveries = tuple(
        delivery.model_copy(
            update={
                "packs": {"B-140": 112, "K-110": 103, "T-75": 5},
                "loads": 1,
                "weight_kg": Decimal("1407.9"),
            }
        )
        for delivery in plan.deliveries
    )
    text = io.StringIO()
    Console(file=text, width=wide).print(
        deliveries_table(plan.model_copy(update={"deliveries": deliveries}), wide)
    )
    told = text.getvalue()
    assert "\N{HORIZONTAL ELLIPSIS}" not in told
    for whole in (
        "112\N{MULTIPLICATION SIGN}B-140",
        "103\N{MULTIPLICATION SIGN}K-110",
        "forecast",
        "528.40",
        "212.00",
    ):
        assert whole in told
    assert max(map(len, told.splitlines())) <= wide


def test_a_firm_order_tells_of_no_forecast(capsys: pytest.CaptureFixture[str]) -> None:
    show_plan(small_plan(), None)
    assert "orecast" not in capsys.readouterr().out


def test_a_cover_that_is_not_proved_the_least_says_what_is() -> None:
    plan = plans_by_hand.small_plan()
    assert plan.forecast is not None
    open_ended = plan.forecast.model_copy(update={"least_cost": Decimal("700.00"), "proved": False})
    words = forecast_in_words(plan.model_copy(update={"forecast": open_ended}))
    assert "no packs that cover 95 % cost less than AUD 700.00" in words[1]


def test_what_other_bracket_sizes_would_cost_is_said_where_it_differs() -> None:
    made = small_plan()
    costs = {"nearest": Decimal("478.20"), "cheapest": Decimal("455.80"), "fewest_sizes": Decimal("457.00")}
    told = made.model_copy(update={"bracket_choices": costs, "bracket_lower_bound": Decimal("455.80")})
    (said,) = bracket_choices_in_words(told)
    assert "nearest to the target 478.20, cheapest 455.80, fewest sizes 457.00" in said
    assert "cost less: proved" in said
    alike = told.model_copy(update={"bracket_choices": dict.fromkeys(costs, Decimal("455.80"))})
    assert bracket_choices_in_words(alike) == ()


def moved(run: int, at_mm: int, by_mm: int) -> MovedBracket:
    return MovedBracket(
        piece="P-1", run=f"R-{run}", level="L01", at_mm=at_mm, beyond="spacing", distance_mm=600 + by_mm, by_mm=by_mm,
        mend="move the mullion",
    )  # fmt: skip


def test_brackets_too_far_are_one_line_a_run_the_run_with_most_of_them_first(
    capsys: pytest.CaptureFixture[str],
) -> None:
    brackets = (moved(1, 700, 40), moved(2, 500, 10), moved(2, 1500, 75), moved(2, 2500, 30))
    show_plan(small_plan().model_copy(update={"brackets_moved": brackets}), None)
    printed = " ".join(capsys.readouterr().out.split())
    assert (
        "BRACKETS FARTHER THAN THE DETAIL SAYS: 4"
        " - run R-2: 3 brackets, 10 to 75 mm too far; the farthest at 1500 mm (piece P-1): 675 mm from the bracket"
        " before it, 75 mm too far; move the mullion"
        " - run R-1, 700 mm (piece P-1): 640 mm from the bracket before it, 40 mm too far; move the mullion"
    ) in printed


def test_many_runs_with_brackets_too_far_end_in_a_count(capsys: pytest.CaptureFixture[str]) -> None:
    brackets = tuple(moved(number, 700, 40) for number in range(MOST_MOVED + 1))
    show_plan(small_plan().model_copy(update={"brackets_moved": brackets}), None)
    printed = " ".join(capsys.readouterr().out.split())
    assert "- and on 1 more run: see the crew's sheets, office.xlsx and plan.json" in printed


@pytest.mark.parametrize(
    ("staging", "most", "words"),
    [
        ("whole", None, "staging 'whole': an offcut may serve any later delivery"),
        ("whole", 2, "staging 'whole': an offcut may wait for 2 more deliveries"),
        ("carry", 1, "staging 'carry': an offcut may wait for 1 more delivery"),
        ("carry", 0, "staging 'carry': no offcut leaves its delivery"),
        ("level", 3, "staging 'level': no offcut leaves its delivery"),
    ],
)
def test_how_long_an_offcut_may_wait_is_told_as_every_staging_obeys_it(
    staging: str, most: int | None, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    show_plan(small_plan().model_copy(update={"staging": staging, "max_carry_stages": most}), None)
    assert words in " ".join(capsys.readouterr().out.split())
