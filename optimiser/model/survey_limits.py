"""The `survey_limits` table: from where on the survey is asked a question, one row a limit."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer

from optimiser.model.detail import Rate
from optimiser.model.table import Millimetres, Position, Table


class SurveyLimits(Table):
    """From where on the survey is asked a question. All are placeholders of common practice, no source.

    A limit that the project does not give keeps its placeholder. `outlier_scales`, `level_scales` and `step_scales`
    are multiples of the survey's own usual difference (1.4826 times the median of the absolute differences, which is
    the standard deviation where they are normally distributed: Rousseeuw and Croux, JASA 88, 1993, from memory); the
    `..._least_mm` beside them is what is never asked about, however smooth the survey is.
    """

    reading_spacing_max_mm: Millimetres = 3000
    reading_to_end_max_mm: Millimetres = 1500
    outlier_scales: Rate = Field(default=Decimal("4"), gt=0, le=1000)
    outlier_least_mm: Position = 8
    level_scales: Rate = Field(default=Decimal("5"), gt=0, le=1000)
    level_least_mm: Position = 20
    step_scales: Rate = Field(default=Decimal("4"), gt=0, le=1000)
    step_least_mm: Position = 15
    mullion_tolerance_mm: Position = 50
    run_length_tolerance_mm: Position = 100
    nominal_tolerance_mm: Position = 20

    # no return type: with one the JSON schema would lose the limits
    @model_serializer(mode="wrap")
    def _as_given(self, dump: SerializerFunctionWrapHandler):  # type: ignore[no-untyped-def]
        """Only the limits that were given are written: one left out stays a placeholder when it is read back."""
        return {name: value for name, value in dump(self).items() if name in self.model_fields_set}
