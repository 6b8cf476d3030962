// Inner loops of the cutting solver: the two knapsacks of column pricing and the constructive heuristic.
//
// All sizes are integer millimetres with the kerf already added (a piece or strip of size s takes s + kerf of a
// capacity of size + kerf), all values are scaled integers, so that every bound derived from them is exact.
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

// ---------------------------------------------------------------------------------------------------------
// A bounded knapsack, its copies split in powers of two, with the choices kept for reading patterns back.

typedef struct {
    int item, copies, size;
    int64_t value;
} Parcel;

static int split(int item, int size, int64_t value, int bound, int capacity, Parcel *out) {
    int most = size > 0 ? capacity / size : 0, made = 0;
    if (bound < most) most = bound;
    for (int part = 1; most > 0; part *= 2) {
        if (part > most) part = most;
        out[made++] = (Parcel){item, part, part * size, part * value};
        most -= part;
    }
    return made;
}

// On x86 the inner loop is compiled twice and the wider vectors are taken where the machine has them: gcc can do
// that for Linux with glibc, whose loader chooses.
#if defined(__x86_64__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__)
#define WIDE __attribute__((target_clones("avx2", "default")))
#else
#define WIDE
#endif

WIDE static void knapsack_row(const int64_t *restrict before, int64_t *restrict after, uint8_t *restrict row,
                              int size, int64_t value, int capacity) {
    for (int c = size; c <= capacity; c++) {
        const int64_t with = before[c - size] + value, without = before[c];
        row[c] = with > without;
        after[c] = with > without ? with : without;
    }
}

// The greatest value within each capacity 0..capacity, in one of the two buffers, which is returned.
// taken: parcels x (capacity + 1) bytes.
static int64_t *knapsack(const Parcel *parcels, int count, int capacity, int64_t *first, int64_t *second,
                         uint8_t *taken) {
    int64_t *before = first, *after = second;
    memset(before, 0, (size_t)(capacity + 1) * sizeof *before);
    for (int p = 0; p < count; p++) {
        uint8_t *row = taken + (size_t)p * (capacity + 1);
        const int size = parcels[p].size;
        memset(row, 0, (size_t)size);
        memcpy(after, before, (size_t)size * sizeof *after);
        knapsack_row(before, after, row, size, parcels[p].value, capacity);
        int64_t *swap = before;
        before = after;
        after = swap;
    }
    return before;
}

WIDE static void values_row(const int64_t *restrict before, int64_t *restrict after, int size, int64_t value,
                            int capacity) {
    for (int c = size; c <= capacity; c++) {
        const int64_t with = before[c - size] + value, without = before[c];
        after[c] = with > without ? with : without;
    }
}

// The same values as `knapsack`, without the choices.
static int64_t *knapsack_values(const Parcel *parcels, int count, int capacity, int64_t *first, int64_t *second) {
    int64_t *before = first, *after = second;
    memset(before, 0, (size_t)(capacity + 1) * sizeof *before);
    for (int p = 0; p < count; p++) {
        memcpy(after, before, (size_t)parcels[p].size * sizeof *after);
        values_row(before, after, parcels[p].size, parcels[p].value, capacity);
        int64_t *swap = before;
        before = after;
        after = swap;
    }
    return before;
}

// Adds the copies chosen at capacity c to `copies` (indexed by item).
static void read_back(const Parcel *parcels, int count, int capacity, int c, const uint8_t *taken, int *copies) {
    for (int p = count - 1; p >= 0; p--)
        if (taken[(size_t)p * (capacity + 1) + c]) {
            copies[parcels[p].item] += parcels[p].copies;
            c -= parcels[p].size;
        }
}

// A component by its length: those of one length stand together, the most valuable first.
typedef struct {
    int item, length;
    int64_t value;
} Ranked;

static int in_rank(const void *a, const void *b) {
    const Ranked *one = a, *other = b;
    if (one->length != other->length) return one->length < other->length ? -1 : 1;
    if (one->value != other->value) return one->value > other->value ? -1 : 1;
    return one->item < other->item ? -1 : 1;
}

// The components that are worth anything and fit, in their rank; returns how many.
static int ranked_by_length(int n, const int32_t *lengths, const int64_t *values, int capacity, Ranked *ranked) {
    int count = 0;
    for (int i = 0; i < n; i++)
        if (values[i] > 0 && lengths[i] <= capacity) ranked[count++] = (Ranked){i, lengths[i], values[i]};
    qsort(ranked, (size_t)count, sizeof *ranked, in_rank);
    return count;
}

// Marks in `useful` the components whose windows hold a width and that a best set may need: of one length no more
// than fit side by side, the most valuable ones. All others of that length can be exchanged for one of these.
static void mark_useful(const Ranked *ranked, int count, const int32_t *width_min, const int32_t *width_max,
                        const int32_t *bounds, int width, int capacity, uint8_t *useful) {
    int length = -1, left = 0;
    for (int k = 0; k < count; k++) {
        const int i = ranked[k].item;
        if (ranked[k].length != length) {
            length = ranked[k].length;
            left = length > 0 ? capacity / length : 0;
        }
        useful[i] = left > 0 && width_min[i] <= width && width <= width_max[i];
        if (useful[i]) left -= bounds[i] < left ? bounds[i] : left;
    }
}

// Where patterns are written.
typedef struct {
    int32_t *item, *copies;
} Pattern;

// Writes the copies of an item, where there are any, and forgets them; 0 without room.
static int write_pair(int i, int *copies, const Pattern *pattern, int *written, int room) {
    if (!copies[i]) return 1;
    if (*written >= room) return 0;
    pattern->item[*written] = i;
    pattern->copies[(*written)++] = copies[i];
    copies[i] = 0;
    return 1;
}

// For every strip width: the most valuable set of components whose windows hold that width and whose lengths
// fit. `values` are the duals; `bounds` the demands (so patterns are 'proper'). Where `slot_values` is given, also
// for every component the set that holds it and gains most over its width's slot value, as a further pattern.
// Patterns 0 .. widths - 1 are those of the widths, pattern widths + i is component i's (with its width in
// own_width[i], or -1 for none). Pairs (item, copies) are written from pattern_start[k] to pattern_end[k].
// Returns the pairs written, or -1 without memory or room.
int price_strips(int n, const int32_t *lengths, const int32_t *width_min, const int32_t *width_max,
                 const int32_t *bounds, const int64_t *values, int widths, const int32_t *width, int capacity,
                 const int64_t *slot_values, int64_t *best_value, int32_t *own_width, int32_t *pattern_start,
                 int32_t *pattern_end, int32_t *pattern_item, int32_t *pattern_copies, int room) {
    int most_parcels = 0;
    for (int i = 0; i < n; i++) most_parcels += values[i] > 0 ? 25 : 0;
    Parcel *parcels = malloc((size_t)(most_parcels + 1) * sizeof *parcels);
    int64_t *first = malloc((size_t)(capacity + 1) * sizeof *first);
    int64_t *second = malloc((size_t)(capacity + 1) * sizeof *second);
    int64_t *gain = calloc((size_t)n + 1, sizeof *gain);
    int *copies = calloc((size_t)n + 1, sizeof *copies);
    Ranked *ranked = malloc((size_t)(n + 1) * sizeof *ranked);
    uint8_t *useful = calloc((size_t)n + 1, sizeof *useful);
    uint8_t *taken = NULL;
    size_t taken_size = 0;
    int written = 0;
    if (!parcels || !first || !second || !copies || !gain || !ranked || !useful) goto failed;
    for (int i = 0; i < n; i++) own_width[i] = -1;
    const int ranks = ranked_by_length(n, lengths, values, capacity, ranked);
    const Pattern pattern = {pattern_item, pattern_copies};
    for (int w = 0; w < widths; w++) {
        mark_useful(ranked, ranks, width_min, width_max, bounds, width[w], capacity, useful);
        int count = 0;
        for (int i = 0; i < n; i++)
            if (useful[i]) count += split(i, lengths[i], values[i], bounds[i], capacity, parcels + count);
        pattern_start[w] = pattern_end[w] = written;
        best_value[w] = 0;
        if (!count) continue;
        size_t size = (size_t)count * (capacity + 1);
        if (size > taken_size) {
            free(taken);
            taken = malloc(size);
            taken_size = size;
            if (!taken) goto failed;
        }
        const int64_t *best = knapsack(parcels, count, capacity, first, second, taken);
        best_value[w] = best[capacity];
        for (int forced = -1; forced < (slot_values ? n : 0); forced++) {
            int k = w, from = capacity;
            if (forced >= 0) {
                if (values[forced] <= 0 || lengths[forced] > capacity || bounds[forced] <= 0) continue;
                if (width_min[forced] > width[w] || width[w] > width_max[forced]) continue;
                from = capacity - lengths[forced];
                const int64_t gained = values[forced] + best[from] - slot_values[w];
                if (gained <= gain[forced] + 1) continue;
                gain[forced] = gained;
                own_width[forced] = w;
                k = widths + forced;
            }
            read_back(parcels, count, capacity, from, taken, copies);
            if (forced >= 0 && copies[forced] < bounds[forced]) copies[forced]++;
            pattern_start[k] = written;
            for (int p = 0; p <= count; p++) {
                const int next = p < count ? parcels[p].item : n;
                // what is forced may be in no parcel: it is written in its place among the others
                if (forced >= 0 && forced < next && !write_pair(forced, copies, &pattern, &written, room))
                    goto failed;
                if (next < n && !write_pair(next, copies, &pattern, &written, room)) goto failed;
            }
            pattern_end[k] = written;
        }
    }
    free(parcels); free(first); free(second); free(gain); free(copies); free(ranked); free(useful); free(taken);
    return written;
failed:
    free(parcels); free(first); free(second); free(gain); free(copies); free(ranked); free(useful); free(taken);
    return -1;
}

// The most valuable set of strips across a board, and for every width the most valuable set that holds a strip
// of that width. pattern 0 is the best of all, pattern 1 + w the best that holds width w.
int price_boards(int widths, const int32_t *width, const int32_t *bounds, const int64_t *values, int capacity,
                 int64_t *best_value, int32_t *pattern_start, int32_t *pattern_width, int32_t *pattern_copies,
                 int room) {
    int most_parcels = 0, written = 0;
    for (int w = 0; w < widths; w++) most_parcels += 25;
    Parcel *parcels = malloc((size_t)(most_parcels + 1) * sizeof *parcels);
    int64_t *first = malloc((size_t)(capacity + 1) * sizeof *first);
    int64_t *second = malloc((size_t)(capacity + 1) * sizeof *second);
    int *copies = calloc((size_t)widths + 1, sizeof *copies);
    uint8_t *taken = NULL;
    if (!parcels || !first || !second || !copies) goto failed;
    int count = 0;
    for (int w = 0; w < widths; w++)
        if (values[w] > 0 && width[w] <= capacity)
            count += split(w, width[w], values[w], bounds[w], capacity, parcels + count);
    taken = malloc((size_t)(count + 1) * (capacity + 1));
    if (!taken) goto failed;
    knapsack(parcels, count, capacity, first, second, taken);
    for (int k = 0; k <= widths; k++) {
        pattern_start[k] = written;
        best_value[k] = 0;
        int from = capacity;
        if (k > 0) {
            if (width[k - 1] > capacity || values[k - 1] <= 0 || bounds[k - 1] <= 0) continue;
            from = capacity - width[k - 1];
        }
        read_back(parcels, count, capacity, from, taken, copies);
        if (k > 0 && copies[k - 1] < bounds[k - 1]) copies[k - 1]++;
        for (int w = 0; w < widths; w++)
            if (copies[w]) {
                if (written >= room) goto failed;
                best_value[k] += copies[w] * values[w];
                pattern_width[written] = w;
                pattern_copies[written++] = copies[w];
                copies[w] = 0;
            }
    }
    pattern_start[widths + 1] = written;
    free(parcels); free(first); free(second); free(copies); free(taken);
    return written;
failed:
    free(parcels); free(first); free(second); free(copies); free(taken);
    return -1;
}

// What a strip of an offcut is asked for: the offcut, how often, and the strip's length.
typedef struct {
    int offcut, copies, length, next;
} Wanted;

// For every offcut the most valuable two-stage pattern: strips of any width along its length, side by side across
// its width. The strips of a width are solved once for all lengths. `offcut_length` and `offcut_width` carry the kerf,
// as `lengths` do; `width` does not, and `kerf` is added to it. A row of the
// patterns is (offcut, width, strips of it, item, copies in each strip), in the order of widths. Returns the rows
// written, or -1 without memory or room.
int price_offcuts(int n, const int32_t *lengths, const int32_t *width_min, const int32_t *width_max,
                  const int32_t *bounds, const int64_t *values, int widths, const int32_t *width,
                  const int32_t *width_bounds, int kerf, int offcuts, const int32_t *offcut_length,
                  const int32_t *offcut_width, int64_t *best_value, int32_t *pattern_offcut,
                  int32_t *pattern_width, int32_t *pattern_strips, int32_t *pattern_item, int32_t *pattern_copies,
                  int room) {
    int longest = 0, widest = 0, most_parcels = 0, written = 0;
    for (int q = 0; q < offcuts; q++) {
        if (offcut_length[q] > longest) longest = offcut_length[q];
        if (offcut_width[q] > widest) widest = offcut_width[q];
    }
    for (int i = 0; i < n; i++) most_parcels += values[i] > 0 ? 25 : 0;
    const size_t line = (size_t)longest + 1;
    const int most = most_parcels > 25 * widths ? most_parcels : 25 * widths;
    Parcel *parcels = malloc((size_t)(most + 1) * sizeof *parcels);
    const int buffer = longest > widest ? longest : widest;
    int64_t *first = malloc((size_t)(buffer + 1) * sizeof *first);
    int64_t *second = malloc((size_t)(buffer + 1) * sizeof *second);
    int64_t *along = malloc((size_t)(widths + 1) * line * sizeof *along);
    int *copies = calloc((size_t)(n > widths ? n : widths) + 1, sizeof *copies);
    int *head = malloc((size_t)(widths + 1) * sizeof *head);
    int wanted_count = 0, wanted_room = 16 * (offcuts + 1);
    Wanted *wanted = malloc((size_t)wanted_room * sizeof *wanted);
    Ranked *ranked = malloc((size_t)(n + 1) * sizeof *ranked);
    uint8_t *useful = calloc((size_t)n + 1, sizeof *useful);
    uint8_t *taken = NULL;
    size_t taken_size = 0;
    if (!parcels || !first || !second || !along || !copies || !head || !wanted || !ranked || !useful) goto failed;
    const int ranks = ranked_by_length(n, lengths, values, longest, ranked);
    for (int w = 0; w < widths; w++) head[w] = -1;
    for (int pass = 0; pass < 2; pass++) {
        for (int w = 0; w < widths; w++) {
            int64_t *values_of_w = along + (size_t)w * line;
            if (pass == 0) memset(values_of_w, 0, line * sizeof *values_of_w);
            if (width[w] + kerf > widest || (pass == 1 && head[w] < 0)) continue;
            mark_useful(ranked, ranks, width_min, width_max, bounds, width[w], longest, useful);
            int count = 0;
            for (int i = 0; i < n; i++)
                if (useful[i]) count += split(i, lengths[i], values[i], bounds[i], longest, parcels + count);
            if (!count) continue;
            if (pass == 0) {
                memcpy(values_of_w, knapsack_values(parcels, count, longest, first, second), line * sizeof *first);
                continue;
            }
            const size_t size = (size_t)count * line;
            if (size > taken_size) {
                free(taken);
                taken = malloc(size);
                taken_size = size;
                if (!taken) goto failed;
            }
            knapsack(parcels, count, longest, first, second, taken);
            for (int k = head[w]; k >= 0; k = wanted[k].next) {
                read_back(parcels, count, longest, wanted[k].length, taken, copies);
                for (int p = 0; p < count; p++) {
                    const int i = parcels[p].item;
                    if (!copies[i]) continue;
                    if (written >= room) goto failed;
                    pattern_width[written] = w;
                    pattern_strips[written] = wanted[k].copies;
                    pattern_item[written] = i;
                    pattern_copies[written] = copies[i];
                    pattern_offcut[written++] = wanted[k].offcut;
                    copies[i] = 0;
                }
            }
        }
        if (pass == 1) break;
        for (int q = 0; q < offcuts; q++) {
            int count = 0;
            for (int w = 0; w < widths; w++) {
                const int64_t value = along[(size_t)w * line + offcut_length[q]];
                if (value > 0 && width[w] + kerf <= offcut_width[q])
                    count += split(w, width[w] + kerf, value, width_bounds[w], offcut_width[q], parcels + count);
            }
            best_value[q] = 0;
            if (!count) continue;
            const size_t size = (size_t)count * (offcut_width[q] + 1);
            if (size > taken_size) {
                free(taken);
                taken = malloc(size);
                taken_size = size;
                if (!taken) goto failed;
            }
            const int64_t *best = knapsack(parcels, count, offcut_width[q], first, second, taken);
            best_value[q] = best[offcut_width[q]];
            read_back(parcels, count, offcut_width[q], offcut_width[q], taken, copies);
            for (int w = 0; w < widths; w++) {
                if (!copies[w]) continue;
                if (wanted_count == wanted_room) {
                    Wanted *more = realloc(wanted, 2 * (size_t)wanted_room * sizeof *wanted);
                    if (!more) goto failed;
                    wanted = more;
                    wanted_room *= 2;
                }
                wanted[wanted_count] = (Wanted){q, copies[w], offcut_length[q], head[w]};
                head[w] = wanted_count++;
                copies[w] = 0;
            }
        }
    }
    free(parcels); free(first); free(second); free(along); free(copies); free(head); free(wanted); free(ranked);
    free(useful); free(taken);
    return written;
failed:
    free(parcels); free(first); free(second); free(along); free(copies); free(head); free(wanted); free(ranked);
    free(useful); free(taken);
    return -1;
}

// ---------------------------------------------------------------------------------------------------------
// The constructive heuristic.

// Strips by best fit: pieces in the order given (longest first), each into the open strip where it wastes the
// least area, or a new one where every open strip would waste more than `tolerance` thousandths of the piece.
// Writes each piece's strip and each strip's width (the greatest width_min in it). Returns the number of strips.
int form_strips(int pieces, const int32_t *length, const int32_t *width_min, const int32_t *width_max, int capacity,
                int shortest, int tolerance, int32_t *strip_of, int32_t *strip_width) {
    int32_t *room = malloc((size_t)(pieces + 1) * sizeof *room);
    int32_t *narrowest = malloc((size_t)(pieces + 1) * sizeof *narrowest);
    int32_t *open = malloc((size_t)(pieces + 1) * sizeof *open);
    int strips = 0, opened = 0;
    if (!room || !narrowest || !open) { free(room); free(narrowest); free(open); return -1; }
    for (int p = 0; p < pieces; p++) {
        int64_t least = (int64_t)tolerance * width_min[p] * length[p] / 1000;
        int chosen = -1;
        for (int k = 0; k < opened; k++) {
            int s = open[k];
            if (room[s] < length[p]) continue;
            int low = strip_width[s] > width_min[p] ? strip_width[s] : width_min[p];
            int high = narrowest[s] < width_max[p] ? narrowest[s] : width_max[p];
            if (low > high) continue;
            int after = room[s] - length[p];
            int64_t wasted = (int64_t)(low - strip_width[s]) * (capacity - room[s]) +
                             (int64_t)(low - width_min[p]) * length[p] +
                             (after < shortest ? (int64_t)after * low : (int64_t)after * low / 8);
            if (wasted < least) { least = wasted; chosen = s; if (wasted == 0) break; }
        }
        if (chosen < 0) {
            chosen = strips++;
            room[chosen] = capacity;
            strip_width[chosen] = width_min[p];
            narrowest[chosen] = width_max[p];
            if (capacity - length[p] >= shortest) open[opened++] = chosen;
        }
        strip_of[p] = chosen;
        room[chosen] -= length[p];
        if (width_min[p] > strip_width[chosen]) strip_width[chosen] = width_min[p];
        if (width_max[p] < narrowest[chosen]) narrowest[chosen] = width_max[p];
        if (room[chosen] < shortest)
            for (int k = 0; k < opened; k++)
                if (open[k] == chosen) { open[k] = open[--opened]; break; }
    }
    free(room); free(narrowest); free(open);
    return strips;
}

// Boards from strips: repeatedly the board that holds the widest strip still needed and is otherwise filled as
// full as any set of strips can (subset sums in bit sets), repeated as often as the demands allow.
// `demand` is used up. A pattern is `widths` wide in pattern_copies; returns the number of patterns, -1 on failure.
int fill_boards(int widths, const int32_t *width, int32_t *demand, int capacity, int most_patterns,
                int32_t *pattern_copies, int32_t *pattern_repeat) {
    const int words = capacity / 64 + 1;
    uint64_t *reach = malloc((size_t)(widths + 1) * words * sizeof *reach);
    int patterns = 0;
    if (!reach) return -1;
    for (;;) {
        int widest = widths - 1;
        while (widest >= 0 && demand[widest] <= 0) widest--;
        if (widest < 0) break;
        if (patterns >= most_patterns) { free(reach); return -1; }
        int32_t *copies = pattern_copies + (size_t)patterns * widths;
        memset(copies, 0, (size_t)widths * sizeof *copies);
        copies[widest] = 1;
        demand[widest]--;
        int rest = capacity - width[widest];
        // reach[k]: the sums that the k narrowest widths can make
        memset(reach, 0, (size_t)words * sizeof *reach);
        reach[0] = 1;
        for (int k = 0; k <= widest; k++) {
            uint64_t *now = reach + (size_t)(k + 1) * words, *before = reach + (size_t)k * words;
            memcpy(now, before, (size_t)words * sizeof *now);
            int most = demand[k] < rest / width[k] ? demand[k] : rest / width[k];
            for (int part = 1; most > 0; part *= 2) {
                // adding 1, 2, 4 ... and the remainder of the copies makes every count up to `most`
                if (part > most) part = most;
                most -= part;
                const int64_t shift = (int64_t)part * width[k];
                const int by_words = (int)(shift / 64), by_bits = (int)(shift % 64);
                for (int x = words - 1; x >= by_words; x--) {
                    uint64_t moved = now[x - by_words] << by_bits;
                    if (by_bits && x - by_words - 1 >= 0) moved |= now[x - by_words - 1] >> (64 - by_bits);
                    now[x] |= moved;
                }
            }
        }
        int sum = rest;
        uint64_t *all = reach + (size_t)(widest + 1) * words;
        while (sum > 0 && !(all[sum / 64] >> (sum % 64) & 1)) sum--;
        for (int k = widest; k >= 0 && sum > 0; k--) {
            uint64_t *before = reach + (size_t)k * words;
            // as many of the wide ones as leave a sum that the narrower can still make
            int most = demand[k] < sum / width[k] ? demand[k] : sum / width[k];
            for (int count = most; count >= 0; count--) {
                int left = sum - count * width[k];
                if (before[left / 64] >> (left % 64) & 1) {
                    copies[k] += count;
                    demand[k] -= count;
                    sum = left;
                    break;
                }
            }
        }
        int repeat = 1 << 30;
        for (int k = 0; k <= widest; k++)
            if (copies[k] && demand[k] / copies[k] < repeat) repeat = demand[k] / copies[k];
        for (int k = 0; k <= widest; k++) demand[k] -= repeat * copies[k];
        pattern_repeat[patterns++] = repeat + 1;
    }
    free(reach);
    return patterns;
}
