"""Every file that a result is written as: of a plan, a refit, a study, a questioned survey."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from optimiser.model.plan import Plan
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.model.question import SurveyQuestions
from optimiser.model.refit import Refit
from optimiser.writing.file_names import FILES, SURVEY_FILES
from optimiser.writing.whole_folder import all_or_nothing

if TYPE_CHECKING:
    from optimiser.simulation.simulated_allowance import SimulatedAllowance
    from optimiser.studies.gap_option import Comparison
    from optimiser.studies.scenario_result import ScenarioComparison
    from optimiser.studies.staging import StagingComparison
    from optimiser.writing.crew.labels import LabelOrder


def write(
    made: Plan | Refit | SurveyQuestions | Comparison | StagingComparison | SimulatedAllowance,
    folder: str | PathLike[str],
    *,
    title: str = "",
    issued_on: date | None = None,
    replaces: PurchaseOrder | None = None,
    paper: Literal["A4", "Letter"] = "A4",
    levels: Sequence[str] | None = None,
    label_order: LabelOrder = "cutting",
    with_nominal: bool = False,
) -> tuple[Path, ...]:
    """Writes a result's files into a folder, all of them or none.

    Parameters
    ----------
    made
        A plan: order.xlsx, order.pdf, order.csv, order.ubl.xml (left out where nothing is ordered) and
        purchase-order.json for the supplier, office.xlsx, deliveries.csv, deliveries.ics and levels.svg for the
        office, cutting-sheets.pdf and labels.pdf for the crew, and plan.json. A refit: refit.json. Questions to a
        survey: survey.csv and re-measure.pdf. A comparison of gaps: gaps.csv and gaps.svg. A comparison of stagings:
        stagings.csv, frontier.csv, frontier.svg and a chart a mode. A simulation: allowance.json and allowance.svg.
    folder
        Made when it is not there. Files of the same names are replaced.
    title
        What stands over the chart of a comparison or simulation.
    issued_on
        The day of issue of a plan's order; without it UBL states the earliest day to order, with a note.
    replaces
        The order that a plan's order replaces: it becomes that one's next revision, an OrderChange in UBL.
    paper
        Of what a plan prints, 'A4' or 'Letter'.
    levels
        Levels whose cutting sheets a plan writes; None: all.
    label_order
        Labels as their pieces are cut, or 'run' by run as they are fitted.
    with_nominal
        Print the sheets and labels of nominal levels too, every page marked as not ready to cut; else withheld.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    OSError
        When a file cannot be written; then the folder is as it was.
    """
    from optimiser.ordering.purchase_order import Issue, purchase_order

    target = Path(folder)
    if isinstance(made, Plan):
        with all_or_nothing(target, FILES) as unfinished:
            names = write_all(
                made,
                unfinished,
                order=purchase_order(made, Issue(issued_on=issued_on, replaces=replaces)),
                paper=paper,
                levels=levels,
                label_order=label_order,
                with_nominal=with_nominal,
            )
        return tuple(target / name for name in names)
    if isinstance(made, SurveyQuestions):
        printed = survey_files(made, paper)
        with all_or_nothing(target) as unfinished:
            for name, content in printed.items():
                (unfinished / name).write_bytes(content)
        return tuple(target / name for name in printed)
    contents = _files_of(made, title)
    with all_or_nothing(target) as unfinished:
        for name, text in contents.items():
            (unfinished / name).write_text(text, encoding="utf-8", newline="")
    return tuple(target / name for name in contents)


def _files_of(
    made: Refit | Comparison | StagingComparison | SimulatedAllowance, title: str
) -> dict[str, str]:
    """The texts of a study's or a refit's files, by name."""
    from optimiser.studies.gap_option import Comparison
    from optimiser.studies.staging import StagingComparison
    from optimiser.writing.data.plan_json import rows_on_lines
    from optimiser.writing.data.refit_json import refit_json
    from optimiser.writing.office.allowance_chart import allowance_svg
    from optimiser.writing.office.gap_chart import gaps_svg
    from optimiser.writing.office.gaps_csv import gaps_csv

    if isinstance(made, Refit):
        return {"refit.json": refit_json(made)}
    if isinstance(made, Comparison):
        return {"gaps.csv": gaps_csv(made), "gaps.svg": gaps_svg(made, title)}
    if isinstance(made, StagingComparison):
        return files_of_stagings(made)
    return {
        "allowance.json": rows_on_lines(made.as_json()) + "\n",
        "allowance.svg": allowance_svg(made, title),
    }


def files_of_stagings(made: StagingComparison) -> dict[str, str]:
    """The texts of a comparison of stagings by their files' names: the modes, the frontier, a chart a mode."""
    from optimiser.writing.office.frontier_chart import frontier_svg
    from optimiser.writing.office.frontier_csv import frontier_csv
    from optimiser.writing.office.level_chart import level_chart_svg
    from optimiser.writing.office.stagings_csv import stagings_csv

    files = {"stagings.csv": stagings_csv(made.options)}
    if made.frontier:
        heading = made.plans[0].project.project
        files["frontier.csv"] = frontier_csv(made.frontier)
        files["frontier.svg"] = frontier_svg(made.frontier, heading.name, heading.currency)
    return files | {f"levels-{plan.staging}.svg": level_chart_svg(plan) for plan in made.plans}


def files_of_scenarios(made: ScenarioComparison, name: str) -> dict[str, bytes]:
    """The contents of a comparison of scenarios by their files' names; `name` is the building's. A chart that would
    have nothing to compare is left out."""
    from optimiser.studies.scenario_result import AGAINST
    from optimiser.writing.office.scenario_charts import cost_against_svg, gap_steps_svg
    from optimiser.writing.office.scenario_files import scenarios_csv, scenarios_xlsx

    charts = {"scenarios-gaps.svg": gap_steps_svg(made, name)} | {
        f"scenarios-{against.partition('_')[0]}.svg": cost_against_svg(made, against, name)
        for against in AGAINST
    }
    return {
        "scenarios.csv": scenarios_csv(made).encode(),
        "scenarios.xlsx": scenarios_xlsx(made, name),
        **{file: text.encode() for file, text in charts.items() if text},
    }


def survey_files(asked: SurveyQuestions, paper: str = "A4") -> dict[str, bytes]:
    """The contents of a questioned survey's files, by name: the questions as csv, and the sheet to measure again with
    on A4 or Letter."""
    from optimiser.tables.questions import QUESTIONS
    from optimiser.tables.text import csv_of
    from optimiser.writing.crew.remeasure_sheet import remeasure_pdf

    contents = (csv_of(QUESTIONS, asked.questions).encode(), remeasure_pdf(asked, paper))
    return dict(zip(SURVEY_FILES, contents, strict=True))


def write_all(
    plan: Plan,
    folder: Path,
    *,
    issued_on: date | None = None,
    order: PurchaseOrder | None = None,
    paper: str = "A4",
    levels: Sequence[str] | None = None,
    label_order: LabelOrder = "cutting",
    with_nominal: bool = False,
) -> tuple[str, ...]:
    """Writes all the files of a plan into an existing folder; returns their names.

    `order` is what is sent to the supplier; without it the plan's own, issued on the day `issued_on`. `paper` is A4 or
    Letter; `levels` are those whose cutting sheets are written (None: all, as many as one file holds); `label_order` is
    that of the labels, as they are cut or run by run; `with_nominal` prints nominal levels too, marked as not ready to
    cut. `order.ubl.xml` is left out where nothing is ordered: UBL has no order without a line. Raises OSError when a
    file cannot be written.
    """
    from optimiser.ordering.purchase_order import Issue, purchase_order
    from optimiser.writing.crew.cutting_sheets import cutting_sheets_pdf
    from optimiser.writing.crew.labels import labels_pdf
    from optimiser.writing.data.plan_json import plan_json, purchase_order_json
    from optimiser.writing.office.level_chart import level_chart_svg
    from optimiser.writing.office.workbook import office_xlsx
    from optimiser.writing.supplier.calendar import delivery_calendar
    from optimiser.writing.supplier.csv import deliveries_csv, order_csv
    from optimiser.writing.supplier.pdf import order_pdf
    from optimiser.writing.supplier.ubl import order_ubl, orders_anything
    from optimiser.writing.supplier.workbook import order_xlsx

    sent = order if order is not None else purchase_order(plan, Issue(issued_on=issued_on))
    contents = {
        "order.xlsx": order_xlsx(sent, paper),
        "order.pdf": order_pdf(sent, paper),
        "order.csv": order_csv(sent).encode(),
        "purchase-order.json": purchase_order_json(sent).encode(),
        "office.xlsx": office_xlsx(plan, paper, sent),
        "deliveries.csv": deliveries_csv(plan).encode(),
        "cutting-sheets.pdf": cutting_sheets_pdf(plan, paper, levels=levels, with_nominal=with_nominal),
        "labels.pdf": labels_pdf(plan, paper, levels=levels, with_nominal=with_nominal, order=label_order),
        "deliveries.ics": delivery_calendar(plan),
        "levels.svg": level_chart_svg(plan).encode(),
        "plan.json": plan_json(plan).encode(),
    }
    if orders_anything(sent):
        contents["order.ubl.xml"] = order_ubl(sent)
    for name, content in contents.items():
        (folder / name).write_bytes(content)
    return tuple(name for name in FILES if name in contents)
