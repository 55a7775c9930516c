/* SPDX-License-Identifier: MIT */
/*
 * Sentences of studies hold their pressures in kPa, as the result does. In the
 * text they are in the unit that was asked for: "fell from 640 to 571 kPa"
 * becomes "fell from 92.8 to 82.8 psi".
 */
#include "report/text.h"

#include "base/number.h"

#include <string.h>

struct rewrite {
    const struct bl_measurement_unit *unit;
    char *to;
    size_t used, size;
    bool cut;
};

static void put(struct rewrite *r, const char *text, size_t length)
{
    if (length >= r->size - r->used) {
        r->cut = true;
        return;
    }
    memcpy(r->to + r->used, text, length);
    r->used += length;
    r->to[r->used] = '\0';
}

/* Where the decimal number begins that ends at `end`; `end`: there is none. */
static const char *number_before(const char *from, const char *end)
{
    const char *at = end;
    while (at > from && ((at[-1] >= '0' && at[-1] <= '9') || at[-1] == '.')) {
        at--;
    }
    while (at < end && *at == '.') {
        at++;
    }
    return at < end && at > from && at[-1] == '-' ? at - 1 : at;
}

/* A bar is a hundred kPa, a psi seven: as many decimals more keep what the
   number told. */
static void put_number(struct rewrite *r, const char *from, const char *end)
{
    const char *point = memchr(from, '.', (size_t)(end - from));
    const int more = r->unit->factor > 50 ? 2 : 1;
    const int decimals = more + (point == NULL ? 0 : (int)(end - point - 1));
    char number[BL_TEXT_CELL];
    double kpa = 0;
    (void)bl_number_parse(from, (size_t)(end - from), &kpa);
    bl_text_fixed(kpa / r->unit->factor, decimals, number);
    put(r, number, strlen(number));
}

/* Where " to " or " \xC2\xB1 " begins that ends at `end`; NULL: neither stands
   there. */
static const char *before_to(const char *from, const char *end)
{
    static const char *const between[] = {" to ", " \xC2\xB1 "};
    for (size_t i = 0; i < sizeof(between) / sizeof(between[0]); i++) {
        const size_t length = strlen(between[i]);
        if ((size_t)(end - from) > length &&
            strncmp(end - length, between[i], length) == 0) {
            return end - length;
        }
    }
    return NULL;
}

const char *bl_text_pressures(const struct bl_measurement_unit *unit,
                              const char *text, char *rewritten, size_t size)
{
    static const char kpa[] = " kPa";
    struct rewrite r = {.unit = unit, .to = rewritten, .size = size};
    const char *rest = text;
    const char *at = unit->factor == 1 ? NULL : strstr(rest, kpa);
    for (; at != NULL && !r.cut; at = strstr(rest, kpa)) {
        const char *last = number_before(rest, at);
        if (last == at) { /* no number: the word stays */
            put(&r, rest, (size_t)(at - rest) + strlen(kpa));
            rest = at + strlen(kpa);
            continue;
        }
        const char *end = before_to(rest, last);
        const char *first = end == NULL ? NULL : number_before(rest, end);
        if (first == end) { /* or both NULL */
            put(&r, rest, (size_t)(last - rest));
        } else {
            put(&r, rest, (size_t)(first - rest));
            put_number(&r, first, end);
            put(&r, end, (size_t)(last - end));
        }
        put_number(&r, last, at);
        put(&r, " ", 1);
        put(&r, unit->name, strlen(unit->name));
        rest = at + strlen(kpa);
    }
    put(&r, rest, strlen(rest));
    return r.cut || unit->factor == 1 ? text : rewritten;
}
