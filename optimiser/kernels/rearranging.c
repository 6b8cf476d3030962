// Less waiting on the same boards: strips change boards and pieces change strips, by simulated annealing.
//
// What is moved is a *component*: what lies in one length of a strip, one piece or a tapered pair. A board is opened
// with the earliest of its components; a piece waits from then until its own stage. A step takes two boards and deals
// their strips out anew, or two strips and deals their components out anew: of *all* ways that fit, one is drawn with
// probability exp(-cost / temperature) (heat bath; Geman and Geman, IEEE Trans. Pattern Anal. 6, 1984). The ways to
// deal out strips are found by meeting in the middle (Horowitz and Sahni, J. ACM 21, 1974): the later half of the
// strips as a sorted list of subset sums, in which every subset of the earlier half has its window, unless the earlier
// half alone already costs too much.
//
// Lengths and widths carry the kerf already. Stages are ranks 0, 1, 2, ...; `number` says which they stand for.
// `reference/rearranging.py` says the same to be read; equal random numbers, equal results.
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define MOST_FREE 12    // strips dealt out at once; the others stay on their boards
#define MOST_HALF 64    // 2 ^ (MOST_FREE / 2)
#define MOST_WAYS 4096  // 2 ^ MOST_FREE, and more than 2 ^ MOST_SPLIT
#define MOST_POOL 256   // strips of two boards together
#define MOST_SPLIT 10   // components dealt out between two strips at once
#define MOST_EXPONENT 8  // what is rarer than exp(-8) is not drawn
#define MOST_OVERFLOW 60 // mm that a board may be filled beyond its width on the way
#define FEW_OVERFULL 64 // boards that are overfull are few where they are no more than one in so many
#define NEVER (1 << 29)

typedef struct {
    int components;
    const int32_t *length, *width_min, *width_max, *pieces, *first, *last;
    const int64_t *codes;
    int boards;
    const int32_t *capacity, *board_length, *kerf, *earliest, *latest, *carry;
    const int64_t *code, *price;
    int ranks;
    const int32_t *number;
    int64_t piece_weight, remainder_weight, inner_weight, overflow_weight, overflow;
    // the arrangement
    int32_t *strip_of, *board_of;          // of a component its strip, of a strip its board
    int *head, *next, *previous;           // components of a strip
    int *top, *after, *before;             // strips of a board
    int *width, *taken, *count, *low, *high, *narrowest;  // of a strip: width, length, pieces, first, last stage
    int64_t *mask;
    int *used, *opened, *latest_first, *held, *strips_on;  // of a board
    int *bucket, *in_bucket, *place;       // boards by the stage at which they are opened; `ranks`: not opened
    int *overfull, *among, overfull_count; // the overfull boards, and where a board stands among them
    int *free_strips, free_count;
    const int32_t *sharing, *partner_start, *partners;  // components that may share a strip, and with which
    int sharing_count;
    int ways[MOST_WAYS];  // all ways to deal out, what each costs, and the weights of all until it
    int64_t costs[MOST_WAYS];
    double until[MOST_WAYS];
    uint64_t random;
} State;

static uint64_t draw(State *s) {
    uint64_t x = s->random;
    x ^= x >> 12;
    x ^= x << 25;
    x ^= x >> 27;
    s->random = x;
    return x * 2685821657736338717ULL;
}
static int below(State *s, int count) { return (int)((draw(s) >> 33) % (uint64_t)count); }
static double unit(State *s) { return (double)(draw(s) >> 11) * (1.0 / 9007199254740992.0); }

static inline int lesser(int a, int b) { return a < b ? a : b; }
static inline int greater(int a, int b) { return a > b ? a : b; }

static int64_t board_cost(const State *s, int b, int used, int pieces, int opened, int latest_first) {
    if (opened >= NEVER) return 0;
    const int64_t over = used > s->capacity[b] ? used - s->capacity[b] : 0;
    return s->overflow_weight * over + s->price[b] - s->piece_weight * pieces * s->number[opened] +
           s->remainder_weight * (s->number[latest_first] - s->number[opened]);
}
static int64_t strip_cost(const State *s, int first, int last, int pieces) {
    if (first >= NEVER) return 0;
    return s->remainder_weight * (s->number[last] - s->number[first]) -
           s->inner_weight * pieces * s->number[first];
}

// Whether a board may hold what is first needed at `first`, last at `last`, is so long, and may come of `mask`.
static int may_hold(const State *s, int b, int first, int last, int length, int64_t mask) {
    return length <= s->board_length[b] && (s->code[b] & mask) && s->number[first] >= s->earliest[b] &&
           s->number[last] <= s->latest[b];
}

// Whether what is opened at rank `open` (NEVER: nothing is) and needed until `last` is carried too far for board b.
static inline int too_far(const State *s, int b, int open, int last) {
    return open < NEVER && s->number[last] - s->number[open] > s->carry[b];
}

static void measure_strip(State *s, int strip) {
    int width = 0, narrowest = NEVER, taken = 0, count = 0, low = NEVER, high = -1;
    int64_t mask = -1;
    for (int c = s->head[strip]; c >= 0; c = s->next[c]) {
        if (s->width_min[c] > width) width = s->width_min[c];
        if (s->width_max[c] < narrowest) narrowest = s->width_max[c];
        if (s->first[c] < low) low = s->first[c];
        if (s->last[c] > high) high = s->last[c];
        taken += s->length[c];
        count += s->pieces[c];
        mask &= s->codes[c];
    }
    s->width[strip] = width;
    s->narrowest[strip] = narrowest;
    s->taken[strip] = taken;
    s->count[strip] = count;
    s->low[strip] = low;
    s->high[strip] = high;
    s->mask[strip] = mask;
}

static void put_in_bucket(State *s, int b, int rank) {
    s->place[b] = s->in_bucket[rank];
    s->bucket[(size_t)rank * s->boards + s->in_bucket[rank]++] = b;
}
static void measure_board(State *s, int b) {
    int used = 0, opened = NEVER, latest_first = -1, held = 0, strips = 0;
    for (int k = s->top[b]; k >= 0; k = s->after[k]) {
        used += s->width[k] + s->kerf[b];
        if (s->low[k] < opened) opened = s->low[k];
        if (s->low[k] > latest_first) latest_first = s->low[k];
        held += s->count[k];
        strips++;
    }
    const int was = s->opened[b] >= NEVER ? s->ranks : s->opened[b], is = opened >= NEVER ? s->ranks : opened;
    if (s->place[b] < 0 || was != is) {
        if (s->place[b] >= 0) {
            int *const from = s->bucket + (size_t)was * s->boards;
            const int moved = from[--s->in_bucket[was]];
            from[s->place[b]] = moved;
            s->place[moved] = s->place[b];
        }
        put_in_bucket(s, b, is);
    }
    const int was_over = greater(0, s->used[b] - s->capacity[b]), over = greater(0, used - s->capacity[b]);
    s->overflow += over - was_over;
    if (over && !was_over) {
        s->among[b] = s->overfull_count;
        s->overfull[s->overfull_count++] = b;
    } else if (was_over && !over) {  // the last takes its place
        const int moved = s->overfull[--s->overfull_count];
        s->overfull[s->among[b]] = moved;
        s->among[moved] = s->among[b];
    }
    s->used[b] = used;
    s->opened[b] = opened;
    s->latest_first[b] = latest_first;
    s->held[b] = held;
    s->strips_on[b] = strips;
}

static void take_strip(State *s, int k) {
    const int b = s->board_of[k];
    if (s->before[k] >= 0) s->after[s->before[k]] = s->after[k]; else s->top[b] = s->after[k];
    if (s->after[k] >= 0) s->before[s->after[k]] = s->before[k];
}
static void put_strip(State *s, int k, int b) {
    s->board_of[k] = b;
    s->before[k] = -1;
    s->after[k] = s->top[b];
    if (s->top[b] >= 0) s->before[s->top[b]] = k;
    s->top[b] = k;
}
static void take_component(State *s, int c) {
    const int k = s->strip_of[c];
    if (s->previous[c] >= 0) s->next[s->previous[c]] = s->next[c]; else s->head[k] = s->next[c];
    if (s->next[c] >= 0) s->previous[s->next[c]] = s->previous[c];
}
static void put_component(State *s, int c, int k) {
    s->strip_of[c] = k;
    s->previous[c] = -1;
    s->next[c] = s->head[k];
    if (s->head[k] >= 0) s->previous[s->head[k]] = c;
    s->head[k] = c;
}

// All the ways that are offered, each with its weight added to those before it, and one to be drawn.
typedef struct {
    int count;
    double temperature, total, weight;  // `weight` is that of `cost`, the last one offered
    int64_t reference, dearest, cost;
    int *ways;
    int64_t *costs;
    double *until;
} Choice;

static Choice no_choice(State *s, int64_t reference, double temperature) {
    const double room = MOST_EXPONENT * temperature;
    const int64_t dearest = room < 1e18 ? reference + (int64_t)room : INT64_MAX;
    return (Choice){0, temperature, 0, 0, reference, dearest, INT64_MIN, s->ways, s->costs, s->until};
}

static inline void offer(Choice *choice, int way, int64_t cost) {
    if (cost > choice->dearest) return;
    if (cost != choice->cost) {
        const double exponent = (double)(choice->reference - cost) / choice->temperature;
        choice->weight = exp(exponent < 300 ? exponent : 300);
        choice->cost = cost;
    }
    choice->total += choice->weight;
    choice->ways[choice->count] = way;
    choice->costs[choice->count] = cost;
    choice->until[choice->count++] = choice->total;
}

// The number of the way drawn, -1 where none was offered.
static int drawn(State *s, const Choice *choice) {
    if (!choice->count) return -1;
    const double at = unit(s) * choice->total;
    int low = 0, high = choice->count - 1;  // the first whose sum is beyond `at`
    while (low < high) {
        const int middle = (low + high) / 2;
        if (choice->until[middle] > at) high = middle; else low = middle + 1;
    }
    return low;
}

// A subset in one word, so that words are in the order of their sums: the sum, how many pieces, which.
typedef uint64_t Subset;
static inline int sum_of(Subset s) { return (int)(s >> 32); }
static inline int pieces_of(Subset s) { return (int)(s >> 8 & 0xffffff); }
static inline int set_of(Subset s) { return (int)(s & 0xff); }

// The sums of all subsets of the sizes (each above 0), ascending, by merging the list so far with itself shifted; in
// one of the two buffers, which is returned. No branch depends on which of two is smaller: it could not be predicted.
static const Subset *subset_sums(const int *sizes, const int *pieces, int count, Subset *first, Subset *second) {
    Subset *before = first, *after = second;
    before[0] = 0;
    for (int i = 0, made = 1; i < count; i++, made *= 2) {
        const Subset more = (Subset)sizes[i] << 32 | (Subset)pieces[i] << 8 | (Subset)1 << i;
        int a = 0, b = 0;
        while (a < made) {
            const Subset without = before[a], with = before[b] + more;
            const int take = without < with;
            after[a + b] = take ? without : with;
            a += take;
            b += !take;
        }
        for (; b < made; b++) after[a + b] = before[b] + more;
        Subset *swap = before;
        before = after;
        after = swap;
    }
    return before;
}

// How many of the subsets have a sum below `least`.
static inline int below_sum(const Subset *sums, int count, int least) {
    if (least <= 0) return 0;
    const Subset bound = (Subset)least << 32;
    int at = 0;
    for (int half = count; half > 0; half /= 2)  // `count` is a power of two
        if (at + half <= count && sums[at + half - 1] < bound) at += half;
    return at;
}

// Of a subset of strips: the first stages of its earliest and of its latest strip, and the last stage of any.
typedef struct {
    int low, top, last;
} Span;

// The spans of all subsets; the strips stand in the order of their first stages.
static void spans(const int *low, const int *last, int count, Span *of) {
    of[0] = (Span){NEVER, -1, -1};
    for (int set = 1; set < 1 << count; set++) {
        const int rest = set & (set - 1), k = __builtin_ctz(set);
        of[set] = (Span){low[k], rest ? of[rest].top : low[k], greater(of[rest].last, last[k])};
    }
}

// Deals the strips of boards a and b out anew. Returns the change of the cost.
static int64_t deal_strips(State *s, int a, int b, double temperature) {
    if (s->kerf[a] != s->kerf[b]) return 0;
    int pool[MOST_POOL], pooled = 0;
    if (s->strips_on[a] + s->strips_on[b] > MOST_POOL) return 0;
    for (int k = s->top[a]; k >= 0; k = s->after[k]) pool[pooled++] = k;
    for (int k = s->top[b]; k >= 0; k = s->after[k]) pool[pooled++] = k;
    int freed[MOST_FREE], count = 0;
    int fixed_width[2] = {0, 0}, fixed_pieces[2] = {0, 0}, fixed_low[2] = {NEVER, NEVER}, fixed_top[2] = {-1, -1};
    int fixed_last[2] = {-1, -1};
    for (int k = 0; k < pooled; k++) {
        const int chosen = k + below(s, pooled - k), strip = pool[chosen];
        pool[chosen] = pool[k];
        pool[k] = strip;
        if (count < MOST_FREE) {
            int at = count++;  // kept in the order of their first stages
            while (at > 0 && s->low[freed[at - 1]] > s->low[strip]) { freed[at] = freed[at - 1]; at--; }
            freed[at] = strip;
            continue;
        }
        const int side = s->board_of[strip] == b;
        fixed_width[side] += s->width[strip] + s->kerf[a];
        fixed_pieces[side] += s->count[strip];
        fixed_low[side] = lesser(fixed_low[side], s->low[strip]);
        fixed_top[side] = greater(fixed_top[side], s->low[strip]);
        fixed_last[side] = greater(fixed_last[side], s->high[strip]);
    }
    if (!count) return 0;
    const int lower = count / 2, upper = count - lower, low_all = (1 << lower) - 1;
    int sizes[MOST_FREE], held[MOST_FREE], low[MOST_FREE], last[MOST_FREE], total = 0, here = 0, only_a = 0, only_b = 0;
    for (int k = 0; k < count; k++) {
        const int strip = freed[k];
        sizes[k] = s->width[strip] + s->kerf[a];
        held[k] = s->count[strip];
        low[k] = s->low[strip];
        last[k] = s->high[strip];
        total += sizes[k];
        if (s->board_of[strip] == a) here |= 1 << k;
        if (!may_hold(s, b, s->low[strip], s->high[strip], s->taken[strip], s->mask[strip])) only_a |= 1 << k;
        if (!may_hold(s, a, s->low[strip], s->high[strip], s->taken[strip], s->mask[strip])) only_b |= 1 << k;
    }
    const int carried = s->carry[a] < NEVER || s->carry[b] < NEVER;
    const int64_t before = board_cost(s, a, s->used[a], s->held[a], s->opened[a], s->latest_first[a]) +
                           board_cost(s, b, s->used[b], s->held[b], s->opened[b], s->latest_first[b]);
    Choice choice = no_choice(s, before, temperature);
    // so far may a board be filled beyond its width at this temperature
    const int margin = s->overflow_weight ? (int)fmin(MOST_OVERFLOW, MOST_EXPONENT * temperature / (double)s->overflow_weight) : 0;
    const int most_on_a = s->capacity[a] - fixed_width[0], least_on_a = total - (s->capacity[b] - fixed_width[1]);
    const int least = lesser(least_on_a, most_on_a) - margin, greatest = greater(least_on_a, most_on_a) + margin;
    Subset buffer[2][MOST_HALF];
    const Subset *const highs = subset_sums(sizes + lower, held + lower, upper, buffer[0], buffer[1]);
    int low_sum[MOST_HALF], low_pieces[MOST_HALF], low_total = 0, high_total = 0;
    low_sum[0] = low_pieces[0] = 0;
    for (int k = 0; k < lower; k++) low_total += held[k];
    for (int k = lower; k < count; k++) high_total += held[k];
    for (int set = 1; set < 1 << lower; set++) {
        const int rest = set & (set - 1), k = __builtin_ctz(set);
        low_sum[set] = low_sum[rest] + sizes[k];
        low_pieces[set] = low_pieces[rest] + held[k];
    }
    const int high_all = (1 << upper) - 1, high_only_a = only_a >> lower, high_only_b = only_b >> lower;
    Span high_span[MOST_HALF], low_span[MOST_HALF];
    spans(low + lower, last + lower, upper, high_span);
    spans(low, last, lower, low_span);
    for (int x = 0; x <= low_all; x++) {
        const int not_x = low_all & ~x;
        if ((x & only_b) || (not_x & only_a)) continue;
        const int from_a = lesser(fixed_low[0], low_span[x].low), from_b = lesser(fixed_low[1], low_span[not_x].low);
        const int top_a = greater(fixed_top[0], low_span[x].top);
        const int top_b = greater(fixed_top[1], low_span[not_x].top);
        const int until_a = greater(fixed_last[0], low_span[x].last);
        const int until_b = greater(fixed_last[1], low_span[not_x].last);
        if (carried && (too_far(s, a, from_a, until_a) || too_far(s, b, from_b, until_b))) continue;
        // no piece begins to wait later than this, wherever the upper half goes: what costs too much is not tried
        const int pieces_a = fixed_pieces[0] + low_pieces[x], pieces_b = fixed_pieces[1] + low_total - low_pieces[x];
        const int64_t number_a = s->number[from_a < NEVER ? from_a : low[count - 1]];
        const int64_t number_b = s->number[from_b < NEVER ? from_b : low[count - 1]];
        const int64_t at_least = (from_a < NEVER ? s->price[a] : 0) + (from_b < NEVER ? s->price[b] : 0) -
            s->piece_weight * (pieces_a * number_a + pieces_b * number_b + high_total * (number_a > number_b ? number_a : number_b));
        if (at_least > choice.dearest) continue;
        const int to = below_sum(highs, 1 << upper, greatest - low_sum[x] + 1);
        for (int y = below_sum(highs, 1 << upper, least - low_sum[x]); y < to; y++) {
            const int high_a = set_of(highs[y]), high_b = high_all & ~high_a;
            if ((high_a & high_only_b) || (high_b & high_only_a)) continue;
            const int open_a = lesser(from_a, high_span[high_a].low), open_b = lesser(from_b, high_span[high_b].low);
            const int late_a = greater(top_a, high_span[high_a].top), late_b = greater(top_b, high_span[high_b].top);
            if (carried) {
                const int last_a = greater(until_a, high_span[high_a].last);
                const int last_b = greater(until_b, high_span[high_b].last);
                if (too_far(s, a, open_a, last_a) || too_far(s, b, open_b, last_b)) continue;
            }
            const int more = pieces_of(highs[y]), across = low_sum[x] + sum_of(highs[y]);
            offer(&choice, x | high_a << lower,
                  board_cost(s, a, across + fixed_width[0], pieces_a + more, open_a, late_a) +
                      board_cost(s, b, total - across + fixed_width[1], pieces_b + high_total - more, open_b, late_b));
        }
    }
    const int found = drawn(s, &choice);
    if (found < 0 || choice.ways[found] == here) return 0;
    for (int k = 0; k < count; k++) {
        const int board = choice.ways[found] >> k & 1 ? a : b;
        if (s->board_of[freed[k]] == board) continue;
        take_strip(s, freed[k]);
        put_strip(s, freed[k], board);
    }
    measure_board(s, a);
    measure_board(s, b);
    return choice.costs[found] - before;
}

// What a board is without one or two of its strips.
static void rest_of_board(const State *s, int b, int without, int also, int *used, int *pieces, int *opened, int *latest,
                          int *last) {
    if (s->boards == 1 && !s->piece_weight && !s->remainder_weight && s->carry[b] >= NEVER) {  // only the room counts
        *used = s->used[b] - s->width[without] - s->kerf[b];
        if (also >= 0) *used -= s->width[also] + s->kerf[b];
        *pieces = *opened = *latest = *last = 0;
        return;
    }
    *used = *pieces = 0;
    *opened = NEVER;
    *latest = *last = -1;
    for (int k = s->top[b]; k >= 0; k = s->after[k]) {
        if (k == without || k == also) continue;
        *used += s->width[k] + s->kerf[b];
        *pieces += s->count[k];
        if (s->low[k] < *opened) *opened = s->low[k];
        if (s->low[k] > *latest) *latest = s->low[k];
        if (s->high[k] > *last) *last = s->high[k];
    }
}

// Deals the components of strip `one` and of strip `other` (-1: a new one on board b) out anew.
static int64_t deal_components(State *s, int one, int other, int b, double temperature) {
    const int a = s->board_of[one];
    if (s->kerf[a] != s->kerf[b]) return 0;
    int freed[MOST_SPLIT], count = 0, here = 0;
    for (int c = s->head[one]; c >= 0; c = s->next[c]) {
        if (count == MOST_SPLIT) return 0;
        here |= 1 << count;
        freed[count++] = c;
    }
    for (int c = other < 0 ? -1 : s->head[other]; c >= 0; c = s->next[c]) {
        if (count == MOST_SPLIT) return 0;
        freed[count++] = c;
    }
    int used[2], pieces[2], opened[2], latest[2], last[2];
    rest_of_board(s, a, one, other, &used[0], &pieces[0], &opened[0], &latest[0], &last[0]);
    rest_of_board(s, b, one, other, &used[1], &pieces[1], &opened[1], &latest[1], &last[1]);
    int64_t before = strip_cost(s, s->low[one], s->high[one], s->count[one]) +
        (other < 0 ? 0 : strip_cost(s, s->low[other], s->high[other], s->count[other]));
    before += board_cost(s, a, s->used[a], s->held[a], s->opened[a], s->latest_first[a]);
    if (a != b) before += board_cost(s, b, s->used[b], s->held[b], s->opened[b], s->latest_first[b]);
    // an overfull board may stay so, not become worse than the margin
    int most_used[2] = {s->used[a], s->used[b]};
    const int margin = s->overflow_weight ? MOST_OVERFLOW : 0;
    if (most_used[0] < s->capacity[a] + margin) most_used[0] = s->capacity[a] + margin;
    if (most_used[1] < s->capacity[b] + margin) most_used[1] = s->capacity[b] + margin;
    Choice choice = no_choice(s, before, temperature);
    for (int set = 0; set < 1 << count; set++) {
        int width[2] = {0, 0}, narrowest[2] = {NEVER, NEVER}, taken[2] = {0, 0}, held[2] = {0, 0};
        int low[2] = {NEVER, NEVER}, high[2] = {-1, -1};
        int64_t mask[2] = {-1, -1};
        for (int k = 0; k < count; k++) {
            const int c = freed[k], side = !(set >> k & 1);
            if (s->width_min[c] > width[side]) width[side] = s->width_min[c];
            if (s->width_max[c] < narrowest[side]) narrowest[side] = s->width_max[c];
            if (s->first[c] < low[side]) low[side] = s->first[c];
            if (s->last[c] > high[side]) high[side] = s->last[c];
            taken[side] += s->length[c];
            held[side] += s->pieces[c];
            mask[side] &= s->codes[c];
        }
        int fits = width[0] <= narrowest[0] && width[1] <= narrowest[1];
        const int board[2] = {a, b};
        int across[2];
        for (int side = 0; side < 2 && fits; side++) {
            across[side] = held[side] ? width[side] + s->kerf[a] : 0;
            fits = !held[side] || may_hold(s, board[side], low[side], high[side], taken[side], mask[side]);
        }
        if (!fits) continue;
        int64_t cost = strip_cost(s, low[0], high[0], held[0]) +
                       strip_cost(s, low[1], high[1], held[1]);
        if (a == b) {
            const int open = opened[0] < low[0] ? opened[0] : low[0], opens = open < low[1] ? open : low[1];
            int late = latest[0], end = last[0];
            for (int side = 0; side < 2; side++) {
                if (held[side] && low[side] > late) late = low[side];
                if (high[side] > end) end = high[side];
            }
            if (used[0] + across[0] + across[1] > most_used[0]) continue;
            if (s->carry[a] < NEVER && s->number[end] - s->number[opens] > s->carry[a]) continue;
            cost += board_cost(s, a, used[0] + across[0] + across[1], pieces[0] + held[0] + held[1], opens, late);
        } else {
            for (int side = 0; side < 2 && fits; side++) {
                const int opens = opened[side] < low[side] ? opened[side] : low[side];
                const int late = held[side] && low[side] > latest[side] ? low[side] : latest[side];
                const int end = high[side] > last[side] ? high[side] : last[side];
                fits = used[side] + across[side] <= most_used[side];
                if (fits && opens < NEVER && s->carry[board[side]] < NEVER)
                    fits = s->number[end] - s->number[opens] <= s->carry[board[side]];
                if (fits) cost += board_cost(s, board[side], used[side] + across[side], pieces[side] + held[side], opens, late);
            }
            if (!fits) continue;
        }
        offer(&choice, set, cost);
    }
    const int found = drawn(s, &choice), way = found < 0 ? here : choice.ways[found];
    if (way == here) return 0;
    if (other < 0) {
        other = s->free_strips[--s->free_count];
        s->head[other] = -1;
        put_strip(s, other, b);
    }
    for (int k = 0; k < count; k++) {
        const int strip = way >> k & 1 ? one : other;
        if (s->strip_of[freed[k]] == strip) continue;
        take_component(s, freed[k]);
        put_component(s, freed[k], strip);
    }
    const int strips[2] = {one, other};
    for (int side = 0; side < 2; side++) {
        measure_strip(s, strips[side]);
        if (s->head[strips[side]] < 0) {
            take_strip(s, strips[side]);
            s->free_strips[s->free_count++] = strips[side];
        }
    }
    measure_board(s, a);
    if (b != a) measure_board(s, b);
    return choice.costs[found] - before;
}

// A board opened within a stage of `rank`, or now and then one that is not opened yet; -1 for none.
static int board_near(State *s, int rank) {
    int wanted = rank + below(s, 3) - 1;
    if (s->in_bucket[s->ranks] && below(s, 8) == 0) wanted = s->ranks;
    if (wanted < 0 || wanted > s->ranks || !s->in_bucket[wanted]) return -1;
    return s->bucket[(size_t)wanted * s->boards + below(s, s->in_bucket[wanted])];
}

static int64_t step_with_strips(State *s, double temperature) {
    int a = below(s, s->boards);
    // the last few that are overfull are taken more often, boards on which nothing waits less often
    if (s->overfull_count && s->overfull_count * FEW_OVERFULL <= s->boards && below(s, 4) == 0)
        a = s->overfull[below(s, s->overfull_count)];
    else if (!s->strips_on[a] || (s->latest_first[a] == s->opened[a] && below(s, 4))) a = below(s, s->boards);
    if (!s->strips_on[a]) return 0;
    int k = s->top[a];
    for (int skip = below(s, s->strips_on[a]); skip > 0; skip--) k = s->after[k];
    const int b = board_near(s, s->low[k]);
    return b < 0 || a == b ? 0 : deal_strips(s, a, b, temperature);
}

static int64_t step_with_components(State *s, double temperature) {
    const int c = s->sharing[below(s, s->sharing_count)], one = s->strip_of[c];
    const int partners = s->partner_start[c + 1] - s->partner_start[c];
    if (!partners || below(s, 4) == 0) {
        const int b = s->boards == 1 ? 0 : board_near(s, s->first[c]);
        return b < 0 || !s->free_count ? 0 : deal_components(s, one, -1, b, temperature);
    }
    // partners stand in the order of their distance in stages: near ones are taken more often
    const double part = unit(s);
    const int other = s->strip_of[s->partners[s->partner_start[c] + (int)(part * part * partners)]];
    return other == one ? 0 : deal_components(s, one, other, s->board_of[other], temperature);
}

// Makes `moves` steps, the temperature falling by the factor `cooling` after each. strip_of and board_of hold the
// arrangement, in and out; the best one seen without an overfull board goes to best_strip_of and best_board_of, where
// it costs less than `best_cost`. Of the steps, `share` hundredths deal out components. `random` is the generator's
// state. Returns the least cost, INT64_MIN without memory. A cost counts, each with its weight: how long pieces
// wait from the opening of their board, and (inner) from the first stage of their strip; how long remainders wait,
// of boards and of strips; what boards are overfull by; the prices of the boards opened.
int64_t rearrange(int components, const int32_t *length, const int32_t *width_min, const int32_t *width_max,
                  const int32_t *pieces, const int32_t *first, const int32_t *last, const int64_t *codes,
                  int sharing_count, const int32_t *sharing, const int32_t *partner_start,
                  const int32_t *partners, int boards, const int32_t *capacity, const int32_t *board_length,
                  const int32_t *kerf, const int32_t *earliest, const int32_t *latest, const int32_t *carry,
                  const int64_t *code, const int64_t *price, int ranks, const int32_t *number,
                  int64_t piece_weight, int64_t remainder_weight, int64_t inner_weight,
                  int64_t overflow_weight, int64_t stages_of_all_pieces, int share,
                  int64_t moves, double temperature, double cooling, int32_t *strip_of, int32_t *board_of,
                  int32_t *best_strip_of, int32_t *best_board_of, int64_t best_cost, uint64_t *random) {
    const int n = components, m = boards;
    int *ints = malloc(((size_t)12 * n + (size_t)9 * m + (size_t)(ranks + 1) * m + ranks + 1) * sizeof *ints);
    int64_t *masks = malloc((size_t)(n + 1) * sizeof *masks);
    State *s = malloc(sizeof *s);
    if (!ints || !masks || !s) {
        free(ints);
        free(masks);
        free(s);
        return INT64_MIN;
    }
    *s = (State){
        .components = n, .length = length, .width_min = width_min, .width_max = width_max, .pieces = pieces,
        .first = first, .last = last, .codes = codes, .boards = m, .capacity = capacity,
        .board_length = board_length, .kerf = kerf, .earliest = earliest, .latest = latest, .carry = carry,
        .code = code, .price = price, .ranks = ranks, .number = number, .piece_weight = piece_weight,
        .remainder_weight = remainder_weight, .inner_weight = inner_weight, .overflow_weight = overflow_weight,
        .sharing = sharing, .partner_start = partner_start, .partners = partners, .sharing_count = sharing_count,
        .strip_of = strip_of, .board_of = board_of, .random = *random};
    int *at = ints;
    int **of_components[] = {&s->head, &s->next, &s->previous, &s->after, &s->before, &s->width, &s->taken,
                             &s->count, &s->low, &s->high, &s->narrowest, &s->free_strips};
    for (size_t k = 0; k < sizeof of_components / sizeof *of_components; k++, at += n) *of_components[k] = at;
    int **of_boards[] = {&s->top, &s->used, &s->opened, &s->latest_first, &s->held, &s->strips_on, &s->place,
                         &s->overfull, &s->among};
    for (size_t k = 0; k < sizeof of_boards / sizeof *of_boards; k++, at += m) *of_boards[k] = at;
    s->bucket = at;
    s->in_bucket = at + (size_t)(ranks + 1) * m;
    s->mask = masks;
    memset(s->in_bucket, 0, (size_t)(ranks + 1) * sizeof *at);
    for (int k = 0; k < n; k++) s->head[k] = -1;
    for (int c = n - 1; c >= 0; c--) put_component(s, c, strip_of[c]);
    for (int b = 0; b < m; b++) {
        s->top[b] = s->place[b] = -1;
        s->used[b] = 0;
        s->opened[b] = NEVER;
    }
    s->free_count = 0;
    for (int k = n - 1; k >= 0; k--) {
        if (s->head[k] < 0) {
            s->free_strips[s->free_count++] = k;
            continue;
        }
        measure_strip(s, k);
        put_strip(s, k, board_of[k]);
    }
    int64_t cost = (piece_weight + inner_weight) * stages_of_all_pieces;
    for (int b = 0; b < m; b++) {
        measure_board(s, b);
        cost += board_cost(s, b, s->used[b], s->held[b], s->opened[b], s->latest_first[b]);
        for (int k = s->top[b]; k >= 0; k = s->after[k]) cost += strip_cost(s, s->low[k], s->high[k], s->count[k]);
    }
    if (cost < best_cost && !s->overflow) {
        best_cost = cost;
        memcpy(best_strip_of, strip_of, (size_t)n * sizeof *strip_of);
        memcpy(best_board_of, board_of, (size_t)n * sizeof *board_of);
    }
    for (int64_t move = 0; move < moves; move++, temperature *= cooling) {
        if (sharing_count && below(s, 100) < share) cost += step_with_components(s, temperature);
        else cost += step_with_strips(s, temperature);
        if (cost < best_cost && !s->overflow) {
            best_cost = cost;
            memcpy(best_strip_of, strip_of, (size_t)n * sizeof *strip_of);
            memcpy(best_board_of, board_of, (size_t)n * sizeof *board_of);
        }
    }
    *random = s->random;
    free(ints);
    free(masks);
    free(s);
    return best_cost;
}
