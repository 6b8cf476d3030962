"""What happened since a plan was made: its pieces that are done, what is left of its boards, what was supplied.

That a piece is cut says that its board was opened and ripped so far as the plan has it; what the plan leaves of it is
on the rack unless an event says otherwise. Of a tapered pair both are free once one is.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from itertools import count

from optimiser.boards.cutting_sequence import board_name
from optimiser.errors.problems import CannotBeDone, shown
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.progress import AtHand
from optimiser.model.record import Event, Record, board_number
from optimiser.model.remainder import Remainder
from optimiser.replanning.job_state import Happened
from optimiser.replanning.opened_boards import least_piece, opened_board
from optimiser.replanning.own_stock import own_stock


def happened(plan: Plan, record: Record) -> Happened:
    """How the job stands after a plan and everything on record, the plan's own record included.

    Raises CannotBeDone where events name what the plan does not have, with every such event.
    """
    return _Reader(plan, record).read()


class _Reader:
    """Reads the events one after the other."""

    def __init__(self, plan: Plan, record: Record) -> None:
        self.plan, self.record = plan, record
        self.pieces = {piece.id: piece for piece in plan.pieces}
        self.layouts = dict(plan.numbered_layouts)
        self.layout_of = {
            piece.id: number
            for number, layout in plan.numbered_layouts
            for strip in layout.strips
            for piece in strip.pieces
        }
        self.remainders = {part.name: part.layout for part in plan.remainders}
        self.at_hand = {item.name: item for item in plan.job.at_hand}
        self.wrong: list[str] = []
        self.state = Happened()
        self.named_as_kept: set[str] = set()
        self.changes: list[Event] = []  # kept and scrapped remainders, which come after the cuts

    def read(self) -> Happened:
        state, plan = self.state, self.plan
        state.cut = {piece.id for piece in plan.pieces if piece.status != "planned"}
        state.fitted = {piece.id for piece in plan.pieces if piece.status == "fitted"}
        state.boards = list(plan.job.cut_boards)
        seen, stands = set(plan.record.standing), set(self.record.standing)
        for event in self.record.standing:
            self._supply(event)
            if event not in seen:
                self._cutting(event)
        for event in plan.record.standing:
            if event not in stands and event.event in ("cut", "fitted", "kept", "scrapped"):
                self.wrong.append(
                    f"{_told(event)}: the plan was made again since, so it cannot be taken back; put right what is"
                    " so now with an event of today"
                )
        self._open_boards()
        for event in self.changes:
            self._change_rack(event)
        if self.wrong:
            raise CannotBeDone(self.wrong)
        return state

    # -- what was bought

    def _supply(self, event: Event) -> None:
        state = self.state
        if event.event not in ("ordered", "delivered", "scrapped") or not event.code:
            return
        if event.event == "scrapped" and (event.piece or event.board):
            return
        if event.code not in self.plan.project.building.products:
            self.wrong.append(
                f"{_told(event)}: {shown(event.code)} is no product of the plan; write its code"
            )
            return
        if event.level and event.level not in self.plan.project.building.levels:
            self.wrong.append(f"{_told(event)}: {shown(event.level)} is no level of the plan; write its name")
            return
        number = event.quantity or 0
        if event.event == "ordered":
            state.ordered[event.code] += number
            state.ordered_for.setdefault(event.code, Counter())[event.level] += number
        elif event.event == "delivered":
            state.delivered[event.code] += number
        else:
            state.lost[event.code] += number

    # -- what was cut

    def _cutting(self, event: Event) -> None:
        if event.event == "cut":
            self.state.cut |= set(self._named(event))
        elif event.event == "fitted":
            named = set(self._named(event))
            if event.piece in self.state.spoilt:
                self.wrong.append(
                    f"{_told(event)}: piece {event.piece} was scrapped before; take that back, or name the piece that"
                    " was fitted in its place"
                )
            self.state.cut |= named
            self.state.fitted |= named
        elif event.event == "inspected":
            self._named(event)
        elif event.event == "kept":
            self.changes.append(event)
        elif event.event == "scrapped" and event.piece:
            for name in self._named(event):
                if name in self.state.fitted or name in self.state.cut:
                    self.state.spoilt.add(name)
                    self.state.fitted.discard(name)
                else:
                    self.wrong.append(
                        f"{_told(event)}: piece {name} is not cut yet; say first that it was cut"
                    )
        elif event.event == "scrapped" and event.board:
            self.changes.append(event)

    def _named(self, event: Event) -> Iterator[str]:
        """The pieces that an event names."""
        if event.piece:
            if event.piece not in self.pieces:
                self.wrong.append(f"{_told(event)}: the plan has no piece {shown(event.piece)}; write its id")
            else:
                yield event.piece
        elif event.board:
            number = self._number(event)
            if number is None:
                return
            until = self._sequence(event)
            if number not in self.layouts:
                self._refuse_what_waits_of(number, event)
                return
            for strip in self.layouts[number].strips:
                for piece in strip.pieces:
                    if until is None or self._due(piece.id) <= until:
                        yield piece.id
        elif event.level and self._sequence(event) is not None:
            yield from (piece.id for piece in self.plan.pieces if piece.level == event.level)

    def _refuse_what_waits_of(self, number: int, event: Event) -> None:
        """A board that an earlier plan opened: said again it changes nothing, unless one of its remainders is to be
        cut, which has its own name."""
        kept = {part.name for board in self.state.boards if board.number == number for part in board.kept}
        waiting = sorted(layout.stock for layout in self.layouts.values() if layout.stock in kept)
        if waiting:
            self.wrong.append(
                f"{_told(event)}: board {shown(event.board)} was opened before this plan; write which remainder of it"
                f" was cut: {', '.join(waiting)}"
            )

    def _sequence(self, event: Event) -> int | None:
        if not event.level:
            return None
        found = self.plan.project.building.sequence_of_level.get(event.level)
        if found is None:
            self.wrong.append(f"{_told(event)}: the plan has no level {shown(event.level)}; write its name")
        return found

    def _due(self, piece: str) -> int:
        return self.plan.project.building.sequence_of_level[self.pieces[piece].level]

    def _number(self, event: Event) -> int | None:
        """The layout that an event's `board` means: its number, the name written on the board, or a remainder's."""
        if event.board in self.remainders:
            return self.remainders[event.board]
        named = next((n for n, layout in self.layouts.items() if layout.stock == event.board), None)
        if named is not None and event.board in self.at_hand:
            return named
        number = board_number(event.board)
        if number is not None and (number in self.layouts or number in self.state.opened):
            return number
        self.wrong.append(
            f"{_told(event)}: the plan has no board {shown(event.board)}; write its layout's number"
        )
        return None

    # -- what is left of boards

    def _open_boards(self) -> None:
        used: Counter[str] = Counter()
        cut_now = {
            number
            for name in sorted(self.state.cut)
            if not self.pieces[name].done and (number := self.layout_of.get(name)) is not None
        }
        highest = max(self.layouts, default=0)
        named: dict[int, list[Remainder]] = defaultdict(list)
        for remainder in self.plan.remainders:
            named[remainder.layout].append(remainder)
        least = least_piece(self.plan.pieces)
        for number in sorted(cut_now):
            layout = self.layouts[number]
            used[layout.stock] += 1
            board, waiting = opened_board(
                self.plan,
                number,
                board_name(self.plan.project, layout, number, highest, layout.repeat),
                layout,
                self.pieces,
                self.state.cut,
                named[number],
                least,
            )
            self.state.waiting |= waiting
            self.state.cut |= set(board.pieces)
            self.state.boards.append(board)
            for part in board.kept:
                self.state.rack[part.name] = AtHand(
                    name=part.name,
                    kind="remainder",
                    code=layout.code,
                    length_mm=part.length_mm,
                    width_mm=part.width_mm,
                    level=self._left_at(layout),
                )
        for item in self.plan.job.at_hand or own_stock(self.plan.project):
            left = item.quantity - used[item.name]
            if left > 0 and not item.whole:
                self.state.rack[item.name] = item.model_copy(update={"quantity": left})

    def _left_at(self, layout: PlannedPattern) -> str:
        """Where carrying is limited what is left keeps the delivery that brought it; otherwise it is simply there."""
        if self.plan.max_carry_stages is None:
            return ""
        return self.plan.project.building.delivered_together[layout.sequence][0]

    def _change_rack(self, event: Event) -> None:
        rack = self.state.rack
        if event.board in rack:
            target: str | None = event.board
        else:
            number = self._number(event)
            if number is None:
                return
            target = self._nearest(number, event)
        if event.event == "scrapped":
            if target is None:
                self.wrong.append(
                    f"{_told(event)}: nothing of board {shown(event.board)} is on the rack; name the remainder"
                )
            else:
                del rack[target]
            return
        length, width = event.length_mm or 0, event.width_mm or 0
        if target is None:
            number = self._number(event)
            assert number is not None
            source = next((board for board in self.state.boards if board.number == number), None)
            if source is None:
                self.wrong.append(
                    f"{_told(event)}: board {shown(event.board)} is not opened; say first what was cut of it"
                )
                return
            name = self._name_of_kept(source.name)
            rack[name] = AtHand(
                name=name, kind="remainder", code=source.code, length_mm=length, width_mm=width
            )
            return
        rack[target] = rack[target].model_copy(update={"length_mm": length, "width_mm": width})

    def _name_of_kept(self, board: str) -> str:
        """A name for something that was kept of a board although the plan leaves nothing of it: one that no part of it
        has or had, as far as the plan knows, since a label on site means one part for ever."""
        given = {*self.at_hand, *self.named_as_kept, *(opened.name for opened in self.state.boards)}
        given |= {item.name for item in self.plan.job.discarded}
        name = next(name for number in count(1) if (name := f"{board}-K{number}") not in given)
        self.named_as_kept.add(name)
        return name

    def _nearest(self, number: int, event: Event) -> str | None:
        """The remainder of a board on the rack that is nearest in size to what an event says."""
        names = {part.name for board in self.state.boards if board.number == number for part in board.kept}
        there = [self.state.rack[name] for name in names if name in self.state.rack]
        if not there:
            return None

        def apart(item: AtHand) -> tuple[int, str]:
            length = abs(item.length_mm - (event.length_mm or item.length_mm))
            return length + abs(item.width_mm - (event.width_mm or item.width_mm)), item.name

        return min(there, key=apart).name


def _told(event: Event) -> str:
    """An event by what it is and when it was."""
    name = f" {event.id}" if event.id else ""
    return f"the record, {event.event}{name} at {event.at:%Y-%m-%d %H:%M}"
