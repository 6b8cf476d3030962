"""The options of a comparison: what is chosen, what it takes, and which options are best. Types and plain values."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from pydantic import Field

from optimiser.cutting.status import Status, proof_in_short
from optimiser.model.immutable import Immutable
from optimiser.model.money import NOTHING, Money, money_text
from optimiser.tables.amounts import grouped_money
from optimiser.tables.text import counted

if TYPE_CHECKING:
    import pandas


class Choice(Immutable):
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


class GapOption(Immutable):
    """One gap with one choice. Counts are None where nothing at all can be placed; `problem` says what cannot be
    built and why ('' when all can). `scrap_fraction` as in a plan's waste.

    `cost` is the whole order: boards, brackets, anchors and tape in whole packs, with the project's flat
    allowances. `boards_more_at_next_gap` is what the next larger gap compared takes on top: a tooth's step.
    `best`: in what this option is the best of all that can be built whole.
    """

    gap_mm: int
    choice: Choice
    cut_width_mm: int | None
    strips_per_board: int | None
    boards: int | None = None
    lower_bound: int | None = None
    boards_by_code: dict[str, int] = Field(default_factory=dict)
    boards_per_100_m: float | None = None
    scrap_fraction: float | None = None
    cost: Money | None = None
    pieces: int = 0
    joints: int = 0
    brackets: dict[str, int] = Field(default_factory=dict)
    anchors: int = 0
    tape_mm: int = 0
    problem: str = ""
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

    @property
    def status(self) -> Status:
        """Whether everything can be built, and whether no plan at this gap buys fewer boards."""
        if self.boards is None:
            return Status.NOT_PLANNED
        return Status.of(proved=self.optimal, left_out=not self.whole)

    def __repr__(self) -> str:
        """'150 mm: 253 boards, proved'."""
        if self.boards is None or self.lower_bound is None:
            return f"{self.gap_mm} mm: {self.problem}"
        found = f"{self.gap_mm} mm: {counted(self.boards, 'board')}, {proof_in_short(self.boards, self.lower_bound)}"
        return f"{found}; {self.problem}" if self.problem else found

    def as_json(self) -> dict[str, Any]:
        """Plain values; money as decimal text."""
        values = self.model_dump(exclude={"cost", "choice"})
        choice = {
            "boards": list(self.choice.boards),
            "oversize": _numbers(self.choice.oversize),
            "insertion": _numbers(self.choice.insertion),
            "brackets": list(self.choice.brackets),
        }
        cost = None if self.cost is None else money_text(self.cost)
        return {**values, "choice": choice, "optimal": self.optimal, "cost": cost, "best": list(self.best)}


class Comparison(Immutable):
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

    def fewest(self) -> GapOption | None:
        """The option of the fewest boards of all that can be built whole, of equals the largest gap; None: none can."""
        return next((option for option in self.options if "fewest boards" in option.best), None)

    def __repr__(self) -> str:
        """'16 gap options; fewest boards at 150 mm: 253 boards, proved; AUD 19,477.50'."""
        best = self.fewest()
        if best is None or best.cost is None:
            return f"{counted(len(self.options), 'gap option')}; none can be built whole"
        cost = grouped_money(best.cost, self.currency)
        return f"{counted(len(self.options), 'gap option')}; fewest boards at {best!r}; {cost}"

    def _repr_html_(self) -> str:
        from optimiser.tables.columns import only
        from optimiser.tables.gap_options import GAP_OPTIONS
        from optimiser.tables.text import html_of

        columns = only(
            GAP_OPTIONS, "gap_mm", "cut_width_mm", "strips_per_board", "boards", "lower_bound", "scrap_fraction",
            "cost", "joints", "best", "problem",
        )  # fmt: skip
        return html_of(columns, self.options, repr(self), self.currency, self.notes)

    def to_frame(self) -> pandas.DataFrame:
        """The options as a frame, with the columns of gaps.csv.

        Returns
        -------
        pandas.DataFrame
            Shape (options, 23 + bracket sizes), a row an option, by choice and then by gap: gap_mm, boards,
            lower_bound, scrap_fraction (of the board area), cost (of the whole order, exact `decimal.Decimal`), joints,
            currency, optimal (whether `boards` is proved to be the least), boards_per_100_m, cut_width_mm,
            strips_per_board, pieces, anchors, tape_mm, boards_more_at_next_gap, best, board, oversize_min,
            oversize_max, insertion_min, insertion_max, brackets_offered, problem, and `brackets CODE` for each size in
            use. boards, lower_bound, scrap_fraction and cost are missing where nothing can be placed at that
            gap; the choice's columns are missing or empty where the project's own stand.
        """
        from optimiser.tables.frames import frame_of
        from optimiser.tables.gap_options import gap_option_columns

        return frame_of(gap_option_columns(self.currency, self.options), self.options)

    @classmethod
    def of_json(cls, value: Mapping[str, Any]) -> Comparison:
        """The comparison that `as_json` gave as plain values."""
        options = []
        for option in value["options"]:
            exact = {name: _decimals(option["choice"][name]) for name in ("oversize", "insertion")}
            plain = {name: of for name, of in option.items() if name != "optimal"}
            options.append(GapOption.model_validate(plain | {"choice": {**option["choice"], **exact}}))
        return cls.model_validate({**value, "options": options})

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
            yield here.model_copy(update={"boards_more_at_next_gap": after.boards - here.boards})


def with_best(options: Sequence[GapOption], several: bool) -> Iterator[GapOption]:
    """The options with what is best of all that can be built whole marked: of equals the largest gap, of those the
    first. `several`: there are several choices, so the best at each gap is marked too."""
    aims: dict[str, Callable[[GapOption], float | Decimal]] = {
        "fewest boards": lambda option: option.boards or 0,
        "least scrap": lambda option: option.scrap_fraction or 0.0,
        "least cost": lambda option: option.cost or NOTHING,
    }
    places = [place for place, option in enumerate(options) if option.whole]
    marks: dict[int, list[str]] = {}
    for aim, value in aims.items():
        if aim == "least cost" and not any(options[place].cost for place in places):
            continue  # the products have no prices
        for place in sorted(places, key=lambda p: (value(options[p]), -options[p].gap_mm, p))[:1]:
            marks.setdefault(place, []).append(aim)
    if several:
        at_gap: dict[int, list[int]] = {}
        for place in places:
            at_gap.setdefault(options[place].gap_mm, []).append(place)
        for alike in at_gap.values():
            best = min(alike, key=lambda p: (options[p].cost, options[p].boards, p))
            marks.setdefault(best, []).append("best at this gap")
    for place, option in enumerate(options):
        yield option.model_copy(update={"best": tuple(marks.get(place, ()))})


def _decimals(values: Sequence[float] | None) -> tuple[Decimal, ...] | None:
    return None if values is None else tuple(Decimal(str(value)) for value in values)


def _numbers(values: tuple[Decimal, ...] | None) -> list[float] | None:
    return None if values is None else [float(value) for value in values]
