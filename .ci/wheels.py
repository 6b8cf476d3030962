"""`make wheels`: a wheel for each platform and a source distribution into `dist/`, twice, and equal both times; beside
them the bill of materials and the notices of licences (`inventory.py`).

Needs the packages of `requirements-wheels.lock`. Each wheel is built from the files that git knows, in a folder of its
own, with that platform's kernels beside the C and the pages of the manual; the time in it is that of the last commit.
"""

from __future__ import annotations

import gzip
import hashlib
import io
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from inventory import write_inventory  # noqa: E402

from optimiser.commands.manual import manual_pages  # noqa: E402
from optimiser.kernels.building import PLATFORMS, Platform, compile_kernels, zig  # noqa: E402

BUILD = """
import sys
from setuptools import build_meta
if sys.argv[1] == "sdist":
    build_meta.build_sdist(sys.argv[2])
else:
    build_meta.build_wheel(sys.argv[2], {"--build-option": ["--plat-name", sys.argv[1]]})
"""


def main() -> int:
    """0 when all is built and equal twice, 1 otherwise."""
    folder = ROOT / "dist"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    with tempfile.TemporaryDirectory() as again:
        for into in (folder, Path(again)):
            for platform in (None, *PLATFORMS):
                build(platform, into)
            write_inventory(into)
        unequal = [
            built.name
            for built in sorted(folder.iterdir())
            if digest(built) != digest(Path(again) / built.name)
        ]
    for built in sorted(folder.iterdir()):
        print(f"{digest(built)}  {built.name}  {built.stat().st_size / 1024:.0f} kB")
    if unequal:
        print(f"not equal when built twice: {', '.join(unequal)}", file=sys.stderr)
    return 1 if unequal else 0


def build(platform: Platform | None, into: Path) -> None:
    """Builds a platform's wheel, or for None the source distribution, which has no libraries."""
    with tempfile.TemporaryDirectory() as scratch:
        sources = Path(scratch) / "sources"
        listed = subprocess.run(
            ["git", "ls-files", "-z", "optimiser", "api", "README.md", "pyproject.toml", "LICENSE"],
            cwd=ROOT,
            check=True,
            capture_output=True,
        )
        for name in filter(None, listed.stdout.decode().split("\0")):
            (sources / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, sources / name)
            (sources / name).chmod(0o644)
        (sources / "man").mkdir()
        for name, page in manual_pages().items():
            (sources / "man" / name).write_text(page, encoding="utf-8", newline="\n")
        if platform is not None:
            command = zig()
            assert command is not None, "ziglang is in requirements-wheels.lock"
            compile_kernels(command, sources / "optimiser" / "kernels", platform.suffix, platform.flags_for)
        moment = last_commit()
        for path in (sources, *sources.rglob("*")):
            os.utime(path, (moment, moment))
        subprocess.run(
            [sys.executable, "-c", BUILD, platform.tag if platform else "sdist", str(into)],
            cwd=sources,
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=os.environ | {"SOURCE_DATE_EPOCH": str(moment)},
        )
        if platform is None:
            repack(next(into.glob("*.tar.gz")), moment)


def repack(archive: Path, moment: int) -> None:
    """A source distribution with its files in order and nothing in it of when and by whom it was packed."""
    with tarfile.open(archive) as packed:
        members = sorted(packed.getmembers(), key=lambda member: member.name)
        contents = [packed.extractfile(member) for member in members]
        with io.BytesIO() as plain:
            with tarfile.open(fileobj=plain, mode="w", format=tarfile.PAX_FORMAT) as again:
                for member, content in zip(members, contents, strict=True):
                    member.uid = member.gid = 0
                    member.uname = member.gname = ""
                    member.mtime = moment
                    member.pax_headers = {}
                    again.addfile(member, content)
            tar = plain.getvalue()
    archive.write_bytes(gzip.compress(tar, mtime=moment))


def last_commit() -> int:
    """When the last commit was made, in seconds since 1970."""
    told = subprocess.run(
        ["git", "log", "-1", "--format=%ct"], cwd=ROOT, check=True, capture_output=True, text=True
    )
    return int(told.stdout)


def digest(path: Path) -> str:
    """The file's SHA-256."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


if __name__ == "__main__":
    sys.exit(main())
