// The cut widths that the gap along a run allows: the window of a span, how far one width serves, and whether a straight
// edge may follow the gap. In exact integers.

#ifndef GAP_WINDOWS_H
#define GAP_WINDOWS_H

#include "gap_line.h"

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

// Whether surely no straight edge at all, whole widths or not, stays within the limits over [from, to] and rises or
// falls by taper_max at most. Limits are rounded outward to 1/1024 mm, so a 'yes' is proved; then every longer span
// fails as well.
static int no_straight_edge(const Run *run, const Rules *rules, int64_t from, int64_t to) {
    int64_t first = segment_of(run, from), end = segment_of(run, to);
    if (run->at[end] == to && end > first) end--;
    int64_t inner_first = first + 1, inner_last = end;  // knots strictly inside the span
    int64_t points = inner_last - inner_first + 3;
    int64_t over;
#define POINT(i, x, low, high) do { \
        wide gap_; \
        if ((i) == 0) { x = from; gap_ = gap_at(run, first, from, &over); } \
        else if ((i) == points - 1) { x = to; gap_ = gap_at(run, end, to, &over); } \
        else { x = run->at[inner_first + (i) - 1]; gap_ = run->gap[inner_first + (i) - 1]; over = 1; } \
        low = floor_quotient(gap_ * rules->rate_min * 1024, (wide)over * rules->rate_unit); \
        high = ceil_quotient(gap_ * rules->rate_max * 1024, (wide)over * rules->rate_unit); \
    } while (0)
    // Limits of the slope as fractions.
    wide rise_min = -1024 * (wide)rules->taper_max, rise_max = -rise_min;
    int64_t rise_min_over = to - from, rise_max_over = to - from;
    for (int64_t i = 0; i < points; i++) {
        int64_t xi, low_i, high_i;
        POINT(i, xi, low_i, high_i);
        for (int64_t j = i + 1; j < points; j++) {
            int64_t xj, low_j, high_j;
            POINT(j, xj, low_j, high_j);
            int64_t dx = xj - xi;
            wide at_least = low_j - high_i, at_most = high_j - low_i;
            if (at_least * rise_min_over > rise_min * dx) { rise_min = at_least; rise_min_over = dx; }
            if (at_most * rise_max_over < rise_max * dx) { rise_max = at_most; rise_max_over = dx; }
        }
    }
#undef POINT
    return rise_min * rise_max_over > rise_max * rise_min_over;
}

#endif
