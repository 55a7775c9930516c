/* SPDX-License-Identifier: MIT */
/* What the parts of the text writer share. */
#ifndef BRAKELAG_SRC_REPORT_TEXT_H
#define BRAKELAG_SRC_REPORT_TEXT_H

#include "brakelag/answer.h"
#include "report/result.h"
#include "report/table.h"
#include "report/words.h"

struct bl_text {
    const json_t *root;           /* plain */
    const struct bl_codes *codes; /* of its words */
    struct bl_output *output;     /* memory, until bl_text_flush */
    struct bl_output *lines;      /* where it goes, in lines of `columns` */
    size_t columns;
    const struct bl_measurement_unit *pressure;
    bool failed;  /* out of memory */
    bool each;    /* every application is asked for */
    bool defined; /* the figures have been defined */
    bool alone;   /* the answer alone */
};

enum { BL_TEXT_CELL = 96 };

/* What was written so far, whole lines, goes to `lines`; those that are too
   long in several. After each piece, so that memory holds one. */
void bl_text_flush(struct bl_text *to);
void bl_text_table(struct bl_text *to, struct bl_table *table, size_t indent);

/* Does the word of a row stand for `code` of its enum? */
bool bl_text_is(const struct bl_text *to, const json_t *row, const char *key,
                int code);
/* "0.182 ± 0.004" of a figure, k = 2, the uncertainty rounded up; "-" where
   it is missing. Returns text (BL_TEXT_CELL bytes). Whatever the locale, the
   decimal sign is a point. */
const char *bl_text_seconds(const json_t *figure, char *text);
const char *bl_text_fixed(double value, int decimals, char *text);
const char *bl_text_value(double value, double u, int decimals, char *text);
/* "652 ± 3 kPa" of {"value","unit","u"}, pressures in the unit asked for. */
const char *bl_text_level(const struct bl_text *to, const json_t *level,
                          char *text);
/* "65.0 kPa" in the unit asked for; of a stated pressure "65 kPa". */
const char *bl_text_pressure(const struct bl_text *to, double kpa, char *text);
const char *bl_text_stated(const struct bl_text *to, double kpa, char *text);
/* "first air (20 kPa)": a figure's title, with the pressure where it is read at
   response_at. `brief`: in a table of its side. */
const char *bl_text_figure(const struct bl_text *to, enum bl_figure_name figure,
                           bool brief, char *text);
/* The same of a row's "figure"; its name where it is none of the list. */
const char *bl_text_figure_of(const struct bl_text *to, const json_t *row,
                              char *text);
/* The trial's response_at, with its unit. */
const char *bl_text_response_at(const struct bl_text *to, char *text);
/* text_pressures.c: a sentence with its pressures, which are in kPa, in `unit`.
   Returns `rewritten`, or `text` where nothing changes or does not fit. */
enum { BL_TEXT_SENTENCE = 1024 };
const char *bl_text_pressures(const struct bl_measurement_unit *unit,
                              const char *text, char *rewritten, size_t size);
/* Names a row of a table: "1 bin trailer A", cut to what a column takes; the
   name alone where it ends with the number. In sentences: bl_text_called. */
const char *bl_text_unit(const json_t *unit, char *text);
/* What people call the unit of an entry (trial.units[].called). */
const char *bl_text_called(const struct bl_text *to, const json_t *entry);
/* One more unit of those of which there is the same to say; the list is
   json_array(), and NULL (out of memory) is kept as failure. */
void bl_text_also(struct bl_text *to, json_t *alike, json_t *unit);
/* Those of `units` together: as above of one, "units 2, 3 and 5" of several;
   `begins`: with a capital of the latter. */
void bl_text_units(struct bl_text *to, const json_t *units, bool begins);
/* The same of another member than "unit". */
const char *bl_text_called_in(const struct bl_text *to, const json_t *entry,
                              const char *key);
/* The same with the whole name, where it stands alone. */
const char *bl_text_unit_in_full(const json_t *unit,
                                 char text[BL_TEXT_SENTENCE]);
/* Kind and shape of a row or application in words: what was not recorded, as
   the rise of an application that began before it, is marked so. */
const char *bl_text_kind(const json_t *row);
const char *bl_text_shape(const json_t *row);
/* Is the figure known? */
bool bl_text_known(const json_t *figure);
/* A bar of up to `width` characters for `longest`: '-' until `first`, then '='
   until `last`. What is not known or negative has no length. */
size_t bl_text_bar_width(const struct bl_text *to);
const char *bl_text_bar(double first, double last, double longest, size_t width,
                        char *text);
/* The cautions, a line and its further lines each. */
void bl_text_cautions(struct bl_text *to);
/* Write a text of the tree: that is plain (base/plain.h). */
void bl_text_plain(struct bl_text *to, const char *text);
/* "(meaning)" of a reason or flag by its name; the name where unknown. */
const char *bl_text_reason(const char *name);
const char *bl_text_flag(const char *name);
/* "gets its first air" of a figure. */
const char *bl_text_does(enum bl_figure_name figure);

/* Findings may stand alone, without the runs that they rest on. */
bool bl_text_has_runs(const struct bl_text *to);

/* Sections. */
void bl_text_run(struct bl_text *to, const json_t *run);
/* Name and conditions of a run; false: not measured, and why is said. */
bool bl_text_run_head(struct bl_text *to, const json_t *run);
/* What the figures mean, once. */
void bl_text_definitions(struct bl_text *to);
/* text_brief.c: many runs without each of their applications. */
void bl_text_brief(struct bl_text *to);
void bl_text_answer(struct bl_text *to);
void bl_text_glance(struct bl_text *to);
void bl_text_findings(struct bl_text *to);
/* text_traits.c */
void bl_text_traits(struct bl_text *to);
/* text_answer.c: the first sentence, before everything else. */
void bl_text_first(struct bl_text *to);
/* In a report: what a study answers, at the head of its section. */
void bl_text_said(struct bl_text *to, enum bl_answer_topic topic);
void bl_text_summary(struct bl_text *to, const json_t *run);
void bl_text_characteristic(struct bl_text *to);
void bl_text_transducers(struct bl_text *to);
/* text_recordings.c: trial file and recordings. */
void bl_text_rests_on(struct bl_text *to);
void bl_text_limits(struct bl_text *to);
void bl_text_dynamics(struct bl_text *to);
void bl_text_predict(struct bl_text *to);
/* text_stages.c: stages and ladder of one run, entries `from` to `end` of
   predict[]. */
void bl_text_stages(struct bl_text *to, const json_t *all, size_t from,
                    size_t end);
/* text_order.c: members of "order"; of a comparison those of one side. */
void bl_text_orders(struct bl_text *to, const json_t *orders,
                    enum bl_order_side side);
/* text_path.c: where the responses of an application's units go. */
void bl_text_path(struct bl_text *to, const json_t *units);
/* text_life.c: one unit over its visits, as the history has it. */
void bl_text_life(struct bl_text *to, const json_t *life);
/* Member "lives": what is said of each. */
void bl_text_lives(struct bl_text *to);
/* text_pair.c: member "before_after". */
void bl_text_before_after(struct bl_text *to);
/* text_identity.c */
void bl_text_identity(struct bl_text *to);
/* text_budget.c */
void bl_text_budget(struct bl_text *to);
/* check.c */
void bl_text_check(struct bl_text *to);
/* text_compare.c, text_compare_tables.c */
void bl_text_comparison(struct bl_text *to);
/* A verdict of a comparison in words. */
const char *bl_text_verdict(const char *verdict);
void bl_text_comparison_tables(struct bl_text *to);
/* text_reach.c, text_reach_buses.c */
void bl_text_reach(struct bl_text *to);
void bl_text_reach_buses(struct bl_text *to, const json_t *run);

#endif
