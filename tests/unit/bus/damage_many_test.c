/* SPDX-License-Identifier: MIT */
/*
 * Recordings with a stretch of bytes damaged by the dice: overwritten, zeroed,
 * lost, put in between, cut off, a block of a disk that holds older data, one
 * bit. Nothing may crash; every frame whose bytes are whole comes out, once, as
 * it was; what comes out besides is no more than the damage touched; a loss is
 * told. BL_DAMAGES damages per format (40 without it), the same ones each time
 * unless BL_DICE gives another number.
 *
 * What "whole" is: the bytes of the frame's block or line, and for a line the
 * end of the line before it. Classic pcap ends at the damage where the chain of
 * lengths breaks, so that only what stands before is sure.
 */
#include "damage.h"
#include "damage_dice.h"

struct format {
    const char *name;
    bool big;
    size_t head; /* bytes in front of the first frame */
};

struct told {
    size_t whole, again, other; /* frames that came out */
    bool flagged, missing;
};

static void apply(struct file *f, const struct damage *d,
                  struct bl_random *dice)
{
    mark(f, d->from, damage_reach(d));
    do_damage(&f->data, &f->size, d, dice);
}

/* Which frame of the file is this, as it was? FRAMES: none. Buses by name: one
   whose name is damaged is a bus more, and takes a number. */
static size_t original(const struct recording *r, const struct bl_frame *is,
                       bool one_bus)
{
    const size_t i = (size_t)(is->id - frame_of(0).id);
    if (i >= FRAMES) {
        return FRAMES;
    }
    struct bl_frame was = frame_of(i);
    was.flags |= is->flags & BL_FRAME_AFTER_DAMAGE;
    was.part = is->part;
    return same_frame(is, &was) &&
                   (one_bus || strcmp(r->info->bus[is->bus].name,
                                      damage_names[was.bus]) == 0)
               ? i
               : FRAMES;
}

static struct told compare(const struct recording *r, bool one_bus,
                           bool seen[FRAMES])
{
    struct told told = {0};
    memset(seen, 0, FRAMES * sizeof(*seen));
    for (size_t k = 0; k < r->frames; k++) {
        const size_t i = original(r, &r->frame[k], one_bus);
        told.flagged =
            told.flagged || (r->frame[k].flags & BL_FRAME_AFTER_DAMAGE) != 0;
        told.other += i == FRAMES;
        told.again += i < FRAMES && seen[i];
        told.whole += i < FRAMES && !seen[i];
        if (i < FRAMES) {
            seen[i] = true;
        }
    }
    return told;
}

static const char *what(const struct format *format, const struct damage *d,
                        size_t number, char text[160])
{
    snprintf(text, 160, "%s%s, damage %zu: %s, %zu bytes from %zu",
             format->name, format->big ? " (big-endian)" : "", number,
             damage_kind(d->kind), d->size, d->from);
    return text;
}

static void judge(const struct format *format, const struct damage *d,
                  const struct file *f, size_t number)
{
    char text[160];
    bool seen[FRAMES];
    const bool pcap = strcmp(format->name, "pcap") == 0;
    struct recording r = read_memory(f->data, f->size, NULL);
    if (r.open_status != BL_OK) {
        fail_msg("%s: %s", what(format, d, number, text), r.error.message);
    }
    const struct told told = compare(&r, pcap, seen);
    const bool joined = d->kind == LOST || d->kind == CUT;
    /* Text joins the lines around an end of line that is gone. A pcapng block
       without 8 of its bytes ends in the length of the next one: all are of
       one size. */
    const size_t more = strcmp(format->name, "textlog") == 0 || d->kind == LOST;
    const size_t last = f->first_hit + f->hit + more;
    bool lost = false;
    for (size_t i = 0; i < FRAMES; i++) {
        if (i < f->first_hit || (i >= last && !pcap && d->kind != CUT)) {
            if (!seen[i]) {
                fail_msg("%s: frame %zu is whole and missing (%zu hit from "
                         "%zu)",
                         what(format, d, number, text), i, (size_t)f->hit,
                         f->first_hit);
            }
        } else {
            lost = lost || !seen[i];
        }
    }
    /* Older data look like frames that are repeated. */
    const size_t touched = (size_t)f->hit + 1 + more;
    if (told.other + (d->kind == STALE ? 0 : told.again) > touched) {
        fail_msg("%s: %zu frames out of nothing, %zu again",
                 what(format, d, number, text), told.other, told.again);
    }
    const bool said = r.status != BL_OK || r.info->notes.count > 0 ||
                      r.info->after_damage || told.flagged;
    if (lost && told.other == 0 && !said && !joined) {
        fail_msg("%s: a loss is not told", what(format, d, number, text));
    }
    close_recording(&r);
}

static void damage(const char *name, bool big, uint64_t seed)
{
    struct format format = {.name = name, .big = big};
    struct bl_random dice;
    seed_dice(&dice, seed);
    const struct file good = make(name, big);
    format.head = good.at[0];
    for (size_t i = 0; i < how_many_damages(); i++) {
        struct file f = good;
        f.data = malloc(good.size);
        assert_non_null(f.data);
        memcpy(f.data, good.data, good.size);
        const struct damage d = throw_dice(
            &dice, format.head == 0 ? good.at[1] : format.head, good.size);
        apply(&f, &d, &dice);
        judge(&format, &d, &f, i);
        free(f.data);
    }
    free(good.data);
}

static void pcapng_damaged(void **state)
{
    (void)state;
    damage("pcapng", false, 11);
    damage("pcapng", true, 12);
}

static void text_damaged(void **state)
{
    (void)state;
    damage("textlog", false, 13);
}

static void pcap_damaged(void **state)
{
    (void)state;
    damage("pcap", false, 14);
    damage("pcap", true, 15);
}

static bool both_names(const struct file *f)
{
    bool has[2] = {false, false};
    for (size_t i = 0; i + 4 <= f->at[0] + LONGEST_DAMAGE && i + 4 <= f->size;
         i++) {
        has[0] = has[0] || memcmp(f->data + i, damage_names[0], 4) == 0;
        has[1] = has[1] || memcmp(f->data + i, damage_names[1], 4) == 0;
    }
    return has[0] && has[1];
}

/* The head of a file steers how all of it is read: what comes out must not be
   given to another bus, and nothing may crash. */
static void heads_damaged(void **state)
{
    (void)state;
    static const struct format formats[] = {
        {"pcapng", false, 0}, {"pcapng", true, 0}, {"pcap", false, 0}};
    struct bl_random dice;
    seed_dice(&dice, 16);
    for (size_t k = 0; k < COUNT_OF(formats); k++) {
        const struct file good = make(formats[k].name, formats[k].big);
        for (size_t i = 0; i < how_many_damages(); i++) {
            struct file f = good;
            f.data = malloc(good.size);
            assert_non_null(f.data);
            memcpy(f.data, good.data, good.size);
            const struct damage d = throw_dice(&dice, 0, good.at[0]);
            apply(&f, &d, &dice);
            struct recording r = read_memory(f.data, f.size, NULL);
            if (!both_names(&f)) {
                r.frames = 0; /* one bus now bears the other's name */
            }
            for (size_t n = 0; n < r.frames; n++) {
                const size_t was = (size_t)(r.frame[n].id - frame_of(0).id);
                const struct bl_bus_stats *bus = &r.info->bus[r.frame[n].bus];
                if (k < 2 && was < FRAMES &&
                    strcmp(bus->name, damage_names[1 - was % 2]) == 0) {
                    char text[160];
                    fail_msg("%s: frame %zu came from another bus",
                             what(&formats[k], &d, i, text), was);
                }
            }
            close_recording(&r);
            free(f.data);
        }
        free(good.data);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pcapng_damaged), cmocka_unit_test(text_damaged),
        cmocka_unit_test(pcap_damaged), cmocka_unit_test(heads_damaged)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
