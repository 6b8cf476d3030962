"""HiGHS without its greeting: standard output belongs to the result."""

from __future__ import annotations

import highspy


class QuietHighs(highspy.Highs):
    """A HiGHS model that prints nothing, in one thread, with a fixed seed."""

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        for option, value in (("threads", 1), ("parallel", "off"), ("random_seed", 0)):
            self.setOptionValue(option, value)

    def enableCallbacks(self) -> None:  # noqa: N802 (the library's name)
        """Called by the library's constructor, where it would print its banner; no callback is used here."""
        self.setOptionValue("output_flag", False)
