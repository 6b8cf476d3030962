"""What scenarios came to, for the tables and charts of their page."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from api.pages.charts import readable
from api.studies.scenario_service import ScenarioStudy
from optimiser.studies.scenario_result import AGAINST, BEST_IN, ScenarioComparison, ScenarioResult
from optimiser.tables.columns import Column, Columns, only
from optimiser.tables.scenarios import SCENARIOS
from optimiser.tables.text import cell_text
from optimiser.writing.office.scenario_charts import cost_against_svg, gap_steps_svg

SHOWN = ("cost", "goods", "boards", "lower_bound", "scrap_m2", "scrap_fraction", "waiting_piece_stages", "remainders",
         "deliveries", "loads", "packs", "widths", "joints", "brackets", "lead_days", "order_by", "last_delivery",
         "not_planned", "scrapped_by_precutting", "seconds")  # fmt: skip
_BEST_OF_COLUMN = {"scrap_m2": "scrap_mm2"}
_UNBEATEN = {"waiting_piece_stages": "cost and waiting", "deliveries": "cost and deliveries"}


@dataclass(frozen=True)
class Cell:
    """A figure in words, and in what it is the best of its column ('': it is not)."""

    text: str
    best: str
    number: bool


@dataclass(frozen=True)
class Row:
    """A scenario: its figures, what differs, on which frontiers it lies, why there is no plan, and why it cannot be
    planned in full ('': it can)."""

    name: str
    cells: tuple[Cell, ...]
    differs: str
    unbeaten: str
    problem: str
    not_plannable: str


@dataclass(frozen=True)
class Told:
    """A warning, and of which scenarios ('': of all)."""

    says: str
    scenarios: str


@dataclass(frozen=True)
class ScenariosView:
    """The scenarios side by side. Columns that say nothing of any scenario are left out."""

    columns: Columns
    rows: tuple[Row, ...]
    charts: tuple[tuple[str, Markup], ...]
    least: tuple[tuple[str, str], ...]
    warnings: tuple[Told, ...]
    notes: tuple[str, ...]


def scenarios_view(study: ScenarioStudy, building: str) -> ScenariosView | None:
    """The view of a comparison; None while it is not done."""
    found = study.found
    if found is None:
        return None
    told = [column for column in only(SCENARIOS, *SHOWN) if any(_says(column, one) for one in found.results)]
    drawn = [("Scrap against the gap", gap_steps_svg(found, building))]
    for against in AGAINST:
        title = f"Cost against {'deliveries' if against == 'deliveries' else 'waiting'}"
        drawn.append((title, cost_against_svg(found, against, building)))
    return ScenariosView(
        columns=tuple(told),
        rows=tuple(_row(result, told) for result in found.results),
        charts=tuple((title, readable(drawing)) for title, drawing in drawn if drawing),
        least=tuple(_least(found)),
        warnings=tuple(_warnings(found)),
        notes=found.notes,
    )


def _says(column: Column, result: ScenarioResult) -> bool:
    value = column.of(result)
    return value is not None and (column.name != "not_planned" or value > 0)


def _row(result: ScenarioResult, columns: list[Column]) -> Row:
    return Row(
        name=result.scenario.name,
        cells=tuple(
            Cell(
                cell_text(column, result),
                BEST_IN[best]
                if (best := _BEST_OF_COLUMN.get(column.name, column.name)) in result.best
                else "",
                column.to_the_right,
            )
            for column in columns
        ),
        differs=result.scenario.words,
        unbeaten=", ".join(_UNBEATEN[against] for against in result.unbeaten),
        problem=result.problem,
        not_plannable=result.scenario.not_plannable,
    )


def _least(found: ScenarioComparison) -> list[tuple[str, str]]:
    """Which scenarios are the best by each measure: the measure, and their names."""
    measures = {
        "scrap_mm2": "Least board area wasted (scrap)",
        "boards": "Fewest boards",
        "cost": "Least money",
    }
    return [
        (words, ", ".join(one.scenario.name for one in found.results if name in one.best) or "all alike")
        for name, words in measures.items()
    ]


def _warnings(found: ScenarioComparison) -> list[Told]:
    by_words: dict[str, list[str]] = {}
    for result in found.results:
        for warning in result.figures.warnings if result.figures else ():
            by_words.setdefault(warning, []).append(result.scenario.name)
    planned = sum(1 for result in found.results if result.figures)
    return [
        Told(words, "" if len(names) == planned else ", ".join(names)) for words, names in by_words.items()
    ]
