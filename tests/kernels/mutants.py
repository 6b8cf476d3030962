"""Changes to the C by hand, each of which the kernels' tests must notice: `python -m tests.kernels.mutants`.

Each mutant is built into a folder of its own and the tests run against it. A mutant is killed when a test fails, the
process dies or its time is up. Prints a table; exit status 1 when fewer than nine of ten are killed. Survivors are
argued beside them (`why`): they change no result.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from optimiser.kernels.loading import FOLDER, VARIABLE
from tests.kernels.building import build

TESTS = ("tests/kernels/test_against_references.py", "tests/kernels/test_cutting.py")
CPU_SECONDS = 120
KILLED_AT_LEAST = 0.9
BUILT_FROM = {
    "cutting.c": ("cutting", "draws"),
    "draws.c": ("draws",),
    "joints.c": ("joints",),
    "gap_line.h": ("joints", "joint_bound"),
    "gap_windows.h": ("joints",),
    "rearranging.c": ("rearranging",),
}


class Mutant(NamedTuple):
    """A change of one place of one file, and what it breaks; `why` it is no fault, where it survives."""

    name: str
    file: str
    right: str
    wrong: str
    why: str = ""


MUTANTS = (
    # the knapsacks
    Mutant(
        "a bound is one copy short",
        "cutting.c",
        "if (bound < most) most = bound;",
        "if (bound < most) most = bound - 1;",
    ),
    Mutant(
        "parcels of three copies",
        "cutting.c",
        "part *= 2) {\n        if (part > most) part = most;\n        out",
        "part *= 3) {\n        if (part > most) part = most;\n        out",
    ),
    Mutant(
        "of equals the later parcel is taken",
        "cutting.c",
        "row[c] = with > without;",
        "row[c] = with >= without;",
    ),
    Mutant(
        "a window's lower end is outside",
        "cutting.c",
        "useful[i] = left > 0 && width_min[i] <= width",
        "useful[i] = left > 0 && width_min[i] < width",
    ),
    Mutant(
        "the least valuable components of a length are kept",
        "cutting.c",
        "one->value > other->value ? -1 : 1",
        "one->value > other->value ? 1 : -1",
    ),
    Mutant(
        "one component of a length is enough",
        "cutting.c",
        "if (useful[i]) left -= bounds[i] < left ? bounds[i] : left;",
        "if (useful[i]) left = 0;",
    ),
    Mutant("a gain counts when equal", "cutting.c", "gained <= gain[forced] + 1", "gained <= gain[forced]"),
    Mutant(
        "a forced piece goes beyond its bound",
        "cutting.c",
        "if (forced >= 0 && copies[forced] < bounds[forced]) copies",
        "if (forced >= 0) copies",
    ),
    Mutant(
        "a forced width is not added",
        "cutting.c",
        "if (k > 0 && copies[k - 1] < bounds[k - 1]) copies[k - 1]++;",
        ";",
    ),
    # the heuristic
    Mutant(
        "a strip's widening costs nothing",
        "cutting.c",
        "(int64_t)(low - strip_width[s]) * (capacity - room[s]) +",
        "",
    ),
    Mutant(
        "waste behind a piece counts a quarter",
        "cutting.c",
        "(int64_t)after * low / 8",
        "(int64_t)after * low / 4",
    ),
    Mutant(
        "of equal strips the later is taken", "cutting.c", "if (wasted < least) {", "if (wasted <= least) {"
    ),
    Mutant(
        "a strip forgets its narrowest window",
        "cutting.c",
        "if (width_max[p] < narrowest[chosen]) narrowest[chosen] = width_max[p];",
        "",
    ),
    Mutant("a board is filled one short", "cutting.c", "int sum = rest;", "int sum = rest - 1;"),
    Mutant(
        "a sum loses what crosses a word",
        "cutting.c",
        "if (by_bits && x - by_words - 1 >= 0) moved |=",
        "if (0) moved |=",
    ),
    # whole buildings counted
    Mutant(
        "the shorter piece first",
        "draws.c",
        "return x->length > y->length ? -1 : 1;",
        "return x->length < y->length ? -1 : 1;",
    ),
    Mutant(
        "the stock of the last way is kept",
        "draws.c",
        "if (best < 0 || boards < best) {\n            best = boards;\n            memcpy(best_left",
        "if (best < 0 || boards < best) best = boards;\n        {\n            memcpy(best_left",
    ),
    Mutant(
        "more stock is taken than there is",
        "draws.c",
        "if (times > left[item]) times = (int32_t)left[item];",
        "",
    ),
    Mutant(
        "a joint where pieces do not meet",
        "draws.c",
        "row[0] == row[-ROW_WIDTH] && row[2] == row[3 - ROW_WIDTH]",
        "row[0] == row[-ROW_WIDTH]",
    ),
    Mutant(
        "tape without its lap at one end", "draws.c", "+ 2 * rules[7]) * rules[8]", "+ rules[7]) * rules[8]"
    ),
    Mutant(
        "a mullion at the clearance is in the way",
        "draws.c",
        "- from)) < clearance) return 0;",
        "- from)) <= clearance) return 0;",
    ),
    Mutant(
        "brackets farther apart than allowed",
        "draws.c",
        "< p - rules.spacing) head++;",
        "< p - rules.spacing - 1) head++;",
    ),
    Mutant(
        "one bracket fewer is never tried with one more",
        "draws.c",
        "more < (between > 0 ? 2 : 1)",
        "more < 1",
    ),
    Mutant(
        "of equal deviations the longer reach",
        "draws.c",
        "reach[s] >= reach[best]) continue;",
        "reach[s] <= reach[best]) continue;",
    ),
    Mutant(
        "the gap inside a piece is not looked at",
        "draws.c",
        "widen((Ratio){knots.gap[k], 1}, &span_least, &span_greatest);",
        ";",
    ),
    # joints
    Mutant(
        "a joint one millimetre into the clearance",
        "joints.c",
        "int64_t clear = run->mullion[mullion] + rules->clearance;",
        "int64_t clear = run->mullion[mullion] + rules->clearance - 1;",
    ),
    Mutant(
        "a piece of any length is a board length",
        "joints.c",
        "if (run->board_length[b] == length && run->board_width[b] >= width) return 1;",
        "if (run->board_width[b] >= width) return 1;",
    ),
    Mutant(
        "prices count a width too little",
        "joints.c",
        "+ smaller(width, prices->widths - 1)];",
        "+ smaller(larger(width - 1, 0), prices->widths - 1)];",
    ),
    Mutant(
        "what lies beyond the range is rounded inward",
        "joints.c",
        "zone_end = x1 - floor_quotient((limit - g1) * dx, g0 - g1);",
        "zone_end = x1 - ceil_quotient((limit - g1) * dx, g0 - g1);",
    ),
    Mutant(
        "of equal windows the later way",
        "joints.c",
        "if (search->node[search->open[i - 1]].score < score)",
        "if (search->node[search->open[i - 1]].score <= score)",
    ),
    Mutant(
        "positions are leapt over where a taper pays",
        "joints.c",
        "        *step = 1;\n        for (int64_t i = block_at(blocks, to)",
        "        for (int64_t i = block_at(blocks, to)",
    ),
    Mutant(
        "by price tapered pieces count like any other",
        "joints.c",
        "next.joints += MANY + tapered;",
        "next.joints += MANY;",
    ),
    # gaps and widths
    Mutant(
        "the ends of a taper differ by a millimetre more",
        "gap_line.h",
        "high = smaller(end_max, a + rules->taper_max);",
        "high = smaller(end_max, a + rules->taper_max + 1);",
    ),
    Mutant(
        "the greatest width is rounded up",
        "gap_windows.h",
        "floor_quotient(low * rules->rate_max, (wide)low_over * rules->rate_unit),",
        "ceil_quotient(low * rules->rate_max, (wide)low_over * rules->rate_unit),",
    ),
    Mutant(
        "a straight edge is thought possible too often",
        "gap_windows.h",
        "return rise_min * rise_max_over > rise_max * rise_min_over;",
        "return 0;",
        "it only spares trying ends of which none can do: the same joints, later",
    ),
    # boards dealt out anew
    Mutant(
        "what costs too much by its earlier half is cut off too soon",
        "rearranging.c",
        "high_total * (number_a > number_b ? number_a : number_b));",
        "high_total * (number_a > number_b ? number_b : number_a));",
    ),
    Mutant(
        "the widest sum that fits is left out",
        "rearranging.c",
        "greatest - low_sum[x] + 1);",
        "greatest - low_sum[x]);",
    ),
    Mutant(
        "a board's opening forgets the strips that stay",
        "rearranging.c",
        "int from_a = lesser(fixed_low[0], low_span[x].low), from_b",
        "int from_a = low_span[x].low, from_b",
    ),
    Mutant(
        "a strip goes to a board of another code",
        "rearranging.c",
        "(s->code[b] & mask) && s->number[first]",
        "s->number[first]",
    ),
    Mutant(
        "a piece may be carried one stage too far",
        "rearranging.c",
        "s->number[last] - s->number[open] > s->carry[b];",
        "s->number[last] - s->number[open] > s->carry[b] + 1;",
    ),
    Mutant(
        "an overfull board is kept as the best",
        "rearranging.c",
        "else cost += step_with_strips(s, temperature);\n        if (cost < best_cost && !s->overflow) {",
        "else cost += step_with_strips(s, temperature);\n        if (cost < best_cost) {",
    ),
    Mutant(
        "a strip is dealt wider than its narrowest window",
        "rearranging.c",
        "int fits = width[0] <= narrowest[0] && width[1] <= narrowest[1];",
        "int fits = width[0] <= narrowest[0];",
    ),
    Mutant(
        "an emptied strip stays on its board",
        "rearranging.c",
        "            take_strip(s, strips[side]);\n",
        "",
    ),
    Mutant(
        "a board is left where it was opened before",
        "rearranging.c",
        "if (s->place[b] < 0 || was != is) {",
        "if (s->place[b] < 0) {",
    ),
    Mutant(
        "no upper bound looks at what may be cut off",
        "rearranging.c",
        "if (at_least > choice.dearest) continue;",
        "",
        "it only spares looking at what costs too much: the same ways are offered, later",
    ),
)


def build_mutant(mutant: Mutant, healthy: Path, folder: Path) -> None:
    """The libraries of a mutant in `folder`, those that it does not change taken from `healthy`."""
    for source in FOLDER.glob("*.[ch]"):
        shutil.copy(source, folder)
    changed = folder / mutant.file
    text = changed.read_text()
    if text.count(mutant.right) != 1:
        raise ValueError(
            f"'{mutant.name}' must fit one place of {mutant.file}, not {text.count(mutant.right)}"
        )
    changed.write_text(text.replace(mutant.right, mutant.wrong))
    for library in healthy.glob("*.so"):
        shutil.copy(library, folder)
    build(folder, ("-O1",), BUILT_FROM[mutant.file], folder)


def survives(folder: Path) -> bool:
    """Whether every test passes with the libraries of a folder."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *TESTS]
    done = subprocess.run(
        [*command, "--hypothesis-profile=mutants", "--hypothesis-seed=0"],
        env=os.environ | {VARIABLE: str(folder)},
        capture_output=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS)),
        check=False,
    )
    return done.returncode == 0


def main() -> int:
    """Exit status 0 when enough mutants are killed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", default="", help="mutants whose name or file holds this")
    only = parser.parse_args().only
    chosen = [mutant for mutant in MUTANTS if only in mutant.name or only in mutant.file]
    started, killed = time.perf_counter(), 0
    with tempfile.TemporaryDirectory() as made:
        healthy = Path(made) / "healthy"
        healthy.mkdir()
        build(healthy, ("-O1",))
        if not survives(healthy):
            print("the tests fail on the kernels as they are", file=sys.stderr)
            return 1
        for number, mutant in enumerate(chosen):
            folder = Path(made) / str(number)
            folder.mkdir()
            build_mutant(mutant, healthy, folder)
            alive = survives(folder)
            killed += not alive
            said = f"SURVIVES  {mutant.why or 'not argued'}" if alive else "killed"
            print(f"{mutant.file:14} {mutant.name:50} {said}", flush=True)
    print(f"{killed} of {len(chosen)} killed in {time.perf_counter() - started:.0f} s")
    return 0 if only or killed >= KILLED_AT_LEAST * len(chosen) else 1


if __name__ == "__main__":
    sys.exit(main())
