"""`refit.json`: a refit as JSON, one row a line."""

from __future__ import annotations

from typing import Any

from optimiser.model.refit import Refit
from optimiser.writing.data.plan_json import rows_on_lines


def refit_as_dict(refit: Refit) -> dict[str, Any]:
    """The refit as plain JSON values: money as decimal text, days as ISO 8601."""
    values = refit.model_dump(mode="json", by_alias=True)
    for reuses in (values["stays"], values["moves"]):
        for row in reuses:
            row["trims"] = [row["width_start_mm"], row["width_end_mm"]] if row["trimmed"] else []
    return values


def refit_json(refit: Refit) -> str:
    """The text of the JSON, one piece a line, ending in a line feed; equal refits give equal text."""
    return rows_on_lines(refit_as_dict(refit)) + "\n"
