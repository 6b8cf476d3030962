"""Numbers, dates and lengths as the pages say them."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from markupsafe import Markup

from optimiser.model.money import money_text
from optimiser.tables.columns import Columns, only
from optimiser.tables.deliveries import delivery_columns
from optimiser.tables.frontier import FRONTIER
from optimiser.tables.gap_options import GAP_OPTIONS
from optimiser.tables.on_site import ON_SITE
from optimiser.tables.order_lines import ORDER_LINES
from optimiser.tables.scenarios import SCENARIOS
from optimiser.tables.simulated import QUANTITIES
from optimiser.tables.stagings import STAGINGS
from optimiser.tables.suppliers import BOUGHT_PACKS, OFFERED_PRODUCTS, WHOLE_ORDERS

STAGING = {
    "whole": "whole: an offcut may serve any later delivery",
    "carry": "carry: an offcut waits for a few deliveries at most",
    "level": "level: every delivery is cut on its own",
}
TABLES: dict[str, Columns] = {
    "order": ORDER_LINES,
    "deliveries": delivery_columns(()),
    "on site": ON_SITE,
    "gaps": GAP_OPTIONS,
    "stagings": STAGINGS,
    "frontier": FRONTIER,
    "quantities": QUANTITIES,
    "scenarios": SCENARIOS,
    "whole orders": WHOLE_ORDERS,
    "offered products": OFFERED_PRODUCTS,
    "bought packs": BOUGHT_PACKS,
}
KINDS = {"board": "boards", "bracket": "brackets", "anchor": "anchors", "tape": "tape"}


def day(value: date | None) -> str:
    """date(2027, 2, 8) -> 'Mon 8 Feb 2027'."""
    return "date open" if value is None else f"{value:%a} {value.day} {value:%b} {value.year}"


def day_of_year(value: date | None) -> str:
    """date(2027, 2, 8) -> 'Mon 8 Feb'."""
    return "date open" if value is None else f"{value:%a} {value.day} {value:%b}"


def short_day(value: date | None) -> str:
    """date(2027, 2, 8) -> '8 Feb'."""
    return "open" if value is None else f"{value.day} {value:%b}"


def written_day(text: str | None) -> str:
    """A day as JSON has it, in words: '2027-02-08' -> 'Mon 8 Feb 2027'; '' for none."""
    return "" if text is None else day(date.fromisoformat(text))


def moment(text: str) -> str:
    """A time as the service keeps it, in words: '3 Feb 2027, 09:31 UTC'."""
    value = datetime.fromisoformat(text.replace("Z", "+00:00"))
    return f"{value.day} {value:%b} {value.year}, {value:%H:%M} UTC"


def number(value: int | Decimal) -> str:
    """12345 -> '12,345'; Decimal('1234.5') -> '1,234.5'."""
    return f"{value:,}"


def grouped(amount: str) -> str:
    """Decimal text with its thousands apart: '17737.90' -> '17,737.90'."""
    return f"{Decimal(amount):,}"


def amount(value: Decimal) -> str:
    """An amount without its currency: Decimal('17737.90') -> '17,737.90'."""
    return grouped(money_text(value))


def metres(length_mm: int) -> str:
    """Millimetres in metres: 41850 -> '41.85 m'."""
    return f"{length_mm / 1000:,.2f} m"


def area(area_mm2: int) -> str:
    """Square millimetres in square metres: 260_400_000 -> '260.4 m²'."""
    return f"{area_mm2 / 1e6:,.1f} m\N{SUPERSCRIPT TWO}"


def kilograms(weight: Decimal) -> str:
    """A weight in whole kilograms, as the order says it: Decimal('1426.432') -> '1,426'."""
    return f"{weight:,.0f}"


def from_to(least_mm: int, most_mm: int) -> str:
    """(148, 152) -> '148 to 152'; (150, 150) -> '150'."""
    return f"{least_mm}" if least_mm == most_mm else f"{least_mm} to {most_mm}"


def percent(fraction: float, places: int = 1) -> str:
    """0.0312 -> '3.1 %'."""
    return f"{fraction * 100:.{places}f} %"


def count(value: int, one: str, many: str = "") -> str:
    """(1, 'board') -> '1 board'; (2, 'board') -> '2 boards'."""
    return f"{value:,} {one if value == 1 else many or one + 's'}"


def no_such(whole: str, number: int, what: str, place: int) -> str:
    """Of a place that is not there: ('The building', 1, 'level', 5) -> 'The building has 1 level; there is no level
    5.'"""
    return f"{whole} has {count(number, what)}; there is no {what} {place}."


def days_from(today: date, then: date) -> str:
    """How far a date is: 'today', 'in 12 days', '3 days ago'."""
    days = (then - today).days
    if days == 0:
        return "today"
    return f"in {count(days, 'day')}" if days > 0 else f"{count(-days, 'day')} ago"


def head(table: str, name: str, unit: str | None = None) -> Markup:
    """The heading cell of a column of one of `TABLES`, with its own unit or the one given ('': none): 'Gap, mm'.

    Raises KeyError for a column that there is not.
    """
    (column,) = only(TABLES[table], name)
    words = ", ".join(part for part in (column.heading, column.unit if unit is None else unit) if part)
    side = Markup(' class="n"') if column.to_the_right else ""
    explained = Markup(' title="{}"').format(column.what) if column.what else ""
    return Markup('<th scope="col"{}{}>{}</th>').format(side, explained, words)
