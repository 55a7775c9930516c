/* SPDX-License-Identifier: MIT */
/* Which rows were there before. */
#include "log/again.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <string.h>

/* Rows of a block; rows looked back at; rows in vain before the search over all
   is given up; rows after which a copy is one, and that may differ in it. */
enum { BLOCK = 64, RECENT = 256, VAIN = 64, COPY = 16 };

/* The odd constant of Fibonacci hashing: 2^64 over the golden ratio. */
static const uint64_t odd = UINT64_C(0x9E3779B97F4A7C15);

static const ptrdiff_t word_bytes = sizeof(uint64_t);

static inline uint64_t mixed(uint64_t sum, uint64_t word)
{
    sum = (sum ^ word) * odd;
    return sum ^ (sum >> 29);
}

static inline uint64_t word_at(const char *text)
{
    uint64_t word;
    memcpy(&word, text, sizeof(word));
    return word;
}

/* Four words at a time, each into a sum of its own, as one sum would wait for
   each product. The last word may hold bytes of the one before it. */
static uint32_t sum_of(const char *text, size_t length)
{
    uint64_t a = length;
    uint64_t b = 1;
    uint64_t c = 2;
    uint64_t d = 3;
    if (length < sizeof(uint64_t)) {
        uint64_t word = 0;
        memcpy(&word, text, length);
        return (uint32_t)(mixed(a, word) >> 32);
    }
    const char *const last = text + length - word_bytes;
    for (; last - text > 3 * word_bytes; text += 4 * word_bytes) {
        a = mixed(a, word_at(text));
        b = mixed(b, word_at(text + word_bytes));
        c = mixed(c, word_at(text + 2 * word_bytes));
        d = mixed(d, word_at(text + 3 * word_bytes));
    }
    if (last - text > word_bytes) {
        a = mixed(a, word_at(text));
        b = mixed(b, word_at(text + word_bytes));
        text += 2 * word_bytes;
    }
    if (last > text) {
        c = mixed(c, word_at(text));
    }
    d = mixed(d, word_at(last));
    return (uint32_t)(mixed(mixed(a, b), mixed(c, d)) >> 32);
}

/* A line without CR. */
static size_t bare(const char *text, size_t length)
{
    return length > 0 && text[length - 1] == '\r' ? length - 1 : length;
}

/* Recorders that write whole seconds give many rows one stamp. */
static bool is_coarse(const struct log_head *head, const struct log_dialect *d)
{
    size_t rows = 0;
    size_t equal = 0;
    struct log_line last = {0};
    struct log_cell before = {0};
    for (size_t i = d->first_index; i < head->count; i++) {
        struct log_cell time;
        if (bl_log_head_blank(head, i) ||
            !bl_log_head_cell(head, i, d->delimiter, (size_t)d->time_column,
                              &time)) {
            continue;
        }
        const struct log_line line = bl_log_head_line(head, i);
        const bool same_time = rows > 0 && time.length == before.length &&
                               memcmp(time.text, before.text, time.length) == 0;
        equal += same_time && (line.length != last.length ||
                               memcmp(line.text, last.text, line.length) != 0);
        rows++;
        last = line;
        before = time;
    }
    return equal * 10 > rows;
}

void bl_log_again_start(struct log_again *again, const struct log_head *head,
                        const struct log_dialect *dialect)
{
    again->on = !dialect->transposed && dialect->time_column >= 0 &&
                !dialect->once && dialect->form != LOG_FORM_INDEX;
    again->coarse = again->on && is_coarse(head, dialect);
}

void bl_log_again_add(struct log_again *again, const char *text, size_t length,
                      int64_t time_ns)
{
    const size_t block = again->count / BLOCK;
    if (!again->on || again->failed ||
        again->count >= BL_LIMIT_LOG_REMEMBERED) {
        return;
    }
    const bool room =
        again->count < again->capacity && block < again->span_capacity;
    if (!room && (!bl_grow(&again->sum, &again->capacity, again->count + 1,
                           sizeof(*again->sum), BL_LIMIT_LOG_REMEMBERED) ||
                  !bl_grow(&again->span, &again->span_capacity, block + 1,
                           sizeof(*again->span), BL_LIMIT_LOG_REMEMBERED))) {
        again->failed = true; /* told by bl_log_next */
        return;
    }
    struct log_span *span = &again->span[block];
    if (again->count % BLOCK == 0) {
        *span = (struct log_span){time_ns, time_ns};
    }
    span->least_ns = time_ns < span->least_ns ? time_ns : span->least_ns;
    span->most_ns = time_ns > span->most_ns ? time_ns : span->most_ns;
    again->sum[again->count++] = sum_of(text, bare(text, length));
    again->same = 0;
    again->odd = 0;
}

static bool among(struct log_again *again, uint32_t sum, size_t from, size_t to)
{
    for (size_t i = from; i < to && i < again->count; i++) {
        if (again->sum[i] == sum) {
            again->next = i + 1;
            return true;
        }
    }
    return false;
}

/* Every block that may hold such a stamp. */
static bool anywhere(struct log_again *again, uint32_t sum, int64_t time_ns)
{
    for (size_t b = 0; b * BLOCK < again->count; b++) {
        if (again->span[b].least_ns <= time_ns &&
            again->span[b].most_ns >= time_ns &&
            among(again, sum, b * BLOCK, (b + 1) * BLOCK)) {
            return true;
        }
    }
    return false;
}

enum log_again_is bl_log_again_look(struct log_again *again, const char *text,
                                    size_t length, int64_t time_ns,
                                    int64_t newest_ns)
{
    if (!again->on || (again->coarse && time_ns == newest_ns)) {
        return LOG_AGAIN_NEW;
    }
    const uint32_t sum = sum_of(text, bare(text, length));
    const size_t recent = again->count > RECENT ? again->count - RECENT : 0;
    const bool search = again->misses < VAIN;
    /* The number says that the text is the same, the place that the stamp is:
       by chance, once in some 10^7 rows that are not new in time. */
    if ((again->same > 0 &&
         among(again, sum, again->next, again->next + COPY)) ||
        among(again, sum, recent, again->count) ||
        (search && anywhere(again, sum, time_ns))) {
        again->same++;
        again->misses = 0;
        again->odd = 0;
        return LOG_AGAIN_SAME;
    }
    again->misses += search;
    if (again->same >= COPY && again->odd < COPY && time_ns < newest_ns) {
        again->odd++;
        again->next++;
        return LOG_AGAIN_ODD;
    }
    return LOG_AGAIN_NEW;
}

void bl_log_again_finish(struct log_again *again)
{
    bl_free(again->sum);
    bl_free(again->span);
}
