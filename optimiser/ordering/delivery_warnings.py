"""What a schedule of deliveries cannot keep: one warning a limit, with what would keep it.

Nothing is guessed: a storage, a number of truckloads, a later day or a further crane day is named only where the
same integer program found a schedule that keeps the limit with it and no other limit is kept less.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from optimiser.errors.listed import listed
from optimiser.model.money import NOTHING, money_text
from optimiser.model.plan import Staging
from optimiser.model.project import DeliveryLimits
from optimiser.ordering.days_that_hold import another_day, later_days
from optimiser.ordering.site_floor import layer_kg_m2, shown_m2
from optimiser.ordering.unkept_limits import ScheduleOf, Unkept
from optimiser.ordering.working_days import WorkingDays

_MANY = 6  # days spelt out in a warning


@dataclass(frozen=True)
class StagingPeak:
    """The most storage that a plan with another staging takes, in mm2."""

    staging: Staging
    most_mm2: int


def warnings_of_deliveries(
    unkept: Unkept,
    schedule_of: ScheduleOf,
    calendar: WorkingDays,
    other_stagings: Callable[[], Iterable[StagingPeak]],
    seed: int,
) -> tuple[str, ...]:
    """One sentence or two for each limit that is not kept."""
    return (
        *_off_crane(unkept),
        *_too_much_on_site(unkept, schedule_of, calendar, other_stagings, seed),
        *_too_many_trucks(unkept, schedule_of, calendar, seed),
        *_too_small(unkept),
        *_too_heavy(unkept),
    )


def _off_crane(unkept: Unkept) -> Iterable[str]:
    levels = [level for level in unkept.project.levels_in_order() if level.level in unkept.off_crane]
    if not levels or not unkept.limits.crane_days:
        return
    first = min(unkept.limits.crane_days)
    told = [
        f"level {level.level} is needed on {level.needed_on}, and the first crane day, {first}, is"
        f" {(first - level.needed_on).days} days later"
        for level in levels
        if level.needed_on is not None
    ]
    needed = min(level.needed_on for level in levels if level.needed_on is not None)
    yield (
        f"Deliveries: {'; '.join(told)}: delivered without a crane day. A crane day on or before {needed} would"
        f" serve, or needed_on from {first} on."
    )


def _too_much_on_site(
    unkept: Unkept,
    schedule_of: ScheduleOf,
    calendar: WorkingDays,
    other_stagings: Callable[[], Iterable[StagingPeak]],
    seed: int,
) -> Iterator[str]:
    over = unkept.too_much_on_site()
    if not over:
        return
    limits, parts = unkept.limits, unkept.schedule.floor.parts
    worst = max(over, key=lambda day: over[day])
    beyond = over[worst] - (limits.site_storage_m2 or 0) * 10**6 * parts
    what = "m2 of floor are taken on site by board" if limits.stacked else "m2 of board stand on site"
    said = (
        f"Deliveries: on {worst}, with the delivery for {', '.join(unkept.levels_on(worst))},"
        f" {shown_m2(over[worst], parts)} {what}, {shown_m2(beyond, parts)} m2 more than its storage of"
        f" {limits.site_storage_m2} m2."
    )
    others = [day for day in over if day != worst]
    if others:
        said += f" It is exceeded on {len(over)} days in all, also on {_listed(others)}."
    options = [
        *later_days(unkept, schedule_of, seed),
        *another_day("storage", unkept, schedule_of, calendar, seed),
    ]
    needs = unkept.schedule.least_storage(unkept.kept(), seed)
    needs_m2 = None if needs is None else -(-needs // (10**6 * parts))
    options = [*_stagings(limits, other_stagings(), needs_m2), *options]
    if needs_m2 is not None:
        options.append(f"with site_storage_m2 = {needs_m2}")
    yield said + _would_hold(options)


def _stagings(limits: DeliveryLimits, tried: Iterable[StagingPeak], needs_m2: int | None) -> Iterator[str]:
    """The stagings that keep the storage; when none does, the one that needs least, where that is less than now."""
    peaks = sorted(tried, key=lambda peak: peak.most_mm2)
    fit = [peak for peak in peaks if peak.most_mm2 <= (limits.site_storage_m2 or 0) * 10**6]
    for peak in fit:
        yield f"with staging '{peak.staging}' (at most {shown_m2(peak.most_mm2, 1)} m2)"
    if peaks and not fit:
        whole = -(-peaks[0].most_mm2 // 10**6)
        if needs_m2 is None or whole < needs_m2:
            yield f"with staging '{peaks[0].staging}' and site_storage_m2 = {whole}"


def _too_many_trucks(
    unkept: Unkept, schedule_of: ScheduleOf, calendar: WorkingDays, seed: int
) -> Iterator[str]:
    over = unkept.too_many_trucks()
    if not over:
        return
    worst = max(over, key=lambda delivery: delivery.trucks or 0)
    said = (
        f"Deliveries: that of {worst.deliver_on} for {', '.join(worst.levels)} takes {worst.trucks} truckloads, more"
        f" than the {unkept.limits.trucks_a_delivery} of trucks_a_delivery."
    )
    others = [delivery.deliver_on for delivery in over if delivery is not worst and delivery.deliver_on]
    if others:
        said += f" There are more on {len(over)} days in all, also on {_listed(others)}."
    options = list(another_day("trucks", unkept, schedule_of, calendar, seed))
    needs = unkept.schedule.least_trucks(unkept.kept(), seed)
    if needs is not None:
        options.append(f"with trucks_a_delivery = {needs}")
    yield said + _would_hold(options)


def _too_small(unkept: Unkept) -> Iterator[str]:
    small = unkept.too_small()
    if not small:
        return
    least = unkept.limits.minimum_order or NOTHING
    currency = unkept.project.project.currency
    worst = min(small, key=lambda delivery: delivery.amount)
    said = (
        f"Deliveries: that of {worst.deliver_on} for {', '.join(worst.levels)} comes to {currency}"
        f" {money_text(worst.amount)}, {currency} {money_text(least - worst.amount)} below the minimum order of"
        f" {currency} {money_text(least)}."
    )
    others = [delivery.deliver_on for delivery in small if delivery is not worst and delivery.deliver_on]
    if others:
        said += f" {len(small)} deliveries are below it in all, also on {_listed(others)}."
    yield said + _would_hold([f"with minimum_order = {money_text(worst.amount)}"])


def _too_heavy(unkept: Unkept) -> Iterator[str]:
    limit = unkept.limits.floor_load_kg_m2
    if limit is None:
        return
    there = {line.code for unit in unkept.schedule.units for line in unit.lines}
    there |= {row.code for row in unkept.project.stock}
    heavy = [
        f"{code} ({float(layer):.1f} kg/m2)"
        for code, board in unkept.schedule.floor.boards.items()
        if code in there and (layer := layer_kg_m2(board)) is not None and layer > limit
    ]
    if heavy:
        yield (
            f"Deliveries: floor loading is not kept: one layer of {', '.join(heavy)} is heavier than the"
            f" floor_load_kg_m2 of {limit}. Store it where the floor carries more, and ask the structural engineer."
        )


def _would_hold(options: Sequence[str]) -> str:
    return f" It would hold {', or '.join(options)}." if options else ""


def _listed(days: Sequence[date]) -> str:
    return listed([str(day) for day in days], _MANY)
