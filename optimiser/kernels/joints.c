// Where a run is divided into pieces: a shortest path over every whole millimetre.
//
// value(p) is the least cost of what lies between p and the end of a stretch, compared in this order:
// millimetres not planned, short pieces, pieces, tapered pieces, pieces that are no full board length.
// value(p) = min over pieces [p, e] of cost + value(e). It hardly ever changes from one millimetre to the
// next, so it is kept as blocks of equal value, from the end backwards, and p leaps to the next position at
// which any of its ingredients changes. Where one width serves, the pieces that may start at p end in an
// interval whose two ends only move backwards with p: a sliding-window minimum. Beyond it pieces are tapered, as far
// as a straight edge goes, and that end only moves backwards too. Where they would do better than any other piece,
// they and, in the last resort, short pieces and stretches left open are tried millimetre by millimetre.

#include "gap_windows.h"

enum { PIECE, TAPERED, OUT_OF_RANGE, NO_LAYOUT };       // kinds of a row
enum { NO_MEMORY = -1, DEAD_END = -2 };                 // the latter would be a fault of this file: never a silent gap
enum { ROW_WIDTH = 10 };    // run, kind, from, to, gap floor, gap ceil, width min, max, start, end

#define UNIT(place) ((wide)1 << (24 * (place)))         // lengths and counts are below 2^24
static const wide ODD_LENGTH = UNIT(0), TAPER = UNIT(1), ONE_PIECE = UNIT(2), SHORT = UNIT(3), OPEN = UNIT(4);
static const wide INFINITE = (wide)1 << 125;

typedef struct { int64_t from, to; wide value; } Block;
typedef struct { int64_t count, room; Block *block; int64_t *queue; } Blocks;   // descending positions

typedef struct {
    const Run *run;
    const Rules *rules;
    Reach *reach;               // one a board, then one for any width
    int64_t longest;            // the longest board
    Blocks blocks;
    int64_t *entry;             // per reach: the entry in force, moving backwards
} Layout;

typedef struct { int64_t count, capacity, *rows; } Rows;

static void add_row(Rows *rows, int64_t run_index, int64_t kind, int64_t from, int64_t to, Span span,
                   int64_t start, int64_t end) {
    if (rows->count < rows->capacity) {
        int64_t row[ROW_WIDTH] = {run_index, kind, from, to, span.gap_floor, span.gap_ceil,
                                  span.width_min, span.width_max, start, end};
        memcpy(rows->rows + rows->count * ROW_WIDTH, row, sizeof row);
    }
    rows->count++;              // counted even where there is no room, so that the caller can make it
}

// Joins it to the block before where the values are equal and that one (of index `growing` or more) may grow still.
static int append_block(Blocks *blocks, int64_t growing, int64_t from, int64_t to, wide value) {
    if (blocks->count > growing && blocks->block[blocks->count - 1].value == value) {
        blocks->block[blocks->count - 1].from = from;
        return 0;
    }
    if (blocks->count == blocks->room) {
        int64_t room = blocks->room ? 2 * blocks->room : 256;
        Block *block = realloc(blocks->block, room * sizeof *block);
        if (block) blocks->block = block;
        int64_t *queue = realloc(blocks->queue, room * sizeof *queue);
        if (queue) blocks->queue = queue;
        if (!block || !queue) return -1;
        blocks->room = room;
    }
    blocks->block[blocks->count++] = (Block){from, to, value};
    return 0;
}

// The block that holds position q.
static int64_t block_at(const Blocks *blocks, int64_t q) {
    int64_t low = 0, high = blocks->count - 1;
    while (low < high) {
        int64_t middle = (low + high) / 2;
        if (blocks->block[middle].from <= q) high = middle; else low = middle + 1;
    }
    return low;
}

// The widest board that is long enough, 0 when none is.
static int64_t widest_for(const Run *run, int64_t length) {
    int64_t widest = 0;
    for (int64_t b = 0; b < run->boards; b++)
        if (run->board_length[b] >= length) widest = larger(widest, run->board_width[b]);
    return widest;
}

static int is_board_length(const Run *run, int64_t length, int64_t width) {
    for (int64_t b = 0; b < run->boards; b++)
        if (run->board_length[b] == length && run->board_width[b] >= width) return 1;
    return 0;
}

// Per-stretch state of the backward sweep.
typedef struct {
    int64_t start, end;         // the stretch
    int last_resort;            // short pieces and open stretches are allowed
    int64_t head, tail, next;   // the sliding window's queue of blocks, and the next block to enter it; one that
                                // has entered grows no more, since it may have left the queue again
    int64_t edge_to;            // beyond this no straight edge exists from p
    int64_t next_allowed;       // the next joint position after p
} Sweep;

// The nearest end of tapered pieces that start at p: the first beyond the reach of any single width, or INT64_MAX where
// none may start. `entry` is that of the reach of any width, -1 for none.
static int64_t taper_from(const Layout *layout, const Sweep *sweep, int64_t p, int64_t entry) {
    const Rules *rules = layout->rules;
    if (!rules->taper_max || (p != sweep->start && p % rules->taper_step)) return INT64_MAX;
    int64_t served = entry < 0 ? p : larger(p, layout->reach[layout->run->boards].to[entry]);
    int64_t nearest = larger(served + 1, p + rules->piece_min);
    return nearest <= smaller(p + layout->longest, sweep->end) ? nearest : INT64_MAX;
}

// Whether a tapered piece that ends in [from, to] could cost less than `best`.
static int taper_may_pay(const Blocks *blocks, int64_t from, int64_t to, wide best) {
    if (from > to) return 0;
    for (int64_t i = block_at(blocks, to); i < blocks->count && blocks->block[i].to >= from; i++)
        if (blocks->block[i].value + ONE_PIECE + TAPER < best) return 1;
    return 0;
}

// The highest position up to `limit` at which a tapered piece may end: the stretch's end or a multiple of the step.
static int64_t taper_end(const Sweep *sweep, const Rules *rules, int64_t limit) {
    return limit == sweep->end ? limit : limit - limit % rules->taper_step;
}

// value(p); *step is how far below p it surely stays the same (p itself counted).
static wide value_at(Layout *layout, Sweep *sweep, int64_t p, int64_t *step) {
    const Run *run = layout->run;
    const Rules *rules = layout->rules;
    Blocks *blocks = &layout->blocks;
    wide best = INFINITE;
    int64_t farthest = -1;
    for (int64_t b = 0; b < run->boards; b++) {
        const Reach *reach = &layout->reach[b];
        int64_t *entry = &layout->entry[b];
        while (*entry >= 0 && reach->from[*entry] > p) (*entry)--;
        if (*entry < 0) continue;
        *step = smaller(*step, p - reach->from[*entry] + 1);
        int64_t limit = smaller(reach->to[*entry], sweep->end), full = p + run->board_length[b];
        farthest = larger(farthest, smaller(full, limit));
        if (full > limit) {
            *step = smaller(*step, full - limit);
        } else if (run->board_length[b] >= rules->piece_min) {
            const Block *block = &blocks->block[block_at(blocks, full)];
            *step = smaller(*step, full - block->from + 1);
            if (block->value + ONE_PIECE < best) best = block->value + ONE_PIECE;
        } else if (sweep->last_resort && run->board_length[b] >= rules->shortest) {
            wide cost = blocks->block[block_at(blocks, full)].value + SHORT + ONE_PIECE;
            if (cost < best) best = cost;
        }
    }
    int64_t nearest = p + rules->piece_min;
    while (sweep->next < blocks->count && blocks->block[sweep->next].to >= nearest) {
        wide value = blocks->block[sweep->next].value;
        if (value < INFINITE) {
            while (sweep->tail > sweep->head && blocks->block[blocks->queue[sweep->tail - 1]].value >= value)
                sweep->tail--;
            blocks->queue[sweep->tail++] = sweep->next;
        }
        sweep->next++;
    }
    while (sweep->head < sweep->tail && blocks->block[blocks->queue[sweep->head]].from > farthest) sweep->head++;
    if (nearest > sweep->end) *step = smaller(*step, nearest - sweep->end);
    else *step = smaller(*step, nearest - blocks->block[sweep->next - 1].from + 1);
    if (nearest <= farthest && sweep->head < sweep->tail) {
        const Block *block = &blocks->block[blocks->queue[sweep->head]];
        *step = smaller(*step, farthest - block->from + 1);
        if (block->value + ONE_PIECE + ODD_LENGTH < best) best = block->value + ONE_PIECE + ODD_LENGTH;
    } else if (nearest > farthest && farthest >= 0) {
        *step = smaller(*step, nearest - farthest);
    }
    const Reach *any = &layout->reach[run->boards];
    int64_t *served = &layout->entry[run->boards];
    while (*served >= 0 && any->from[*served] > p) (*served)--;
    if (rules->taper_max) {
        // As p moves back, so do the ends of tapered pieces, and where none pays none will: until the reach of single
        // widths changes, a multiple of the step comes, or the first fits into the stretch.
        if (*served >= 0) *step = smaller(*step, p - any->from[*served] + 1);
        if (*served < 0 || any->to[*served] < p) *step = 1;
        if (p % rules->taper_step) *step = smaller(*step, p % rules->taper_step);
    }
    int64_t taper = taper_from(layout, sweep, p, *served), to = smaller(p + layout->longest, sweep->end);
    if (taper != INT64_MAX && taper_may_pay(blocks, taper, to, best)) {
        sweep->edge_to = smaller(sweep->edge_to, to);
        while (sweep->edge_to >= taper && no_straight_edge(run, rules, p, sweep->edge_to)) sweep->edge_to--;
        to = sweep->edge_to;
    }
    if (taper != INT64_MAX && taper_may_pay(blocks, taper, to, best)) {
        int64_t start, end;
        *step = 1;
        for (int64_t i = block_at(blocks, to); i < blocks->count && blocks->block[i].to >= taper; i++) {
            const Block *block = &blocks->block[i];
            int64_t low = larger(taper, block->from), high = smaller(to, block->to);
            wide full_cost = block->value + ONE_PIECE + TAPER, cost = full_cost + ODD_LENGTH;
            for (int64_t b = 0; b < run->boards && full_cost < best; b++) {
                int64_t e = p + run->board_length[b];
                if (e < low || e > high || e != taper_end(sweep, rules, e)) continue;
                if (tapered_ends(run, rules, p, e, run->board_width[b], &start, &end)) best = full_cost;
            }
            for (int64_t e = taper_end(sweep, rules, high); e >= low && cost < best; e = taper_end(sweep, rules, e - 1))
                if (tapered_ends(run, rules, p, e, widest_for(run, e - p), &start, &end)) best = cost;
        }
    }
    if (sweep->last_resort) {
        *step = 1;
        int64_t to = smaller(smaller(p + rules->piece_min - 1, farthest), sweep->end), from = p + rules->shortest;
        for (int64_t i = to < from ? blocks->count : block_at(blocks, to); i < blocks->count; i++) {
            if (blocks->block[i].to < from) break;
            wide cost = blocks->block[i].value + SHORT + ONE_PIECE + ODD_LENGTH;
            if (cost < best) best = cost;
        }
        wide cost = blocks->block[block_at(blocks, sweep->next_allowed)].value + (sweep->next_allowed - p) * OPEN;
        if (cost < best) best = cost;
    }
    return best;
}

// Fills the blocks of value() for the stretch. 0, or -1 without memory.
static int sweep_back(Layout *layout, Sweep *sweep, int64_t every_millimetre) {
    const Run *run = layout->run;
    const Rules *rules = layout->rules;
    Blocks *blocks = &layout->blocks;
    for (int64_t b = 0; b <= run->boards; b++) layout->entry[b] = layout->reach[b].count - 1;
    sweep->head = sweep->tail = sweep->next = 0;
    sweep->edge_to = sweep->next_allowed = sweep->end;
    blocks->count = 0;
    if (append_block(blocks, 0, sweep->end, sweep->end, 0)) return -1;
    int64_t mullion = run->mullions - 1, p = sweep->end - 1;
    while (p > sweep->start) {
        while (mullion >= 0 && run->mullion[mullion] - rules->clearance >= p) mullion--;
        int64_t lowest = sweep->start + 1;
        if (mullion >= 0) {
            int64_t clear = run->mullion[mullion] + rules->clearance;
            if (p < clear) {
                int64_t from = larger(lowest, run->mullion[mullion] - rules->clearance + 1);
                if (append_block(blocks, sweep->next, from, p, INFINITE)) return -1;
                p = from - 1;
                continue;
            }
            lowest = larger(lowest, clear);
        }
        int64_t step = p - lowest + 1;
        wide value = value_at(layout, sweep, p, &step);
        if (every_millimetre) step = 1;
        if (append_block(blocks, sweep->next, p - step + 1, p, value)) return -1;
        sweep->next_allowed = p - step + 1;
        p -= step;
    }
    int64_t step = 1;
    wide value = value_at(layout, sweep, sweep->start, &step);
    return append_block(blocks, sweep->next, sweep->start, sweep->start, value);
}

// Among the layouts of least value, the one whose compression windows are widest in sum, over a few
// candidate ends a piece: the longest, the shortest, the middle one and those at measured positions.
typedef struct { int64_t at, kind, score, start, end, before; Span span; } Node;
enum { MOST_OPEN = 24 };
typedef struct { int64_t count, room; Node *node; int64_t open[MOST_OPEN + 4], opened; } Search;

static int offer(Search *search, int64_t before, int64_t at, int64_t kind, Span span, int64_t start, int64_t end) {
    int64_t score = search->node[before].score + (kind == PIECE ? span.width_max - span.width_min : 0);
    Node node = {at, kind, score, start, end, before, span};
    int64_t i = search->opened;
    while (i > 0 && search->node[search->open[i - 1]].at < at) i--;     // open nodes: descending positions
    if (i > 0 && search->node[search->open[i - 1]].at == at) {
        if (search->node[search->open[i - 1]].score < score) search->node[search->open[i - 1]] = node;
        return 0;
    }
    if (search->opened >= MOST_OPEN) return 0;
    if (search->count == search->room) {
        int64_t room = search->room ? 2 * search->room : 256;
        Node *more = realloc(search->node, room * sizeof *more);
        if (!more) return -1;
        search->node = more;
        search->room = room;
    }
    search->node[search->count] = node;
    memmove(&search->open[i + 1], &search->open[i], (search->opened - i) * sizeof *search->open);
    search->open[i] = search->count++;
    search->opened++;
    return 0;
}

static int offer_piece(const Layout *layout, Search *search, int64_t before, int64_t at) {
    Span span = span_of(layout->run, layout->rules, search->node[before].at, at);
    return offer(search, before, at, PIECE, span, span.width_min, span.width_min);
}

// Offers ends within [from, to] where value() is `wanted`.
static int offer_equal(const Layout *layout, Search *search, int64_t before, int64_t from, int64_t to, wide wanted) {
    const Blocks *blocks = &layout->blocks;
    const Run *run = layout->run;
    if (from > to) return 0;
    for (int64_t i = block_at(blocks, to); i < blocks->count && blocks->block[i].to >= from; i++) {
        if (blocks->block[i].value != wanted) continue;
        int64_t low = larger(from, blocks->block[i].from), high = smaller(to, blocks->block[i].to);
        if (offer_piece(layout, search, before, high)) return -1;
        if (low == high) continue;
        if (offer_piece(layout, search, before, low) || offer_piece(layout, search, before, (low + high) / 2)) return -1;
        for (int64_t k = segment_of(run, high); k >= 0 && run->at[k] > low; k--)
            if (run->at[k] < high && offer_piece(layout, search, before, run->at[k])) return -1;
    }
    return 0;
}

static int expand(Layout *layout, const Sweep *sweep, Search *search, int64_t index) {
    const Run *run = layout->run;
    const Rules *rules = layout->rules;
    const Blocks *blocks = &layout->blocks;
    int64_t p = search->node[index].at, farthest = -1, open_before = search->count;
    wide value = blocks->block[block_at(blocks, p)].value;
    for (int64_t b = 0; b < run->boards; b++) {
        int64_t entry = reach_entry(&layout->reach[b], p);
        if (entry < 0) continue;
        int64_t limit = smaller(layout->reach[b].to[entry], sweep->end), full = p + run->board_length[b];
        farthest = larger(farthest, smaller(full, limit));
        int short_board = run->board_length[b] < rules->piece_min;
        if (full > limit || (short_board && (!sweep->last_resort || run->board_length[b] < rules->shortest))) continue;
        wide cost = blocks->block[block_at(blocks, full)].value + ONE_PIECE + (short_board ? SHORT : 0);
        if (cost == value && offer_piece(layout, search, index, full)) return -1;
    }
    if (offer_equal(layout, search, index, p + rules->piece_min, farthest, value - ONE_PIECE - ODD_LENGTH)) return -1;
    // Tapered pieces: the longest of least value is enough, their windows do not count.
    int64_t to = smaller(p + layout->longest, sweep->end);
    int64_t taper = taper_from(layout, sweep, p, reach_entry(&layout->reach[run->boards], p));
    if (taper != INT64_MAX) {
        int offered = 0;
        for (int64_t i = block_at(blocks, to); i < blocks->count && blocks->block[i].to >= taper && !offered; i++) {
            wide left = value - blocks->block[i].value;
            if (left != ONE_PIECE + TAPER && left != ONE_PIECE + TAPER + ODD_LENGTH) continue;
            for (int64_t e = taper_end(sweep, rules, smaller(to, blocks->block[i].to));
                 e >= larger(taper, blocks->block[i].from); e = taper_end(sweep, rules, e - 1)) {
                int64_t start, end;
                if (!tapered_ends(run, rules, p, e, widest_for(run, e - p), &start, &end)) continue;
                int odd = !is_board_length(run, e - p, larger(start, end));
                if (left != ONE_PIECE + TAPER + (odd ? ODD_LENGTH : 0)) continue;
                Span span = span_of(run, rules, p, e);
                span.width_min = span.width_max = larger(start, end);
                if (offer(search, index, e, TAPERED, span, start, end)) return -1;
                offered = 1;
                break;
            }
        }
    }
    if (sweep->last_resort) {
        if (offer_equal(layout, search, index, p + rules->shortest, smaller(p + rules->piece_min - 1, farthest),
                        value - SHORT - ONE_PIECE - ODD_LENGTH)) return -1;
        if (search->count == open_before) {     // nothing fits: leave it open up to the next joint position
            int64_t q = p + 1, i = block_at(blocks, q);
            while (blocks->block[i].value >= INFINITE) { q = blocks->block[i].to + 1; i--; }
            Span none = {0, 0, 0, 0};
            if (blocks->block[i].value + (q - p) * OPEN == value && offer(search, index, q, NO_LAYOUT, none, 0, 0)) return -1;
        }
    }
    return 0;
}

// Chooses the layout of the stretch; the chain of nodes back from the one returned is it. Negative: failed.
static int64_t choose(Layout *layout, const Sweep *sweep, Search *search) {
    search->count = search->opened = 0;
    if (!search->room) {
        search->node = malloc(256 * sizeof *search->node);
        if (!search->node) return -1;
        search->room = 256;
    }
    search->node[0] = (Node){.at = sweep->start, .before = -1};
    search->open[0] = 0;
    search->count = search->opened = 1;
    int64_t last = -1;
    while (search->opened) {
        last = search->open[--search->opened];
        if (search->node[last].at == sweep->end) break;
        if (expand(layout, sweep, search, last)) return -1;
    }
    return search->node[last].at == sweep->end ? last : DEAD_END;
}

// Writes the chain that ends at `last` as rows; stretches left open that meet become one row.
static void write_chain(Search *search, int64_t last, int64_t run_index, Rows *rows) {
    int64_t after = -1;
    for (int64_t i = last; i >= 0;) {           // turn the chain round
        int64_t before = search->node[i].before;
        search->node[i].before = after;
        after = i;
        i = before;
    }
    for (int64_t i = 0; search->node[i].before >= 0; i = search->node[i].before) {
        const Node *node = &search->node[search->node[i].before];
        if (node->kind == NO_LAYOUT && i && search->node[i].kind == NO_LAYOUT) {
            if (rows->count <= rows->capacity) rows->rows[(rows->count - 1) * ROW_WIDTH + 3] = node->at;
            continue;
        }
        add_row(rows, run_index, node->kind, search->node[i].at, node->at, node->span, node->start, node->end);
    }
}

// An extra cost of a piece by length and least width (the prices of the cutting master), and the layouts that
// cost least by it over candidate positions: a grid, measured positions, multiples of the boards from either
// end, places just clear of mullions, and the joints of the layout chosen without it, so never worse than that.
typedef struct { const int64_t *cost; int64_t lengths, widths, pieces_first; } Prices;
typedef struct { int64_t at, joints_left, width_min, width_max; } Point;    // joints_left: NO_JOINT where none may be
typedef struct { int64_t joints, cost; wide rest; int64_t before; } Label;
enum { GRID_PARTS = 48 };       // candidate positions a board length
enum { NO_JOINT = -1 };
// Pieces, then tapered ones, in one number.
#define MANY ((int64_t)1 << 24)
#define JOINTS_OF(value) ((int64_t)((value) / TAPER))

static int by_position(const void *a, const void *b) {
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

static int cheaper(const Label *a, const Label *b) {
    if (a->joints != b->joints) return a->joints < b->joints;
    if (a->cost != b->cost) return a->cost < b->cost;
    return a->rest < b->rest;
}

// The candidate positions that are no multiple of the grid, ascending, with repetitions. How many, -1 without memory.
static int64_t candidates_off_grid(const Run *run, const Rules *rules, const Sweep *sweep, const Search *search,
                                   int64_t last, int64_t **found) {
    int64_t start = sweep->start, end = sweep->end, n = 0, room = run->knots + 2 * run->mullions + 1;
    for (int64_t i = last; i >= 0; i = search->node[i].before) room++;
    for (int64_t b = 0; b < run->boards; b++) room += 2 * ((end - start) / run->board_length[b] + 1);
    int64_t *at = *found = malloc(room * sizeof *at);
    if (!at) return -1;
#define ADD(position) do { \
        int64_t position_ = (position); \
        if (position_ >= start && position_ <= end) at[n++] = position_; \
    } while (0)
    ADD(end);
    for (int64_t k = 0; k < run->knots; k++) ADD(run->at[k]);
    for (int64_t m = 0; m < run->mullions; m++) {
        ADD(run->mullion[m] - rules->clearance);
        ADD(run->mullion[m] + rules->clearance);
    }
    for (int64_t i = last; i >= 0; i = search->node[i].before) ADD(search->node[i].at);
    for (int64_t b = 0; b < run->boards; b++)
        for (int64_t d = run->board_length[b]; d < end - start; d += run->board_length[b]) {
            ADD(start + d);
            ADD(end - d);
        }
#undef ADD
    qsort(at, n, sizeof *at, by_position);
    return n;
}

// Lists the candidate positions, ascending, each once, with what the gap and the rest of the stretch ask of them. How
// many, -1 without memory.
static int64_t list_points(const Layout *layout, const Sweep *sweep, const Search *search, int64_t last,
                           Point **found) {
    const Run *run = layout->run;
    const Rules *rules = layout->rules;
    int64_t grid = larger(1, layout->longest / GRID_PARTS), next = 0, n = 0, segment = 0, *off_grid;
    int64_t count = candidates_off_grid(run, rules, sweep, search, last, &off_grid);
    Point *point = *found = count < 0 ? NULL
        : malloc((count + (sweep->end - sweep->start) / grid + 1) * sizeof *point);
    if (!point) { free(off_grid); return -1; }
    const Block *block = layout->blocks.block + layout->blocks.count - 1;   // the first of the stretch, the last listed
    for (int64_t on_grid = sweep->start; on_grid < sweep->end || next < count;) {
        int64_t p = on_grid < sweep->end && (next == count || on_grid <= off_grid[next]) ? on_grid : off_grid[next];
        if (p == on_grid) on_grid += grid;
        while (next < count && off_grid[next] == p) next++;
        while (segment < run->knots - 2 && run->at[segment + 1] <= p) segment++;
        while (block->to < p) block--;
        int64_t over, joints_left = block->value < INFINITE ? JOINTS_OF(block->value) : NO_JOINT;
        wide gap = gap_at(run, segment, p, &over);
        point[n++] = (Point){
            p, joints_left,
            ceil_quotient(gap * rules->rate_min, (wide)over * rules->rate_unit),
            floor_quotient(gap * rules->rate_max, (wide)over * rules->rate_unit),
        };
    }
    free(off_grid);
    return n;
}

// Replaces the chain that ends at `last` by the cheapest one over the candidates. Its new end, -1 without memory.
//
// Where the price only chooses among layouts of as few pieces and tapered ones as can be, the sweep has told how many
// the rest of the stretch takes from each position: a way that has no room for them any more is left at once, and few
// positions remain (the same layout is found: along the cheapest one there is room everywhere).
static int64_t choose_by_price(const Layout *layout, const Sweep *sweep, const Prices *prices, Search *search,
                               int64_t last) {
    const Run *run = layout->run;
    const Rules *rules = layout->rules;
    Point *point = NULL;
    int64_t n = list_points(layout, sweep, search, last, &point);
    Label *label = n < 0 ? NULL : malloc(n * sizeof *label);
    if (!label) { free(point); return -1; }
    int64_t joints = prices->pieces_first ? point[0].joints_left : INT64_MAX;
    for (int64_t i = 0; i < n; i++) label[i].before = -1;
    label[0] = (Label){.before = -1};
    for (int64_t i = 0; i + 1 < n; i++) {
        if (i && label[i].before < 0) continue;
        int64_t width_min = point[i].width_min, width_max = point[i].width_max, p = point[i].at;
        for (int64_t j = i + 1; j < n && point[j].at - p <= layout->longest; j++) {
            width_min = larger(width_min, point[j].width_min);
            width_max = smaller(width_max, point[j].width_max);
            int64_t length = point[j].at - p;
            if (point[j].joints_left == NO_JOINT || length < rules->piece_min) continue;
            int tapered = width_min > width_max;
            Label next = label[i];
            if (prices->pieces_first) {
                next.joints += MANY + tapered;
                if (next.joints > joints - point[j].joints_left) continue;
            }
            if (label[j].before >= 0 && next.joints > label[j].joints) continue;
            int64_t widest = widest_for(run, length), width = width_min;
            if (!tapered) {
                if (width_min > widest) continue;
            } else {
                int64_t a, b;
                if (!rules->taper_max || !tapered_ends(run, rules, p, point[j].at, widest, &a, &b)) continue;
                width = larger(a, b);
            }
            next.cost += prices->cost[smaller(length, prices->lengths - 1) * prices->widths
                                      + smaller(width, prices->widths - 1)];
            next.rest += ONE_PIECE + (tapered ? TAPER : 0)
                + (is_board_length(run, length, width) ? 0 : ODD_LENGTH);
            next.before = i;
            if (label[j].before < 0 || cheaper(&next, &label[j])) label[j] = next;
        }
    }
    // The chain as nodes; the layout chosen without prices is one of those compared, so there is an end.
    int64_t at = n - 1, length = 0;
    for (int64_t i = at; i > 0; i = label[i].before) length++;
    if (search->room < length + 1) {
        Node *more = realloc(search->node, (length + 1) * sizeof *more);
        if (!more) { free(point); free(label); return -1; }
        search->node = more;
        search->room = length + 1;
    }
    search->node[0] = (Node){.at = sweep->start, .before = -1};
    for (int64_t i = length; i > 0; i--, at = label[at].before) {
        int64_t from = point[label[at].before].at, to = point[at].at, a, b;
        Span span = span_of(run, rules, from, to);
        Node node = {to, PIECE, 0, span.width_min, span.width_min, i - 1, span};
        if (span.width_min > span.width_max && tapered_ends(run, rules, from, to, widest_for(run, to - from), &a, &b)) {
            node.kind = TAPERED;
            node.start = a;
            node.end = b;
            node.span.width_min = node.span.width_max = larger(a, b);
        }
        search->node[i] = node;
    }
    free(point);
    free(label);
    return length;
}

// One piece over a stretch that is shorter than piece_min. 1 if it was written.
static int one_short_piece(Layout *layout, int64_t start, int64_t end, int64_t run_index, Rows *rows) {
    const Run *run = layout->run;
    int64_t widest = widest_for(run, end - start), a, b;
    if (!widest) return 0;
    Span span = span_of(run, layout->rules, start, end);
    if (span.width_min <= span.width_max) {
        if (span.width_min > widest) return 0;
        add_row(rows, run_index, PIECE, start, end, span, span.width_min, span.width_min);
        return 1;
    }
    if (!tapered_ends(run, layout->rules, start, end, widest, &a, &b)) return 0;
    span.width_min = span.width_max = larger(a, b);
    add_row(rows, run_index, TAPERED, start, end, span, a, b);
    return 1;
}

static int64_t lay_out_stretch(Layout *layout, Search *search, const Prices *prices, int64_t start, int64_t end,
                           int64_t run_index, int64_t every_millimetre, Rows *rows) {
    if (end - start < layout->rules->piece_min && one_short_piece(layout, start, end, run_index, rows)) return 0;
    Sweep sweep = {.start = start, .end = end};
    for (sweep.last_resort = 0; sweep.last_resort < 2; sweep.last_resort++) {
        if (sweep_back(layout, &sweep, every_millimetre)) return -1;
        if (layout->blocks.block[layout->blocks.count - 1].value < INFINITE) break;
    }
    int64_t last = choose(layout, &sweep, search);
    if (last >= 0 && prices->cost && !sweep.last_resort) last = choose_by_price(layout, &sweep, prices, search, last);
    if (last < 0) return last;
    write_chain(search, last, run_index, rows);
    return 0;
}

// The first stretch at or after `from` whose gap lies outside the tested range, rounded outward to whole
// millimetres; *zone_to is its end. Returns its start, or the run's length when there is none.
static int64_t out_of_range(const Run *run, const Rules *rules, int64_t from, int64_t *zone_to) {
    int64_t begin = run->length;
    *zone_to = run->length;
    for (int64_t k = 0; k + 1 < run->knots; k++) {
        int64_t x0 = run->at[k], x1 = run->at[k + 1], dx = x1 - x0;
        if (x1 <= from) continue;
        for (int turn = 0; turn < 2; turn++) {
            // On side 0 the gap is too large, on side 1 too small: mirrored, too large again.
            int side = run->gap[k] < run->gap[k + 1] ? 1 - turn : turn;     // in order of position
            wide g0 = side ? -run->gap[k] : run->gap[k], g1 = side ? -run->gap[k + 1] : run->gap[k + 1];
            wide limit = side ? -rules->gap_min : rules->gap_max;
            if (g0 <= limit && g1 <= limit) continue;
            int64_t zone_from = x0, zone_end = x1;
            if (g0 <= limit) zone_from = x0 + floor_quotient((limit - g0) * dx, g1 - g0);
            if (g1 <= limit) zone_end = x1 - floor_quotient((limit - g1) * dx, g0 - g1);
            if (zone_end <= from) continue;
            zone_from = larger(zone_from, from);
            if (begin == run->length) { begin = zone_from; *zone_to = zone_end; }
            else if (zone_from <= *zone_to) { begin = smaller(begin, zone_from); *zone_to = larger(*zone_to, zone_end); }
            else return begin;
        }
    }
    return begin;
}

static int64_t lay_out_run(Layout *layout, Search *search, const Prices *prices, int64_t run_index,
                       int64_t every_millimetre, Rows *rows) {
    const Run *run = layout->run;
    Serving *serving = NULL;
    int64_t count = serving_widths(run, layout->rules, &serving), failed = count < 0 ? NO_MEMORY : 0;
    int64_t *storage = malloc((2 * (run->boards + 1) * (count + 1) + run->boards + 1) * sizeof *storage);
    Reach *reach = malloc((run->boards + 1) * sizeof *reach);
    if (!storage || !reach) failed = NO_MEMORY;
    if (!failed) {
        int64_t *free_from = storage;
        layout->longest = 0;
        for (int64_t b = 0; b <= run->boards; b++) {
            reach[b].from = free_from;
            reach[b].to = free_from + count + 1;
            free_from += 2 * (count + 1);
            reach_of(serving, count, b < run->boards ? run->board_width[b] : INT64_MAX, &reach[b]);
            if (b < run->boards) layout->longest = larger(layout->longest, run->board_length[b]);
        }
        layout->reach = reach;
        layout->entry = free_from;
        int64_t at = 0;
        while (at < run->length && !failed) {
            int64_t zone_to, zone_from = out_of_range(run, layout->rules, at, &zone_to);
            if (zone_from > at)
                failed = lay_out_stretch(layout, search, prices, at, zone_from, run_index, every_millimetre, rows);
            if (zone_from < run->length) {
                add_row(rows, run_index, OUT_OF_RANGE, zone_from, zone_to, span_of(run, layout->rules, zone_from, zone_to), 0, 0);
                at = zone_to;
            } else {
                at = run->length;
            }
        }
    }
    free(serving);
    free(storage);
    free(reach);
    return failed;
}

// Lays out every run. Arrays of one run after another, each with its `*_start` index of runs + 1 entries.
// rules: rate_unit, rate_min, rate_max, gap_min, gap_max, piece_min, shortest, clearance, taper_step, taper_max,
// every_millimetre.
// value_cost[length * value_widths + least width]: an extra cost of each piece, or NULL; with pieces_first it
// only chooses among layouts of the fewest pieces and, of these, the fewest tapered ones.
// Writes up to `capacity` rows of ROW_WIDTH numbers; returns how many rows there are, or NO_MEMORY or DEAD_END.
int64_t lay_out_runs(int64_t runs, const int64_t *length,
                     const int64_t *knot_start, const int64_t *knot_at, const int64_t *knot_gap,
                     const int64_t *mullion_start, const int64_t *mullion_at,
                     const int64_t *board_start, const int64_t *board_length, const int64_t *board_width,
                     const int64_t *rules_given,
                     const int64_t *value_cost, int64_t value_lengths, int64_t value_widths, int64_t pieces_first,
                     int64_t capacity, int64_t *rows_out) {
    Rules rules = {rules_given[0], rules_given[1], rules_given[2], rules_given[3], rules_given[4],
                   rules_given[5], rules_given[6], rules_given[7], rules_given[8], rules_given[9]};
    Rows rows = {0, capacity, rows_out};
    Prices prices = {value_cost, value_lengths, value_widths, pieces_first != 0};
    Layout layout = {.rules = &rules};
    Search search = {0};
    int64_t failed = 0, room = 0, *knots = NULL;
    for (int64_t r = 0; r < runs && !failed; r++) {
        int64_t given = knot_start[r + 1] - knot_start[r];
        if (given + 2 > room) {
            room = 2 * (given + 2);
            int64_t *more = realloc(knots, 2 * room * sizeof *knots);
            if (!more) { failed = NO_MEMORY; break; }
            knots = more;
        }
        // Before the first measured position and after the last the gap is constant.
        int64_t *run_at = knots, *run_gap = knots + room;
        Run run = {.length = length[r], .at = run_at, .gap = run_gap};
        const int64_t *at = knot_at + knot_start[r], *gap = knot_gap + knot_start[r];
        if (at[0] > 0) { run_at[0] = 0; run_gap[run.knots++] = gap[0]; }
        for (int64_t k = 0; k < given; k++) { run_at[run.knots] = at[k]; run_gap[run.knots++] = gap[k]; }
        if (at[given - 1] < run.length) { run_at[run.knots] = run.length; run_gap[run.knots++] = gap[given - 1]; }
        run.mullions = mullion_start[r + 1] - mullion_start[r];
        run.mullion = mullion_at + mullion_start[r];
        run.boards = board_start[r + 1] - board_start[r];
        run.board_length = board_length + board_start[r];
        run.board_width = board_width + board_start[r];
        layout.run = &run;
        failed = lay_out_run(&layout, &search, &prices, r, rules_given[10], &rows);
    }
    free(knots);
    free(layout.blocks.block);
    free(layout.blocks.queue);
    free(search.node);
    return failed ? failed : rows.count;
}
