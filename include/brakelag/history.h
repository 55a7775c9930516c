/* SPDX-License-Identifier: MIT */
/*
 * Units over visits, kept in one file (SQLite). A visit is one trial: its day,
 * its place, and of every unit that has a number of its own (`id`) all figures
 * of all applications, as docs/analysis.md has them. docs/history.md says what
 * is kept and what a life is judged by.
 *
 * Nothing leaves the machine. Every change is one transaction: a program that
 * is killed or a disk that fills leaves the file as it was before. Two programs
 * may use one file at once; a writer waits up to a minute for another.
 * Names and texts of recordings and trial files are stored as they are and are
 * never taken for commands.
 */
#ifndef BRAKELAG_HISTORY_H
#define BRAKELAG_HISTORY_H

#include "brakelag/io.h"
#include "brakelag/life.h"
#include "brakelag/report.h"
#include "brakelag/status.h"

struct bl_history;

enum bl_history_mode {
    BL_HISTORY_READ,  /* the file must be there */
    BL_HISTORY_WRITE, /* it is begun if it is not */
};

/*
 * Open a history. An older file is brought to this version's form first.
 * Errors: IO (not there, cannot be opened), FORMAT (damaged, or no history),
 * UNSUPPORTED (a later version wrote it), SYSTEM (another program kept it
 * busy, the disk is full), NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status bl_history_open(struct bl_history **out,
                                                    const char *path,
                                                    enum bl_history_mode mode,
                                                    struct bl_error *error);
/* NULL is fine. */
BL_API void bl_history_close(struct bl_history *history);

enum bl_history_change {
    BL_HISTORY_ADDED,
    BL_HISTORY_SAME,    /* it was there already; nothing was written */
    BL_HISTORY_REPLACED /* an older result of the same recordings */
};
/* What became of a result. Zero-initialise; finish frees. */
struct bl_history_added {
    enum bl_history_change change;
    int64_t visit;  /* its number in this history */
    size_t units;   /* that have an id */
    size_t figures; /* of them, missing ones included */
    /* What is not in it, or cannot be compared, and what to write in the trial
       file. */
    struct bl_notes notes;
};
BL_API void bl_history_added_finish(struct bl_history_added *added);

/*
 * Add a trial by its result, or by that result as JSON (schema
 * "brakelag-result/2"; at most BL_LIMIT_RESULT_BYTES and _VALUES). It is known
 * by the hashes of its recordings: a result of the same recordings, or of these
 * and more, replaces the older. Runs of condition "reference" measure
 * transducers, not units, and are left out.
 *
 * Errors: FORMAT (no such JSON, damaged), UNSUPPORTED (another schema), TRIAL
 * (the trial states no date, or no unit has an id), NODATA (no figures in it),
 * ARG (it shares recordings with a visit that has others, too), LIMIT, SYSTEM,
 * NOMEM. Nothing has changed then.
 */
BL_API BL_MUST_CHECK enum bl_status
bl_history_add(struct bl_history *history, const struct bl_result *result,
               struct bl_history_added *added, struct bl_error *error);
BL_API BL_MUST_CHECK enum bl_status
bl_history_add_json(struct bl_history *history, struct bl_bytes *source,
                    struct bl_history_added *added, struct bl_error *error);

/* Text is UTF-8 and belongs to the list; numbers NaN, text NULL: not stated. */
struct bl_history_visit {
    int64_t number;
    char *date, *place, *trial; /* trial: its name */
    double day;                 /* since 1970 */
    size_t units, figures;
};
struct bl_history_unit {
    char *id, *name; /* name: of the last visit */
    size_t visits;
    char *first, *last; /* days */
};
struct bl_history_list {
    struct bl_history_unit *unit; /* by id */
    size_t units;
    struct bl_history_visit *visit; /* by day, then number */
    size_t visits;
};
/* What is in it: of one unit (its `id`), or all with NULL. Errors: NODATA (no
   such unit), FORMAT, SYSTEM, LIMIT, NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_history_list_create(struct bl_history_list **out, struct bl_history *history,
                       const char *unit_id, struct bl_error *error);
BL_API void bl_history_list_destroy(struct bl_history_list *list);

/* Take a visit out. Errors: NODATA (there is none of that number), SYSTEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_history_remove(struct bl_history *history, int64_t visit,
                  struct bl_error *error);

/*
 * One unit over its visits, as life.h takes it: `life` with every series of
 * figures that count from the command, excluded applications left out. Its
 * visits are those of `list`, in that order.
 */
struct bl_history_life {
    struct bl_history_list *list; /* of this unit alone */
    struct bl_life life;
    struct bl_lives *lives; /* what life.h says of it */
    size_t
        left_out; /* of applications that are excluded, without an uncertainty,
                     or without a value that another visit has */
    struct bl_history_texts *texts; /* inside */
};
/* Errors: as bl_history_list_create. */
BL_API BL_MUST_CHECK enum bl_status
bl_history_life_create(struct bl_history_life **out, struct bl_history *history,
                       const char *unit_id, struct bl_error *error);
BL_API void bl_history_life_destroy(struct bl_history_life *life);

/* As text in lines of `columns` (0: 80), as JSON (schema "brakelag-history/1"),
   or as CSV: TEXT, JSON and CSV of report.h. Of a list its units, or its
   visits. Errors: NOMEM, ARG (another form). */
BL_API BL_MUST_CHECK enum bl_status
bl_history_life_write(const struct bl_history_life *life,
                      struct bl_output *output, enum bl_result_form form,
                      size_t columns, struct bl_error *error);
struct bl_history_list_options {
    enum bl_result_form form;
    size_t columns;
    bool visits; /* not its units */
};
BL_API struct bl_history_list_options bl_history_list_options_default(void);
BL_API BL_MUST_CHECK enum bl_status bl_history_list_write(
    const struct bl_history_list *list, struct bl_output *output,
    const struct bl_history_list_options *options, struct bl_error *error);

/*
 * The units of a trial over their earlier visits and this one, put into `into`:
 * member `lives`, and a sentence of the answer for each unit that changed.
 * `measured` has the trial's runs, and may be `into`. The history is as it was
 * before; its file must not be write-protected. Errors: as bl_history_add.
 */
BL_API BL_MUST_CHECK enum bl_status
bl_history_tell_result(struct bl_history *history,
                       const struct bl_result *measured, struct bl_result *into,
                       struct bl_error *error);

/*
 * What earlier visits of a trial's units let expect of it, for causes.h.
 * `measured` has the trial's runs; nothing of it is kept. Errors: as
 * bl_history_tell_result.
 */
struct bl_history_visits;
BL_API BL_MUST_CHECK enum bl_status bl_history_visits_create(
    struct bl_history_visits **out, struct bl_history *history,
    const struct bl_result *measured, struct bl_error *error);
/* Takes NULL, and gives NULL then. */
BL_API const struct bl_visits *
bl_history_visits_all(const struct bl_history_visits *visits);
BL_API void bl_history_visits_destroy(struct bl_history_visits *visits);

/*
 * A trial against the result of an earlier one of the same units, as before and
 * after a repair: member `before_after` of `into`, and sentences of its answer.
 * `measured` has the trial's runs, and may be `into`. Units are found by their
 * ids. `options` NULL: the default; what counts as a change is one where p over
 * all figures of the unit is at most 1 - confidence. `answered`: of how many
 * figures anything can be told. Errors: as bl_history_add_json, and NODATA (no
 * unit is in both), ARG (a recording is in both, or `earlier` is of a later
 * day).
 */
BL_API BL_MUST_CHECK enum bl_status
bl_history_compare(struct bl_bytes *earlier, const struct bl_result *measured,
                   struct bl_result *into,
                   const struct bl_life_options *options, size_t *answered,
                   struct bl_error *error);

/*
 * Every figure that is kept, of one unit or all (NULL), as the CSV of
 * docs/analysis.md: the same columns, a column for each label of any unit at
 * the end. Errors: NODATA (no such unit), SYSTEM, FORMAT, LIMIT, NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status
bl_history_export(struct bl_history *history, const char *unit_id,
                  struct bl_output *output, struct bl_error *error);

#endif
