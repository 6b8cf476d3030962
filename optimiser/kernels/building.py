"""Compiles the kernels into this folder: `python -m optimiser.kernels.building`.

Plain C without Python's headers, loaded by ctypes: any C compiler will do. The machine's own is taken where it has one,
else that of the Python package `ziglang`, which also compiles for other platforms. Without either the references stand
in (see `loading`).
"""

from __future__ import annotations

import argparse
import importlib.util
import platform
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).parent
KERNELS = ("cutting", "joints", "joint_bound", "draws", "rearranging")
# No contraction of a product and a sum into one rounding: every processor then counts alike, to the last bit.
FLAGS = ("-O3", "-std=c11", "-Wall", "-ffp-contract=off", "-shared")


@dataclass(frozen=True)
class Platform:
    """Where a wheel may be installed: `tag` as wheels name it, `target` as the compiler names it."""

    tag: str
    target: str
    suffix: str

    @property
    def flags(self) -> tuple[str, ...]:
        """What the compiler is told beside `FLAGS`; nothing of this machine's paths or time goes into the library."""
        position_independent = () if self.suffix == ".dll" else ("-fPIC",)
        return ("-target", self.target, *position_independent, "-g0", "-s")

    def flags_for(self, name: str) -> tuple[str, ...]:
        """`flags`, and on macOS the library's own name, which would otherwise be the path that it was written to."""
        own_name = ("-install_name", f"@rpath/{name}") if self.suffix == ".dylib" else ()
        return (*self.flags, *own_name)


PLATFORMS = (
    Platform("manylinux_2_17_x86_64", "x86_64-linux-gnu.2.17", ".so"),
    Platform("manylinux_2_17_aarch64", "aarch64-linux-gnu.2.17", ".so"),
    Platform("win_amd64", "x86_64-windows-gnu", ".dll"),
    Platform("macosx_11_0_x86_64", "x86_64-macos.11.0", ".dylib"),
    Platform("macosx_11_0_arm64", "aarch64-macos.11.0", ".dylib"),
)


def zig() -> list[str] | None:
    """The command of the compiler in the package `ziglang`, or None where it is not installed."""
    return [sys.executable, "-m", "ziglang", "cc"] if importlib.util.find_spec("ziglang") else None


def compiler() -> list[str] | None:
    """The machine's own compiler, else that of `ziglang`, else None."""
    own = next((found for name in ("cc", "gcc", "clang") if (found := shutil.which(name))), None)
    return [own] if own else zig()


def own_suffix() -> str:
    """How a shared library ends on this machine."""
    return {"Windows": ".dll", "Darwin": ".dylib"}.get(platform.system(), ".so")


def compile_kernels(
    command: Sequence[str],
    into: Path,
    suffix: str,
    flags: Callable[[str], Sequence[str]] = lambda library: (),
) -> None:
    """Compiles every kernel into a folder; `flags` may depend on the library's name.

    Raises CalledProcessError with the compiler's own words on stderr.
    """
    into.mkdir(parents=True, exist_ok=True)
    for name in KERNELS:
        # from the sources' folder and by bare names, so that no path of this machine is compiled in
        library = (into / f"_{name}{suffix}").resolve()
        math = () if suffix == ".dll" else ("-lm",)
        subprocess.run(
            [*command, *FLAGS, *flags(library.name), "-o", str(library), f"{name}.c", *math],
            cwd=FOLDER,
            check=True,
        )
    for leftover in (*into.glob("*.lib"), *into.glob("*.pdb")):
        leftover.unlink()


def main(arguments: Sequence[str] | None = None) -> int:
    """0 when the kernels are compiled, 1 when there is no compiler: then their references stand in."""
    parser = argparse.ArgumentParser(prog="python -m optimiser.kernels.building", description=__doc__)
    parser.add_argument("--into", type=Path, default=FOLDER, metavar="FOLDER", help="default: beside the C")
    parser.add_argument(
        "--for", dest="tag", choices=[each.tag for each in PLATFORMS], help="another platform; needs ziglang"
    )
    options = parser.parse_args(arguments)
    if options.tag:
        wanted = next(each for each in PLATFORMS if each.tag == options.tag)
        if (command := zig()) is None:
            print("other platforms are compiled for with the package ziglang: install it", file=sys.stderr)
            return 1
        compile_kernels(command, options.into, wanted.suffix, wanted.flags_for)
        return 0
    command = compiler()
    if command is None:
        print(
            "no C compiler: the kernels' references stand in, with equal results, many times slower. Install gcc, or"
            " the Python package ziglang, and run this again.",
            file=sys.stderr,
        )
        return 1
    suffix = own_suffix()
    compile_kernels(command, options.into, suffix, lambda _: () if suffix == ".dll" else ("-fPIC",))
    return 0


if __name__ == "__main__":
    sys.exit(main())
