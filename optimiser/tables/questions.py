"""The questions to a survey."""

from __future__ import annotations

from optimiser.tables.columns import Column, Columns

QUESTIONS: Columns = (
    Column("level", "Level", width=10),
    Column("run", "Run", width=14),
    Column("at_mm", "At", "mm", 9, "mm", what="from the run's start"),
    Column("value", "In the survey", width=14),
    Column("rule", "Asked because of", width=16),
    Column("says", "Question", "long text", 60),
    Column("why", "Why", "long text", 60),
    Column("measure", "Measure again", "long text", 40),
    Column("measure_at_mm", "Gaps to read again, at", "numbers", 40, "mm", joined=" "),
)
