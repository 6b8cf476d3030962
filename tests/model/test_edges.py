"""Runs end to end: which edges they make up, and which junctions cannot be."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from optimiser.model.edges import edges_of, faults_of_joins, junctions_of
from optimiser.model.project import Run
from tests.builders.closed_level import closed_level


def runs_of(joins: dict[str, str], curved: str = "") -> tuple[Run, ...]:
    return tuple(
        Run(
            run=name,
            level="L1",
            length_mm=900,
            board=("B",),
            joins=other,
            radius_mm=2000 if name in curved else None,
        )
        for name, other in joins.items()
    )


def faults(joins: dict[str, str], curved: str = "") -> list[str]:
    return [fault.run for fault in faults_of_joins(runs_of(joins, curved))]


def test_an_edge_begins_where_nothing_joins_and_a_loop_at_the_run_listed_first() -> None:
    runs = runs_of({"C": "D", "A": "B", "B": "", "D": "E", "E": "C"})
    assert [(edge.runs, edge.closed) for edge in edges_of(runs)] == [
        (("C", "D", "E"), True),
        (("A", "B"), False),
    ]
    assert [(one.run, one.joins) for one in junctions_of(runs)] == [
        ("C", "D"),
        ("A", "B"),
        ("D", "E"),
        ("E", "C"),
    ]


def test_a_run_that_names_one_left_out_ends_openly() -> None:
    runs = runs_of({"A": "B"})
    assert junctions_of(runs) == ()
    assert [(edge.runs, edge.closed) for edge in edges_of(runs)] == [(("A",), False)]


def test_what_cannot_be() -> None:
    assert faults({"A": "X"}) == ["A"]
    assert faults({"A": "A"}) == ["A"]
    assert faults({"A": "A"}, curved="A") == []
    assert faults({"A": "C", "B": "C", "C": ""}) == ["B"]
    assert faults({"A": "B", "B": "A"}) == ["B"]
    assert faults({"A": "B", "B": "A"}, curved="B") == []
    assert faults({"A": "B", "B": "C", "C": "B"}) == ["C"]  # a circle with a tail: B begins twice
    assert faults({"A": "B", "B": "C", "C": "A"}) == []


@given(st.permutations("ABCDEFG"), st.integers(0, 7))
def test_every_run_is_in_one_edge_and_every_junction_in_one_too(order: list[str], cut: int) -> None:
    joins = {name: order[(place + 1) % len(order)] for place, name in enumerate(order)}
    if cut < len(order):
        joins[order[cut]] = ""
    runs = runs_of(dict(sorted(joins.items())))
    edges = edges_of(runs)
    assert Counter(name for edge in edges for name in edge.runs) == Counter(order)
    assert len(junctions_of(runs)) == sum(len(edge.runs) - (not edge.closed) for edge in edges)


def test_a_project_refuses_a_junction_that_cannot_be_and_a_detail_that_there_is_not() -> None:
    level = closed_level()
    first, *others = level.runs
    for change, message in (
        ({"joins": "X"}, "there is no run X"),
        ({"joins": "C"}, "is joined by"),
        ({"detail": "none such"}, "unknown detail none such"),
    ):
        with pytest.raises(ValidationError, match=message):
            closed_level(runs=(first.model_copy(update=change), *others))
