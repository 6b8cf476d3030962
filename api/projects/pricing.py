"""A supplier's prices into a kept survey: its next version, and what that changes. Runs in a limited process."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from api.http.problem_details import said_of
from api.projects.reading import ReadProject, kept_project, summarised

if TYPE_CHECKING:
    from optimiser.writing.office.survey_changes import SurveyChange


class CannotBePriced(Exception):  # noqa: N818 (said as the user would)
    """An offer that does not fit the survey: why, in words."""


@dataclass(frozen=True)
class PricedSurvey:
    """The next version with a supplier's prices, every cell that they change, by table how many, and what of the offer
    was left aside, in words."""

    project: ReadProject
    changes: tuple[SurveyChange, ...]
    changed: dict[str, str]
    left_aside: tuple[str, ...]


def priced_survey(text: str, offer: str, on: date) -> PricedSurvey:
    """A kept project with the prices of an `Offer`, given as JSON text, that hold on a day. Raises CannotBePriced."""
    from pydantic import ValidationError

    from optimiser.model.offer import Offer
    from optimiser.ordering.offered_prices import with_prices
    from optimiser.writing.office.survey_changes import counts_by_table, survey_changes

    before = kept_project(text)
    try:
        priced = with_prices(before, Offer.model_validate_json(offer), on)
        made = summarised(priced.project)
        after = kept_project(made.text)
    except ValidationError as error:
        said = "; ".join(said_of(one) for one in error.errors()[:5])
        raise CannotBePriced(said) from None
    except ValueError as error:
        raise CannotBePriced(str(error)) from None
    changes = survey_changes(before, after)
    return PricedSurvey(made, changes, counts_by_table(changes), priced.left_aside)
