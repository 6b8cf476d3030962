// The gap along a run and the tapered pieces that follow it, in exact integers.
//
// A gap at a whole millimetre is the fraction (g0 (x1 - x) + g1 (x - x0)) / (x1 - x0) between the measured
// positions x0 and x1. Measured positions are whole millimetres, so between two neighbouring whole
// millimetres the gap is linear: what holds at every whole millimetre holds everywhere between.
// Rates are fractions over one common denominator: 1 + oversize_min = rate_min / rate_unit.

#ifndef GAP_LINE_H
#define GAP_LINE_H

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

typedef __int128 wide;

typedef struct {
    int64_t rate_unit, rate_min, rate_max;      // 1 + oversize = rate / rate_unit
    int64_t gap_min, gap_max;                   // the tested range, mm
    int64_t piece_min;                          // no piece shorter, where the run allows, mm
    int64_t shortest;                           // a last-resort piece is not shorter than this, mm
    int64_t clearance;                          // joint to mullion, mm
    int64_t taper_step;                         // tapered pieces start and end at multiples of this, mm
    int64_t taper_max;                          // the most that the end widths of a tapered piece differ, mm
} Rules;

typedef struct {
    int64_t length;
    int64_t knots;                              // at[0] = 0 and at[knots - 1] = length
    const int64_t *at, *gap;
    int64_t mullions;
    const int64_t *mullion;                     // ascending
    int64_t boards;
    const int64_t *board_length, *board_width;
} Run;

static inline int64_t smaller(int64_t a, int64_t b) { return a < b ? a : b; }
static inline int64_t larger(int64_t a, int64_t b) { return a > b ? a : b; }

// Quotients of non-negative numbers; 64-bit division where it suffices, because it is far quicker.
static inline int64_t floor_quotient(wide n, wide d) {
    if (n <= INT64_MAX && d <= INT64_MAX) return (int64_t)n / (int64_t)d;
    return (int64_t)(n / d);
}
static inline int64_t ceil_quotient(wide n, wide d) { return floor_quotient(n + d - 1, d); }

// The last knot that is not after x, and never the very last: the segment [at[k], at[k + 1]] holds x.
static int64_t segment_of(const Run *run, int64_t x) {
    int64_t low = 0, high = run->knots - 2;
    while (low < high) {
        int64_t middle = (low + high + 1) / 2;
        if (run->at[middle] <= x) low = middle; else high = middle - 1;
    }
    return low;
}

// The gap at x as numerator over *denominator; k is the segment that holds x.
static inline wide gap_at(const Run *run, int64_t k, int64_t x, int64_t *denominator) {
    int64_t before = x - run->at[k], after = run->at[k + 1] - x;
    *denominator = before + after;
    return (wide)run->gap[k] * after + (wide)run->gap[k + 1] * before;
}

// The least end widths of a tapered piece over [from, to], no wider than `widest`: the narrower its wider end
// the better, then the less their sum, then the narrower its start. 1 if there are any, else 0.
// At a knot k inside, the straight edge between the end widths must stay within the gap's limits; the end widths
// differ by taper_max at most.
static int tapered_ends(const Run *run, const Rules *rules, int64_t from, int64_t to, int64_t widest,
                        int64_t *start, int64_t *end) {
    int64_t first = segment_of(run, from), last = segment_of(run, to), over;
    wide gap = gap_at(run, first, from, &over), unit = rules->rate_unit;
    int64_t start_min = ceil_quotient(gap * rules->rate_min, over * unit);
    int64_t start_max = smaller(floor_quotient(gap * rules->rate_max, over * unit), widest);
    gap = gap_at(run, last, to, &over);
    int64_t end_min = ceil_quotient(gap * rules->rate_min, over * unit);
    int64_t end_max = smaller(floor_quotient(gap * rules->rate_max, over * unit), widest);
    int64_t length = to - from, best = -1;
    for (int64_t k = first + 1; k < run->knots && run->at[k] < to; k++) {   // starts that some end could go with
        int64_t before = run->at[k] - from, after = to - run->at[k];
        if (before <= 0) continue;
        wide need = (wide)run->gap[k] * rules->rate_min * length - unit * end_max * before;
        wide room = (wide)run->gap[k] * rules->rate_max * length - unit * end_min * before;
        if (room < 0) return 0;
        if (need > 0) start_min = larger(start_min, ceil_quotient(need, unit * after));
        start_max = smaller(start_max, floor_quotient(room, unit * after));
        if (start_min > start_max) return 0;
    }
    for (int64_t a = start_min; a <= start_max; a++) {
        if (best >= 0 && a > larger(*start, *end)) break;
        int64_t low = larger(end_min, a - rules->taper_max), high = smaller(end_max, a + rules->taper_max);
        for (int64_t k = first + 1; k < run->knots && run->at[k] < to && low <= high; k++) {
            int64_t before = run->at[k] - from, after = to - run->at[k];
            if (before <= 0) continue;
            wide fixed = unit * a * after;
            wide need = (wide)run->gap[k] * rules->rate_min * length - fixed;
            wide room = (wide)run->gap[k] * rules->rate_max * length - fixed;
            if (room < 0) return best >= 0;     // and a wider start only makes it worse
            if (need > 0) low = larger(low, ceil_quotient(need, unit * before));
            high = smaller(high, floor_quotient(room, unit * before));
        }
        if (low > high) continue;
        if (best < 0 || larger(a, low) < larger(*start, *end)
            || (larger(a, low) == larger(*start, *end) && a + low < *start + *end)) {
            best = 1;
            *start = a;
            *end = low;
        }
        if (low == end_min) break;              // a wider start can no longer narrow the end
    }
    return best >= 0;
}

#endif
