"""What the numbers of a plan mean, in plain words: the proof, amounts and areas."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from optimiser.errors.listed import listed
from optimiser.model.edges import Edge
from optimiser.model.money import NOTHING, from_cents
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import Proof
from optimiser.model.planned_pieces import NotPlanned
from optimiser.model.products import Board, Bracket, Product, Tape
from optimiser.model.question import Question
from optimiser.tables.amounts import WITHOUT_DECIMALS, amount_text, grouped_money
from optimiser.tables.text import counted

__all__ = [
    "WITHOUT_DECIMALS",
    "amount_text",
    "counted",
    "grouped_money",
    "place_in_words",
    "proofs_in_words",
    "question_in_words",
    "square_metres",
    "waste_in_words",
]


_MANY = 20  # names spelt out in one sentence before 'and n more'


def product_size(product: Product) -> str:
    """'1200 x 1000 x 120 mm', '110 mm', '50 m roll': a product's size as an order says it."""
    if isinstance(product, Board):
        thick = f" x {product.thickness_mm}" if product.thickness_mm else ""
        return f"{product.length_mm} x {product.width_mm}{thick} mm"
    if isinstance(product, Bracket):
        return f"{product.reach_mm} mm"
    if isinstance(product, Tape):
        return f"{Decimal(product.roll_mm) / 1000:f} m roll"
    return ""


def proofs_in_words(plan: Plan) -> tuple[str, ...]:
    """A sentence for each family of boards cut together: what is bought, and what no cutting
    of its pieces, and no layout of as few joints, can go below."""
    return tuple(_proof_in_words(plan, proof) + _over_joints_in_words(plan, proof) for proof in plan.proofs)


def _over_joints_in_words(plan: Plan, proof: Proof) -> str:
    """' With any joints as few as these, none with fewer than 214: proved.'; nothing where it is not worked out."""
    boards, cents = proof.lower_bound_any_joints, proof.lower_bound_cents_any_joints
    if len(proof.codes) == 1 and boards is not None:
        fewer = "" if boards == proof.boards else f" than {boards:,}"
        return f" With any joints as few as these, none can use fewer{fewer}: proved."
    if len(proof.codes) > 1 and cents is not None and proof.cost_cents:
        least = grouped_money(from_cents(cents), plan.order.currency)
        than = "" if cents == proof.cost_cents else f" than {least}"
        return f" With any joints as few as these, none can cost less{than}: proved."
    return ""


def _proof_in_words(plan: Plan, proof: Proof) -> str:
    boards = counted(proof.boards, "board")
    if len(proof.codes) == 1:
        words = f"{boards} of {proof.codes[0]}; no cutting of these pieces can use fewer"
        if proof.lower_bound == proof.boards:
            return f"{words}: proved."
        count = plan.boards[proof.codes[0]]
        if count.packs and count.packs == count.lower_bound_packs:
            return (
                f"{boards} of {proof.codes[0]} in {counted(count.packs, 'pack')}; no cutting of these pieces can do"
                f" with fewer packs: proved. With fewer than {counted(proof.lower_bound, 'board')} it cannot be done;"
                " those above are in packs that are paid for anyway, and shorten what waits."
            )
        return f"{words} than {proof.lower_bound:,}."
    each = ", ".join(f"{plan.boards[code].count:,} of {code}" for code in proof.codes)
    if not proof.cost_cents:
        return f"{boards} ({each}); no cutting of these pieces can use fewer than {proof.lower_bound:,}."
    currency = plan.order.currency
    words = f"{boards} ({each}) for {grouped_money(from_cents(proof.cost_cents), currency)} before packs are rounded up"
    if proof.lower_bound_cents == proof.cost_cents:
        return f"{words}; no cutting of these pieces can cost less: proved."
    least = grouped_money(from_cents(proof.lower_bound_cents), currency)
    return f"{words}; no cutting of these pieces can cost less than {least}."


def question_in_words(question: Question) -> str:
    """A question to the survey in a line: where, what, why, and what to measure again."""
    return (
        f"{question.run} at {question.at_mm} mm ({question.value}): {question.says} {question.why}"
        f" Measure again: {question.measure}."
    )


def edge_in_words(edge: Edge) -> str:
    """'L01-N, L01-E, L01-S, L01-W and back to L01-N: a closed loop', or where an edge begins and ends openly."""
    runs = ", ".join(edge.runs)
    if edge.closed and len(edge.runs) == 1:
        return f"{runs}: a closed curve that meets itself"
    if edge.closed:
        return f"{runs} and back to {edge.runs[0]}: a closed loop"
    return f"{runs}: open at both ends"


def edges_in_words(plan: Plan) -> tuple[str, ...]:
    """How many edges the runs make up and what their joints take; nothing where no run joins another."""
    if not any(run.joins for run in plan.project.runs):
        return ()
    edges = plan.project.building.edges
    loops = sum(edge.closed for edge in edges)
    tape = sum(junction.tape_mm for junction in plan.junctions)
    missing = len(plan.project.building.junctions) - len(plan.junctions)
    told = [
        f"{counted(loops, 'closed loop')} and {counted(len(edges) - loops, 'open edge')};"
        f" {counted(len(plan.junctions), 'taped joint')} where runs meet, {tape / 1000:,.2f} m of tape: counted in"
        " joints and tape."
    ]
    if missing:
        told.append(
            f"{counted(missing, 'meeting')} of runs without a piece on either side: no joint is counted there."
        )
    return tuple(told)


def square_metres(area_mm2: int) -> str:
    """1_234_567_890 -> '1,234.57 m2'."""
    return f"{area_mm2 / 1e6:,.2f} m2"


def waste_in_words(plan: Plan) -> str:
    """Where the board area went, in one sentence."""
    waste = plan.waste
    stock = f" and {square_metres(waste.stock_mm2)} from stock" if waste.stock_mm2 else ""
    return (
        f"{square_metres(waste.bought_mm2)} bought{stock}: {square_metres(waste.fitted_mm2)} fitted,"
        f" {square_metres(waste.reusable_offcut_mm2)} left over in reusable sizes,"
        f" {square_metres(waste.scrap_mm2)} scrap ({waste.scrap_fraction:.1%})."
    )


def carrying_in_words(plan: Plan) -> tuple[str, ...]:
    """Boards and carrying in one sum, where keeping a remainder has a price, and what no cutting comes to less than."""
    found, currency = plan.carrying, plan.order.currency
    if found is None:
        return ()
    proof = ": proved" if found.optimal else f" than {grouped_money(found.lower_bound, currency)}"
    return (
        f"{grouped_money(found.total, currency)} for boards and carrying: boards {amount_text(found.boards, currency)},"
        f" {found.remainder_stages:,} remainders times deliveries at {amount_text(found.price, currency)} each"
        f" {amount_text(found.carrying, currency)}. No cutting of these pieces comes to less{proof}.",
    )


def bracket_choices_in_words(plan: Plan) -> tuple[str, ...]:
    """What the brackets of the measured levels cost by each choice among the sizes that fit; nothing where all choices
    cost the same."""
    costs, currency = plan.bracket_choices, plan.order.currency
    if len(set(costs.values())) < 2 or plan.bracket_lower_bound is None:
        return ()
    named = {"nearest": "nearest to the target", "cheapest": "cheapest", "fewest_sizes": "fewest sizes"}
    parts = [f"{named[choice]} {amount_text(cost, currency)}" for choice, cost in costs.items()]
    where = " of the measured levels" if any(level.status == "forecast" for level in plan.levels) else ""
    bound = plan.bracket_lower_bound
    proof = ": proved" if bound >= min(costs.values()) else f" than {amount_text(bound, currency)}"
    return (
        f"Brackets{where} in whole packs with their allowance, {currency}: {', '.join(parts)}. No sizes within the"
        f" detail's band cost less{proof}. bracket_choice in the detail says which is taken.",
    )


def delivery_costs_in_words(plan: Plan) -> tuple[str, ...]:
    """The sum of goods, loads, storage and waiting, its parts, and what no schedule can go below."""
    costs, currency = plan.delivery_costs, plan.order.currency
    if costs is None:
        return ()
    limits = plan.project.delivery_limits
    parts = [f"goods {amount_text(costs.goods, currency)}"]
    if limits is not None and limits.delivery_cost is not None:
        parts.append(f"{counted(costs.loads, 'load')} {amount_text(costs.delivery, currency)}")
    if limits is not None and limits.storage_cost is not None:
        weeks = f"{costs.storage_m2_weeks:,.1f} m2 weeks of storage"
        parts.append(f"{weeks} {amount_text(costs.storage, currency)}")
    if costs.waiting:
        parts.append(f"waiting {amount_text(costs.waiting, currency)}")
    proof = ": proved" if costs.optimal else f" than {grouped_money(costs.lower_bound, currency)}"
    return (
        f"{grouped_money(costs.total, currency)} in all: {', '.join(parts)}. No other days of delivery cost"
        f" less{proof}.",
    )


def on_site_in_words(plan: Plan) -> tuple[str, ...]:
    """The most that stands on site at a time, and the heaviest stack."""
    most = max(plan.on_site, key=lambda there: there.floor_mm2 or there.face_mm2, default=None)
    if most is None or not most.face_mm2:
        return ()
    floor = "" if most.floor_mm2 is None else f", {square_metres(most.floor_mm2)} of floor in stacks"
    weight = "" if most.weight_kg is None else f", {most.weight_kg:,.0f} kg"
    said = [f"At most on {most.day}: {square_metres(most.face_mm2)} of board by its face{floor}{weight}."]
    loads = [there.floor_load_kg_m2 for there in plan.on_site if there.floor_load_kg_m2]
    limits = plan.project.delivery_limits
    carries = limits.floor_load_kg_m2 if limits else None
    if loads and (carries or (limits and limits.stacked)):
        kept = all(there.floor_load_kept is not False for there in plan.on_site)
        limit = "" if carries is None else (
            f", {'within' if kept else 'ABOVE'} the floor loading of {carries:,} kg/m2"
        )  # fmt: skip
        said.append(f"The heaviest full stack presses {max(loads):,.1f} kg/m2{limit}.")
    return tuple(said)


def limits_not_kept(plan: Plan) -> tuple[str, ...]:
    """What the limits of deliveries and site make impossible, and which staging, date or limit would fit."""
    return tuple(warning for warning in plan.warnings if warning.startswith("Deliveries: "))


def place_in_words(place: NotPlanned) -> str:
    """A place that cannot be built as it stands: where, why, and what would fix it."""
    where = f"run {place.run}, {place.from_mm} to {place.to_mm} mm: "
    reason = place.reason.strip().rstrip(".")
    return (
        f"level {place.level}, {'' if reason.startswith(f'run {place.run}') else where}{reason}; {place.mend}"
    )


def parts_in_words(plan: Plan) -> str:
    """How much of the order is firm and how much a forecast; empty where all of it is firm."""
    amounts = {"firm": NOTHING, "forecast": NOTHING}
    for line in plan.order.lines:
        amounts[line.status] += line.amount
    if not any(line.status == "forecast" for line in plan.order.lines):
        return ""
    firm, forecast = (grouped_money(amounts[status], plan.order.currency) for status in ("firm", "forecast"))
    return f"firm {firm}, forecast {forecast}"


def forecast_in_words(plan: Plan) -> tuple[str, ...]:
    """What a forecast means, how far it covers what the survey may find, and by when to measure; none where all is
    firm."""
    levels = [level for level in plan.levels if level.status == "forecast"]
    if not levels:
        return ()
    found = [
        f"Forecast, not measured yet: {listed([level.level for level in levels], _MANY)}. Quantities are for"
        " ordering and may change with the survey; nothing of these levels is ready to cut."
    ]
    cover = plan.forecast
    if cover is not None:
        asked = f"{float(cover.service_level) * 100:.4g} %"
        proof = f"no packs that cover {asked} cost less" + (
            ": proved" if cover.proved else f" than {grouped_money(cover.least_cost, plan.order.currency)}"
        )
        found.append(
            f"The order covers {cover.covered:,} of {cover.draws:,} possible surveys in every product at once"
            f" ({asked} are asked for; {proof}). Product by product at the same share,"
            f" {cover.covered_alone:,} would be covered. The allowance of forecast levels is this"
            " cover; that for breakage and loss is on firm levels alone."
        )
    if days := days_to_measure(plan):
        found.append(days)
    return tuple(found)


def days_to_measure(plan: Plan, among: Collection[str] | None = None) -> str:
    """By which day each forecast level must be measured, of those `among` (None: all); empty where none has a day."""
    days = [
        f"{level.level} by {level.measure_by}"
        for level in plan.levels
        if level.measure_by is not None and (among is None or level.level in among)
    ]
    return f"Measure to keep the deliveries: {listed(days, _MANY)}." if days else ""
