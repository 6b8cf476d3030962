"""What a mutant is: one change of one function, drawn from a seed, that still compiles."""

from __future__ import annotations

import ast

import pytest

from tests.mutation.argued import ARGUED
from tests.mutation.changes import changed_text, mutants_of, sample
from tests.mutation.trying import ROOT

MODULE = '''
LIMIT = 3


class Strip:
    def rest(self, width: int = 1) -> int:
        """Told."""
        assert width > 0
        if self.trim and width:
            return max(width - 1, 2)
        return -width if width else LIMIT


def other(widths: list[int]) -> bool:
    def inner(width: int) -> bool:
        return not width

    return any(inner(width) for width in widths)
'''


def changes(function: str) -> list[str]:
    return [mutant.change for mutant in mutants_of(MODULE, "made/up.py") if mutant.function == function]


def test_every_place_of_a_function_has_its_changes() -> None:
    assert changes("Strip.rest") == [
        "self.trim and width -> not (self.trim and width)",
        "self.trim and width -> self.trim or width",
        "max(width - 1, 2) -> min(width - 1, 2)",
        "max(width - 1, 2) -> width - 1",
        "width - 1 -> width + 1",
        "width - 1 -> width",
        "1 -> 2",
        "1 -> 0",
        "2 -> 3",
        "2 -> 1",
        "-width if width else LIMIT -> LIMIT if width else -width",
        "-width -> width",
    ]


def test_what_is_within_a_function_counts_to_the_outermost() -> None:
    assert changes("other") == ["not width -> width", "any((inner(width) for width in widths)) -> "
                                "all((inner(width) for width in widths))"]  # fmt: skip


def test_numbers_of_the_module_defaults_and_assertions_stay() -> None:
    assert {mutant.function for mutant in mutants_of(MODULE, "made/up.py")} == {"Strip.rest", "other"}


@pytest.mark.parametrize("number", range(len(mutants_of(MODULE, "made/up.py"))))
def test_a_mutant_differs_in_its_place_alone_and_compiles(number: int) -> None:
    mutant = mutants_of(MODULE, "made/up.py")[number]
    changed = changed_text(MODULE, mutant)
    compile(changed, "made_up", "exec")
    right = ast.unparse(ast.parse(MODULE)).splitlines()
    differing = [pair for pair in zip(right, changed.splitlines(), strict=True) if pair[0] != pair[1]]
    assert len(differing) == 1


def test_a_sample_is_drawn_from_its_seed() -> None:
    first = sample(ROOT, "takeoff", 30, 1)
    assert first == sample(ROOT, "takeoff", 30, 1)
    assert first != sample(ROOT, "takeoff", 30, 2)
    assert first[:10] != sample(ROOT, "takeoff", 10, 2)


def test_alike_changes_of_a_function_have_names_of_their_own_and_strict_stays() -> None:
    text = "def ends(widths):\n    return widths[0] + widths[0], zip(widths, widths, strict=True)\n"
    names = [mutant.name for mutant in mutants_of(text, "made/up.py")]
    assert len(set(names)) == len(names)
    assert names[1:5] == [
        "made/up.py ends: 0 -> 1",
        "made/up.py ends: 0 -> -1",
        "made/up.py ends: 0 -> 1 (2)",
        "made/up.py ends: 0 -> -1 (2)",
    ]
    assert not any("True" in name for name in names)


def test_every_change_that_is_argued_can_be_made() -> None:
    modules = {name.partition(" ")[0] for name in ARGUED}
    texts = {module: (ROOT / "optimiser" / module).read_text("utf-8") for module in modules}
    there = {mutant.name for module, text in texts.items() for mutant in mutants_of(text, module)}
    assert set(ARGUED) <= there
