"""Calls of the kernels, recorded here and made again by the library for Windows: `record`, `build`, `repeat`.

No Python runs there: a program in C is written from the kernels' declarations, which loads the library, makes each
recorded call and writes down what came back. It runs where `wine` does.
"""

from __future__ import annotations

import os
import shutil
import struct
import subprocess
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from ctypes import CDLL
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from optimiser.kernels.building import PLATFORMS, compile_kernels, zig
from optimiser.kernels.declaring import Array, Kernel, Number

MOST_CALLS = 4  # of each kernel
NULL = 2**64 - 1
WINDOWS = next(platform for platform in PLATFORMS if platform.suffix == ".dll")
C_TYPES = {"int": "int", "int32_t": "int32_t", "int64_t": "int64_t", "double": "double"}

PROGRAM = r"""
#include <windows.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

typedef union { int64_t whole; double real; void *address; } Argument;

static uint64_t word(FILE *file) {
    uint64_t value;
    if (fread(&value, 8, 1, file) != 1) exit(3);
    return value;
}

int main(int count, char **words) {
    if (count != 4) return 4;
    FILE *calls = fopen(words[2], "rb"), *answers = fopen(words[3], "wb");
    if (!calls || !answers) return 5;
    for (uint64_t left = word(calls); left; left--) {
        uint64_t kernel = word(calls), arguments = word(calls);
        Argument given[64];
        uint64_t size[64];
        for (uint64_t k = 0; k < arguments; k++) {
            uint64_t kind = word(calls);
            size[k] = 0;
            if (kind == 0) {
                uint64_t bits = word(calls);
                given[k].whole = (int64_t)bits;
            } else {
                size[k] = word(calls);
                given[k].address = NULL;
                if (size[k] == UINT64_MAX) { size[k] = 0; continue; }
                given[k].address = malloc(size[k] + 1);
                if (size[k] && fread(given[k].address, 1, size[k], calls) != size[k]) return 6;
            }
        }
        char path[1024];
        snprintf(path, sizeof path, "%s\\_%s.dll", words[1], LIBRARY[kernel]);
        HMODULE library = LoadLibraryA(path);
        if (!library) { fprintf(stderr, "%s is not loaded: %lu\n", path, GetLastError()); return 7; }
        FARPROC function = GetProcAddress(library, NAME[kernel]);
        if (!function) { fprintf(stderr, "%s is not exported\n", NAME[kernel]); return 8; }
        int64_t result = called(kernel, function, given);
        fwrite(&result, 8, 1, answers);
        for (uint64_t k = 0; k < arguments; k++)
            if (size[k]) fwrite(given[k].address, 1, size[k], answers);
    }
    return fclose(answers) ? 9 : 0;
}
"""


@dataclass
class Call:
    """A call of a kernel: its arguments before, the arrays after it, and what it returned."""

    kernel: Kernel
    before: list[int | float | bytes | None]
    after: list[bytes] = field(default_factory=list)
    result: int = 0


@contextmanager
def record() -> Iterator[list[Call]]:
    """The first few calls of each kernel that are made within the block."""
    calls: list[Call] = []
    made: Counter[str] = Counter()
    checked: dict[str, Mapping[str, object]] = {}
    really_checked, real_function = Kernel.checked, Kernel.function

    def noticed(kernel: Kernel, given: Mapping[str, object]) -> list[int | float | None]:
        checked[kernel.name] = given
        return really_checked(kernel, given)

    def function(kernel: Kernel, library: CDLL) -> Callable[..., int]:
        def recorded(*arguments: object) -> int:
            made[kernel.name] += 1
            if made[kernel.name] > MOST_CALLS:
                return int(real_function(kernel, library)(*arguments))
            values = [checked[kernel.name][argument.name] for argument in kernel.passed]
            found = Call(kernel, [_copied(value) for value in values])
            found.result = int(real_function(kernel, library)(*arguments))
            found.after = [value.tobytes() for value in values if isinstance(value, np.ndarray)]
            calls.append(found)
            return found.result

        return recorded

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Kernel, "checked", noticed)
        patch.setattr(Kernel, "function", function)
        yield calls


def _copied(value: object) -> int | float | bytes | None:
    if isinstance(value, np.ndarray):
        return value.tobytes()
    if value is None:
        return None
    return float(value) if isinstance(value, (float, np.floating)) else int(value)  # type: ignore[call-overload]


def build(kernels: list[Kernel], folder: Path) -> Path:
    """The program that repeats calls of these kernels, the libraries for Windows beside it."""
    command = zig()
    assert command is not None
    compile_kernels(command, folder, WINDOWS.suffix, WINDOWS.flags_for)
    cases = []
    for number, kernel in enumerate(kernels):
        types = ", ".join("void *" if isinstance(a, Array) else C_TYPES[a.type] for a in kernel.passed)
        given = ", ".join(_given(k, argument) for k, argument in enumerate(kernel.passed))
        cases.append(
            f"case {number}: return (({C_TYPES[kernel.result]} (*)({types}))(void *)function)({given});"
        )
    named = _strings("LIBRARY", [kernel.library for kernel in kernels])
    named += _strings("NAME", [kernel.name for kernel in kernels])
    dispatch = (
        "static int64_t called(uint64_t kernel, FARPROC function, Argument *given) {\n"
        "switch (kernel) {\n" + "\n".join(cases) + "\n}\nexit(10);\n}\n"
    )
    head, body = PROGRAM.split("int main", 1)
    source = folder / "repeat.c"
    source.write_text(f"{head}{named}{dispatch}int main{body}")
    program = folder / "repeat.exe"
    subprocess.run(
        [*command, "-target", WINDOWS.target, "-O1", "-std=c11", "-o", str(program), str(source)], check=True
    )
    return program


def _strings(name: str, values: list[str]) -> str:
    listed = ", ".join(f'"{value}"' for value in values)
    return f"static const char *{name}[] = {{{listed}}};\n"


def _given(place: int, argument: object) -> str:
    if isinstance(argument, Array):
        return f"given[{place}].address"
    if isinstance(argument, Number):
        return f"({C_TYPES[argument.type]})given[{place}].whole"
    return f"given[{place}].real"


def wine() -> str | None:
    """The command that runs programs for Windows, where there is one."""
    own = "/usr/lib/wine/wine64"  # Debian's package wine64 alone puts nothing on the path
    return shutil.which("wine64") or shutil.which("wine") or (own if Path(own).exists() else None)


def repeat(
    program: Path, kernels: list[Kernel], calls: list[Call], runner: str
) -> list[tuple[int, list[bytes]]]:
    """What each call returned there, and its arrays after it."""
    asked, answers = program.with_name("calls"), program.with_name("answers")
    with asked.open("wb") as file:
        file.write(struct.pack("<Q", len(calls)))
        for call in calls:
            file.write(struct.pack("<QQ", kernels.index(call.kernel), len(call.before)))
            for value in call.before:
                file.write(_packed(value))
    env = {**os.environ, "WINEPREFIX": str(program.parent / "prefix"), "WINEDEBUG": "-all"}
    command = [runner, program.name, ".", asked.name, answers.name]
    subprocess.run(command, cwd=program.parent, env=env, check=True, timeout=240, capture_output=True)
    found = []
    with answers.open("rb") as file:
        for call in calls:
            (result,) = struct.unpack("<q", file.read(8))
            found.append((result, [file.read(len(after)) for after in call.after]))
        assert not file.read()
    return found


def _packed(value: int | float | bytes | None) -> bytes:
    if value is None:
        return struct.pack("<QQ", 1, NULL)
    if isinstance(value, bytes):
        return struct.pack("<QQ", 1, len(value)) + value
    return struct.pack("<Qd" if isinstance(value, float) else "<Qq", 0, value)
