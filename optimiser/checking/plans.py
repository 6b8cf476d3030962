"""The judge of a whole plan."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.checking.areas import broken_rules_of_areas
from optimiser.checking.brackets import broken_rules_of_bracket_choices, broken_rules_of_brackets
from optimiser.checking.building import Building
from optimiser.checking.carrying import broken_rules_of_carrying
from optimiser.checking.counting import broken_rules_of_counts
from optimiser.checking.cover import broken_rules_of_cover
from optimiser.checking.cutting_order import broken_rules_of_cutting_order
from optimiser.checking.edges import broken_rules_of_edges
from optimiser.checking.forecasts import broken_rules_of_forecasts
from optimiser.checking.material import broken_rules_of_material
from optimiser.checking.on_site import broken_rules_of_usable_left_over
from optimiser.checking.orders import broken_rules_of_order
from optimiser.checking.questions import broken_rules_of_questions
from optimiser.checking.record import broken_rules_of_record
from optimiser.checking.thin_rips import broken_rules_of_thin_rips
from optimiser.checking.widths import broken_rules_of_widths
from optimiser.model.plan import Plan
from optimiser.model.project import Project

MOST_DIFFERENCES = 5


def broken_rules_of_plan(plan: Plan, project: Project | None = None) -> list[str]:
    """Every rule of its project that a plan breaks, one line each; an empty list when there is none.

    `project` None: the plan's own. A project that differs from the plan's own is itself a broken rule, and
    the plan is then judged by the project given. Nothing is raised for a wrong plan, whatever it holds.
    """
    broken: list[str] = []
    if project is not None and plan.record.events:
        project = project.model_copy(update={"stock": plan.project.stock})  # what is at hand, judged below
    if project is not None and project != plan.project:
        broken += _differences(project, plan.project)
    building = Building(project or plan.project, plan)
    broken += broken_rules_of_cover(building)
    broken += broken_rules_of_widths(building)
    broken += broken_rules_of_brackets(building)
    broken += broken_rules_of_bracket_choices(building)
    broken += broken_rules_of_counts(building)
    broken += broken_rules_of_edges(building)
    broken += broken_rules_of_material(building)
    broken += broken_rules_of_thin_rips(building)
    broken += broken_rules_of_forecasts(building)
    broken += broken_rules_of_cutting_order(building)
    broken += broken_rules_of_carrying(building)
    broken += broken_rules_of_areas(building)
    broken += broken_rules_of_usable_left_over(building)
    broken += broken_rules_of_order(building)
    broken += broken_rules_of_record(building)
    broken += broken_rules_of_questions(building)
    broken += _broken_words(building)
    return broken


def _differences(given: Project, own: Project) -> Iterator[str]:
    """The first few places where the plan was made from another project than the one given."""
    shown = 0
    for table in type(given).model_fields:
        ours, theirs = getattr(given, table), getattr(own, table)
        if ours == theirs:
            continue
        if isinstance(ours, tuple):
            pairs = [
                (f"{table} row {number}", ours[number - 1 : number], theirs[number - 1 : number])
                for number in range(1, max(len(ours), len(theirs)) + 1)
            ]
            found = [(place, a[0] if a else "missing", b[0] if b else "missing") for place, a, b in pairs]
        else:
            names = sorted({*ours, *theirs}) if isinstance(ours, dict) else type(ours).model_fields
            found = [
                (f"{table}.{name}", ours.get(name), theirs.get(name))
                if isinstance(ours, dict)
                else (f"{table}.{name}", getattr(ours, name), getattr(theirs, name))
                for name in names
            ]
        for place, mine, other in found:
            if mine != other and shown < MOST_DIFFERENCES:
                shown += 1
                yield (
                    f"project, {place}: the plan was made with ({other}), but the project given has ({mine})"
                )
    if not shown:
        yield "project: the plan was made from another project than the one given"


def _broken_words(building: Building) -> Iterator[str]:
    """What a plan must say: its placeholders, what cannot be ordered, and the cautions."""
    plan = building.plan
    warnings = " ".join(plan.warnings).lower()
    for name, rule in sorted(building.placeholders):
        if not any(rule in warning and name in warning for warning in plan.warnings):
            of_which = f" of detail {name}" if name else ""
            yield f"warnings: {rule}{of_which} stands at a placeholder, but no warning names it"
    for kind, number in (
        ("anchor", sum(counts.anchors for counts in plan.counts.values())),
        ("tape", sum(counts.tape_mm for counts in plan.counts.values())),
    ):
        sold = any(product.kind == kind for product in building.project.products)
        if number and not sold and kind not in warnings:
            yield f"warnings: {kind} is needed but not among the products, and no warning says so"
    if not any(caution.strip() for caution in plan.cautions):
        yield "cautions: a plan must show the usual cautions, but has none"
