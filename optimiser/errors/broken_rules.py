"""What is raised when the independent judge rejects what was made here."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.errors.problems import CannotBeDone


class BreaksRules(CannotBeDone):
    """The judge found broken rules in what was made here, so it is not handed out; `rules` names each."""

    def __init__(self, rules: Sequence[str]) -> None:
        self.rules = tuple(rules)
        super().__init__(
            (
                f"the independent judge found {len(rules)} broken rule{'' if len(rules) == 1 else 's'} in the"
                " result, a fault of this program, so it is not handed out; please report it:",
                *rules,
            )
        )
