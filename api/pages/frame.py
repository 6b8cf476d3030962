"""The title block that stands on every sheet of a plan, as on a drawing: what it is of, and in what state."""

from __future__ import annotations

from dataclasses import dataclass

from optimiser.model.plan import Plan

TABS = (
    ("", "Order"),
    ("deliveries", "Deliveries"),
    ("dates", "Delivery dates"),
    ("levels", "Levels and runs"),
    ("boards", "Boards to cut"),
    ("options", "Waste and options"),
    ("refits", "Refit"),
    ("revisions", "Revisions"),
)


@dataclass(frozen=True)
class Tab:
    """A sheet of the plan; `here` marks the one that is shown."""

    address: str
    label: str
    here: bool


@dataclass(frozen=True)
class Frame:
    """What the title block says."""

    building_id: str
    plan_id: str
    building: str
    reference: str
    supplier: str
    staging: str
    survey: int
    newest_survey: int
    planned_at: str
    revision: str
    superseded_by: int | None
    tabs: tuple[Tab, ...]

    @property
    def address(self) -> str:
        """Where the plan's sheets are."""
        return f"/schedules/{self.plan_id}"


def frame_of(
    plan: Plan,
    *,
    plan_id: str,
    building_id: str,
    survey: int,
    newest_survey: int,
    planned_at: str,
    revision: int | None,
    newest_revision: int,
    here: str,
) -> Frame:
    """The frame of one of a plan's sheets; `here` is the last part of its address."""
    heading = plan.project.project
    carried = f" ({plan.max_carry_stages})" if plan.max_carry_stages is not None else ""
    chosen = f", choice {plan.waiting_choice}" if plan.waiting_choice is not None else ""
    return Frame(
        building_id,
        plan_id,
        heading.name or "Unnamed building",
        heading.order_reference or "none",
        heading.supplier or "not given",
        f"{plan.staging}{carried}{chosen}",
        survey,
        newest_survey,
        planned_at,
        f"issued as {revision}" if revision else "draft",
        newest_revision if revision and newest_revision > revision else None,
        tuple(Tab(f"/schedules/{plan_id}/{part}".rstrip("/"), label, part == here) for part, label in TABS),
    )
