/* SPDX-License-Identifier: MIT */
/*
 * What a unit does, and what that is compared with: traits, per run, unit and
 * kind of application, each with its references and how far it lies off them.
 * docs/methods/traits.md has the definitions and the rules.
 */
#ifndef BRAKELAG_TRAITS_H
#define BRAKELAG_TRAITS_H

#include "brakelag/lag.h"

/* X(ENUM, "name", "unit", JUDGED, "meaning"). Shares are fractions. JUDGED: by
   what size a unit stands out among the others, or NOT at all. */
#define BL_TRAIT_LIST(X)                                                       \
    X(DELAY, "delay", "s", TIME, "from its own input to its output, apply")    \
    X(FILL, "fill", "s", TIME,                                                 \
      "from first air to 75 %, minus the time its input takes")                \
    X(RELEASE_DELAY, "release_delay", "s", TIME,                               \
      "from its own input to its output, release")                             \
    X(FALL, "fall", "s", TIME,                                                 \
      "from 90 to 10 %, minus the time its input takes")                       \
    X(LINE_APPLY, "line_apply", "s", TIME,                                     \
      "from control pressure in front to that at its coupling, apply")         \
    X(LINE_RELEASE, "line_release", "s", TIME, "the same on release")          \
    X(LINE_RISE, "line_rise", "s", MEAN,                                       \
      "how far control pressure at its coupling rises behind that in front, "  \
      "mean from 10 to 90 %")                                                  \
    X(LINE_FALL, "line_fall", "s", MEAN,                                       \
      "the same where it falls, 90 to 50 %")                                   \
    X(LINE_LOSS, "line_loss", "", SHARE,                                       \
      "share of the control pressure in front that is missing here")           \
    X(LINE_KEPT, "line_kept", "kPa", PRESSURE, "the same as a pressure")       \
    X(STAGE_APPLY, "stage_apply", "s", TIME,                                   \
      "from the output in front to its own, by air, without control")          \
    X(STAGE_RELEASE, "stage_release", "s", TIME, "the same on release")        \
    X(STAGE_FILLED, "stage_filled", "s", TIME,                                 \
      "from 75 % of the output in front to 75 % of its own, by air, without "  \
      "control")                                                               \
    X(STAGE_EMPTIED, "stage_emptied", "s", TIME,                               \
      "from 10 % of the output in front to 10 % of its own, on release")       \
    X(STAGE_HOLD, "stage_hold", "", HOLD,                                      \
      "its settled pressure over that in front, by air, without control")      \
    X(HOLD, "hold", "", HOLD, "share of what was asked that it holds")         \
    X(OPENING, "opening", "kPa", PRESSURE,                                     \
      "opening pressure, from applications at two pressures")                  \
    X(OPENS_AT, "opens_at", "kPa", PRESSURE,                                   \
      "its input's pressure when its output begins, from light and hard "      \
      "applications: their delays differ by what the input needs to it")       \
    X(NO_RESPONSE, "no_response", "", COUNT,                                   \
      "share of applications without output")                                  \
    X(RESPONSE, "response", "s", NOT, "from the command to its output")        \
    X(FILLED, "filled", "s", NOT, "from the command to 75 %")                  \
    X(RELEASE_BEGIN, "release_begin", "s", NOT,                                \
      "from the command's release to 90 %")                                    \
    X(EMPTIED, "emptied", "s", NOT, "from the command's release to 10 %")      \
    X(ONSET, "onset", "s", NOT,                                                \
      "from its own input to the begin of its output")                         \
    X(PACE, "pace", "kPa/s", NOT, "how fast its own input rises")              \
    X(BEHIND_AIR, "behind_air", "s", NOT,                                      \
      "from control pressure at its coupling to its output")                   \
    X(INPUT_FILL, "input_fill", "s", NOT,                                      \
      "how long its control pressure takes to what its fill ends with")        \
    X(INPUT_FALL, "input_fall", "s", NOT,                                      \
      "how long its control pressure takes from 90 to 10 %")                   \
    X(ASKED, "asked", "kPa", NOT,                                              \
      "what was asked of it while held, above released")                       \
    X(HELD, "held", "kPa", NOT, "what it held, above released")                \
    X(REST, "rest", "kPa", NOT, "pressure before applications")

enum bl_trait {
#define X(id, name, unit, judged, meaning) BL_TRAIT_##id,
    BL_TRAIT_LIST(X)
#undef X
        BL_TRAITS
};
enum bl_judged {
    BL_JUDGED_NOT,
    BL_JUDGED_TIME,     /* 0.10 s */
    BL_JUDGED_MEAN,     /* of a whole rise or fall: 0.07 s */
    BL_JUDGED_HOLD,     /* 15 % of it */
    BL_JUDGED_SHARE,    /* 15 % of what stood in front */
    BL_JUDGED_PRESSURE, /* 30 kPa */
    BL_JUDGED_COUNT,    /* half of the applications */
    BL_JUDGES
};
struct bl_trait_entry {
    const char *name, *unit, *meaning;
    enum bl_judged judged;
};
/* NULL for BL_TRAITS. */
BL_API const struct bl_trait_entry *bl_trait_entry(enum bl_trait trait);

/* What a trait is compared with, strongest first. */
#define BL_REFERENCE_LIST(X)                                                   \
    X(STATED, "stated", "the trial states it")                                 \
    X(LIMIT, "limit", "a limit of the trial")                                  \
    X(VISITS, "visits", "earlier visits of the unit")                          \
    X(EARLIER, "earlier", "earlier runs of the same condition")                \
    X(CHAIN, "chain", "the chain as computed from what is stated")             \
    X(CONDITION, "condition", "the same unit in the other condition")          \
    X(OTHERS, "others", "the other units of the train")                        \
    X(USUAL, "usual", "what is usual in the trade")

enum bl_reference_kind {
#define X(id, name, meaning) BL_REFERENCE_##id,
    BL_REFERENCE_LIST(X)
#undef X
        BL_REFERENCES
};
BL_API const char *bl_reference_name(enum bl_reference_kind kind);

/* The demand or the air asked for braking. */
enum bl_trait_class { BL_BY_DEMAND, BL_BY_AIR, BL_BY_UNKNOWN, BL_CLASSES };
BL_API const char *bl_trait_class_name(enum bl_trait_class by);

struct bl_trait_reference {
    bool known;
    double value, u; /* what is to be expected; u has the references' spread */
    double off;      /* trait less value */
    double ratio;    /* off in units of the u of both */
    double low_off, high_off; /* beyond these it would stand out; NaN: never */
    size_t n;                 /* values that it rests on */
};

/* One trait of one unit in one run and one kind of application. */
struct bl_trait_cell {
    size_t n;         /* applications that gave it; 0: none */
    double value, u;  /* middle; standard */
    double scatter;   /* from application to application */
    bool at_least;    /* it had not ended: a bound */
    bool parted;      /* what its input took is taken off */
    bool from_demand; /* a delay: it counts from the demand, not the command */
    size_t output;    /* of a unit with several: the one that gave it, from 1 */
    size_t couplings; /* from the control pressure in front to its own; a line
                         is 1, with units in between that were not recorded more
                         (0: control was not recorded) */
    struct bl_trait_reference reference[BL_REFERENCES];
};

/* Kind and shape together. */
enum { BL_TRAIT_GROUPS = 12 };
static inline size_t bl_trait_group(enum bl_application_kind kind,
                                    enum bl_application_shape shape)
{
    return (size_t)kind * 3 + (size_t)shape;
}

/* A unit with several outputs has a place for each of them behind those of the
   units; the unit's own cell is that of its least favourable output. */
struct bl_traits {
    size_t runs, units;      /* of the trial */
    size_t places;           /* units, and outputs of those with several */
    enum bl_trait_class *by; /* per run */
    struct bl_trait_cell *cell;
};
/* Never NULL within the table. `place` is a unit, or an output
   of one with several: those follow the units in the order of the trial. */
BL_API struct bl_trait_cell *bl_trait_at(const struct bl_traits *all,
                                         size_t run, size_t place, size_t group,
                                         enum bl_trait trait);

#endif
