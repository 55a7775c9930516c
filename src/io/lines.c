/* SPDX-License-Identifier: MIT */
#include "io/lines.h"

#include "base/limits.h"

#include <string.h>

/* What the source shows: `data[0]` stands at `base`. */
struct view {
    const uint8_t *data;
    size_t size;
    int64_t base;
};

void bl_lines_start(struct bl_lines *lines, struct bl_bytes *source,
                    bool skip_bom)
{
    const int64_t base = bl_bytes_offset(source);
    const struct bl_line_finder none = {.found = -1, .searched = base};
    *lines = (struct bl_lines){.source = source,
                               .lf = none,
                               .cr = none,
                               .nul = none,
                               .at_start = true,
                               .skip_bom = skip_bom};
}

/* Where `wanted` stands first in the view; its size when nowhere. */
static size_t find(struct bl_line_finder *finder, const struct view *view,
                   int wanted)
{
    if (finder->found >= view->base) {
        return (size_t)(finder->found - view->base);
    }
    const int64_t end = view->base + (int64_t)view->size;
    if (finder->searched < view->base) {
        finder->searched = view->base;
    }
    if (finder->searched >= end) {
        return view->size;
    }
    const size_t from = (size_t)(finder->searched - view->base);
    const uint8_t *hit = memchr(view->data + from, wanted, view->size - from);
    if (hit == NULL) {
        finder->found = -1;
        finder->searched = end;
        return view->size;
    }
    finder->found = view->base + (hit - view->data);
    finder->searched = finder->found + 1;
    return (size_t)(hit - view->data);
}

static enum bl_status look(struct bl_lines *lines, size_t wanted,
                           struct view *view, struct bl_error *error)
{
    view->base = bl_bytes_offset(lines->source);
    return bl_bytes_window(lines->source, wanted, &view->data, &view->size,
                           error);
}

/* Bytes before the first line: the mark, or the LF of a CRLF. */
static void skip_before(struct bl_lines *lines)
{
    struct view view;
    if (lines->at_start && lines->skip_bom) {
        /* A failure shows again when the line is read. */
        (void)look(lines, 3, &view, NULL);
        if (view.size >= 3 && memcmp(view.data, "\xEF\xBB\xBF", 3) == 0) {
            bl_bytes_take(lines->source, 3);
        }
    }
    lines->at_start = false;
    if (lines->skip_lf) {
        (void)look(lines, 1, &view, NULL);
        if (view.size > 0 && view.data[0] == '\n') {
            bl_bytes_take(lines->source, 1);
        }
        lines->skip_lf = false;
    }
}

/* Go on behind a line that is too long. */
static void skip_line(struct bl_lines *lines)
{
    struct view view;
    for (;;) {
        (void)look(lines, 1, &view, NULL);
        const size_t lf = find(&lines->lf, &view, '\n');
        const size_t cr = find(&lines->cr, &view, '\r');
        const size_t end = lf < cr ? lf : cr;
        if (end < view.size) {
            lines->skip_lf = cr < lf;
            bl_bytes_take(lines->source, end + 1);
            return;
        }
        if (view.size == 0) {
            return;
        }
        bl_bytes_take(lines->source, view.size);
    }
}

enum bl_status bl_lines_next(struct bl_lines *lines, struct bl_text_line *line,
                             struct bl_error *error)
{
    if (lines->at_start || lines->skip_lf) {
        skip_before(lines);
    }
    *line = (struct bl_text_line){.text = NULL};
    size_t wanted = 1;
    for (;;) {
        struct view view;
        const enum bl_status status = look(lines, wanted, &view, error);
        const size_t lf = find(&lines->lf, &view, '\n');
        const size_t cr = find(&lines->cr, &view, '\r');
        const size_t end = lf < cr ? lf : cr;
        if (end > BL_LIMIT_LINE_BYTES) {
            lines->number++;
            skip_line(lines);
            return bl_fail_line(error, BL_LIMIT, bl_bytes_name(lines->source),
                                lines->number,
                                "expected lines of at most %u bytes, found a "
                                "longer one",
                                BL_LIMIT_LINE_BYTES);
        }
        const bool ended = end < view.size;
        if (!ended && view.size >= wanted) {
            wanted = view.size + 1;
            continue;
        }
        if (view.size == 0) {
            return status;
        }
        const size_t nul = find(&lines->nul, &view, '\0');
        line->text = (const char *)view.data;
        line->length = end;
        line->number = ++lines->number;
        line->offset = view.base;
        line->ended = ended;
        line->has_nul = nul < end;
        lines->skip_lf = ended && cr < lf;
        bl_bytes_take(lines->source, end + ended);
        return BL_OK;
    }
}
