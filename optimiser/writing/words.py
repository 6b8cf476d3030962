"""What the numbers of a plan mean, in plain words: the proof, amounts and areas."""

from __future__ import annotations

from optimiser.plan import NotPlanned, Plan, Proof
from optimiser.project import money_text

# fmt: off
WITHOUT_DECIMALS = frozenset((
    "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND", "VUV", "XAF", "XOF",
    "XPF",
))
# fmt: on
"""Currencies whose minor unit is the unit itself (ISO 4217, exponent 0)."""


def amount_text(cents: int, currency: str) -> str:
    """12345600 -> '123,456.00'; whole amounts of a currency that has no smaller unit as '123,456'."""
    whole, _, part = money_text(cents).partition(".")
    digits = f"{int(whole):,}"
    return digits if currency in WITHOUT_DECIMALS and part == "00" else f"{digits}.{part}"


def grouped_money(cents: int, currency: str) -> str:
    """12345600 -> 'AUD 123,456.00'."""
    return f"{currency} {amount_text(cents, currency)}"


def counted(number: int, noun: str) -> str:
    """1, 'piece' -> '1 piece'; 1200, 'piece' -> '1,200 pieces'."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def proofs_in_words(plan: Plan) -> tuple[str, ...]:
    """A sentence for each family of boards cut together: what is bought, and what no cutting
    of its pieces can go below."""
    return tuple(_proof_in_words(plan, proof) for proof in plan.proofs)


def _proof_in_words(plan: Plan, proof: Proof) -> str:
    boards = counted(proof.boards, "board")
    if len(proof.codes) == 1:
        words = f"{boards} of {proof.codes[0]}; no cutting of these pieces can use fewer"
        if proof.lower_bound == proof.boards:
            return f"{words}: proved."
        return f"{words} than {proof.lower_bound:,}."
    each = ", ".join(f"{plan.boards[code].count:,} of {code}" for code in proof.codes)
    if not proof.cost_cents:
        return f"{boards} ({each}); no cutting of these pieces can use fewer than {proof.lower_bound:,}."
    currency = plan.order.currency
    words = f"{boards} ({each}) for {grouped_money(proof.cost_cents, currency)} before packs are rounded up"
    if proof.lower_bound_cents == proof.cost_cents:
        return f"{words}; no cutting of these pieces can cost less: proved."
    least = grouped_money(proof.lower_bound_cents, currency)
    return f"{words}; no cutting of these pieces can cost less than {least}."


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


def place_in_words(place: NotPlanned) -> str:
    """A place that cannot be built as it stands: where, why, and what would mend it."""
    where = f"run {place.run}, {place.from_mm} to {place.to_mm} mm: "
    reason = place.reason.strip().rstrip(".")
    return (
        f"level {place.level}, {'' if reason.startswith(f'run {place.run}') else where}{reason}; {place.mend}"
    )
