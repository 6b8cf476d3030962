// The gap along a run and the cut widths it allows, in exact integers.
//
// A gap at a whole millimetre is the fraction (g0 (x1 - x) + g1 (x - x0)) / (x1 - x0) between the measured
// positions x0 and x1. Measured positions are whole millimetres, so between two neighbouring whole
// millimetres the gap is linear: what holds at every whole millimetre holds everywhere between.
// Rates are fractions over one common denominator: 1 + oversize_min = rate_min / rate_unit.

#ifndef GAP_WINDOWS_H
#define GAP_WINDOWS_H

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
} Rules;

typedef struct {
    int64_t length;
    int64_t knots;                              // at[0] = 0 and at[knots - 1] = length
    int64_t *at, *gap;
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

// What a span of the run asks of the piece over it.
typedef struct { int64_t gap_floor, gap_ceil, width_min, width_max; } Span;

static Span span_of(const Run *run, const Rules *rules, int64_t from, int64_t to) {
    int64_t k = segment_of(run, from), denominator;
    wide numerator = gap_at(run, k, from, &denominator);
    wide low = numerator, high = numerator;
    int64_t low_over = denominator, high_over = denominator;
    for (k++; ; k++) {
        int64_t inner = k < run->knots && run->at[k] < to;
        if (inner) { numerator = run->gap[k]; denominator = 1; }
        else numerator = gap_at(run, k - 1, to, &denominator);
        if (numerator * low_over < low * denominator) { low = numerator; low_over = denominator; }
        if (numerator * high_over > high * denominator) { high = numerator; high_over = denominator; }
        if (!inner) break;
    }
    Span span = {
        floor_quotient(low, low_over),
        ceil_quotient(high, high_over),
        ceil_quotient(high * rules->rate_min, (wide)high_over * rules->rate_unit),
        floor_quotient(low * rules->rate_max, (wide)low_over * rules->rate_unit),
    };
    return span;
}

// Where one width serves: from `from` a piece may reach as far as `to`. Ascending in both.
typedef struct { int64_t count; int64_t *from, *to; } Reach;

// The longest stretches [from, to] over which one cut width serves, for every whole width.
typedef struct { int64_t width, from, to; } Serving;

static int by_start(const void *a, const void *b) {
    const Serving *x = a, *y = b;
    if (x->from != y->from) return x->from < y->from ? -1 : 1;
    return (x->to > y->to) - (x->to < y->to);
}

// Lists them in `*list` (to be freed), by start. Returns how many, or -1 without memory.
//
// On a sloping segment the positions where width w serves are those with w / rate_max <= gap <= w / rate_min:
// an interval that one division finds at each end. Intervals of one width that meet at a knot are joined.
static int64_t serving_widths(const Run *run, const Rules *rules, Serving **list) {
    int64_t least = run->gap[0], greatest = run->gap[0];
    for (int64_t k = 1; k < run->knots; k++) {
        least = smaller(least, run->gap[k]);
        greatest = larger(greatest, run->gap[k]);
    }
    least = larger(least, rules->gap_min);      // beyond the tested range nothing is planned
    greatest = smaller(greatest, rules->gap_max);
    int64_t base = ceil_quotient((wide)least * rules->rate_min, rules->rate_unit);
    int64_t top = floor_quotient((wide)greatest * rules->rate_max, rules->rate_unit);
    *list = NULL;
    if (top < base) return 0;
    int64_t count = 0, room = 256;
    Serving *found = malloc(room * sizeof *found);
    int64_t *open = malloc((top - base + 1) * 2 * sizeof *open);  // per width: start and end of its interval
    if (!found || !open) { free(found); free(open); return -1; }
    for (int64_t w = 0; w < 2 * (top - base + 1); w++) open[w] = -1;
    for (int64_t k = 0; k <= run->knots - 1; k++) {
        int64_t ending = k == run->knots - 1;   // a last round lists what is still open
        int64_t x0 = run->at[k], x1 = ending ? x0 : run->at[k + 1], dx = x1 - x0;
        int64_t g0 = run->gap[k], g1 = ending ? g0 : run->gap[k + 1], slope = g1 - g0;
        int64_t from_width = ending ? base
            : larger(base, ceil_quotient((wide)smaller(g0, g1) * rules->rate_min, rules->rate_unit));
        int64_t to_width = ending ? top
            : smaller(top, floor_quotient((wide)larger(g0, g1) * rules->rate_max, rules->rate_unit));
        for (int64_t w = from_width; w <= to_width; w++) {
            wide scaled = (wide)w * rules->rate_unit;
            int64_t from = x0, to = x1;
            if (ending) {
                from = to = -1;
            } else if (slope > 0) {
                wide at_most = scaled - (wide)g0 * rules->rate_max;
                if (at_most > 0) from = x0 + ceil_quotient(at_most * dx, (wide)rules->rate_max * slope);
                if (scaled < (wide)g1 * rules->rate_min)
                    to = x0 + floor_quotient((scaled - (wide)g0 * rules->rate_min) * dx, (wide)rules->rate_min * slope);
            } else if (slope < 0) {
                wide at_most = scaled - (wide)g1 * rules->rate_max;
                if (at_most > 0) to = x1 - ceil_quotient(at_most * dx, (wide)rules->rate_max * -slope);
                if (scaled < (wide)g0 * rules->rate_min)
                    from = x1 - floor_quotient((scaled - (wide)g1 * rules->rate_min) * dx, (wide)rules->rate_min * -slope);
            }
            if (from > to) continue;
            int64_t *start = &open[2 * (w - base)], *end = start + 1;
            if (!ending && *end == x0 && from == x0) { *end = to; continue; }
            if (*end > *start) {                // an interval of one point holds no piece
                if (count == room) {
                    room *= 2;
                    Serving *more = realloc(found, room * sizeof *found);
                    if (!more) { free(found); free(open); return -1; }
                    found = more;
                }
                found[count++] = (Serving){w, *start, *end};
            }
            *start = from;
            *end = to;
        }
    }
    free(open);
    qsort(found, count, sizeof *found, by_start);
    *list = found;
    return count;
}

// From the sorted list, how far a piece no wider than `widest` reaches; storage for `count` entries is given.
static void reach_of(const Serving *list, int64_t count, int64_t widest, Reach *reach) {
    reach->count = 0;
    for (int64_t i = 0; i < count; i++) {
        if (list[i].width > widest) continue;
        int64_t n = reach->count;
        if (n && list[i].to <= reach->to[n - 1]) continue;
        if (n && list[i].from == reach->from[n - 1]) n--;
        reach->from[n] = list[i].from;
        reach->to[n] = list[i].to;
        reach->count = n + 1;
    }
}

// Index of the entry that holds at p, -1 when none does.
static int64_t reach_entry(const Reach *reach, int64_t p) {
    int64_t low = -1, high = reach->count - 1;
    while (low < high) {
        int64_t middle = (low + high + 1) / 2;
        if (reach->from[middle] <= p) low = middle; else high = middle - 1;
    }
    return low;
}

// The least end widths of a tapered piece over [from, to], no wider than `widest`: the narrower its wider end
// the better, then the less their sum, then the narrower its start. 1 if there are any, else 0.
// At a knot k inside, the straight edge between the end widths must stay within the gap's limits.
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
        if (best >= 0 && a >= larger(*start, *end)) break;
        int64_t low = end_min, high = end_max;
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

// Whether surely no straight edge at all, whole widths or not, stays within the limits over [from, to].
// Limits are rounded outward to 1/1024 mm, so a 'yes' is proved; then every longer span fails as well.
static int no_straight_edge(const Run *run, const Rules *rules, int64_t from, int64_t to) {
    int64_t first = segment_of(run, from), end = segment_of(run, to);
    if (run->at[end] == to && end > first) end--;
    int64_t inner_first = first + 1, inner_last = end;  // knots strictly inside the span
    int64_t points = inner_last - inner_first + 3;
    if (points <= 2) return 0;
    int64_t over;
#define POINT(i, x, low, high) do { \
        wide gap_; \
        if ((i) == 0) { x = from; gap_ = gap_at(run, first, from, &over); } \
        else if ((i) == points - 1) { x = to; gap_ = gap_at(run, end, to, &over); } \
        else { x = run->at[inner_first + (i) - 1]; gap_ = run->gap[inner_first + (i) - 1]; over = 1; } \
        low = floor_quotient(gap_ * rules->rate_min * 1024, (wide)over * rules->rate_unit); \
        high = ceil_quotient(gap_ * rules->rate_max * 1024, (wide)over * rules->rate_unit); \
    } while (0)
    wide rise_min = 0, rise_max = 0;            // limits of the slope as fractions
    int64_t rise_min_over = 0, rise_max_over = 0;
    for (int64_t i = 0; i < points; i++) {
        int64_t xi, low_i, high_i;
        POINT(i, xi, low_i, high_i);
        for (int64_t j = i + 1; j < points; j++) {
            int64_t xj, low_j, high_j;
            POINT(j, xj, low_j, high_j);
            int64_t dx = xj - xi;
            wide at_least = low_j - high_i, at_most = high_j - low_i;
            if (!rise_min_over || at_least * rise_min_over > rise_min * dx) { rise_min = at_least; rise_min_over = dx; }
            if (!rise_max_over || at_most * rise_max_over < rise_max * dx) { rise_max = at_most; rise_max_over = dx; }
        }
    }
#undef POINT
    return rise_min * rise_max_over > rise_max * rise_min_over;
}

#endif
