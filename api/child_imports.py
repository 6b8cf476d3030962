"""What a limited process needs, imported once by the server that they are forked from.

That server must stay with one thread, or a forked process could wait for a lock that nobody will ever free: so
nothing is computed here, and the linear algebra library is told to start no threads of its own.
"""

import contextlib
import importlib
import os
import pkgutil

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import optimiser

_LATE = (
    "highspy",
    "holidays",
    "icalendar",
    "numpy",
    "ortools.sat.python.cp_model",
    "python_calamine",
    "reportlab.pdfgen.canvas",
    "segno",
    "xlsxwriter",
)

for _module in pkgutil.walk_packages(optimiser.__path__, "optimiser."):
    if ".kernels._" not in _module.name:  # plain C, loaded by name and not by import
        with contextlib.suppress(ImportError):
            importlib.import_module(_module.name)
for _name in ("api.planner", *_LATE):
    with contextlib.suppress(ImportError):
        importlib.import_module(_name)
