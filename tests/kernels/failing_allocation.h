// Put before a kernel's source by the tests (-include): one allocation fails, and what is not freed is counted.
#include <stdint.h>
#include <stdlib.h>

static int64_t made, failing = -1, kept;

// The allocation of this number fails, counted from 0; -1: none does.
void fail_allocation(int64_t number) {
    made = kept = 0;
    failing = number;
}

int64_t allocations_made(void) { return made; }

int64_t allocations_kept(void) { return kept; }

static void *counted(void *given, int growing) {
    if (!growing) kept += given != NULL;
    return given;
}

static void *counted_malloc(size_t size) { return made++ == failing ? NULL : counted(malloc(size), 0); }

static void *counted_calloc(size_t count, size_t size) {
    return made++ == failing ? NULL : counted(calloc(count, size), 0);
}

static void *counted_realloc(void *old, size_t size) {
    return made++ == failing ? NULL : counted(realloc(old, size), old != NULL);
}

static void counted_free(void *given) {
    kept -= given != NULL;
    free(given);
}

#define malloc counted_malloc
#define calloc counted_calloc
#define realloc counted_realloc
#define free counted_free
