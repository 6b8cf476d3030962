"""What a limited process needs, imported once by the server that they are forked from."""

import contextlib
import importlib

# The console script that started the service is run again in a child under another name: what it imports
# should be there already.
for _name in (
    "api.planner",
    "optimiser.command_line",
    "optimiser.planning",
    "optimiser.reading",
    "optimiser.checking",
    "optimiser.writing",
    "numpy",
    "highspy",
    "python_calamine",
):
    with contextlib.suppress(ImportError):
        importlib.import_module(_name)
