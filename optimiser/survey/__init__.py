"""The gap along a run, the compression window of a span, and the questions to a survey.

The package can be called: `survey(project)` gives the questions (`optimiser.survey.questions`), so that the library's
name for it is the command's.
"""

from __future__ import annotations

import sys
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimiser.model.project import Project
    from optimiser.model.question import SurveyQuestions


class _CallablePackage(ModuleType):
    """This package, which is its own main function."""

    def __call__(self, project: Project) -> SurveyQuestions:
        """The questions to ask of a project's survey: see `optimiser.survey.questions.survey`."""
        from optimiser.survey.questions import survey

        return survey(project)


sys.modules[__name__].__class__ = _CallablePackage
