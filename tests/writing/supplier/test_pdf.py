"""order.pdf: firm and forecast stand apart, each with its sum, and a forecast says by when it is measured."""

from __future__ import annotations

import io

import pypdf

from optimiser.model.plan import Plan
from optimiser.writing.supplier.pdf import order_pdf
from tests.builders import plans_by_hand
from tests.builders.small_plan import small_plan


def words_of(plan: Plan) -> str:
    pages = pypdf.PdfReader(io.BytesIO(order_pdf(plan))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_forecast_stands_apart_from_what_is_firm() -> None:
    words = words_of(plans_by_hand.small_plan())
    assert "Of it firm AUD 528.40, forecast AUD 212.00." in words
    firm, forecast = (
        words.index("Firm: levels that are measured"),
        words.index("Forecast: levels that are not measured"),
    )
    assert firm < forecast
    assert "firm in AUD, before taxes 528.40" in words[firm:forecast]
    assert "forecast in AUD, before taxes 212.00" in words[forecast:]
    assert "L02 · deliver on 2027-03-15 · AUD 212.00 · forecast, measure by 2027-02-22" in words
    assert "covers 290 of 300 possible surveys in every product at once" in words
    assert "Product by product at the same share, 147 would be covered" in words


def test_an_order_that_is_all_firm_is_one_table() -> None:
    words = words_of(small_plan())
    assert "orecast" not in words.replace("On a forecast level it stands", "")
    assert "Order summary" in words
