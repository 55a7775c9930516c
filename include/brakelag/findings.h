/* SPDX-License-Identifier: MIT */
/*
 * Findings: named causes and oddities, each with its evidence and the next
 * check to make. The list of codes is closed (names.h); docs/findings.md shows
 * it to the user, and a test holds page and table together.
 */
#ifndef BRAKELAG_FINDINGS_H
#define BRAKELAG_FINDINGS_H

#include "brakelag/names.h"
#include "brakelag/traits.h"

/* One row of docs/findings.md. No text is NULL; `caution` is "" where the
   check is not dangerous. */
struct bl_finding_kind {
    const char *code;
    enum bl_finding_group group;
    enum bl_severity severity;
    const char *needs;       /* channels, signals and statements needed */
    const char *fires;       /* when it is found */
    const char *cannot_tell; /* when it can be neither found nor denied */
    const char *next_check;  /* what a person does next */
    const char *caution;     /* before that */
};
/* The row of a code; `code` below BL_FINDINGS. */
BL_API const struct bl_finding_kind *bl_finding_kind(enum bl_finding_code code);

enum {
    BL_EVIDENCE_MAX = 20,
    BL_FINDING_RUNS_MAX = 16,
    BL_FINDING_ALIKE_MAX = 2,
    BL_EVIDENCE_LABEL_MAX = 64,
    BL_FINDING_TEXT_MAX = 400
};

/* A value that a finding rests on; u standard, NaN where it has none. */
struct bl_evidence {
    char label[BL_EVIDENCE_LABEL_MAX];
    double value, u;
    char unit[12]; /* "s", "kPa", "V", "" for a count */
    long run;      /* the finding's; -1 */
};

enum bl_shown {
    BL_SHOWN_NOT, /* looked for, not there */
    BL_SHOWN_CANNOT_TELL,
    BL_SHOWN_FOUND
};

struct bl_finding {
    enum bl_finding_code code;
    enum bl_shown shown; /* FOUND or CANNOT_TELL */
    enum bl_severity severity;
    long unit;    /* index in the trial; -1: none in particular */
    long channel; /* index in the trial; -1 */
    long run;     /* index in the trial; -1: none in particular */
    long also[BL_FINDING_RUNS_MAX]; /* further runs that show it, in order */
    size_t alsos;
    double ratio; /* excess over the tolerance, in standard u; NaN: none */
    size_t fired, judged; /* applications that show it, that could; 0: none */
    char text[BL_FINDING_TEXT_MAX]; /* one plain sentence, UTF-8 */
    struct bl_evidence evidence[BL_EVIDENCE_MAX];
    size_t evidences, evidences_dropped; /* the latter did not fit */
    char next_check[BL_FINDING_TEXT_MAX];
    const char *caution; /* static text; "": the next check is harmless */
    /* Causes that this wiring cannot tell from it. */
    enum bl_finding_code alike[BL_FINDING_ALIKE_MAX];
    size_t alikes;
    bool headline; /* `text` is the answer in plain words */
    bool follows;  /* from one of a unit in front of it, which comes first */
};

/* A code that could not be looked for, and what it would take. */
struct bl_not_looked_for {
    enum bl_finding_code code;
    long unit, run; /* -1: any */
    char needs[BL_FINDING_TEXT_MAX];
};

/* Where a code was looked for; -1: in any, or in none in particular. */
struct bl_looked_for {
    enum bl_finding_code code;
    long unit, run;
};

/* A list of findings, which bl_causes and bl_reach_run fill. Zero-initialise;
   bl_findings_finish frees. */
struct bl_findings {
    struct bl_finding *item;
    size_t count, capacity;
    struct bl_not_looked_for *missing;
    size_t missing_count, missing_capacity;
    size_t looked[BL_FINDINGS]; /* how often each code was looked for */
    /* And where: what stands there for a unit and run is not `missing` too. */
    struct bl_looked_for *place;
    size_t places, place_capacity;
    /* Where outputs were searched for rises without a command: outside all
       applications, over all runs. */
    double searched_s;
    size_t searched;          /* outputs of runs */
    bool failed;              /* out of memory, or over the limit */
    struct bl_traits *traits; /* what they rest on; NULL: not made */
};

/* What it holds may be used until then. */
BL_API void bl_findings_finish(struct bl_findings *list);

#endif
