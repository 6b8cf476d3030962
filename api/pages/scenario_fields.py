"""The fields of a scenario on its page: every option once, in groups, with the words that explain it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, get_args

from api.pages.words import STAGING
from optimiser.model.detail import BracketChoice
from optimiser.model.project import Project
from optimiser.model.scenario import LIMITS
from optimiser.model.tables import WEEKDAYS, Combine


@dataclass(frozen=True)
class Field:
    """One option: its name on the command line, its label and unit, a hint, the words to choose from (empty: it is
    typed), and whether 'none' sets the project's limit aside."""

    option: str
    label: str
    hint: str = ""
    choices: tuple[str, ...] = ()
    wide: bool = False

    @property
    def limit(self) -> bool:
        """Whether the project may have a limit here that can be set aside."""
        return self.option in LIMITS


@dataclass(frozen=True)
class Group:
    """Fields that stand together under a title; the first group is always in sight."""

    title: str
    fields: tuple[Field, ...]


GROUPS = (
    Group(
        "Scenario",
        (
            Field("name", "Name", wide=True),
            Field("gap_mm", "Gap, mm", "148 150, 140-160/5"),
            Field("oversize_min", "Least oversize", "0.10"),
            Field("oversize_max", "Greatest oversize", "0.15"),
            Field("boards", "Boards on offer", "codes"),
            Field("staging", "Staging", choices=tuple(STAGING)),
        ),
    ),
    Group(
        "Gaps and runs, brackets, rules",
        (
            Field("shifted", "Move each run's own gaps to that mean", choices=("yes",)),
            Field("runs", "Only runs", "*-N L01-E"),
            Field("brackets", "Brackets on offer", "codes"),
            Field("bracket_choice", "Bracket choice", choices=get_args(BracketChoice)),
            Field("bracket_insertion_min", "Least insertion", "0.70"),
            Field("bracket_insertion", "Insertion aimed at", "0.75"),
            Field("bracket_insertion_max", "Greatest insertion", "0.85"),
            Field("taper_max_mm", "Greatest taper, mm"),
            Field("curve_offset_max_mm", "Greatest offset of a curve, mm"),
            Field("strip_min_mm", "Thinnest rip, mm"),
        ),
    ),
    Group(
        "Where it is cut, and who supplies",
        (
            Field("precut", "Pre-cut nominal levels now", choices=("yes",)),
            Field("kerf_mm", "Saw's kerf, mm", "0 on site, 3 with a saw"),
            Field("supplier", "Supplier's offer", "name as in the offer"),
        ),
    ),
    Group(
        "Trucks, days and site",
        (
            Field("truck_pallets", "Pallets a truck"),
            Field("pallet_packs", "Packs a pallet"),
            Field("truck_payload_kg", "Payload a truck, kg"),
            Field("trucks_a_delivery", "Trucks a day, at most"),
            Field("combine", "Combine deliveries", choices=get_args(Combine)),
            Field("minimum_order", "Least a delivery is worth"),
            Field("delivery_cost", "A load costs"),
            Field("storage_cost", "A m2 and week costs"),
            Field("site_storage_m2", "Board on site, at most m2"),
            Field("stack_height_mm", "Stack height, mm"),
            Field("stack_layers", "Layers in a stack"),
            Field("floor_load_kg_m2", "Floor carries, kg a m2"),
            Field("delivery_weekday", "Delivery day", choices=WEEKDAYS),
            Field("every_days", "Every so many days"),
            Field("crane_days", "Crane days", "2027-03-01 2027-03-15"),
        ),
    ),
    Group(
        "Waiting, joints and how it is planned",
        (
            Field("max_carry_stages", "Deliveries that a remainder may wait"),
            Field("carry_cost", "Keeping a remainder costs", "2.50"),
            Field("waiting_choice", "Choice on the frontier of waiting"),
            Field("joint_rounds", "Rounds of laying joints again"),
            Field("service_level", "Share of draws covered", "0.95"),
            Field("time_limit", "Solver's seconds"),
            Field("seed", "Seed"),
        ),
    ),
)
FIELDS = tuple(field for group in GROUPS for field in group.fields)


def choices_of(field: Field) -> tuple[str, ...]:
    """What may be chosen in a field, beside leaving it as the project has it."""
    if field.option == "combine":
        return field.choices  # which have a 'none' of their own
    return (*field.choices, "none") if field.limit else field.choices


def project_has(project: Project) -> dict[str, str]:
    """What the project has for options that a scenario may give, in words for the hints beside them."""
    limits: Any = project.deliveries[0] if project.deliveries else None
    given = {} if limits is None else limits.model_dump(mode="json", exclude_none=True, exclude_defaults=True)
    heading = project.project
    own = {
        "boards": " ".join(board.code for board in project.boards),
        "brackets": " ".join(bracket.code for bracket in project.brackets),
        "max_carry_stages": heading.max_carry_stages,
        "carry_cost": heading.carry_cost,
        "service_level": heading.service_level,
        **{name: " ".join(value) if isinstance(value, list) else value for name, value in given.items()},
    }
    if not project.details:
        rules = ("oversize_min", "oversize_max", "bracket_insertion_min", "bracket_insertion",
                 "bracket_insertion_max", "bracket_choice", "taper_max_mm", "curve_offset_max_mm", "strip_min_mm",
                 "kerf_mm")  # fmt: skip
        own |= {name: getattr(project.detail, name) for name in rules}
    return {name: f"{value}" for name, value in own.items() if value is not None}
