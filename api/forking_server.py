"""What limited processes are forked from: the optimiser imported, and warm from one small plan.

Importing this module does both. The process that does it must stay with one thread, or a forked one could wait
for a lock that nobody will ever free: so the linear algebra library is told to start none of its own, and a
test counts the threads.
"""

import contextlib
import gc
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

# Invented: one run that every part of the planner has something to do with.
_PROJECT = b"""{
 "products": [
  {"code": "B", "kind": "board", "length_mm": 1200, "width_mm": 1000},
  {"code": "K", "kind": "bracket", "length_mm": 110},
  {"code": "A", "kind": "anchor"},
  {"code": "T", "kind": "tape", "length_mm": 50000}],
 "levels": [{"level": "1", "sequence": 1, "needed_on": "2027-03-01"}],
 "runs": [{"run": "1", "level": "1", "length_mm": 5000, "board": ["B"], "mullions_mm": [2500]}],
 "gaps": [{"run": "1", "at_mm": 0, "gap_mm": 148}, {"run": "1", "at_mm": 5000, "gap_mm": 152}]}"""


def _import_everything() -> None:
    for module in pkgutil.walk_packages(optimiser.__path__, "optimiser."):
        if ".kernels._" not in module.name:  # plain C, loaded by name and not by import
            with contextlib.suppress(ImportError):
                importlib.import_module(module.name)
    for name in _LATE:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)


def _plan_once() -> None:
    from api.pages.excerpts import excerpts_of
    from api.plans.documents import FORMS, order_as
    from api.plans.making import PlanOptions, broken_rules_of, read_and_plan
    from api.projects.reading import Upload

    upload = Upload("json", {"project.json": _PROJECT})
    project, made = read_and_plan(upload, PlanOptions(), 1000, excerpts_of, progress=lambda event: None)
    assert made is not None
    broken_rules_of(made.document, project.text)
    for form in FORMS:
        order_as(made.document, form)


_import_everything()
with contextlib.suppress(Exception):  # what is wrong with the planner will be said where it is asked to plan
    _plan_once()
gc.collect()
gc.freeze()  # what is here now is shared with every forked process, which need not look through it again
