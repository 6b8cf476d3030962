// A whole building counted on plain integer arrays, for the tolerance simulation and the comparison of gaps, which do
// it thousands of times: brackets, joints and tape as `optimiser.takeoff.brackets` says, and boards by the constructive
// heuristic of the cutting solver, which is included here so that a count never leaves C.
//
// All lengths are integer millimetres. A gap between two knots is a fraction numerator / denominator; every
// comparison is exact, in 128-bit integers.
#include "cutting.c"

#define ROW_WIDTH 10 // of optimiser.joints.arrays: run, kind, from, to, ...

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
// Where brackets stand: the rules and ties of optimiser.takeoff.positions.

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
        const int64_t *movement_before = i ? movement - room : NULL, *position_before = i ? position - room : NULL;
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

// The bracket size (index) of a piece by the rules and ties of optimiser.takeoff.brackets, or -1.
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
                if (!less(worse, best_deviation) && reach[s] >= reach[best]) continue;
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

// ---------------------------------------------------------------------------------------------------------
// Boards by the constructive heuristic: strips by best fit, then boards filled as full as any set of strips can.

typedef struct {
    int32_t length, width_min, width_max, place;
} ToCut;

static int longest_first(const void *a, const void *b) {
    const ToCut *x = a, *y = b;
    if (x->length != y->length) return x->length > y->length ? -1 : 1;
    if (x->width_min != y->width_min) return x->width_min > y->width_min ? -1 : 1;
    return x->place < y->place ? -1 : 1;
}

static int ascending(const void *a, const void *b) {
    const int32_t x = *(const int32_t *)a, y = *(const int32_t *)b;
    return (x > y) - (x < y);
}

// Fills stock (widths descending, `left` of each) with the strips that fit, as full as they can; uses up both.
static int fill_stock(int widths, const int32_t *width, int32_t *demand, int64_t items, const int64_t *stock_width,
                      int64_t *left, int kerf, int32_t *copies, int32_t *rest) {
    for (int64_t item = 0; item < items; item++)
        while (left[item] > 0) {
            int fitting = 0, any = 0;
            while (fitting < widths && width[fitting] <= stock_width[item] + kerf) {
                rest[fitting] = demand[fitting];
                any = any || demand[fitting] > 0;
                fitting++;
            }
            if (!any) break;
            int32_t times = 0;
            // room for one pattern: the first is written whether or not more would follow
            fill_boards(fitting, width, rest, (int)stock_width[item] + kerf, 1, copies, &times);
            if (times <= 0) return 0;
            if (times > left[item]) times = (int32_t)left[item];
            for (int w = 0; w < fitting; w++) demand[w] -= copies[w] * times;
            left[item] -= times;
        }
    return 1;
}

// Boards (`length` x `width`) bought for pieces that may share them; `stock_left` is used up as by the best way found.
// `tolerances` are tried in turn, the fewest boards kept. Returns -1 without memory.
int64_t count_boards(int64_t pieces, const int64_t *piece_length, const int64_t *width_min, const int64_t *width_max,
                     int64_t length, int64_t width, int64_t kerf, int64_t items, const int64_t *stock_width,
                     int64_t *stock_left, int64_t tries, const int64_t *tolerances) {
    if (pieces == 0) return 0;
    const size_t room = (size_t)pieces + 1;
    ToCut *order = malloc(room * sizeof *order);
    int32_t *numbers = malloc(9 * room * sizeof *numbers);
    int64_t *left = malloc((size_t)(2 * items + 1) * sizeof *left);
    int32_t *patterns = NULL, *repeats = NULL;
    int64_t best = -1;
    int done = 0; // without memory no count is given, an earlier one neither: the stock would not be its own
    if (!order || !numbers || !left) goto end;
    int64_t *best_left = left + items;
    int32_t *lengths = numbers, *narrow = lengths + room, *wide = narrow + room, *strip_of = wide + room;
    int32_t *strips = strip_of + room, *before = strips + room, *slot = before + room, *demand = slot + room;
    int32_t *scratch = demand + room;
    for (int64_t p = 0; p < pieces; p++)
        order[p] = (ToCut){(int32_t)(piece_length[p] + kerf), (int32_t)width_min[p], (int32_t)width_max[p], (int32_t)p};
    qsort(order, (size_t)pieces, sizeof *order, longest_first);
    for (int64_t p = 0; p < pieces; p++) {
        lengths[p] = order[p].length;
        narrow[p] = order[p].width_min;
        wide[p] = order[p].width_max;
    }
    int count_before = -1;
    for (int64_t k = 0; k < tries; k++) {
        const int count = form_strips((int)pieces, lengths, narrow, wide, (int)(length + kerf), lengths[pieces - 1],
                                      (int)tolerances[k], strip_of, strips);
        if (count < 0) goto end;
        qsort(strips, (size_t)count, sizeof *strips, ascending);
        if (count == count_before && !memcmp(strips, before, (size_t)count * sizeof *strips)) continue;
        memcpy(before, strips, (size_t)count * sizeof *strips);
        count_before = count;
        int widths = 0;
        for (int s = 0; s < count; s++) {
            if (!widths || slot[widths - 1] != strips[s] + kerf) {
                slot[widths] = (int32_t)(strips[s] + kerf);
                demand[widths++] = 0;
            }
            demand[widths - 1]++;
        }
        memcpy(left, stock_left, (size_t)items * sizeof *left);
        if (!fill_stock(widths, slot, demand, items, stock_width, left, (int)kerf, strip_of, scratch)) goto end;
        int kinds = 0, wanted = 0;
        for (int w = 0; w < widths; w++)
            if (demand[w] > 0) {
                slot[kinds] = slot[w];
                demand[kinds++] = demand[w];
                wanted += demand[w];
            }
        int64_t boards = 0;
        int made = kinds ? -1 : 0;
        for (int most = 4 * kinds + 64; made < 0; most *= 4) {
            if (most > wanted + 1) most = wanted + 1;
            free(patterns);
            free(repeats);
            patterns = malloc((size_t)most * kinds * sizeof *patterns);
            repeats = malloc((size_t)most * sizeof *repeats);
            if (!patterns || !repeats) goto end;
            memcpy(scratch, demand, (size_t)kinds * sizeof *demand);
            made = fill_boards(kinds, slot, scratch, (int)(width + kerf), most, patterns, repeats);
            if (made < 0 && most > wanted) goto end;
        }
        for (int k2 = 0; k2 < made; k2++) boards += repeats[k2];
        if (best < 0 || boards < best) {
            best = boards;
            memcpy(best_left, left, (size_t)items * sizeof *left);
        }
    }
    if (best >= 0) memcpy(stock_left, best_left, (size_t)items * sizeof *left);
    done = 1;
end:
    free(order); free(numbers); free(left); free(patterns); free(repeats);
    return done ? best : -1;
}
