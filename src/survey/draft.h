/* SPDX-License-Identifier: MIT */
/* What a draft of a trial file is written from: runs, the chain of units, and
   which column hangs where. All of it is guessed, with the reason beside it. */
#ifndef BRAKELAG_SRC_SURVEY_DRAFT_H
#define BRAKELAG_SRC_SURVEY_DRAFT_H

#include "brakelag/survey.h"

enum {
    BL_DRAFT_UNITS = 32, /* units that a draft lists */
    BL_DRAFT_NAME = 33,  /* bytes of a name made by the draft */
    BL_DRAFT_WHY = 96
};

/* --- runs.c: which recordings belong to one run --- */

struct bl_draft_run {
    char name[BL_DRAFT_NAME];
    size_t captures, logs;
};

struct bl_draft_runs {
    size_t *run_of_file; /* by the survey's files */
    struct bl_draft_run *run;
    size_t runs;
    /* By file: a name for its only bus, where that has none and others of the
       run have to be told from it; "" otherwise. */
    char (*bus_name)[BL_DRAFT_NAME];
};

/* Recordings that share a name or whose times overlap are one run; so are the
   only capture and the only log. A single run is called R1 unless `by_file`;
   several are called as their files. */
enum bl_status bl_draft_runs_find(const struct bl_survey *survey, bool by_file,
                                  struct bl_draft_runs *out);
void bl_draft_runs_finish(struct bl_draft_runs *runs);
/* Borrowed from the survey or `runs`; "": the bus has no name. */
const char *bl_draft_bus(const struct bl_survey *survey,
                         const struct bl_draft_runs *runs, size_t file,
                         size_t bus);
/* `text` as a name of letters, digits and '_' in `name`; "": none is left. */
void bl_draft_name(const char *text, char name[BL_DRAFT_NAME]);

/* --- chain.c: who addresses whom --- */

struct bl_chain_unit {
    bool has_address;
    uint8_t address;
    const char *bus; /* the link at its front; "": not known. Borrowed. */
    unsigned depth;  /* 1 behind the towing vehicle */
    char why[BL_DRAFT_WHY]; /* why it stands at its place */
    bool repeated;          /* several links show the same address */
    int64_t first_change_ns;
};

struct bl_chain {
    bool has_front;
    uint8_t front;
    struct bl_chain_unit unit[BL_DRAFT_UNITS]; /* towed, from the front */
    size_t units, left_out;
    /* Addresses that send the demand and have no place in the chain. */
    uint8_t stranger[BL_DRAFT_UNITS];
    size_t strangers;
};

enum bl_status bl_chain_find(const struct bl_survey *survey,
                             const struct bl_draft_runs *runs,
                             struct bl_chain *out);

/* --- wiring.c: what the columns of logs are --- */

enum bl_wired {
    BL_WIRED_NOTHING,
    BL_WIRED_COMMAND,
    BL_WIRED_CONTROL,
    BL_WIRED_OUTPUT,
    BL_WIRED_RESERVOIR,
    BL_WIRED_VOLTAGE
};

/* A channel: one column in one or several logs. */
struct bl_draft_channel {
    char name[BL_DRAFT_NAME + 8];
    size_t file;                           /* the first log that has it */
    const struct bl_survey_column *column; /* as that log has it */
    bool by_header;  /* its header text finds it; else its place */
    bool only_there; /* other logs lack it: the channel names its log */
    bool described;  /* quantity and unit are known: it can be written */
    bool volts;      /* moves as a pressure does, in volts */
    enum bl_wired wired;
    int unit;        /* -1: none is proposed */
    bool certain;    /* by its name; else a proposal in a comment */
    double behind_s; /* the command's rise; NaN: not known */
    char why[BL_DRAFT_WHY];
};

struct bl_wiring {
    struct bl_draft_channel *channel;
    size_t channels;
    long command; /* place of the pressure that is the command; -1: none */
    int units;    /* the greatest number of a unit that a name tells; -1 */
};

enum bl_status bl_wiring_find(const struct bl_survey *survey,
                              const struct bl_draft_runs *runs, size_t towed,
                              struct bl_wiring *out);
void bl_wiring_finish(struct bl_wiring *wiring);

/* --- draft.c, draft_units.c: writing --- */

struct bl_drafting {
    const struct bl_survey *survey;
    const struct bl_draft_options *options;
    struct bl_output *output;
    struct bl_draft_runs runs;
    struct bl_chain chain;
    struct bl_wiring wiring;
};

/* The sections of the units with the command. */
void bl_draft_units(struct bl_drafting *draft);

#endif
