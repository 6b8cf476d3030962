"""A plan as the pages read it: its small tables at once, each large one when it is first asked for.

A plan of 22,000 pieces is some 18 MB of JSON, and hardly a page needs more of it than its small tables and a few
figures. So these are kept beside the plan (`excerpts`), and a `KeptPlan` is made of them. Whatever else is asked of it
is read from the plan itself then: slower, and the same.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

from pydantic import BaseModel, PrivateAttr, TypeAdapter, create_model

from optimiser.model.building import Building
from optimiser.model.immutable import Immutable
from optimiser.model.order import Order
from optimiser.model.plan import Plan
from optimiser.model.progress import Job
from optimiser.model.project import Project
from optimiser.model.record import Record
from optimiser.model.tables import Gap

OWN = ("order", "job", "record")
"""What of a plan has an excerpt of its own, under its name."""
LATE = (
    *OWN,
    "pieces",
    "layouts",
    "left_over",
    "remainders",
    "brackets_moved",
    "thin_rips",
)
"""What of a plan is read when it is first asked for; and of its project the gaps."""


class Source(Protocol):
    """Where a plan's excerpts are, and the plan itself."""

    def excerpt(self, name: str) -> bytes | None:
        """An excerpt by its name, as JSON; None where the plan has none of that name."""

    def keep(self, name: str, text: bytes) -> None:
        """Keeps a further excerpt."""

    def whole(self) -> Plan:
        """The whole plan; read once."""


def _some_of(model: type[BaseModel], without: tuple[str, ...], **others: Any) -> type[BaseModel]:
    """A model of some of another's fields."""
    fields: dict[str, Any] = {
        name: (field.annotation, field)
        for name, field in model.model_fields.items()
        if name not in without and name not in others
    }
    return create_model(f"Some{model.__name__}", __base__=Immutable, **fields, **others)


_SmallProject = _some_of(Project, ("gaps",))
_SmallPlan = _some_of(Plan, LATE, project=(_SmallProject, ...))


class KeptProject(Project):
    """A plan's project, whose gaps are read when they are first asked for."""

    _source: Source = PrivateAttr()

    if not TYPE_CHECKING:

        def __getattr__(self, name: str) -> Any:
            if name != "gaps":
                return super().__getattr__(name)
            self.__dict__["gaps"] = self._source.whole().project.gaps
            return self.__dict__["gaps"]

    @cached_property
    def building(self) -> Building:
        """As of every project."""
        return _KeptBuilding(self)


class _KeptBuilding(Building):
    """An index that asks its project for the gaps no sooner than it is asked itself."""

    def __init__(self, project: KeptProject) -> None:
        super().__init__(
            project.products, project.levels, project.runs, (), project.stock, project.detail, project.details
        )
        self._project = project

    @cached_property
    def gaps(self) -> dict[str, tuple[Gap, ...]]:
        """As of every project."""
        own = self._project
        return dict(Building(own.products, own.levels, own.runs, own.gaps).gaps)


class KeptPlan(Plan):
    """A plan whose tables of `LATE` are read when they are first asked for."""

    _source: Source = PrivateAttr()

    if not TYPE_CHECKING:

        def __getattr__(self, name: str) -> Any:
            if name not in LATE:
                return super().__getattr__(name)
            self.__dict__[name] = self._late(name)
            return self.__dict__[name]

    def _late(self, name: str) -> Any:
        text = self._source.excerpt(name) if name in OWN else None
        return getattr(self._source.whole(), name) if text is None else _FORMS[name].validate_json(text)

    def figure(self, name: str, reckoned: Callable[[Plan], bytes]) -> bytes:
        """A figure of the whole plan as JSON: read, or `reckoned` and kept."""
        text = self._source.excerpt(name)
        if text is None:
            text = reckoned(self._source.whole())
            self._source.keep(name, text)
        return text

    def model_dump(self, **how: Any) -> dict[str, Any]:
        """As of every plan: whole."""
        return self._source.whole().model_dump(**how)

    def model_dump_json(self, **how: Any) -> str:
        """As of every plan: whole."""
        return self._source.whole().model_dump_json(**how)


class Kept(Protocol):
    """Where a kept plan is read from."""

    @property
    def plan(self) -> KeptPlan:
        """The plan, its large tables late."""

    def with_tables(self, **tables: Any) -> KeptPlan:
        """The plan with some of its large tables as given, so that they are not read."""


Small = BaseModel
"""The small tables of a plan."""


def small_from(text: bytes) -> Small:
    """The small tables from their excerpt."""
    return _SmallPlan.model_validate_json(text)


def kept_plan(small: Small, source: Source, **tables: Any) -> KeptPlan:
    """A plan from its small tables; of some of the late ones (`gaps` too) those that are given."""
    project = _made(KeptProject, dict(small.project), ("gaps",), source, tables)  # type: ignore[attr-defined]
    made: KeptPlan = _made(KeptPlan, {**dict(small), "project": project}, LATE, source, tables)
    return made


def _made(
    model: Any, values: dict[str, Any], late: tuple[str, ...], source: Source, tables: dict[str, Any]
) -> Any:
    made = model.model_construct(**values)
    for name in late:
        made.__dict__.pop(name, None)  # a default is not what the plan has
        if name in tables:
            made.__dict__[name] = tables[name]
    made._source = source
    return made


_FORMS: dict[str, TypeAdapter[Any]] = {
    "order": TypeAdapter(Order),
    "job": TypeAdapter(Job),
    "record": TypeAdapter(Record),
}


def own_tables(plan: Plan) -> dict[str, bytes]:
    """The tables of OWN of a plan by their names, as JSON."""
    return {name: _FORMS[name].dump_json(getattr(plan, name), by_alias=True) for name in OWN}


def small_tables(plan: Plan) -> bytes:
    """The excerpt of a plan's small tables."""
    return plan.model_dump_json(
        by_alias=True, exclude={**dict.fromkeys(LATE, True), "project": {"gaps": True}}
    ).encode()
