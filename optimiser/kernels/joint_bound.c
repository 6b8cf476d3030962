// The least price of any layout of a stretch: a shortest path over its joint positions, every one of them.
//
// A piece costs what a table says of its length and least cut width. Unlike `joints.c`, which looks for a good layout
// over candidate positions, nothing is left out here, so that what is found is a lower bound. Where one width cannot
// serve, a tapered piece pays for the mean of its ends, bounded from below: its straight edge lies between the least and
// the greatest width at both ends and at the measured positions between (the first few of them), and rises or falls by
// taper_max at most. Whether there is such a piece at all is decided exactly, as in `joints.c`: otherwise layouts of
// fewer pieces than any real one would hide the cheaper ones of more.

#include "gap_line.h"

enum { NO_MEMORY = -1, DEAD_END = -2, ROW_WIDTH = 5 };  // a row: stretch, from, to, width that is paid for, tapered
enum { PARTS = 64, MOST_KNOTS = 6 };                    // parts of a millimetre; measured positions looked at
#define OPEN ((int64_t)1 << 40)                         // a millimetre left open outweighs every short piece,
#define SHORT ((int64_t)1 << 20)                        // a short piece every joint
static const int64_t UNREACHED = INT64_MAX;

typedef struct { int64_t rank, price, before; int32_t width, tapered; } Label;

typedef struct {
    int64_t end;                            // positions are 0 to end
    const int32_t *least, *greatest;        // cut widths that serve each position
    const int32_t *joint;                   // whether a joint may be here
    const int32_t *need, *cap;              // the edge of a tapered piece lies between them, in parts of a mm
    const int32_t *next_knot;               // the first measured position beyond each position
    int64_t longest;
    const int64_t *widest;                  // by length: of the boards that are long enough
    const int64_t *price;                   // by width and length
    int64_t price_widths, price_lengths;
    int64_t piece_min, shortest;
    Rules rules;                            // of widths: its rates and taper_max
    Run run;                                // its measured positions, from the stretch's start
    int64_t pieces;                         // at most so many pieces, 0: any number
} Stretch;

// The least mean width of a tapered piece over [p, e], in mm rounded down, or -1 where no straight edge is possible.
// An edge above `need` at two places lies above their chord between them, and below the chord of `cap` likewise.
static int64_t least_mean(const Stretch *stretch, int64_t p, int64_t e) {
    int64_t at[MOST_KNOTS + 2], low[MOST_KNOTS + 2], high[MOST_KNOTS + 2], n = 0;
    for (int64_t x = p; n <= MOST_KNOTS && x < e; x = stretch->next_knot[x]) {
        at[n] = 2 * x;
        low[n] = stretch->need[x];
        high[n++] = stretch->cap[x];
    }
    at[n] = 2 * e;
    low[n] = stretch->need[e];
    high[n++] = stretch->cap[e];
    int64_t mean = 0, most = INT64_MAX, middle = p + e;
    for (int64_t i = 0; i < n; i++) {
        if (at[i] == middle) { mean = larger(mean, low[i]); most = smaller(most, high[i]); }
        for (int64_t j = i + 1; j < n; j++) {
            int64_t span = at[j] - at[i], rise = stretch->rules.taper_max * PARTS;
            if ((low[j] - high[i]) * 2 * (e - p) > rise * span) return -1;
            if ((low[i] - high[j]) * 2 * (e - p) > rise * span) return -1;
            for (int64_t k = i + 1; k < j; k++) {
                int64_t before = at[k] - at[i], after = at[j] - at[k];
                if (low[i] * after + low[j] * before > high[k] * span) return -1;
                if (high[i] * after + high[j] * before < low[k] * span) return -1;
            }
            if (at[i] >= middle || at[j] <= middle) continue;
            int64_t before = middle - at[i], after = at[j] - middle;
            mean = larger(mean, (low[i] * after + low[j] * before) / span);
            most = smaller(most, (high[i] * after + high[j] * before) / span + 1);
        }
    }
    return mean > most ? -1 : mean / PARTS;
}

static inline void offer(Label *to, int64_t rank, int64_t price, int64_t before, int64_t width, int tapered) {
    if (rank < to->rank || (rank == to->rank && price < to->price))
        *to = (Label){rank, price, before, (int32_t)width, tapered};
}

static void from_position(const Stretch *stretch, Label *label, int64_t p, int last_resort, int64_t least_length) {
    int64_t one = stretch->pieces ? 1 : 0, rank = label[p].rank, price = label[p].price;
    int64_t width = stretch->least[p], greatest = stretch->greatest[p];
    int64_t to = smaller(stretch->end, p + stretch->longest), from = p + least_length;
    if (stretch->pieces && !last_resort)    // what is left must be possible with the pieces that are left
        from = larger(from, stretch->end - (stretch->pieces - rank - 1) * stretch->longest);
    for (int64_t e = p + 1; e <= to; e++) {
        if (stretch->least[e] > width) width = stretch->least[e];
        if (stretch->greatest[e] < greatest) greatest = stretch->greatest[e];
        if (e < from || !stretch->joint[e]) continue;
        int64_t length = e - p;
        int tapered = width > greatest, is_short = length < stretch->piece_min && last_resort;
        if (width > stretch->widest[length]) break;             // longer pieces are no narrower
        if (tapered && (is_short || !stretch->rules.taper_max)) continue;
        int64_t next = rank + one + (is_short ? SHORT : 0);
        if (next > label[e].rank) continue;
        int64_t paid = tapered ? least_mean(stretch, p, e) : width;
        if (paid < 0) break;                                    // nor over any longer span
        int64_t cost = stretch->price[smaller(paid, stretch->price_widths - 1) * stretch->price_lengths
                                      + smaller(length, stretch->price_lengths - 1)];
        if (next == label[e].rank && price + cost >= label[e].price) continue;
        int64_t a, b;                                           // asked last: it takes the longest
        if (tapered && !tapered_ends(&stretch->run, &stretch->rules, p, e, stretch->widest[length], &a, &b)) continue;
        offer(&label[e], next, price + cost, p, paid, tapered);
    }
    if (last_resort) {
        int64_t e = p + 1;
        while (e < stretch->end && !stretch->joint[e]) e++;
        offer(&label[e], rank + (e - p) * OPEN, price, p, 0, -1);
    }
}

static int solve(const Stretch *stretch, Label *label, int last_resort) {
    int whole = stretch->end < stretch->piece_min && !last_resort;  // shorter than any piece should be: one piece
    int64_t least_length = whole ? stretch->end : last_resort ? stretch->shortest : stretch->piece_min;
    for (int64_t p = 0; p <= stretch->end; p++) label[p] = (Label){UNREACHED, 0, -1, 0, 0};
    label[0].rank = 0;
    for (int64_t p = 0; p < stretch->end; p++)
        if (label[p].rank < UNREACHED && (p == 0 || stretch->joint[p]))
            from_position(stretch, label, p, last_resort, least_length);
    return label[stretch->end].rank < UNREACHED;
}

// Arrays of one stretch after another, each with its `*_start` index of stretches + 1 entries. `table_of` says which
// of the price tables [table][width][length] a stretch pays by; widths and lengths beyond a table take its last ones.
// Knots are the measured gaps by position from the stretch's start, the first at it or before, the last at its end or
// beyond; rates as in `joints.c`.
// Writes each stretch's least price, and up to `capacity` rows of ROW_WIDTH numbers: one layout of that price, its
// pieces from the end. Returns how many rows there are, or NO_MEMORY, or DEAD_END where no layout exists.
int64_t least_priced_layouts(int64_t stretches, const int64_t *point_start, const int32_t *least,
                             const int32_t *greatest, const int32_t *joint,
                             const int32_t *need, const int32_t *cap, const int32_t *next_knot,
                             const int64_t *knot_start, const int64_t *knot_at, const int64_t *knot_gap,
                             const int64_t *board_start, const int64_t *board_length, const int64_t *board_width,
                             const int64_t *pieces, const int64_t *table_of,
                             int64_t price_widths, int64_t price_lengths, const int64_t *price,
                             int64_t rate_unit, int64_t rate_min, int64_t rate_max,
                             int64_t piece_min, int64_t shortest, int64_t taper_max,
                             int64_t *least_price, int64_t capacity, int64_t *rows_out) {
    int64_t rows = 0, points = 0, longest = 0, failed = 0;
    for (int64_t s = 0; s < stretches; s++) points = larger(points, point_start[s + 1] - point_start[s]);
    for (int64_t b = 0; b < board_start[stretches]; b++) longest = larger(longest, board_length[b]);
    Label *label = malloc((points + 1) * sizeof *label);
    int64_t *widest = malloc((longest + 1) * sizeof *widest);
    if (!label || !widest) failed = NO_MEMORY;
    for (int64_t s = 0; s < stretches && !failed; s++) {
        int64_t first = point_start[s];
        Stretch stretch = {.end = point_start[s + 1] - first - 1, .least = least + first, .greatest = greatest + first,
                           .joint = joint + first, .widest = widest,
                           .need = need + first, .cap = cap + first, .next_knot = next_knot + first,
                           .price = price + table_of[s] * price_widths * price_lengths,
                           .price_widths = price_widths, .price_lengths = price_lengths,
                           .piece_min = piece_min, .shortest = shortest, .pieces = pieces[s]};
        int64_t knots = knot_start[s];
        stretch.rules = (Rules){.rate_unit = rate_unit, .rate_min = rate_min, .rate_max = rate_max, .taper_max = taper_max};
        stretch.run = (Run){.length = stretch.end, .knots = knot_start[s + 1] - knots, .at = knot_at + knots,
                            .gap = knot_gap + knots};
        for (int64_t l = 0; l <= longest; l++) widest[l] = 0;
        for (int64_t b = board_start[s]; b < board_start[s + 1]; b++) {
            stretch.longest = larger(stretch.longest, board_length[b]);
            for (int64_t l = 0; l <= board_length[b]; l++) widest[l] = larger(widest[l], board_width[b]);
        }
        if (!solve(&stretch, label, 0) && !solve(&stretch, label, 1)) { failed = DEAD_END; break; }
        least_price[s] = label[stretch.end].price;
        for (int64_t e = stretch.end; e > 0; e = label[e].before) {
            if (label[e].tapered < 0) continue;     // left open
            if (rows < capacity) {
                int64_t row[ROW_WIDTH] = {s, label[e].before, e, label[e].width, label[e].tapered};
                memcpy(rows_out + rows * ROW_WIDTH, row, sizeof row);
            }
            rows++;
        }
    }
    free(label);
    free(widest);
    return failed ? failed : rows;
}
