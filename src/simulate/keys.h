/* SPDX-License-Identifier: MIT */
/* The key table of the scenario file: what docs/scenario-file.md documents. */
#ifndef BRAKELAG_SRC_SIMULATE_KEYS_H
#define BRAKELAG_SRC_SIMULATE_KEYS_H

#include "simulate/scenario.h"

enum { SIM_KEYS_MOST = 128 };

enum sim_section {
    SIM_SCENARIO,
    SIM_SENSORS,
    SIM_CLOCKS,
    SIM_UNIT,
    SIM_APPLICATION,
    SIM_DEMAND,
    SIM_MESSAGE,
    SIM_RUN,
    SIM_FAULT,
    SIM_SECTIONS
};
enum sim_key_kind { KEY_TEXT, KEY_QUANTITY, KEY_NUMBER, KEY_INTEGER, KEY_WORD };

struct sim_key {
    enum sim_section section;
    const char *key;
    enum sim_key_kind kind;
    size_t offset;
    enum bl_quantity quantity; /* of KEY_QUANTITY */
    double factor;             /* field = canonical value * factor */
    double low, high;          /* allowed, in the canonical unit */
    const char *words;         /* of KEY_WORD: "no|yes" */
    const char *usual;         /* default as written; NULL: must be given;
                                  "": nothing */
};

const char *bl_sim_section_word(enum sim_section section);
bool bl_sim_section_named(enum sim_section section);
/* All keys; NULL past the last. */
const struct sim_key *bl_sim_key_at(size_t index);
const struct sim_key *bl_sim_key_find(enum sim_section section,
                                      const char *key);
/* Parse `text` into the key's field of `object`. False: `expected` says what
   would have been right. *memory is set when memory ran out. */
bool bl_sim_key_set(const struct sim_key *key, void *object, const char *text,
                    char expected[128], bool *memory);

#endif
