"""A project as a scenario changes it: its gaps, rules, products on offer, prices and limits."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any

from pydantic import ValidationError

from optimiser.boards.families import unequal_families
from optimiser.errors.problems import CannotBeDone, shown
from optimiser.model.offer import Offer
from optimiser.model.project import DeliveryLimits, Project
from optimiser.model.scenario import Scenario
from optimiser.ordering.offered_prices import with_prices
from optimiser.studies.comparison import only_runs, with_rules
from optimiser.studies.gap_figures import at_gap


def changed_project(
    project: Project, scenario: Scenario, offers: Sequence[Offer] = (), on: date | None = None
) -> Project:
    """The project with what a scenario gives in place of its own.

    Parameters
    ----------
    project
        As it was surveyed.
    scenario
        How it is planned (staging, seconds, seed ...) changes nothing here.
    offers
        What suppliers offer, for a scenario that names a `supplier`; its prices are those that hold `on` a day.
    on
        That day; needed only where a supplier is named.

    Returns
    -------
    Project
        Gaps that the scenario sets count as measured: the question is what such a building takes.

    Raises
    ------
    CannotBeDone
        With every reason, each naming the scenario, its option, the value and the mend.
    """
    reasons: list[str] = []

    def changed(before: Project, option: str, change: Callable[[Project], Project]) -> Project:
        try:
            return change(before)
        except CannotBeDone as error:
            found: Sequence[str] = error.reasons
        except ValidationError as error:
            found = [fault["msg"].removeprefix("Value error, ") for fault in error.errors()]
        except ValueError as error:
            found = [str(error)]
        reasons.extend(f"scenario {shown(scenario.name)}, {option}: {reason}" for reason in found)
        return before

    made = project
    for option, wanted, change in (
        ("runs", scenario.runs, lambda one: only_runs(one, scenario.runs)),
        ("boards", scenario.boards, lambda one: _with_boards(one, scenario.boards)),
        ("brackets", scenario.brackets, lambda one: _with_brackets(one, scenario.brackets)),
        ("supplier", scenario.supplier, lambda one: _with_supplier(one, scenario.supplier, offers, on)),
        (", ".join(scenario.rules), scenario.rules, lambda one: _with_rules(one, scenario)),
        (", ".join(scenario.limits), scenario.limits, lambda one: _with_limits(one, scenario)),
        ("gap_mm", scenario.gap_mm, lambda one: _at_gap(one, scenario)),
    ):
        if wanted:
            made = changed(made, option, change)
    if reasons:
        raise CannotBeDone(reasons)
    return made.model_copy(update={"project": made.project.model_copy(update=_heading(scenario))})


def _heading(scenario: Scenario) -> dict[str, Any]:
    """What it changes in the `project` table; a price on waiting that it gives is an option of planning."""
    update: dict[str, Any] = {
        name: None for name in ("max_carry_stages", "carry_cost") if name in scenario.without
    }
    if scenario.max_carry_stages is not None:
        update["max_carry_stages"] = scenario.max_carry_stages
    if scenario.service_level is not None:
        update["service_level"] = scenario.service_level
    return update


def _refuse_unknown(given: Sequence[str], known: Sequence[str], kind: str) -> None:
    unknown = [code for code in given if code not in known]
    if unknown:
        raise CannotBeDone(
            [f"{code} is no {kind} of the products; give one of {', '.join(known)}" for code in unknown]
        )


def _with_boards(project: Project, codes: tuple[str, ...]) -> Project:
    _refuse_unknown(codes, list(project.building.boards), "board")
    runs = tuple(run.model_copy(update={"board": codes}) for run in project.runs)
    chosen = project.model_copy(update={"runs": runs})
    if unequal := unequal_families(chosen):
        raise CannotBeDone(unequal)
    return chosen


def _with_brackets(project: Project, codes: tuple[str, ...]) -> Project:
    _refuse_unknown(codes, [bracket.code for bracket in project.brackets], "bracket")
    offered = (item for item in project.products if item.kind != "bracket" or item.code in codes)
    return project.model_copy(update={"products": tuple(offered)})


def _with_supplier(project: Project, name: str, offers: Sequence[Offer], on: date | None) -> Project:
    offer = offer_of(name, offers)
    if on is None:
        raise CannotBeDone(["no day of ordering is given, on which its prices must hold; give one"])
    return with_prices(project, offer, on).project


def offer_of(name: str, offers: Sequence[Offer]) -> Offer:
    """The offer of a supplier. Raises CannotBeDone where there is none, or more than one."""
    found = [offer for offer in offers if offer.supplier == name]
    if len(found) != 1:
        names = ", ".join(dict.fromkeys(offer.supplier for offer in offers)) or "nobody: give its offer"
        how_many = f"there are {len(found)} offers" if found else "there is no offer"
        raise CannotBeDone([f"{how_many} of {shown(name)}; offers are of {names}"])
    return found[0]


def _with_rules(project: Project, scenario: Scenario) -> Project:
    """Every detail with the rules that are given. Raises ValueError where they make no sense together."""
    details = {name: with_rules(own, scenario.rules) for name, own in project.details.items()}
    return project.model_copy(
        update={"detail": with_rules(project.detail, scenario.rules), "details": details}
    )


def _with_limits(project: Project, scenario: Scenario) -> Project:
    """Raises ValueError for limits that make no sense together, or for these products."""
    own = project.deliveries[0].model_dump(exclude_unset=True) if project.deliveries else {}
    limits = DeliveryLimits(**{**own, **scenario.limits})
    changed = project.model_copy(update={"deliveries": (limits,)})
    Project.model_validate({name: getattr(changed, name) for name in Project.model_fields})
    return changed


def _at_gap(project: Project, scenario: Scenario) -> Project:
    assert scenario.gap_mm is not None
    moved = at_gap(project, scenario.gap_mm, scenario.shifted)
    if moved is None:
        raise CannotBeDone(
            [f"{scenario.gap_mm}: shifted so, some gap would be less than 1 mm; give a larger gap"]
        )
    return moved


def refusals(
    project: Project, scenarios: Sequence[Scenario], offers: Sequence[Offer] = (), on: date | None = None
) -> tuple[str, ...]:
    """Why scenarios cannot be compared for a project: a line a reason, names that stand twice among them; empty where
    they can."""
    return tuple(_refusals(project, scenarios, offers, on))


def _refusals(
    project: Project, scenarios: Sequence[Scenario], offers: Sequence[Offer], on: date | None
) -> Iterator[str]:
    names = [scenario.name for scenario in scenarios]
    for name in dict.fromkeys(names):
        if names.count(name) > 1:
            yield f"scenario {shown(name)}, name: it stands {names.count(name)} times; give each its own"
    for scenario in scenarios:
        try:
            changed_project(project, scenario, offers, on)
        except CannotBeDone as error:
            yield from error.reasons
