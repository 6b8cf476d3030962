"""A folder's files, all of them or none: written aside, then moved into place."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path

from optimiser.writing.file_names import FILES


@contextmanager
def all_or_nothing(folder: Path, replaces: Collection[str] = ()) -> Iterator[Path]:
    """A temporary folder to write in; when the block ends well, its files move into `folder`.

    Old files in `folder` that are named in `replaces` and were not written again are taken away: they belong to
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
