/* SPDX-License-Identifier: MIT */
/*
 * How traits may be compared with those of other units, as one table. By air,
 * without the air at its coupling, a unit's own times are those of the whole
 * chain in front of it, and so is the pressure that it needs before it answers;
 * times, holds and opening pressures move along the train. A light application
 * may end before the rear by air, however sound it is. The towing unit's input
 * is the command: its own delays and holds stand beside any, its filling does
 * not, as the command's is taken off otherwise than a control pressure's.
 */
#include "study/causes/traits/traits.h"

#define BY_AIR (BL_IN_AIR | BL_IN_UNKNOWN)

/* What is not here is compared as it stands. */
static const struct bl_trait_rule rules[BL_TRAITS] = {
    [BL_TRAIT_DELAY] = {.grows = BL_IN_UNKNOWN,
                        .chain = BL_IN_AIR,
                        .beside_towing = true},
    [BL_TRAIT_RELEASE_DELAY] = {.grows = BL_IN_UNKNOWN,
                                .chain = BL_IN_AIR,
                                .beside_towing = true},
    [BL_TRAIT_FILL] = {.grows = BY_AIR, .input = BL_TRAIT_INPUT_FILL},
    [BL_TRAIT_FALL] = {.grows = BY_AIR, .input = BL_TRAIT_INPUT_FALL},
    [BL_TRAIT_LINE_APPLY] = {.of_coupling = true, .by_metre = true},
    [BL_TRAIT_LINE_RELEASE] = {.of_coupling = true, .by_metre = true},
    [BL_TRAIT_LINE_RISE] = {.of_coupling = true, .by_line = true},
    [BL_TRAIT_LINE_FALL] = {.of_coupling = true, .by_line = true},
    [BL_TRAIT_LINE_LOSS] = {.of_coupling = true},
    [BL_TRAIT_LINE_KEPT] = {.of_coupling = true},
    [BL_TRAIT_STAGE_APPLY] = {.of_coupling = true, .by_metre = true},
    [BL_TRAIT_STAGE_RELEASE] = {.of_coupling = true, .by_metre = true},
    [BL_TRAIT_STAGE_FILLED] = {.of_coupling = true,
                               .by_metre = true,
                               .own = BL_TRAIT_FILL},
    [BL_TRAIT_STAGE_EMPTIED] = {.of_coupling = true,
                                .by_metre = true,
                                .own = BL_TRAIT_FALL},
    [BL_TRAIT_STAGE_HOLD] = {.of_coupling = true},
    [BL_TRAIT_HOLD] = {.grows = BY_AIR,
                       .beside_towing = true,
                       .of_load = true,
                       .falls = true},
    [BL_TRAIT_OPENING] = {.grows = BY_AIR},
    [BL_TRAIT_OPENS_AT] = {.chain = BY_AIR},
    [BL_TRAIT_NO_RESPONSE] = {.chain_light = BY_AIR},
};

const struct bl_trait_rule *bl_trait_rule(enum bl_trait trait)
{
    return &rules[trait];
}

bool bl_trait_of_release(enum bl_trait trait)
{
    return trait == BL_TRAIT_RELEASE_DELAY || trait == BL_TRAIT_FALL ||
           trait == BL_TRAIT_LINE_RELEASE || trait == BL_TRAIT_STAGE_RELEASE ||
           trait == BL_TRAIT_STAGE_EMPTIED;
}

bool bl_trait_class_in(const struct bl_causing *c, size_t run, unsigned classes)
{
    return (classes >> c->traits->by[run] & 1u) != 0;
}
