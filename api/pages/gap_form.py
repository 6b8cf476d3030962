"""What the form of a comparison of gaps is filled in with, in the words of the command line, and what it asks for."""

from __future__ import annotations

from math import inf, isfinite

from pydantic import BaseModel, Field, ValidationError

from api.http.problem_details import said_of
from api.studies.schemas import ComparisonRequest
from optimiser.model.plan import Staging


class GapForm(BaseModel):
    """The form as it was sent. Choices stand side by side: `boards` are codes, each a choice of its own; `board_sets`
    and `brackets` are codes joined by +, `oversize` is written as 0.10:0.15, `insertion` as 0.70:0.75:0.85, several
    separated by spaces; `runs` are names or patterns, `time_limit` seconds for one option."""

    from_mm: int = 0
    to_mm: int = 0
    step_mm: int = 5
    boards: list[str] = Field(default=[], max_length=50)
    board_sets: str = Field(default="", max_length=400)
    brackets: str = Field(default="", max_length=400)
    oversize: str = Field(default="", max_length=400)
    insertion: str = Field(default="", max_length=400)
    runs: str = Field(default="", max_length=400)
    staging: Staging = "whole"
    shifted: bool = False
    time_limit: str = Field(default="", max_length=20)
    seed: str = Field(default="", max_length=20)

    @property
    def chooses(self) -> bool:
        """Whether anything beside the gap is asked for."""
        typed = (
            self.board_sets,
            self.brackets,
            self.oversize,
            self.insertion,
            self.runs,
            self.time_limit,
            self.seed,
        )
        return bool(self.boards or any(typed) or self.shifted) or self.staging != "whole"

    def request(self) -> tuple[ComparisonRequest | None, str]:
        """What is asked for; or None and why it cannot be used."""
        try:
            return (
                ComparisonRequest(
                    from_mm=self.from_mm,
                    to_mm=self.to_mm,
                    step_mm=self.step_mm,
                    boards=[*([code] for code in self.boards), *_codes(self.board_sets)],
                    brackets=_codes(self.brackets),
                    oversize=[(low, high) for low, high in _rates(self.oversize, 2, "0.10:0.15")],
                    insertion=[
                        (low, target, high)
                        for low, target, high in _rates(self.insertion, 3, "0.70:0.75:0.85")
                    ],
                    runs=self.runs.split(),
                    staging=self.staging,
                    shifted=self.shifted,
                    time_limit=_number(self.time_limit, "time_limit"),
                    seed=_whole(self.seed, "seed"),
                ),
                "",
            )
        except ValidationError as error:
            found = error.errors()[0]
            where = "" if found["type"] == "value_error" else f"{found['loc'][0]}: "
            return None, f"{where}{said_of(found)}."
        except ValueError as error:
            return None, f"{error}."


def _codes(text: str) -> list[list[str]]:
    """Choices of codes: 'K-90+K-110 K-120' is two, the first of two codes."""
    return [part.split("+") for part in text.replace(",", " ").split()]


def _number(text: str, name: str) -> float | None:
    """A number that was typed, None for none. Raises ValueError with what is none."""
    try:
        found = float(text) if text.strip() else None
    except ValueError:
        found = inf
    if found is not None and not isfinite(found):
        raise ValueError(f"{name} is {text}: write a number such as 10")
    return found


def _whole(text: str, name: str) -> int:
    """A whole number that was typed, 0 for none. Raises ValueError with what is none."""
    try:
        return int(text) if text.strip() else 0
    except ValueError:
        raise ValueError(f"{name} is {text}: write a whole number such as 1") from None


def _rates(text: str, count: int, example: str) -> list[list[float]]:
    """Choices of rates. Raises ValueError with the one that is none."""
    found = []
    for part in text.replace(",", " ").split():
        try:
            rates = [float(rate) for rate in part.split(":")]
        except ValueError:
            rates = []
        if len(rates) != count:
            raise ValueError(f"{part} is not {count} rates such as {example}: write it so")
        found.append(rates)
    return found
