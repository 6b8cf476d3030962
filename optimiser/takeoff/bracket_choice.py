"""Which of the bracket sizes that fit each piece takes: the nearest, the cheapest together, or as few sizes as can be.

A detail's band leaves many gaps a choice of sizes. What is taken decides how full the packs are, so the sizes are
chosen for all pieces together, by an integer program over the sets of sizes that fit: how many pieces of each set and
number of brackets take each size, whole packs with the allowance, at the price of a pack before price breaks. Of
equal choices the one nearest to the target. A choice of the user's and not of the tested detail, whose band it keeps;
the tested detail, local code and a licensed practitioner decide.

Levels that are still nominal are a forecast, counted by simulation with the nearest size: they keep it, and stand in
no sum here.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from highspy import HighsVarType, kHighsInf

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.paid_packs import flat_fractions, packs_for
from optimiser.cutting.quiet_highs import QuietHighs
from optimiser.model.detail import BracketChoice
from optimiser.model.money import cents_of
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Bracket, Project
from optimiser.takeoff.brackets import Brackets, PlacedPiece

MOST_NODES = 5_000  # of the search tree, for sizes and for cost; a few suffice
MOST_NODES_FOR_NEARNESS = 100
CHOICES: tuple[BracketChoice, ...] = ("nearest", "cheapest", "fewest_sizes")


@dataclass(frozen=True, slots=True)
class Choosable:
    """A piece whose size is open: the codes that fit, the nearest first, and how many brackets it has."""

    fitting: tuple[str, ...]
    brackets: int


@dataclass(frozen=True)
class Chosen:
    """A code for each piece, what the brackets of all cost in whole packs, in cents, and what no choice within the
    band can cost less than: proved, and 0 where the choice was not by cost."""

    codes: tuple[str, ...]
    cents: int
    least_cents: int = 0


@dataclass(frozen=True)
class CostsOfChoices:
    """What the brackets of the measured levels cost by each choice, in cents, and what none can cost less than."""

    cents: Mapping[BracketChoice, int]
    least_cents: int


def chosen_codes(
    project: Project,
    places: Sequence[PlacedPiece],
    found: Sequence[Brackets],
    kept: Sequence[str | None] = (),
) -> tuple[str | None, ...]:
    """The code of every piece's size, by the choice of its run's detail; None for a piece that no size fits.

    `found` are the pieces' brackets (`takeoff.brackets.brackets_of`), in the pieces' order; `kept` the codes of an
    earlier plan, which stay where they still fit and the nearest is not asked for.
    """
    forecast, detail_of = forecast_levels(project), project.building.detail_of
    codes: list[str | None] = [here.bracket for here in found]
    besides: Counter[str] = Counter()
    open_places: dict[BracketChoice, list[int]] = {"fewest_sizes": [], "cheapest": []}
    for place, (piece, here) in enumerate(zip(places, found, strict=True)):
        if not here.fitting or piece.level in forecast:
            continue
        choice = detail_of(piece.run).bracket_choice
        before = kept[place] if kept else None
        if choice == "nearest":
            besides[here.fitting[0]] += len(here.positions_mm)
        elif before in here.fitting:
            codes[place] = before
            besides[before] += len(here.positions_mm)
        else:
            open_places[choice].append(place)
    packs = Packs(project)
    for choice, chosen_places in open_places.items():
        pieces = [Choosable(found[place].fitting, len(found[place].positions_mm)) for place in chosen_places]
        made = choose(pieces, besides, packs, choice)
        besides += counted(pieces, made.codes)
        for place, code in zip(chosen_places, made.codes, strict=True):
            codes[place] = code
    return tuple(codes)


def costs_of_choices(
    project: Project, pieces: Sequence[PlannedPiece], fitting: Mapping[str, tuple[str, ...]]
) -> CostsOfChoices | None:
    """What each choice would cost if every detail made it; None where no size is on offer.

    `fitting`: the sizes that fit each piece that is not done, by its id, the nearest first. Pieces that are done keep
    their brackets. What is on site or on order already is not taken off.
    """
    if not project.brackets:
        return None
    forecast = forecast_levels(project)
    here = [piece for piece in pieces if piece.bracket is not None and piece.level not in forecast]
    besides: Counter[str] = Counter()
    for piece in here:
        if piece.done and piece.bracket is not None:
            besides[piece.bracket] += len(piece.brackets_at_mm)
    open_pieces = [
        Choosable(fitting[piece.id], len(piece.brackets_at_mm)) for piece in here if not piece.done
    ]
    packs = Packs(project)
    made = {choice: choose(open_pieces, besides, packs, choice, near=False) for choice in CHOICES}
    cents: dict[BracketChoice, int] = {choice: chosen.cents for choice, chosen in made.items()}
    return CostsOfChoices(cents, made["cheapest"].least_cents)


class Packs:
    """What brackets cost: whole packs of each size with the allowance on it, rounded up once."""

    def __init__(self, project: Project) -> None:
        self.products: dict[str, Bracket] = {size.code: size for size in project.brackets}
        fractions = flat_fractions(project)
        self.fractions = {code: fractions.get(code, Fraction(0)) for code in self.products}

    def cents(self, needed: Mapping[str, int]) -> int:
        """Of so many brackets by code."""
        return sum(
            packs_for(number, self.fractions[code], self.products[code].per_pack)
            * cents_of(self.products[code].price)
            for code, number in needed.items()
            if number
        )


def counted(pieces: Iterable[Choosable], codes: Iterable[str]) -> Counter[str]:
    """How many brackets of each code the pieces take."""
    needed: Counter[str] = Counter()
    for piece, code in zip(pieces, codes, strict=True):
        needed[code] += piece.brackets
    return needed


def choose(
    pieces: Sequence[Choosable],
    besides: Mapping[str, int],
    packs: Packs,
    choice: BracketChoice,
    *,
    near: bool = True,
) -> Chosen:
    """The sizes of all pieces by `choice`; `besides` are brackets by code that are needed in any case.

    'cheapest': least cost. 'fewest_sizes': as few sizes as can be, those `besides` included, then least cost.
    Then, if `near`, as near to the target as can be: the fewest steps in the order of nearness, over all pieces.
    """
    nearest = tuple(piece.fitting[0] for piece in pieces)
    if choice == "nearest" or all(len(piece.fitting) == 1 for piece in pieces):
        cents = packs.cents(counted(pieces, nearest) + Counter(besides))
        return Chosen(nearest, cents, cents if choice == "cheapest" else 0)
    return _Program(pieces, besides, packs).solved(nearest, few_sizes=choice == "fewest_sizes", near=near)


class _Program:
    """How many pieces of each set of sizes and number of brackets take each size: an integer program for HiGHS."""

    def __init__(self, pieces: Sequence[Choosable], besides: Mapping[str, int], packs: Packs) -> None:
        self.packs, self.pieces, self.besides = packs, pieces, besides
        self.groups: dict[Choosable, list[int]] = defaultdict(list)
        for place, piece in enumerate(pieces):
            self.groups[piece].append(place)
        self.solver = QuietHighs()
        self.solver.setOptionValue("mip_rel_gap", 0.0)
        self.takes: dict[tuple[Choosable, str], int] = {}
        for group, places in self.groups.items():
            for code in group.fitting:
                self.takes[group, code] = self._whole_number(len(places))
            columns = [self.takes[group, code] for code in group.fitting]
            self._row(len(places), len(places), dict.fromkeys(columns, 1))
        self.bought: dict[str, int] = {}
        self.used: dict[str, int] = {}
        for code in sorted({code for piece in pieces for code in piece.fitting} | set(besides)):
            self._size(code, besides.get(code, 0))

    def _whole_number(self, most: int, least: int = 0) -> int:
        """The place of a new variable."""
        place: int = self.solver.getNumCol()
        self.solver.addCol(0.0, float(least), float(most), 0, [], [])
        self.solver.changeColIntegrality(place, HighsVarType.kInteger)
        return place

    def _row(self, least: float, most: float, factors: Mapping[int, int]) -> None:
        self.solver.addRow(least, most, len(factors), list(factors), [float(n) for n in factors.values()])

    def _size(self, code: str, besides: int) -> None:
        """A size's packs hold its brackets and the allowance on them; it is used where any piece takes it."""
        per_pack = self.packs.products[code].per_pack
        fraction = 1 + self.packs.fractions[code]
        takers = [group for group in self.groups if code in group.fitting]
        most = besides + sum(group.brackets * len(self.groups[group]) for group in takers)
        self.bought[code] = self._whole_number(ceil(most * fraction / per_pack))
        holds = {self.takes[group, code]: fraction.numerator * group.brackets for group in takers}
        holds[self.bought[code]] = -fraction.denominator * per_pack
        self._row(-kHighsInf, -fraction.numerator * besides, holds)
        self.used[code] = self._whole_number(1, least=1 if besides else 0)
        for group in takers:
            self._row(-kHighsInf, 0, {self.takes[group, code]: 1, self.used[code]: -len(self.groups[group])})

    def solved(self, nearest: tuple[str, ...], *, few_sizes: bool, near: bool) -> Chosen:
        """One aim after the other, each held while the next is pursued."""
        sizes = dict.fromkeys(self.used.values(), 1)
        cost = {place: cents_of(self.packs.products[code].price) for code, place in self.bought.items()}
        steps = {place: group.fitting.index(code) for (group, code), place in self.takes.items()}
        aims = [*([sizes] if few_sizes else []), cost, *([steps] if near else [])]
        codes, least = nearest, 0
        for aim in aims:
            for place in range(self.solver.getNumCol()):
                self.solver.changeColCost(place, float(aim.get(place, 0)))
            most_nodes = MOST_NODES_FOR_NEARNESS if aim is steps else MOST_NODES
            self.solver.setOptionValue("mip_max_nodes", most_nodes)
            self.solver.run_or_raise()
            info = self.solver.getInfo()
            if aim is cost and not few_sizes:
                least = max(0, ceil(info.mip_dual_bound - 1e-3))
            values = [round(value) for value in self.solver.getSolution().col_value]
            found = self._codes(values)
            if found is None:
                break
            codes = found
            if aim is cost:
                for place in self.bought.values():  # nearness is sought among what these packs hold
                    self.solver.changeColBounds(place, float(values[place]), float(values[place]))
            else:
                self._row(-kHighsInf, sum(factor * values[place] for place, factor in aim.items()), aim)
        cents = self.packs.cents(counted(self.pieces, codes) + Counter(self.besides))
        return Chosen(codes, cents, min(least, cents))

    def _codes(self, values: Sequence[int]) -> tuple[str, ...] | None:
        """By piece: of those alike the first ones along the building take the nearer sizes. None where the solver
        has no solution in whole numbers."""
        if not values:
            return None
        codes = [""] * len(self.pieces)
        for group, places in self.groups.items():
            of_group = [code for code in group.fitting for _ in range(values[self.takes[group, code]])]
            if len(of_group) != len(places):
                return None
            for place, code in zip(places, of_group, strict=True):
                codes[place] = code
        return tuple(codes)
