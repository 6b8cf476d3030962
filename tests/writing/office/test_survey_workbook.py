"""A survey given back as a workbook: reading it gives the same project, whatever its tables hold."""

from __future__ import annotations

from datetime import date, time
from decimal import Decimal
from io import BytesIO
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from optimiser.model.project import (
    CrewRates,
    DeliveryLimits,
    Detail,
    Party,
    PriceBreak,
    Project,
    SurveyLimits,
)
from optimiser.reading import project_from_json, project_from_sheets, project_from_workbook
from optimiser.writing.office.survey_sheets import survey_sheets, text_of
from optimiser.writing.office.survey_workbook import survey_workbook
from tests.builders.project_tables import SOUND, json_value
from tests.builders.random_projects import projects

TEXTS = st.sampled_from(
    ("", "Newport", "=1+1", "0412", "12.50", "Bürgin & Söhne", "a, b; c", "@home", "true")
)
PRICES = st.decimals(Decimal("0.01"), Decimal("99999.99"), places=2)


def given_some(draw: st.DrawFn, of: dict[str, st.SearchStrategy[Any]]) -> dict[str, Any]:
    """Values for some of the fields; the others are left to their placeholders."""
    return {name: draw(values) for name, values in of.items() if draw(st.booleans())}


@st.composite
def whole_projects(draw: st.DrawFn) -> Project:
    """Random projects with every table that may be left out as well."""
    project = draw(projects(max_runs=3))
    heading = project.project.model_dump(exclude_unset=True) | given_some(
        draw,
        {
            "name": TEXTS,
            "order_reference": TEXTS,
            "carry_cost": PRICES,
            "delivery_from": st.just(time(7, 0)),
            "delivery_until": st.just(time(11, 30)),
            "tax_rate": st.just(Decimal("0.10")),
        },
    )
    limits = given_some(
        draw,
        {
            "minimum_order": PRICES,
            "site_storage_m2": st.integers(0, 500),
            "crane_days": st.lists(st.dates(date(2027, 1, 1), date(2028, 1, 1)), min_size=1, max_size=3).map(
                tuple
            ),
        },
    )
    parties = draw(st.lists(st.sampled_from(("buyer", "supplier", "deliver_to")), unique=True))
    dumped = project.model_dump(by_alias=True, exclude_unset=True)
    return Project.model_validate(
        dumped
        | {
            "project": heading,
            "deliveries": (DeliveryLimits(**limits),) if limits else (),
            "price_breaks": tuple(
                PriceBreak(code=product.code, from_packs=draw(st.integers(2, 40)), price=product.price / 2)
                for product in draw(st.lists(st.sampled_from(project.products), max_size=2, unique=True))
            ),
            "parties": tuple(Party(party=role, address=draw(TEXTS), telephone="0412") for role in parties),
            "survey_limits": SurveyLimits(**given_some(draw, {"step_least_mm": st.integers(0, 20)})),
            "crew_rates": CrewRates(
                **given_some(draw, {"rip_minutes": st.just(Decimal("1.25")), "hour_cost": PRICES})
            ),
            "reading_notes": draw(st.sampled_from(((), ("gaps, gap_mm: rounded up (row 4 '159.5').",)))),
        }
    )


@settings(max_examples=20, deadline=None)
@given(whole_projects())
def test_reading_the_workbook_of_a_project_gives_the_project(project: Project) -> None:
    again = project_from_workbook(survey_workbook(project))
    assert again == project
    # what is left to its placeholder stays so, for a plan warns of it
    assert again.detail.model_fields_set == project.detail.model_fields_set
    as_text = {
        name: [[text_of(cell) for cell in row] for row in rows]
        for name, rows in survey_sheets(project).items()
    }
    assert project_from_sheets(as_text) == project


def test_equal_projects_give_equal_bytes() -> None:
    project = project_from_json(json_value(SOUND))
    assert survey_workbook(project) == survey_workbook(project_from_json(json_value(SOUND)))


def test_it_is_the_workbook_to_fill_in_without_its_examples() -> None:
    project = project_from_json(json_value(SOUND))
    book = load_workbook(BytesIO(survey_workbook(project)))
    assert [cell.value for cell in book["gaps"][2]][:4] == ["L1-N", 0, 150, "measured"]
    assert book["gaps"]["A1"].comment is not None
    assert book["levels"]["C2"].value.date() == date(2027, 2, 22)
    said = {row[0].value: str(row[3].value) for row in book["detail"].iter_rows(min_row=2)}
    assert str(Detail().bracket_spacing_max_mm) in said["bracket_spacing_max_mm"]
