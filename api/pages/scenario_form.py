"""The form of scenarios as it was sent: its rows, what they ask for, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import ValidationError

from api.pages.scenario_fields import FIELDS
from api.studies.scenario_schemas import ScenariosRequest
from optimiser.errors.problems import shown
from optimiser.model.offer import Offer
from optimiser.model.scenario import Scenario
from optimiser.reading.scenario_rows import ScenarioFault, cells_of, scenario_of, values_of_cells
from optimiser.studies.scenarios import MOST_SCENARIOS

MOST_ROWS = 12


@dataclass(frozen=True)
class FormRow:
    """One scenario as it was typed: its cells by option, and its faults."""

    cells: Mapping[str, str]
    faults: tuple[ScenarioFault, ...] = ()

    def text(self, option: str) -> str:
        """What stands in an option's field."""
        return self.cells.get(option, "")

    def faulty(self, option: str) -> bool:
        """Whether the field of an option has a fault."""
        return any(fault.option == option for fault in self.faults)

    def gives(self, options: Sequence[str]) -> bool:
        """Whether any of these options is filled in, or has a fault."""
        return any(self.text(option) or self.faulty(option) for option in options)


@dataclass(frozen=True)
class ScenarioForm:
    """The whole form. `survey` is the version that is pinned, `offers` those that are kept from files sent before."""

    rows: tuple[FormRow, ...]
    survey: int
    on: str = ""
    draws: str = "500"
    offers: tuple[Offer, ...] = ()
    faults: tuple[str, ...] = field(default=())

    @property
    def all_faults(self) -> tuple[str, ...]:
        """Every fault in words, those of the rows first."""
        return (*(fault.words for row in self.rows for fault in row.faults), *self.faults)

    def changed(self, do: str) -> tuple[ScenarioForm, int]:
        """The form after one of its buttons: 'add', or 'copy-1', 'remove-1' with a row's number; and the row to go on
        at, counted from 1."""
        what, _, number = do.partition("-")
        rows = list(self.rows)
        place = int(number) - 1 if number.isdecimal() and 1 <= int(number) <= len(rows) else len(rows) - 1
        if what == "remove" and len(rows) > 1:
            del rows[place]
            return replace(self, rows=tuple(rows)), max(1, min(place + 1, len(rows)))
        if what in ("add", "copy") and len(rows) < MOST_ROWS:
            cells = (
                {**rows[place].cells, "name": f"{rows[place].text('name')} again"[:60]}
                if what == "copy"
                else {}
            )
            at = place + 1 if what == "copy" else len(rows)
            rows.insert(at, FormRow(cells))
            return replace(self, rows=tuple(rows)), at + 1
        return self, place + 1

    def asked(self) -> tuple[ScenariosRequest | None, ScenarioForm]:
        """What the form asks for; or None, and the form with its faults."""
        wanted: list[Scenario] = []
        rows: list[FormRow] = []
        for row in self.rows:
            values, faults = values_of_cells(row.cells)
            for value in () if faults else values:
                scenario, found = scenario_of(value)
                wanted += [scenario] if scenario is not None else []
                faults += found
            rows.append(replace(row, faults=tuple(dict.fromkeys(faults))))
        form = replace(self, rows=tuple(rows))
        if form.all_faults:
            return None, form
        if len(wanted) > MOST_SCENARIOS:
            words = f"these are {len(wanted)} scenarios, a gap each: give at most {MOST_SCENARIOS} at a time"
            return None, replace(form, faults=(words,))
        asked = {"scenarios": wanted, "survey": self.survey, "offers": self.offers, "draws": self.draws}
        try:
            return ScenariosRequest.model_validate({**asked, "on": self.on or None}), form
        except ValidationError as error:
            return None, replace(form, faults=tuple(_in_words(fault) for fault in error.errors()))


def _in_words(fault: Any) -> str:
    """A fault of what stands beside the rows."""
    option = str((*fault["loc"], "")[0])
    what, mend = {
        "on": ("the day of ordering", "write it as 2027-03-01"),
        "draws": ("the surveys to draw", "give a whole number from 1 to 20000"),
    }.get(option, (option, "correct it"))
    return f"{what} is {shown(fault['input'])}; {mend}"


def form_of(fields: Mapping[str, str], offers: Sequence[Offer], survey: int) -> ScenarioForm:
    """The form of the fields that were sent; names end in their row's number: 'gap_mm-1'. `survey` stands where none
    is sent."""
    ends = {name.rpartition("-")[2] for name in fields}
    numbers = sorted(int(end) for end in ends if end.isascii() and end.isdecimal() and len(end) < 4)
    rows = tuple(
        FormRow(
            {
                one.option: text
                for one in FIELDS
                if (text := fields.get(f"{one.option}-{number}", "").strip()[:2000])
            }
        )
        for number in numbers[:MOST_ROWS]
    )
    sent = fields.get("survey", "")
    return ScenarioForm(
        rows=rows or (FormRow({}),),
        survey=int(sent) if sent.isdecimal() and len(sent) < 7 else survey,
        on=fields.get("on", "").strip(),
        draws=fields.get("draws", "").strip() or "500",
        offers=tuple(offers),
    )


def form_of_request(asked: ScenariosRequest, survey: int) -> ScenarioForm:
    """The form that asks for the same again, on a survey."""
    return ScenarioForm(
        rows=tuple(FormRow(cells) for cells in _gaps_in_one(asked.scenarios))[:MOST_ROWS],
        survey=survey,
        on="" if asked.on is None else asked.on.isoformat(),
        draws=str(asked.draws),
        offers=tuple(asked.offers),
    )


def _gaps_in_one(scenarios: Sequence[Scenario]) -> list[dict[str, str]]:
    """The cells of scenarios, those that one row asked for by several gaps in one row again."""
    rows: list[dict[str, str]] = []
    joined: set[int] = set()
    for scenario in scenarios:
        cells = cells_of(scenario)
        gap = cells.get("gap_mm", "")
        name = cells["name"].removesuffix(f", {gap} mm")
        if gap and name != cells["name"] and rows and _but_for_gap(rows[-1]) == _but_for_gap(cells):
            last = rows[-1]
            before = (
                last["name"]
                if len(rows) in joined
                else last["name"].removesuffix(f", {last.get('gap_mm')} mm")
            )
            if before == name:
                joined.add(len(rows))
                rows[-1] = {**last, "name": name, "gap_mm": f"{last['gap_mm']} {gap}"}
                continue
        rows.append(cells)
    return rows


def _but_for_gap(cells: Mapping[str, str]) -> dict[str, str]:
    return {option: text for option, text in cells.items() if option not in ("name", "gap_mm")}


def first_form(survey: int) -> ScenarioForm:
    """The form where nothing was compared yet: the survey as it stands, and each level on its own."""
    own = FormRow({"name": "each level on its own", "staging": "level"})
    return ScenarioForm(rows=(FormRow({"name": "as surveyed"}), own), survey=survey)
