"""Who may import whom, read from the source: the core stays pure and the judge independent.

api -> optimiser, never back; the core imports no web framework and no database; `optimiser.checking` imports
no solver, nothing that it judges, only the types.
"""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FRAMEWORKS = (
    "api",
    "alembic",
    "asgiref",
    "dbos",
    "django",
    "fastapi",
    "flask",
    "jinja2",
    "limits",
    "opentelemetry",
    "prometheus_client",
    "psycopg",
    "sqlalchemy",
    "sqlite3",
    "starlette",
    "structlog",
    "uvicorn",
)


@dataclass(frozen=True)
class Rule:
    """Modules under `inside` must not import anything under `forbidden`, save what is under `allowed`."""

    inside: str
    forbidden: tuple[str, ...]
    allowed: tuple[str, ...] = ()


# What Windows has not: planning, cutting, checking and writing run there.
POSIX_ONLY = ("fcntl", "grp", "posix", "pty", "pwd", "resource", "syslog", "termios", "tty")

RULES = (
    Rule("optimiser", FRAMEWORKS),
    Rule("optimiser", POSIX_ONLY),
    Rule(
        "optimiser.checking",
        ("optimiser", "numpy", "ortools", "highspy", "scipy", "numba", "ctypes", "importlib"),
        (
            "optimiser.checking",
            "optimiser.model",
            "optimiser.cutting.problem",
        ),
    ),
)


def _is_under(module: str, package: str) -> bool:
    return module == package or module.startswith(package + ".")


def imports_of(path: Path, module: str) -> Iterator[tuple[int, str]]:
    """Every module that a file imports, late imports and type-checking ones included, with its line.

    `from package import name` counts as package.name, which may be a module; a string given to `import_module`
    or `__import__` counts too.
    """
    package = module if path.name == "__init__.py" else module.rpartition(".")[0]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parts = package.split(".")
                base = ".".join([*parts[: len(parts) - node.level + 1], *([base] if base else [])])
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)
        elif isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if called in ("import_module", "__import__") and isinstance(node.args[0].value, str):
                yield node.lineno, node.args[0].value


def broken_imports(root: Path, rules: tuple[Rule, ...] = RULES) -> list[str]:
    """Every import under `root` that breaks a rule, as 'file:line imports module'."""
    broken = []
    inside = {rule.inside.partition(".")[0] for rule in rules}
    for path in sorted(path for package in inside for path in (root / package).rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        module = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        for rule in rules:
            if not _is_under(module, rule.inside):
                continue
            broken += [
                f"{path.relative_to(root)}:{line} imports {name}"
                for line, name in imports_of(path, module)
                if any(_is_under(name, package) for package in rule.forbidden)
                and not any(_is_under(name, package) for package in rule.allowed)
            ]
    return broken


@pytest.mark.slow
def test_the_core_imports_no_service_and_the_judge_no_solver() -> None:
    assert broken_imports(ROOT) == []


def lint_imports(root: Path) -> tuple[int, str]:
    """The layers of pyproject.toml held against the packages under `root`: import-linter's exit code and words."""
    found = subprocess.run(
        [
            sys.executable,
            "-c",
            "from importlinter.cli import lint_imports_command as main; main()",
            "--no-cache",
        ],
        cwd=root,
        capture_output=True,
        text=True,
        timeout=120,
    )
    return found.returncode, found.stdout + found.stderr


def test_every_arrow_points_to_an_earlier_folder() -> None:
    code, words = lint_imports(ROOT)
    assert code == 0, words


def test_an_arrow_that_runs_back_is_found(tmp_path: Path) -> None:
    """The layers can fail: the same folders, empty but for one import from the kernels up into the planning."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for package in ("optimiser", "api"):
        for folder in (ROOT / package).rglob("*.py"):
            empty = tmp_path / folder.relative_to(ROOT)
            empty.parent.mkdir(parents=True, exist_ok=True)
            empty.touch()
    assert lint_imports(tmp_path)[0] == 0
    (tmp_path / "optimiser" / "kernels" / "loading.py").write_text("import optimiser.planning.plan\n")
    code, words = lint_imports(tmp_path)
    assert code == 1
    assert "optimiser.kernels.loading -> optimiser.planning.plan" in words
    assert len(contracts["contracts"]) >= 1


def test_the_judge_is_there_to_be_looked_at() -> None:
    """A rule about a folder that does not exist would hold for ever."""
    assert len(list((ROOT / "optimiser" / "checking").glob("*.py"))) > 5


@pytest.mark.parametrize(
    ("file", "source", "expected"),
    [
        ("optimiser/planning/plan.py", "import api.app\n", "optimiser/planning/plan.py:1 imports api.app"),
        (
            "optimiser/planning/plan.py",
            "from api import app\n",
            "optimiser/planning/plan.py:1 imports api.app",
        ),
        ("optimiser/reading/json.py", "import fastapi\n", "optimiser/reading/json.py:1 imports fastapi"),
        (
            "optimiser/ordering/order.py",
            "def later():\n    from sqlalchemy.orm import Session\n",
            "optimiser/ordering/order.py:2 imports sqlalchemy.orm.Session",
        ),
        (
            "optimiser/checking/orders.py",
            "from optimiser.ordering.order import order_for\n",
            "optimiser/checking/orders.py:1 imports optimiser.ordering.order.order_for",
        ),
        (
            "optimiser/checking/orders.py",
            "from optimiser import ordering\n",
            "optimiser/checking/orders.py:1 imports optimiser.ordering",
        ),
        (
            "optimiser/checking/strips.py",
            "from ..cutting import solve\n",
            "optimiser/checking/strips.py:1 imports optimiser.cutting.solve",
        ),
        (
            "optimiser/checking/__init__.py",
            "from .. import joints\n",
            "optimiser/checking/__init__.py:1 imports optimiser.joints",
        ),
        ("optimiser/checking/a.py", "import numpy as np\n", "optimiser/checking/a.py:1 imports numpy"),
        (
            "optimiser/checking/a.py",
            "from ortools.sat.python import cp_model\n",
            "optimiser/checking/a.py:1 imports ortools.sat.python.cp_model",
        ),
        (
            "optimiser/planning/plan.py",
            "import importlib\nimportlib.import_module('api.app')\n",
            "optimiser/planning/plan.py:2 imports api.app",
        ),
    ],
)
def test_a_wrong_import_is_found(tmp_path: Path, file: str, source: str, expected: str) -> None:
    """A made-up source tree with one wrong import each: the rule can fail."""
    path = tmp_path / file
    path.parent.mkdir(parents=True)
    path.write_text(source, encoding="utf-8")
    assert broken_imports(tmp_path) == [expected]


@pytest.mark.parametrize(
    ("file", "source"),
    [
        ("api/app.py", "import fastapi\nfrom optimiser.planning.plan import plan\n"),
        (
            "optimiser/planning/plan.py",
            "from optimiser.checking import broken_rules_of_plan\nimport apiary\n",
        ),
        (
            "optimiser/checking/a.py",
            "from optimiser.cutting.problem import CuttingPattern\nfrom . import b\n",
        ),
        (
            "optimiser/checking/a.py",
            "from optimiser.model.plan import Plan\nfrom fractions import Fraction\n",
        ),
    ],
)
def test_a_right_import_passes(tmp_path: Path, file: str, source: str) -> None:
    path = tmp_path / file
    path.parent.mkdir(parents=True)
    path.write_text(source, encoding="utf-8")
    assert broken_imports(tmp_path) == []
