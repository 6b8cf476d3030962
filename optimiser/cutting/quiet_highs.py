"""HiGHS without its greeting: standard output belongs to the result."""

from __future__ import annotations

import highspy


class QuietHighs(highspy.Highs):
    """A HiGHS model that prints nothing, in one thread, with a fixed seed."""

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        for option, value in (("threads", 1), ("parallel", "off"), ("random_seed", 0)):
            self.setOptionValue(option, value)

    def run_or_raise(self) -> None:
        """Solves the model. HiGHS keeps one pool of threads a process: where somebody else's model made a larger
        one, it is made again. Raises RuntimeError when the solver fails all the same."""
        if self.run() != highspy.HighsStatus.kError:
            return
        highspy.Highs.resetGlobalScheduler(True)
        if self.run() == highspy.HighsStatus.kError:
            raise RuntimeError("the linear solver failed")

    def enableCallbacks(self) -> None:  # noqa: N802 (the library's name)
        """Called by the library's constructor, where it would print its banner; no callback is used here."""
        self.setOptionValue("output_flag", False)
