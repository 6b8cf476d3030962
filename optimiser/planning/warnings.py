"""What a plan must say beside its numbers: what it rests on, what it left out, and how to work safely.

Warnings depend on the project; cautions stand on every plan. Nothing here judges a layout: the tested detail,
local code and a licensed practitioner decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from optimiser.boards.families import families_of
from optimiser.boards.forecast_levels import forecast_levels
from optimiser.errors.listed import listed
from optimiser.model.needs import LevelNeeds
from optimiser.model.order import Order
from optimiser.model.plan import LevelCounts
from optimiser.model.planned_pieces import NotPlanned
from optimiser.model.project import Kind, Project
from optimiser.ordering.working_days import WorkingDays
from optimiser.planning.curved_strips import curved_strips

CAUTIONS = (
    "Open slab edge: fall protection for everyone at the edge, and an exclusion zone below while boards,"
    " brackets and tools are handled there.",
    "Mineral-wool dust: wear a respirator, gloves, long sleeves and eye protection; cut in the open air or"
    " with extraction.",
    "Blades: cut away from the body, on a firm support, with a sharp blade and cut-resistant gloves.",
    "Lifting: whole packs are heavy and catch the wind; lift mechanically or in pairs, and tie down what is"
    " stored near an edge.",
    "The tested detail, local code and a licensed practitioner decide what may be built; this plan measures"
    " and counts, and does not judge the seal.",
    "A tested detail refers to standards such as ASTM E2307 (perimeter fire barriers), ASTM E2393 (on-site"
    " inspection), EN 1364-4 (curtain walling), AS 1530.4 with AS 4072.1, IBC 715.4 or Approved Document B;"
    " read the one that governs the building.",
    "EN 1366-4 (linear joint seals) excludes the seal at a curtain wall's perimeter: evidence under it alone"
    " does not cover this work.",
    "Measure again before cutting: a piece cut too small is scrap, since it cannot be extended.",
)

SEARCH_STOPPED = (
    "The search for a better cutting met its time limit and was stopped: the plan keeps every rule, and the proof"
    " says how far from the best it can be at most. With a longer time limit it may come closer."
)

_MANY = 8  # names spelt out in one sentence before 'and n more'


def warnings_of(
    project: Project,
    not_planned: Sequence[NotPlanned],
    counts: dict[str, LevelCounts],
    needed: LevelNeeds,
    order: Order,
    calendar: WorkingDays,
) -> tuple[str, ...]:
    """Every warning that this project earns, most severe first; each is one plain sentence or two."""
    found = [
        *_places_left_out(not_planned),
        *_placeholders(project),
        *_unlike_boards_meet(project),
        *_nominal_levels(project),
        *_missing_products(project, counts),
        *_stock(project),
        *_prices(project, needed),
        *_dates(project, order, calendar),
        *curved_strips(project),
    ]
    return tuple(found)


def _places_left_out(not_planned: Sequence[NotPlanned]) -> Iterable[str]:
    for what, noun in (("piece", "no board"), ("bracket", "no bracket")):
        runs = _distinct(place.run for place in not_planned if place.what == what)
        places = sum(place.what == what for place in not_planned)
        if places:
            yield (
                f"{places} {'place has' if places == 1 else 'places have'} {noun} in this plan and its order,"
                f" on {_names(runs, 'run')}: see 'not planned' for each position, the reason and the mend."
            )


def _placeholders(project: Project) -> Iterable[str]:
    details = project.building.details_in_use
    for named, placeholders in project.building.placeholders.items():
        if not placeholders:
            continue
        rules = ", ".join(f"{name} {getattr(details[named], name)}" for name in placeholders)
        of_which = f" (of detail {named})" if named else ""
        yield (
            f"Placeholders, not values of a tested detail{of_which}: {rules}. They are common practice without"
            " a source; published details differ. Enter your tested detail's values before ordering: it"
            " decides."
        )


def _unlike_boards_meet(project: Project) -> Iterable[str]:
    """Where runs of unlike boards meet: a tested detail is for one board."""
    building = project.building

    def board(run: str) -> tuple[object, object]:
        first = building.boards[building.runs[run].board[0]]
        return first.thickness_mm, first.material

    unlike = [
        f"{junction.run} and {junction.joins}"
        for junction in building.junctions
        if board(junction.run) != board(junction.joins)
    ]
    if unlike:
        yield (
            f"Runs whose boards differ in thickness or material meet: {_names(unlike, '')}. No detail of one board was"
            " tested for that joint: ask the licensed practitioner how it is closed; its tape is counted."
        )


def _nominal_levels(project: Project) -> Iterable[str]:
    nominal = forecast_levels(project)
    if nominal:
        levels = project.building.in_delivery_order(nominal)
        yield (
            f"Nominal gaps, not measured: {_names(levels, 'level')}. Their pieces are a forecast for"
            " ordering; measure before cutting them."
        )


def _missing_products(project: Project, counts: dict[str, LevelCounts]) -> Iterable[str]:
    anchors = sum(count.anchors for count in counts.values())
    tape_mm = sum(count.tape_mm for count in counts.values())
    if anchors and project.building.anchor is None:
        counted = "1 anchor is" if anchors == 1 else f"{anchors} anchors are"
        yield f"The products list no anchor: {counted} counted but not ordered."
    if tape_mm and project.building.tape is None:
        yield f"The products list no tape: {-(-tape_mm // 1000)} m of joint tape are counted but not ordered."
    kinds: tuple[tuple[Kind, int], ...] = (("anchor", anchors), ("tape", tape_mm))
    for kind, used in kinds:
        several = project.products_of(kind)
        if used and len(several) > 1:
            yield (
                f"The products list several of the kind {kind}: {several[0].code}, the first, is ordered, not"
                f" {_names([product.code for product in several[1:]], '')}."
            )


def _stock(project: Project) -> Iterable[str]:
    """Offcuts larger than the board that they are said to be of: a slip there buys too little."""
    boards = project.building.boards
    larger = [
        f"{row.code} {row.length_mm} x {row.width_mm} (its board is {board.length_mm} x {board.width_mm})"
        for row in project.stock
        if (board := boards.get(row.code)) is not None and not board.size.holds(row.size)
    ]
    if larger:
        yield (
            f"Stock larger than the board that it is of: {_names(larger, '')}. Pieces are cut from it as it stands in"
            " the table: measure it, and correct `stock`, or too few boards are bought."
        )


def _prices(project: Project, needed: LevelNeeds) -> Iterable[str]:
    used = needed.total()
    free = [product.code for product in project.products if product.code in used and not product.price]
    if free:
        yield f"No price: {_names(free, 'product')}. The order's total leaves them out."
    for codes in families_of(project.runs):
        if len(codes) > 1 and not all(project.product(code).price for code in codes):
            yield (
                f"The boards {_names(codes, '')} may serve the same runs, but not all of them have a price: the"
                " least board area is bought, not the least cost."
            )


def _dates(project: Project, order: Order, calendar: WorkingDays) -> Iterable[str]:
    used = {line.level for line in order.lines}
    levels = [level for level in project.levels_in_order() if level.level in used]
    undated = [level.level for level in levels if level.needed_on is None]
    if undated:
        yield f"No needed_on date: {_names(undated, 'level')}. Their delivery and order dates are left open."
    if len(undated) < len(levels) and not calendar.known:
        yield (
            f"The working days of '{calendar.country}' are not known in full: order-by dates may leave out"
            " public holidays. Check the country, and its subdivision when given (AU or AU-NSW)."
        )
    moved = [
        f"{level.level} ({level.needed_on.isoformat()})"
        for level in levels
        if level.needed_on is not None and not calendar.is_working_day(level.needed_on)
    ]
    if moved:
        yield f"Needed on a non-working day, so delivered on the last working day before: {_names(moved, 'level')}."
    dated = [level for level in levels if level.needed_on is not None]
    early = [
        f"{later.level} before {earlier.level}"
        for earlier, later in pairwise(dated)
        if earlier.needed_on is not None
        and later.needed_on is not None
        and later.needed_on < earlier.needed_on
    ]
    if early:
        yield (
            f"The dates run against the delivery order: {_names(early, '')}. Packs and offcuts are carried in"
            " delivery order, so what a level relies on may arrive after it: mend `sequence` or `needed_on`."
        )


def _distinct(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _names(names: Sequence[str], noun: str) -> str:
    """'levels L01, L02 and 5 more': a list that stays readable however long it is."""
    plural = f"{noun}{'' if len(names) == 1 else 's'} " if noun else ""
    return plural + listed(names, _MANY)
