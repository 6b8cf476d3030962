"""One possible survey of levels that are still nominal."""

from __future__ import annotations

from optimiser.joints.layout import lay_out
from optimiser.simulation.sampled_survey import sampled_survey
from tests.builders.rising_building import TOLERANCE_MM, rising_building


def test_it_has_the_levels_that_are_asked_for_all_measured() -> None:
    drawn = rising_building(1, (1, 2, 3)).drawn
    found = sampled_survey(drawn, {"L02", "L03"}, 5)
    assert {run.level for run in found.runs} == {"L02", "L03"}
    assert {gap.basis for gap in found.gaps} == {"measured"}
    assert lay_out(found).not_planned == ()


def test_gaps_differ_from_the_nominal_ones_within_reason_and_with_the_seed() -> None:
    drawn = rising_building(1, (1, 2)).drawn
    one, other = sampled_survey(drawn, {"L01"}, 1), sampled_survey(drawn, {"L01"}, 2)
    assert one.gaps != other.gaps
    assert one.gaps == sampled_survey(drawn, {"L01"}, 1).gaps
    nominal = {gap.run: gap.gap_mm for gap in drawn.gaps}
    apart = [abs(gap.gap_mm - nominal[gap.run]) for gap in one.gaps]
    assert 0 < max(apart) <= 3 * TOLERANCE_MM
    assert sum(each <= TOLERANCE_MM for each in apart) > 0.8 * len(apart)


def test_of_no_levels_there_is_nothing() -> None:
    assert sampled_survey(rising_building(1, (1,)).drawn, (), 1).runs == ()
