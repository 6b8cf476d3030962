"""What this installation is made of: the answer to `--version`, and what a report of a fault should name."""

from __future__ import annotations

import platform
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version

SOLVERS = ("ortools", "highspy", "numpy", "pandas")
SERVICE = ("fastapi", "uvicorn", "sqlalchemy", "dbos")


def what_is_inside() -> Iterator[str]:
    """Lines: the version, Python and machine, whether the kernels are compiled, the solvers' and service's versions."""
    yield f"barrier-orders {version('barrier-orders')}"
    yield f"Python {platform.python_version()} on {platform.system()} {platform.machine()}"
    yield f"kernels: {_kernels()}"
    yield f"solvers: {', '.join(_versions(SOLVERS))}"
    service = list(_versions(SERVICE))
    whole = len(service) == len(SERVICE)
    yield f"service: {', '.join(service) if whole else 'not installed (barrier-orders[service])'}"


def _kernels() -> str:
    from optimiser.kernels.loading import compiled_libraries

    there, missing = compiled_libraries()
    if not missing:
        return f"compiled ({', '.join(there)})"
    return f"references stand in for {', '.join(missing)}: the same plans, which take many times longer"


def _versions(names: tuple[str, ...]) -> Iterator[str]:
    for name in names:
        try:
            yield f"{name} {version(name)}"
        except PackageNotFoundError:
            continue
