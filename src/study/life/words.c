/* SPDX-License-Identifier: MIT */
/* The words of a life, and the numbers that decide where none are given. */
#include "brakelag/life.h"

static const struct {
    const char *name, *meaning, *todo;
} FACT[BL_LIFE_FACTS] = {
#define X(id, name, meaning, todo) {name, meaning, todo},
    BL_LIFE_FACT_LIST(X)
#undef X
};

static const struct {
    const char *name, *meaning;
} VERDICT[BL_LIFE_VERDICTS] = {
#define X(id, name, meaning) {name, meaning},
    BL_LIFE_VERDICT_LIST(X)
#undef X
};

static const struct {
    const char *name, *meaning;
} REASON[BL_LIFE_REASONS] = {
#define X(id, name, meaning) {name, meaning},
    BL_LIFE_REASON_LIST(X)
#undef X
};

const char *bl_life_fact_name(enum bl_life_fact fact)
{
    return (unsigned)fact < BL_LIFE_FACTS ? FACT[fact].name : "";
}

const char *bl_life_fact_meaning(enum bl_life_fact fact)
{
    return (unsigned)fact < BL_LIFE_FACTS ? FACT[fact].meaning : "";
}

const char *bl_life_fact_todo(enum bl_life_fact fact)
{
    return (unsigned)fact < BL_LIFE_FACTS ? FACT[fact].todo : "";
}

const char *bl_life_verdict_name(enum bl_life_verdict verdict)
{
    return (unsigned)verdict < BL_LIFE_VERDICTS ? VERDICT[verdict].name : "";
}

const char *bl_life_verdict_meaning(enum bl_life_verdict verdict)
{
    return (unsigned)verdict < BL_LIFE_VERDICTS ? VERDICT[verdict].meaning : "";
}

const char *bl_life_reason_name(enum bl_life_reason reason)
{
    return (unsigned)reason < BL_LIFE_REASONS ? REASON[reason].name : "";
}

const char *bl_life_reason_meaning(enum bl_life_reason reason)
{
    return (unsigned)reason < BL_LIFE_REASONS ? REASON[reason].meaning : "";
}

static const char *const PAIR[BL_LIFE_PAIR_VERDICTS] = {
#define X(id, name, meaning) name,
    BL_LIFE_PAIR_LIST(X)
#undef X
};

static const struct {
    const char *name, *meaning;
} PAIR_REASON[BL_LIFE_PAIR_REASONS] = {
#define X(id, name, meaning) {name, meaning},
    BL_LIFE_PAIR_REASON_LIST(X)
#undef X
};

const char *bl_life_pair_name(enum bl_life_pair_verdict verdict)
{
    return (unsigned)verdict < BL_LIFE_PAIR_VERDICTS ? PAIR[verdict] : "";
}

const char *bl_life_pair_reason_name(enum bl_life_pair_reason reason)
{
    return (unsigned)reason < BL_LIFE_PAIR_REASONS ? PAIR_REASON[reason].name
                                                   : "";
}

const char *bl_life_pair_reason_meaning(enum bl_life_pair_reason reason)
{
    return (unsigned)reason < BL_LIFE_PAIR_REASONS ? PAIR_REASON[reason].meaning
                                                   : "";
}

struct bl_life_options bl_life_options_default(void)
{
    /* 0.02 is the goal for false trends of a unit, and 0.020 s what `compare`
       takes for the same. The spread is an own choice: units are said to
       differ by up to 15 ms from visit to visit, and at 12 ms, worth four
       degrees of freedom, intervals hold there too (docs/testing.md). */
    return (struct bl_life_options){.confidence = 0.95,
                                    .false_rate = 0.02,
                                    .spread_s = 0.012,
                                    .spread_dof = 4,
                                    .least_s = 0.020,
                                    .odds = 20};
}
