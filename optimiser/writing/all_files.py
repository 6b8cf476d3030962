"""Every file of an order, all of them or none: written aside, then moved into place."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from optimiser.plan import Plan

FILES = (
    "order.xlsx",
    "order.pdf",
    "order.csv",
    "cutting-sheets.pdf",
    "order.ubl.xml",
    "deliveries.ics",
    "levels.svg",
    "plan.json",
)
"""In the order in which they are moved into place: a new plan.json says that the others are new too."""

LABELS = "labels.pdf"  # written only when asked for


def write_all(
    plan: Plan,
    folder: Path,
    *,
    issued_on: date | None = None,
    paper: str = "A4",
    levels: Sequence[str] | None = None,
    labels: bool = False,
) -> tuple[str, ...]:
    """Writes all the files of a plan into an existing folder; returns their names.

    `issued_on` is the day that stands in the UBL order; `paper` is A4 or Letter; `levels` are those whose cutting
    sheets are written (None: all, as many as one file holds); `labels` asks for `labels.pdf`, the labels alone,
    besides. `order.ubl.xml` is left out where nothing is
    ordered: UBL has no order without a line. Raises OSError when a file cannot be written.
    """
    from optimiser.writing.cutting_sheets import cutting_sheets_pdf
    from optimiser.writing.delivery_calendar import delivery_calendar
    from optimiser.writing.labels import labels_pdf
    from optimiser.writing.level_chart import level_chart_svg
    from optimiser.writing.order_csv import order_csv
    from optimiser.writing.order_pdf import order_pdf
    from optimiser.writing.order_ubl import order_ubl, orders_anything
    from optimiser.writing.order_xlsx import order_xlsx
    from optimiser.writing.plan_json import plan_json

    contents = {
        "order.xlsx": order_xlsx(plan, paper),
        "order.pdf": order_pdf(plan, paper),
        "order.csv": order_csv(plan).encode(),
        "cutting-sheets.pdf": cutting_sheets_pdf(plan, paper, levels=levels),
        "deliveries.ics": delivery_calendar(plan),
        "levels.svg": level_chart_svg(plan).encode(),
        "plan.json": plan_json(plan).encode(),
    }
    if orders_anything(plan):
        contents["order.ubl.xml"] = order_ubl(plan, issued_on=issued_on)
    if labels:
        contents[LABELS] = labels_pdf(plan, paper, levels=levels)
    for name, content in contents.items():
        (folder / name).write_bytes(content)
    return tuple(name for name in (*FILES, LABELS) if name in contents)


@contextmanager
def all_or_nothing(folder: Path, replaces: Collection[str] = ()) -> Iterator[Path]:
    """A temporary folder to write in; when the block ends well, its files move into `folder`.

    Old files in `folder` that are named in `replaces` and were not written anew are taken away: they belong to
    what is replaced.

    When it fails, `folder` is as it was: what stood there stays, and nothing half-written is left. The
    temporary folder lies on the same disk, so that moving a file replaces an old one in one step. Raises
    OSError at once when nothing can be written there.
    """
    folder = Path(os.path.abspath(folder))
    if folder.exists() and not folder.is_dir():
        raise NotADirectoryError(20, "is a file, not a folder", str(folder))
    is_new = not folder.exists()
    made = _make_parents(folder) if is_new else []
    unfinished = None
    try:
        try:
            unfinished = Path(
                tempfile.mkdtemp(prefix=".unfinished-order-", dir=folder.parent if is_new else folder)
            )
        except OSError as failure:
            raise type(failure)(failure.errno, failure.strerror, str(folder)) from failure
        yield unfinished
        if is_new:
            unfinished.chmod(0o777 & ~_umask())
            unfinished.rename(folder)
        else:
            written = {path.name for path in unfinished.iterdir()}
            for name in [name for name in FILES if name in written] + sorted(written - set(FILES)):
                (unfinished / name).replace(folder / name)
            for name in set(replaces) - written:
                (folder / name).unlink(missing_ok=True)
    except BaseException:
        if unfinished is not None:
            shutil.rmtree(unfinished, ignore_errors=True)
        for parent in reversed(made):
            _remove_if_empty(parent)
        raise
    shutil.rmtree(unfinished, ignore_errors=True)


def _make_parents(folder: Path) -> list[Path]:
    """Makes the folders above a new one; returns those that were not there."""
    missing = [parent for parent in reversed(folder.parents) if not parent.exists()]
    folder.parent.mkdir(parents=True, exist_ok=True)
    return missing


def _remove_if_empty(folder: Path) -> None:
    try:
        folder.rmdir()
    except OSError:
        return


def _umask() -> int:
    """The process's umask: files are private in a temporary folder, but an order is meant to be read."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
