"""How long something may take, shared out among its parts. Pure: nothing here looks at a clock."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Budget:
    """So many seconds, or None: as long as it takes. A share of it is never less than nothing."""

    seconds: float | None = None

    def share(self, part: float, of: float = 1.0) -> Budget:
        """The share `part / of`: `share(0.6)` is six tenths, `share(3, of=12)` what 3 of 12 pieces get.

        Raises ValueError for a share of nothing, or one that is not from 0 to all of it.
        """
        if of <= 0 or not 0 <= part <= of:
            raise ValueError(f"{part} of {of} is no share: give 0 to all of something")
        return Budget(None if self.seconds is None else max(0.0, self.seconds) * part / of)

    def after(self, spent: float) -> Budget:
        """What is left when so many seconds are spent; less than nothing where more was spent than there was."""
        return Budget(None if self.seconds is None else self.seconds - spent)

    @property
    def used_up(self) -> bool:
        """Whether nothing is left."""
        return self.seconds is not None and self.seconds <= 0
