/* SPDX-License-Identifier: MIT */
/*
 * Rows that are in a log again: one after the other, out of order, or the
 * whole log twice in one file. Of every row four bytes are kept, of the first
 * BL_LIMIT_LOG_REMEMBERED rows.
 */
#ifndef BRAKELAG_SRC_LOG_AGAIN_H
#define BRAKELAG_SRC_LOG_AGAIN_H

#include "log/dialect.h"

struct log_span {
    int64_t least_ns, most_ns; /* of the stamps of one block of rows */
};
struct log_again {
    bool on;       /* rows have stamps of their own */
    bool failed;   /* memory ended */
    bool coarse;   /* equal stamps with other values are usual */
    uint32_t *sum; /* of the text of each row, in file order */
    size_t count, capacity;
    struct log_span *span;
    size_t span_capacity;
    size_t next;     /* the row that would be repeated next */
    unsigned same;   /* rows repeated just now, one after the other */
    unsigned misses; /* searches in vain since something was found */
    unsigned odd;    /* rows among repeated ones that repeat nothing */
};

void bl_log_again_start(struct log_again *again, const struct log_head *head,
                        const struct log_dialect *dialect);
/* A row that is new; `text` without its line end. */
void bl_log_again_add(struct log_again *again, const char *text, size_t length,
                      int64_t time_ns);
enum log_again_is { LOG_AGAIN_NEW, LOG_AGAIN_SAME, LOG_AGAIN_ODD };
/* A row whose stamp is not behind `newest_ns`: was it there before? ODD: it
   differs from the row that it should repeat. */
enum log_again_is bl_log_again_look(struct log_again *again, const char *text,
                                    size_t length, int64_t time_ns,
                                    int64_t newest_ns);
void bl_log_again_finish(struct log_again *again);

#endif
