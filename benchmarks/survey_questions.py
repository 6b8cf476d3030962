"""Whether the survey's questions find what is wrong and leave what is right alone: `python -m
benchmarks.survey_questions [--planted N] [--clean N] [--list] [--results FILE]`.

Surveys with one planted mistake each, of nine kinds: at least 90 % must be asked about, on the run where it is. Clean
surveys at several noises: fewer than one question in 500 readings. Leaves with 1 where either is missed.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from time import process_time

from rich.console import Console
from rich.table import Table

from benchmarks import report
from benchmarks.instances.survey import CLEAN_NOISES, PLANTS, clean_survey, planted_surveys
from optimiser.survey.questions import questions_of

ASKED = 0.90  # of the planted mistakes
READINGS_A_QUESTION = 500  # of clean surveys


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs the benchmark and prints both figures, by kind and by noise; 0 where both targets are met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--planted", type=int, default=200, metavar="N", help="surveys with a mistake")
    parser.add_argument("--clean", type=int, default=10, metavar="N", help="clean surveys of each noise")
    parser.add_argument("--list", action="store_true", help="name what was missed and what was asked in vain")
    parser.add_argument("--results", type=Path, metavar="FILE", help="write the figures as JSON")
    options = parser.parse_args(arguments)
    console = Console()
    began = process_time()

    planted, found, beside = Counter[str](), Counter[str](), Counter[str]()
    for case in planted_surveys(options.planted):
        questions = questions_of(case.project)
        planted[case.kind] += 1
        there = [question for question in questions if question.run in case.runs]
        found[case.kind] += bool(there)
        beside[case.kind] += len(questions) - len(there)
        if options.list and not there:
            console.print(f"missed, {case.kind}: {case.says}")
    table = Table(title=f"{options.planted} surveys with one planted mistake", title_justify="left")
    for heading in ("kind", "surveys", "asked about", "questions elsewhere"):
        table.add_column(heading, justify="left" if heading == "kind" else "right")
    for kind in PLANTS:
        table.add_row(kind, str(planted[kind]), str(found[kind]), str(beside[kind]))
    share = found.total() / planted.total()
    table.add_row("together", str(planted.total()), f"{found.total()} ({share:.1%})", str(beside.total()))
    console.print(table)

    readings, asked = Counter[str](), Counter[str]()
    rules: dict[str, Counter[str]] = {}
    for noise in CLEAN_NOISES:
        rules[noise] = Counter()
        for seed in range(options.clean):
            project = clean_survey(seed, noise)
            questions = questions_of(project)
            readings[noise] += len(project.gaps)
            asked[noise] += len(questions)
            rules[noise].update(question.rule for question in questions)
            if options.list:
                for question in questions:
                    console.print(f"in vain, {noise}: {question.rule} {question.run} {question.says}")
    table = Table(title=f"{options.clean} clean surveys of each noise", title_justify="left")
    for heading in ("gaps vary by, mm", "readings", "questions", "by rule"):
        table.add_column(heading, justify="right" if heading in ("readings", "questions") else "left")
    for noise in CLEAN_NOISES:
        by_rule = ", ".join(f"{rule} {number}" for rule, number in sorted(rules[noise].items()))
        table.add_row(noise, f"{readings[noise]:,}", str(asked[noise]), by_rule)
    rate = asked.total() * READINGS_A_QUESTION / readings.total()
    table.add_row("together", f"{readings.total():,}", str(asked.total()), "")
    console.print(table)
    met = share >= ASKED and rate < 1
    console.print(
        f"asked about {share:.1%} of the mistakes (target {ASKED:.0%}); {rate:.2f} questions in"
        f" {READINGS_A_QUESTION} clean readings (target fewer than 1): {'met' if met else 'MISSED'};"
        f" {process_time() - began:.1f} CPU s"
    )
    if options.results:
        figures = {
            "machine": report.machine(),
            "planted": dict(planted), "found": dict(found), "elsewhere": dict(beside),
            "clean_readings": dict(readings), "clean_questions": dict(asked), "met": met,
        }  # fmt: skip
        options.results.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
