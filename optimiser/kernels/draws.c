// Brackets, joints and tape of a whole building on plain integer arrays: what `optimiser.accessories` says, for
// the tolerance simulation and the comparison of gaps, which count a building thousands of times.
//
// All lengths are integer millimetres. A gap between two knots is a fraction numerator / denominator; every
// comparison is exact, in 128-bit integers.
#include <stdint.h>
#include <stdlib.h>

#define ROW_WIDTH 10 // of optimiser.joint_arrays: run, kind, from, to, ...

typedef struct {
    int64_t numerator, denominator;
} Ratio;

typedef struct {
    const int64_t *at, *gap;
    int64_t count;
} Knots;

static int less(Ratio a, Ratio b) {
    return (__int128)a.numerator * b.denominator < (__int128)b.numerator * a.denominator;
}

// The first index whose value is above `value`.
static int64_t first_above(const int64_t *values, int64_t count, int64_t value) {
    int64_t low = 0, high = count;
    while (low < high) {
        const int64_t middle = (low + high) / 2;
        if (values[middle] > value) high = middle;
        else low = middle + 1;
    }
    return low;
}

static Ratio gap_at(Knots knots, int64_t position) {
    const int64_t after = first_above(knots.at, knots.count, position);
    if (after == 0) return (Ratio){knots.gap[0], 1};
    if (after == knots.count) return (Ratio){knots.gap[after - 1], 1};
    const int64_t x0 = knots.at[after - 1], x1 = knots.at[after];
    return (Ratio){knots.gap[after - 1] * (x1 - position) + knots.gap[after] * (position - x0), x1 - x0};
}

static void widen(Ratio gap, Ratio *least, Ratio *greatest) {
    if (less(gap, *least)) *least = gap;
    if (less(*greatest, gap)) *greatest = gap;
}

// ---------------------------------------------------------------------------------------------------------
// Where brackets stand: the rules and ties of optimiser.bracket_positions.

typedef struct {
    int64_t clearance, end_distance, spacing;
} Standing;

typedef struct {
    int64_t *movement, *previous, *position, *window; // room for every millimetre of a piece, a bracket
    int64_t *count;                                   // positions found, a bracket
    int64_t room, brackets;
} Search;

static int clear_of(int64_t position, const int64_t *mullions, int64_t count, int64_t from, int64_t clearance) {
    for (int64_t m = 0; m < count; m++)
        if (llabs(position - (mullions[m] - from)) < clearance) return 0;
    return 1;
}

// The least total movement with every bracket within `limit` of where it was wanted, or -1; writes `found`.
// A shortest path over whole millimetres; the window of `spacing` before a position slides with it.
static int64_t least_movement(const int64_t *wanted, int64_t brackets, int64_t limit, int64_t length,
                              const int64_t *mullions, int64_t mullion_count, int64_t from, Standing rules,
                              int64_t longest_end, Search *search, int64_t *found) {
    const int64_t low = length > 1 ? 1 : 0, high = length > 1 ? length - 1 : length, room = search->room;
    for (int64_t i = 0; i < brackets; i++) {
        int64_t *movement = search->movement + i * room, *previous = search->previous + i * room;
        int64_t *position = search->position + i * room, made = 0;
        const int64_t *movement_before = movement - room, *position_before = position - room;
        int64_t head = 0, tail = 0, entering = 0;
        const int64_t aim = wanted[i], before = i ? search->count[i - 1] : 0;
        const int64_t first = aim - limit > low ? aim - limit : low;
        const int64_t last = aim + limit < high ? aim + limit : high;
        for (int64_t p = first; p <= last; p++) {
            if (!clear_of(p, mullions, mullion_count, from, rules.clearance)) continue;
            if (i == brackets - 1 && length - p > longest_end) continue;
            if (i == 0) {
                if (p > longest_end) break;
                movement[made] = llabs(p - aim);
                previous[made] = -1;
                position[made++] = p;
                continue;
            }
            while (entering < before && position_before[entering] < p) {
                while (tail > head && movement_before[search->window[tail - 1]] > movement_before[entering]) tail--;
                search->window[tail++] = entering++;
            }
            while (tail > head && position_before[search->window[head]] < p - rules.spacing) head++;
            if (tail > head) {
                movement[made] = movement_before[search->window[head]] + llabs(p - aim);
                previous[made] = search->window[head];
                position[made++] = p;
            }
        }
        search->count[i] = made;
    }
    int64_t best = -1;
    const int64_t *movement = search->movement + (brackets - 1) * room;
    for (int64_t k = 0; k < search->count[brackets - 1]; k++)
        if (best < 0 || movement[k] < movement[best]) best = k;
    if (best < 0) return -1;
    const int64_t total = movement[best];
    for (int64_t i = brackets - 1; i >= 0; i--) {
        found[i] = search->position[i * room + best];
        best = search->previous[i * room + best];
    }
    return total;
}

static int64_t make_room(Search *search, int64_t length, int64_t brackets) {
    if (length + 1 <= search->room && brackets <= search->brackets) return 1;
    const int64_t room = length + 1 > search->room ? length + 1 : search->room;
    const int64_t most = brackets > search->brackets ? brackets : search->brackets;
    int64_t **arrays[] = {&search->movement, &search->previous, &search->position};
    for (int k = 0; k < 3; k++) {
        free(*arrays[k]);
        *arrays[k] = malloc((size_t)(room * most) * sizeof(int64_t));
        if (!*arrays[k]) return 0;
    }
    free(search->window);
    free(search->count);
    search->window = malloc((size_t)(room + 1) * sizeof(int64_t));
    search->count = malloc((size_t)most * sizeof(int64_t));
    if (!search->window || !search->count) return 0;
    search->room = room;
    search->brackets = most;
    return 1;
}

// `wanted` moved clear of the mullions by the least total movement; 0 when that is impossible, -1 without memory.
static int moved_clear(const int64_t *wanted, int64_t brackets, int64_t length, const int64_t *mullions,
                       int64_t mullion_count, int64_t from, Standing rules, int64_t longest_end, Search *search,
                       int64_t *found) {
    int all = 1;
    for (int64_t i = 0; i < brackets; i++) {
        found[i] = wanted[i];
        all = all && clear_of(wanted[i], mullions, mullion_count, from, rules.clearance);
    }
    if (all) return 1;
    if (!make_room(search, length, brackets)) return -1;
    const int64_t farthest = length * brackets;
    int64_t limit = rules.clearance > 1 ? rules.clearance : 1;
    for (;;) {
        const int64_t movement = least_movement(wanted, brackets, limit, length, mullions, mullion_count, from, rules,
                                                longest_end, search, found);
        if (movement >= 0 && movement <= limit) return 1;
        if (limit >= farthest) return 0;
        limit = movement >= 0 ? movement : 4 * limit;
        if (limit > farthest) limit = farthest;
    }
}

// How many brackets a piece has, their positions from its start in `found`; 0 when none can stand, -1 without
// memory. `wanted` and `found` have room for `most` brackets.
static int64_t stand(int64_t length, const int64_t *mullions, int64_t mullion_count, int64_t from, Standing rules,
                     Search *search, int64_t *wanted, int64_t *found) {
    const int64_t grown = rules.end_distance + 2 * rules.clearance;
    const int64_t ends[2] = {grown, rules.spacing > grown ? rules.spacing : grown};
    const int64_t between = length - 2 * rules.end_distance;
    const int64_t fewest = between > 0 ? (between + rules.spacing - 1) / rules.spacing : 0;
    for (int relaxed = 0; relaxed < 2; relaxed++)
        for (int64_t more = 0; more < (between > 0 ? 2 : 1); more++) {
            const int64_t intervals = fewest + more, brackets = intervals + 1;
            if (between <= 0) wanted[0] = length / 2;
            else
                for (int64_t i = 0; i <= intervals; i++) wanted[i] = rules.end_distance + between * i / intervals;
            const int done = moved_clear(wanted, brackets, length, mullions, mullion_count, from, rules,
                                         ends[relaxed], search, found);
            if (done < 0) return -1;
            if (done) return brackets;
        }
    return 0;
}

// ---------------------------------------------------------------------------------------------------------

typedef struct {
    int64_t unit, low, high, target; // insertion rates: low / unit to high / unit
} Insertion;

// |reach / gap - target| as a fraction whose denominator is gap's numerator times the unit (left out).
static Ratio deviation(int64_t reach, Ratio gap, Insertion rates) {
    const int64_t off = reach * gap.denominator * rates.unit - rates.target * gap.numerator;
    return (Ratio){off < 0 ? -off : off, gap.numerator};
}

static int within(int64_t reach, Ratio least, Ratio greatest, Insertion rates) {
    return (__int128)reach * rates.unit * greatest.denominator >= (__int128)rates.low * greatest.numerator &&
           (__int128)reach * rates.unit * least.denominator <= (__int128)rates.high * least.numerator;
}

// The bracket size (index) of a piece by the rules and ties of optimiser.accessories, or -1.
static int64_t size_for(Ratio least, Ratio greatest, Ratio span_least, Ratio span_greatest, int64_t sizes,
                        const int64_t *reach, Insertion rates) {
    int64_t best = -1;
    int best_whole = 0;
    Ratio best_deviation = {0, 1};
    for (int64_t s = 0; s < sizes; s++) {
        if (!within(reach[s], least, greatest, rates)) continue;
        const int whole = within(reach[s], span_least, span_greatest, rates);
        const Ratio a = deviation(reach[s], least, rates), b = deviation(reach[s], greatest, rates);
        const Ratio worse = less(a, b) ? b : a;
        if (best >= 0) {
            if (whole < best_whole) continue;
            if (whole == best_whole) {
                if (less(best_deviation, worse)) continue;
                if (!less(worse, best_deviation) && reach[s] <= reach[best]) continue;
            }
        }
        best = s;
        best_whole = whole;
        best_deviation = worse;
    }
    return best;
}

// Counts a building's accessories. `rows` are pieces only, in order of run and position. `rules`: clearance, end
// distance, spacing, insertion unit, low, high, target, tape lap, tape faces. Writes for each piece the index of
// its bracket size (-1: no size fits, -2: none can stand) and how many; `totals`: joints, tape_mm.
// Returns 0, or -1 without memory.
int64_t count_accessories(int64_t pieces, const int64_t *rows, const int64_t *knot_start, const int64_t *knot_at,
                          const int64_t *knot_gap, const int64_t *mullion_start, const int64_t *mullion_at,
                          const int64_t *rules, int64_t sizes, const int64_t *reach, int64_t *piece_size,
                          int64_t *piece_brackets, int64_t *totals) {
    const Standing standing = {rules[0], rules[1], rules[2]};
    const Insertion rates = {rules[3], rules[4], rules[5], rules[6]};
    Search search = {0};
    int64_t longest = 1, done = -1;
    for (int64_t p = 0; p < pieces; p++) {
        const int64_t length = rows[p * ROW_WIDTH + 3] - rows[p * ROW_WIDTH + 2];
        if (length > longest) longest = length;
    }
    const int64_t most = longest / standing.spacing + 4;
    int64_t *wanted = malloc((size_t)most * sizeof *wanted), *found = malloc((size_t)most * sizeof *found);
    totals[0] = totals[1] = 0;
    if (!wanted || !found) goto end;
    for (int64_t p = 0; p < pieces; p++) {
        const int64_t *row = rows + p * ROW_WIDTH;
        const int64_t run = row[0], from = row[2], to = row[3];
        const Knots knots = {knot_at + knot_start[run], knot_gap + knot_start[run],
                             knot_start[run + 1] - knot_start[run]};
        if (p && row[0] == row[-ROW_WIDTH] && row[2] == row[3 - ROW_WIDTH]) {
            const Ratio gap = gap_at(knots, from);
            totals[0]++;
            totals[1] += ((gap.numerator + gap.denominator - 1) / gap.denominator + 2 * rules[7]) * rules[8];
        }
        const int64_t *mullions = mullion_at + mullion_start[run];
        const int64_t count = mullion_start[run + 1] - mullion_start[run];
        const int64_t near = first_above(mullions, count, from - standing.clearance);
        const int64_t beyond = first_above(mullions, count, to + standing.clearance - 1);
        const int64_t brackets = stand(to - from, mullions + near, beyond > near ? beyond - near : 0, from, standing,
                                       &search, wanted, found);
        if (brackets < 0) goto end;
        piece_brackets[p] = 0;
        piece_size[p] = -2;
        if (!brackets) continue;
        Ratio least = gap_at(knots, from + found[0]), greatest = least;
        for (int64_t b = 1; b < brackets; b++) widen(gap_at(knots, from + found[b]), &least, &greatest);
        Ratio span_least = gap_at(knots, from), span_greatest = span_least;
        widen(gap_at(knots, to), &span_least, &span_greatest);
        for (int64_t k = first_above(knots.at, knots.count, from); k < knots.count && knots.at[k] < to; k++)
            widen((Ratio){knots.gap[k], 1}, &span_least, &span_greatest);
        piece_size[p] = size_for(least, greatest, span_least, span_greatest, sizes, reach, rates);
        if (piece_size[p] >= 0) piece_brackets[p] = brackets;
    }
    done = 0;
end:
    free(search.movement); free(search.previous); free(search.position); free(search.window); free(search.count);
    free(wanted); free(found);
    return done;
}
