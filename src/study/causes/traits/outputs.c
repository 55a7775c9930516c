/* SPDX-License-Identifier: MIT */
/*
 * A unit with several outputs, by axle or by side, is as bad as its worst: each
 * output has its own cells, and trait by trait the least favourable one stands
 * for the unit. One that fills slowly is not hidden by another that releases
 * slowly, nor a low hold by a full one.
 */
#include "study/causes/traits/traits.h"

#include "base/alloc.h"
#include "base/number.h"

#include <math.h>
#include <stdio.h>

size_t bl_trait_place(const struct bl_trial *trial, size_t unit, size_t output)
{
    size_t place = trial->units + output;
    for (size_t u = 0; u < unit; u++) {
        place += trial->unit[u].outputs > 1 ? trial->unit[u].outputs : 0;
    }
    return place;
}

/* Which of two outputs is less favourable. */
enum worse {
    WORSE_MORE, /* later, longer, more often */
    WORSE_LESS,
    WORSE_APART, /* further from what all outputs of the train do */
    WORSE_NONE   /* the same of every output */
};

static enum worse worse_by(enum bl_trait trait)
{
    switch (trait) {
    case BL_TRAIT_HOLD:
        return WORSE_APART;
    case BL_TRAIT_STAGE_HOLD: /* air that is lost is lost to all of them */
        return WORSE_MORE;
    case BL_TRAIT_HELD:
        return WORSE_LESS;
    case BL_TRAIT_LINE_APPLY:
    case BL_TRAIT_LINE_RELEASE:
    case BL_TRAIT_LINE_RISE:
    case BL_TRAIT_LINE_FALL:
    case BL_TRAIT_LINE_LOSS:
    case BL_TRAIT_LINE_KEPT:
    case BL_TRAIT_PACE:
    case BL_TRAIT_ASKED:
        return WORSE_NONE;
    case BL_TRAIT_DELAY:
    case BL_TRAIT_FILL:
    case BL_TRAIT_RELEASE_DELAY:
    case BL_TRAIT_FALL:
    case BL_TRAIT_STAGE_APPLY:
    case BL_TRAIT_STAGE_RELEASE:
    case BL_TRAIT_STAGE_FILLED:
    case BL_TRAIT_STAGE_EMPTIED:
    case BL_TRAIT_OPENING:
    case BL_TRAIT_OPENS_AT:
    case BL_TRAIT_NO_RESPONSE:
    case BL_TRAIT_RESPONSE:
    case BL_TRAIT_FILLED:
    case BL_TRAIT_RELEASE_BEGIN:
    case BL_TRAIT_EMPTIED:
    case BL_TRAIT_ONSET:
    case BL_TRAIT_BEHIND_AIR:
    case BL_TRAIT_INPUT_FILL:
    case BL_TRAIT_INPUT_FALL:
    case BL_TRAIT_REST:
    case BL_TRAITS:
        break;
    }
    return WORSE_MORE;
}

static size_t outputs_of(const struct bl_causing *c, size_t unit)
{
    const size_t outputs = c->trial->unit[unit].outputs;
    return outputs > 1 ? outputs : 0;
}

/* The middle of all outputs of a combination; NaN: there are none. */
static double middle_of(const struct bl_causing *c, size_t run, char letter,
                        size_t group, enum bl_trait trait, double *room)
{
    size_t n = 0;
    for (size_t u = 0; u < c->trial->units; u++) {
        const size_t outputs = outputs_of(c, u);
        for (size_t o = 0; o < (outputs == 0 ? 1 : outputs); o++) {
            const struct bl_trait_cell *cell =
                bl_trait_at(c->traits, run,
                            outputs == 0 ? u : bl_trait_place(c->trial, u, o),
                            group, trait);
            if (c->trial->unit[u].combination == letter && cell->n > 0) {
                room[n++] = cell->value;
            }
        }
    }
    return n == 0 ? NAN : bl_median(room, n);
}

/* How unfavourable a value is. */
static double badness(enum worse worse, double value, double middle)
{
    return worse == WORSE_MORE   ? value
           : worse == WORSE_LESS ? -value
                                 : fabs(value - middle);
}

/* Axles may be set apart on purpose: then both lie alike far from the middle,
   and noise would choose. Only what is clearly further counts, else the lower
   one. */
static bool is_worse(enum bl_trait trait, double value, double than,
                     double middle)
{
    const enum worse worse = worse_by(trait);
    const double more =
        badness(worse, value, middle) - badness(worse, than, middle);
    if (worse == WORSE_APART &&
        fabs(more) <= bl_trait_matters(trait, middle) / 2) {
        return value < than;
    }
    return more > 0;
}

static void choose(struct bl_causing *c, size_t run, size_t unit, size_t group,
                   enum bl_trait trait, double *room)
{
    const enum worse worse = worse_by(trait);
    const struct bl_trait_cell *worst = NULL;
    const double middle =
        worse == WORSE_APART
            ? middle_of(c, run, c->trial->unit[unit].combination, group, trait,
                        room)
            : NAN;
    for (size_t o = 0; worse != WORSE_NONE && o < outputs_of(c, unit); o++) {
        struct bl_trait_cell *cell = bl_trait_at(
            c->traits, run, bl_trait_place(c->trial, unit, o), group, trait);
        cell->output = o + 1;
        if (cell->n > 0 && (worst == NULL || is_worse(trait, cell->value,
                                                      worst->value, middle))) {
            worst = cell;
        }
    }
    if (worst != NULL) {
        *bl_trait_at(c->traits, run, unit, group, trait) = *worst;
    }
}

bool bl_traits_of_outputs(struct bl_causing *c, size_t run)
{
    double *room = bl_alloc(c->places + 1, sizeof(*room));
    for (size_t u = 0; room != NULL && u < c->trial->units; u++) {
        for (size_t g = 0; outputs_of(c, u) > 0 && g < BL_TRAIT_GROUPS; g++) {
            for (int t = 0; t < BL_TRAITS; t++) {
                choose(c, run, u, g, (enum bl_trait)t, room);
            }
        }
    }
    bl_free(room);
    return room != NULL;
}

/* Does this output lie off what the unit's was compared with, on its side? */
static bool is_off(const struct bl_trait_cell *cell,
                   const struct bl_trait_reference *to, enum bl_off off)
{
    const double by = cell->value - to->value;
    return off == BL_OFF_UP ? by > to->high_off : by < to->low_off;
}

void bl_trait_say_output(char *text, size_t size, const struct bl_causing *c,
                         size_t unit, enum bl_trait trait,
                         const struct bl_trait_state *shown)
{
    const struct bl_trait_reference *to =
        &shown->cell->reference[shown->reference];
    char best[32] = "";
    size_t off = 0;
    size_t seen = 0;
    double least = INFINITY;
    text[0] = '\0';
    for (size_t o = 0; o < outputs_of(c, unit); o++) {
        const struct bl_trait_cell *cell =
            bl_trait_at(c->traits, (size_t)shown->run,
                        bl_trait_place(c->trial, unit, o), shown->group, trait);
        seen += cell->n > 0;
        off += cell->n > 0 && is_off(cell, to, shown->off);
        if (cell->n > 0 && fabs(cell->value - to->value) < least) {
            least = fabs(cell->value - to->value);
            bl_trait_say(best, sizeof(best), trait, cell->value);
        }
    }
    if (shown->cell->output == 0 || off == seen) {
        return; /* the whole unit does so */
    }
    const struct bl_trial_input *output =
        &c->trial->unit[unit].output[shown->cell->output - 1];
    snprintf(text, size, " at its output %.40s (%s %s)",
             output->label == NULL ? output->text : output->label,
             seen == 2 ? "the other" : "the best of the others", best);
}
