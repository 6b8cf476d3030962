"""The options of a comparison: what is chosen, what it takes, and which options are best. Types and plain values."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import Any

from optimiser.project import money_text


@dataclass(frozen=True)
class Choice:
    """What is compared beside the gap. None or empty: as the project has it.

    `boards`: every run is cut from these codes. `oversize` is (least, greatest), `insertion` (least, target,
    greatest), `brackets` the codes on offer.
    """

    boards: tuple[str, ...] = ()
    oversize: tuple[Decimal, Decimal] | None = None
    insertion: tuple[Decimal, Decimal, Decimal] | None = None
    brackets: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The choice in words; 'as the project has it' when nothing differs."""
        parts = [" or ".join(self.boards)] if self.boards else []
        parts += [f"oversize {self.oversize[0]:%} to {self.oversize[1]:%}"] if self.oversize else []
        if self.insertion:
            parts.append(f"insertion {self.insertion[0]:%} to {self.insertion[2]:%}")
        parts += [f"brackets {' '.join(self.brackets)}"] if self.brackets else []
        return ", ".join(parts) or "as the project has it"


@dataclass(frozen=True)
class GapOption:
    """One gap with one choice. Counts are None where nothing at all can be placed; `problem` says what cannot be
    built and why ('' when all can). Money is in cents, `scrap_fraction` as in a plan's waste.

    `cost_cents` is the whole order: boards, brackets, anchors and tape in whole packs, with the project's flat
    allowances. `boards_more_at_next_gap` is what the next larger gap compared takes on top: a tooth's step.
    `best`: in what this option is the best of all that can be built whole.
    """

    gap_mm: int
    choice: Choice
    cut_width_mm: int | None
    strips_per_board: int | None
    boards: int | None
    lower_bound: int | None
    boards_by_code: dict[str, int]
    boards_per_100_m: float | None
    scrap_fraction: float | None
    cost_cents: int | None
    pieces: int
    joints: int
    brackets: dict[str, int]
    anchors: int
    tape_mm: int
    problem: str
    boards_more_at_next_gap: int | None = None
    best: tuple[str, ...] = ()

    @property
    def optimal(self) -> bool:
        """Whether the number of boards is proved to be the least."""
        return self.boards is not None and self.boards == self.lower_bound

    @property
    def whole(self) -> bool:
        """Whether everything can be built as it stands."""
        return not self.problem

    def as_json(self) -> dict[str, Any]:
        """Plain values; money as decimal text."""
        values = asdict(self)
        del values["cost_cents"], values["choice"]
        choice = {
            "boards": list(self.choice.boards),
            "oversize": _numbers(self.choice.oversize),
            "insertion": _numbers(self.choice.insertion),
            "brackets": list(self.choice.brackets),
        }
        cost = None if self.cost_cents is None else money_text(self.cost_cents)
        return {**values, "choice": choice, "optimal": self.optimal, "cost": cost, "best": list(self.best)}


@dataclass(frozen=True)
class Comparison:
    """All options, by choice and then by gap. `edge_mm` is the length of the runs compared, `shifted` whether each
    run kept the shape of its own gaps, `notes` what the figures rest on."""

    options: tuple[GapOption, ...]
    edge_mm: int
    runs: int
    currency: str
    shifted: bool
    notes: tuple[str, ...]

    def by_choice(self) -> dict[Choice, tuple[GapOption, ...]]:
        """The options of each choice, by gap."""
        found: dict[Choice, list[GapOption]] = {}
        for option in self.options:
            found.setdefault(option.choice, []).append(option)
        return {choice: tuple(options) for choice, options in found.items()}

    def as_json(self) -> dict[str, Any]:
        """Plain values for a JSON document."""
        return {
            "edge_mm": self.edge_mm,
            "runs": self.runs,
            "currency": self.currency,
            "shifted": self.shifted,
            "options": [option.as_json() for option in self.options],
            "notes": list(self.notes),
        }


def with_steps(options: Sequence[GapOption]) -> Iterator[GapOption]:
    """The options of one choice, by gap, each with what the next gap takes on top."""
    for here, after in zip(options, [*options[1:], None], strict=True):
        if after is None or not here.whole or not after.whole or here.boards is None or after.boards is None:
            yield here
        else:
            yield replace(here, boards_more_at_next_gap=after.boards - here.boards)


def with_best(options: Sequence[GapOption], several: bool) -> Iterator[GapOption]:
    """The options with what is best of all that can be built whole marked: of equals the largest gap, of those the
    first. `several`: there are several choices, so the best at each gap is marked too."""
    aims: dict[str, Callable[[GapOption], float]] = {
        "fewest boards": lambda option: option.boards or 0,
        "least scrap": lambda option: option.scrap_fraction or 0.0,
        "least cost": lambda option: option.cost_cents or 0,
    }
    places = [place for place, option in enumerate(options) if option.whole]
    marks: dict[int, list[str]] = {}
    for aim, value in aims.items():
        if aim == "least cost" and not any(options[place].cost_cents for place in places):
            continue  # the products have no prices
        for place in sorted(places, key=lambda p: (value(options[p]), -options[p].gap_mm, p))[:1]:
            marks.setdefault(place, []).append(aim)
    if several:
        at_gap: dict[int, list[int]] = {}
        for place in places:
            at_gap.setdefault(options[place].gap_mm, []).append(place)
        for alike in at_gap.values():
            best = min(alike, key=lambda p: (options[p].cost_cents, options[p].boards, p))
            marks.setdefault(best, []).append("best at this gap")
    for place, option in enumerate(options):
        yield replace(option, best=tuple(marks.get(place, ())))


def _numbers(values: tuple[Decimal, ...] | None) -> list[float] | None:
    return None if values is None else [float(value) for value in values]
