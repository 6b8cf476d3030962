"""Pre-cut or site-cut: shares of pieces that would not fit, against closed forms and by hand."""

from __future__ import annotations

import json
from decimal import Decimal
from math import erf, sqrt
from pathlib import Path

import pytest

from optimiser.commands.main import run
from optimiser.model.project import Detail, Gap, Project
from optimiser.planning.plan import plan
from optimiser.reading import read_project
from optimiser.replanning.replan import replan
from optimiser.studies.precut import PrecutRisk, precut_risks
from tests.builders.job import JobOnSite, of_level
from tests.builders.levels import building

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"


def nominal(tolerance_mm: int | None, detail: Detail | None = None) -> Project:
    """The second of two levels is nominal, 40 pieces long; its slab errs as one, so the closed form holds."""
    base = building(storeys=2, length_mm=48_000)
    gaps = (
        Gap(run="L1-N", at_mm=0, gap_mm=150),
        Gap(run="L2-N", at_mm=0, gap_mm=150, basis="nominal", tolerance_mm=tolerance_mm),
    )
    rules = detail or Detail(correlation_length_mm=10_000_000)
    return base.model_copy(update={"gaps": gaps, "detail": rules})


def risk_of(project: Project, level: str, draws: int = 500) -> PrecutRisk:
    (found,) = [risk for risk in precut_risks(plan(project), draws=draws) if risk.level == level]
    return found


def beyond(deviations: float) -> float:
    return 0.5 * (1 - erf(deviations / sqrt(2)))


def test_a_measured_level_risks_nothing() -> None:
    risk = risk_of(nominal(12), "L1")
    assert (risk.share_not_fitting, risk.boards_scrapped, risk.nominal_pieces) == (0.0, 0.0, 0)


def test_the_shares_are_those_of_the_normal_distribution() -> None:
    """A slab that errs as one: too narrow beyond width / 1.10, too wide below width / 1.15; whole-mm draws."""
    project = nominal(12)
    width = next(piece.cut_width_start_mm for piece in plan(project).pieces if piece.level == "L2")
    risk = risk_of(project, "L2", draws=4000)
    too_narrow = beyond((int(width / 1.10) + 0.5 - 150) / 6)
    too_wide = beyond((150 - (-(-width * 100 // 115) - 0.5)) / 6)
    assert risk.share_too_narrow == pytest.approx(too_narrow, abs=0.03)
    assert risk.share_too_wide == pytest.approx(too_wide, abs=0.03)


def test_what_is_cut_already_of_a_job_risks_nothing_more() -> None:
    """Three of the nominal level's pieces are fitted, whatever its gaps: the risk is that of the others."""
    first = plan(nominal(12), advise=False)
    job = JobOnSite()
    job.order_all(first)
    job.cut_and_fit(of_level(first, "L2")[:3])
    (before,) = (risk for risk in precut_risks(first, draws=50) if risk.level == "L2")
    (after,) = (risk for risk in precut_risks(replan(first, job.record), draws=50) if risk.level == "L2")
    assert (after.pieces, after.nominal_pieces) == (before.pieces - 3, before.nominal_pieces - 3)


def test_the_boards_scrapped_are_the_area_of_what_is_too_narrow() -> None:
    made = plan(nominal(12))
    (risk,) = [risk for risk in precut_risks(made) if risk.level == "L2"]
    area = sum(p.length_mm * p.cut_width_start_mm for p in made.pieces if p.level == "L2")
    assert risk.share_scrapped == risk.share_too_narrow is not None
    assert risk.boards_scrapped == pytest.approx(risk.share_scrapped * area / (1200 * 1000), rel=0.02)
    assert risk.boards_site_cut == sum(
        line.needed for line in made.order.lines if (line.level, line.kind) == ("L2", "board")
    )


def test_without_trimming_what_is_too_wide_is_scrap_too() -> None:
    risk = risk_of(nominal(12, Detail(trim=False, correlation_length_mm=10_000_000)), "L2")
    assert risk.share_not_fitting is not None
    assert risk.share_scrapped == pytest.approx(risk.share_not_fitting)


def test_a_slab_that_wanders_within_a_piece_misfits_more_often() -> None:
    stiff = risk_of(nominal(12), "L2", draws=2000)
    wandering = risk_of(nominal(12, Detail(correlation_length_mm=1000)), "L2", draws=2000)
    assert (wandering.share_not_fitting or 0) > (stiff.share_not_fitting or 0)


@pytest.mark.slow
def test_the_more_tolerance_the_more_misfits() -> None:
    shares = [risk_of(nominal(tolerance), "L2").share_not_fitting for tolerance in (0, 4, 12, 30)]
    assert shares[0] == 0.0
    assert shares == sorted(shares, key=lambda share: share or 0)
    assert (shares[-1] or 0) > 0.5


def test_a_nominal_gap_without_a_tolerance_is_unknown_not_safe() -> None:
    risk = risk_of(nominal(None), "L2")
    assert (risk.share_not_fitting, risk.share_scrapped, risk.boards_scrapped) == (None, None, None)


def test_a_wider_window_and_a_wider_cut_scrap_less() -> None:
    narrow = risk_of(nominal(12), "L2")
    generous = Detail(oversize_max=Decimal("0.30"), correlation_length_mm=10_000_000)
    wide = risk_of(nominal(12, generous), "L2")
    assert (wide.share_not_fitting or 0) < (narrow.share_not_fitting or 0)


def test_equal_seeds_give_equal_shares() -> None:
    made = plan(nominal(12))
    assert precut_risks(made, draws=50, seed=3) == precut_risks(made, draws=50, seed=3)
    assert precut_risks(made, draws=50, seed=3) != precut_risks(made, draws=50, seed=4)


@pytest.mark.slow
def test_the_command_shows_the_small_sample(capsys: pytest.CaptureFixture[str]) -> None:
    path = SAMPLES / "small" / "small.json"
    assert any(gap.basis == "nominal" for gap in read_project(path).gaps)
    assert run(["precut", str(path), "--json"]) == 0
    levels = json.loads(capsys.readouterr().out)["levels"]
    assert [(row["level"], row["share_not_fitting"] > 0) for row in levels] == [("L1", False), ("L2", True)]
    assert run(["precut", str(path)]) == 0
    assert "licensed practitioner decide" in capsys.readouterr().out
