"""A module of the product holds one idea: one of more than 300 lines says in its docstring why they stay together."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PRODUCT = ("optimiser", "api")
MOST_LINES = 300
REASON = re.compile(r"\bOne module although long: (\w+\W+){4}")


def long_without_a_reason(root: Path) -> list[str]:
    """The product's modules under `root` that are too long and do not say why, as 'file: lines'."""
    found = []
    for path in sorted(path for folder in PRODUCT for path in (root / folder).rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        lines = len(source.splitlines())
        if lines > MOST_LINES and not _gives_a_reason(source):
            found.append(f"{path.relative_to(root)}: {lines} lines")
    return found


def _gives_a_reason(source: str) -> bool:
    words = " ".join((ast.get_docstring(ast.parse(source)) or "").split())
    return REASON.search(words) is not None


def test_every_long_module_says_why() -> None:
    assert long_without_a_reason(ROOT) == []


@pytest.mark.parametrize(
    ("docstring", "lines", "found"),
    [
        ("Joints of a run.", 300, []),
        ("Joints of a run.", 301, ["optimiser/joints.py: 301 lines"]),
        ("Joints of a run.\n\nOne module although long: it is one\ntable of texts.", 400, []),
        ("Joints of a run.\n\nOne module although long:", 400, ["optimiser/joints.py: 400 lines"]),
        ("Joints of a run.\n\nOne module although long: because.", 400, ["optimiser/joints.py: 400 lines"]),
    ],
)
def test_a_long_module_is_found_unless_it_gives_a_reason(
    tmp_path: Path, docstring: str, lines: int, found: list[str]
) -> None:
    (tmp_path / "optimiser").mkdir()
    head = f'"""{docstring}"""\n'
    filled = head + "pass\n" * (lines - head.count("\n"))
    (tmp_path / "optimiser" / "joints.py").write_text(filled, encoding="utf-8")
    assert long_without_a_reason(tmp_path) == found


def test_a_reason_in_a_comment_does_not_count(tmp_path: Path) -> None:
    """Whoever opens a module reads its docstring first."""
    (tmp_path / "api").mkdir()
    comment = "# One module although long: it is one table of texts.\n"
    (tmp_path / "api" / "pages.py").write_text(comment + "pass\n" * MOST_LINES, encoding="utf-8")
    assert long_without_a_reason(tmp_path) == ["api/pages.py: 301 lines"]
