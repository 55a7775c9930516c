/* SPDX-License-Identifier: MIT */
/*
 * Which unit responds last, condition by condition, in the hardest applications
 * that were made. A unit is called last only where it is later than every other
 * unit by more than 2 u of the difference in most of the applications that they
 * share, and in three of them or all; else those that cannot be told apart are
 * named together. Where nothing responded: what else was recorded.
 */
#include "study/answer/answer.h"

#include "base/alloc.h"
#include "base/number.h"
#include "lag/application.h"

#include <math.h>
#include <string.h>

/* Applications of one condition, combination, kind and shape. */
struct group {
    const char *condition;
    char combination;
    enum bl_application_kind kind;
    enum bl_application_shape shape;
};

/* Responses of one unit over a group. */
struct seen {
    double median_s, u_s; /* u_s: the greatest of one application */
    size_t n;
    bool tied; /* cannot be told from the last unit */
};

static bool in_group(const struct bl_answering *a, const struct group *group,
                     size_t run, const struct bl_application *application)
{
    return !application->excluded && application->kind == group->kind &&
           application->shape == group->shape &&
           application->combination == group->combination &&
           strcmp(bl_answer_condition(a, run), group->condition) == 0;
}

/* The response of a unit in an application; NULL: it is not known. */
static const struct bl_figure *
response_of(const struct bl_application *application, size_t unit)
{
    const struct bl_unit_lag *found = bl_application_unit(application, unit);
    return found != NULL && found->figure[BL_FIGURE_RESPONSE].known
               ? &found->figure[BL_FIGURE_RESPONSE]
               : NULL;
}

/* Calls `visit` with every application of the group. */
static void each(const struct bl_answering *a, const struct group *group,
                 void (*visit)(const struct bl_application *application,
                               void *user),
                 void *user)
{
    for (size_t r = 0; r < a->input->trial->runs; r++) {
        const struct bl_run_lag *lag = a->input->run[r].lag;
        for (size_t i = 0; lag != NULL && i < lag->applications; i++) {
            if (in_group(a, group, r, &lag->application[i])) {
                visit(&lag->application[i], user);
            }
        }
    }
}

struct values {
    size_t unit, count;
    double *s, u_most;
};

static void gather(const struct bl_application *application, void *user)
{
    struct values *to = user;
    const struct bl_figure *f = response_of(application, to->unit);
    if (f != NULL) {
        to->s[to->count++] = f->s;
        to->u_most = fmax(to->u_most, f->u_s);
    }
}

static void count_one(const struct bl_application *application, void *user)
{
    (void)application;
    *(size_t *)user += 1;
}

struct pair {
    size_t late, other, both, sure;
};

static void compare(const struct bl_application *application, void *user)
{
    struct pair *pair = user;
    const struct bl_figure *late = response_of(application, pair->late);
    const struct bl_figure *other = response_of(application, pair->other);
    if (late != NULL && other != NULL) {
        pair->both++;
        pair->sure += late->s - other->s > 2 * hypot(late->u_s, other->u_s);
    }
}

static bool is_later(const struct bl_answering *a, const struct group *group,
                     size_t late, size_t other)
{
    struct pair pair = {late, other, 0, 0};
    each(a, group, compare, &pair);
    return pair.both > 0 && 2 * pair.sure > pair.both &&
           (pair.sure >= 3 || pair.sure == pair.both);
}

/* Medians of all units; returns the last one, or the number of units. */
static size_t medians(struct bl_answering *a, const struct group *group,
                      struct seen *seen)
{
    const size_t units = a->input->trial->units;
    size_t most = 0;
    size_t last = units;
    each(a, group, count_one, &most);
    double *s = bl_alloc(most + 1, sizeof(*s));
    a->failed = a->failed || s == NULL;
    for (size_t u = 0; s != NULL && u < units; u++) {
        struct values values = {u, 0, s, 0};
        each(a, group, gather, &values);
        seen[u] = (struct seen){.u_s = values.u_most, .n = values.count};
        if (values.count > 0) {
            seen[u].median_s = bl_median(s, values.count);
            last = last == units || seen[u].median_s > seen[last].median_s
                       ? u
                       : last;
        }
    }
    bl_free(s);
    return last;
}

static void begin(struct bl_strbuf *text, const struct group *group)
{
    static const char *const kinds[] = {[BL_KIND_UNKNOWN] = "",
                                        [BL_KIND_LIGHT] = "light ",
                                        [BL_KIND_SERVICE] = "medium ",
                                        [BL_KIND_FULL] = "full "};
    bl_strbuf_format(text, "In %sapplications of condition \"%s\", ",
                     kinds[group->kind], group->condition);
}

static void say(struct bl_answering *a, const struct group *group,
                const struct seen *seen, size_t last)
{
    const size_t units = a->input->trial->units;
    struct bl_strbuf text = {0};
    size_t tied = 0;
    size_t responding = 0;
    size_t n = 0;
    char name[BL_ANSWER_UNIT];
    for (size_t u = 0; u < units; u++) {
        tied += seen[u].tied;
        responding += seen[u].n > 0;
    }
    begin(&text, group);
    for (size_t u = 0; u < units; u++) {
        if (seen[u].tied) {
            bl_strbuf_text(&text, bl_answer_between(n++, tied));
            bl_strbuf_text(&text, bl_answer_unit(a, u, name));
        }
    }
    bl_strbuf_format(&text,
                     tied == 1 ? " gets its first air (%g kPa)%s"
                               : " get their first air (%g kPa)%s",
                     a->input->trial->response_at_kpa,
                     responding == 1 ? ""
                     : tied == 1     ? " last,"
                                     : " last, too close to tell which is "
                                       "later,");
    bl_strbuf_format(&text, " %.3f s after the command (median of %zu).",
                     seen[last].median_s, seen[last].n);
    struct bl_answer_sentence *sentence =
        bl_answer_say(a, BL_ANSWER_LAST, &text);
    if (sentence != NULL && tied == 1) {
        sentence->unit = (long)last;
    }
    for (size_t u = 0; u < units; u++) {
        if (seen[u].n > 0) {
            bl_answer_evidence(sentence, bl_answer_unit(a, u, name),
                               seen[u].median_s, seen[u].u_s, "s");
        }
    }
}

static void one_group(struct bl_answering *a, const struct group *group)
{
    const size_t units = a->input->trial->units;
    struct seen *seen = bl_answer_per_unit(a, sizeof(*seen));
    const size_t last = a->failed ? units : medians(a, group, seen);
    for (size_t u = 0; last < units && u < units; u++) {
        seen[u].tied =
            u == last || (seen[u].n > 0 && !is_later(a, group, last, u));
    }
    if (last < units && !a->failed) {
        say(a, group, seen, last);
    }
    bl_free(seen);
}

/* Did a unit of `combination` respond in an application of this kind and shape
   in any run that is not a reference? */
static bool any_response(const struct bl_answering *a,
                         const struct group *group)
{
    const struct bl_trial *trial = a->input->trial;
    for (size_t r = 0; r < trial->runs; r++) {
        const struct bl_run_lag *lag = a->input->run[r].lag;
        const struct group here = {bl_answer_condition(a, r),
                                   group->combination, group->kind,
                                   group->shape};
        for (size_t i = 0; lag != NULL && !bl_answer_is_reference(a, r) &&
                           i < lag->applications;
             i++) {
            const struct bl_application *application = &lag->application[i];
            for (size_t u = 0;
                 in_group(a, &here, r, application) && u < trial->units; u++) {
                if (response_of(application, u) != NULL) {
                    return true;
                }
            }
        }
    }
    return false;
}

/* The hardest kind that gave a response, steps before ramps. */
static bool hardest(const struct bl_answering *a, struct group *group)
{
    size_t place = 0;
    while (bl_answer_next_kind(&place, &group->kind, &group->shape)) {
        if (any_response(a, group)) {
            return true;
        }
    }
    return false;
}

static void conditions(struct bl_answering *a, struct group *group)
{
    size_t place = 0;
    size_t run;
    while (bl_answer_next_condition(a, &place, &run)) {
        group->condition = bl_answer_condition(a, run);
        one_group(a, group);
    }
}

/* Nothing responded: does anything else tell where the command went? */
static void without_response(struct bl_answering *a)
{
    const struct bl_trial *trial = a->input->trial;
    bool any = false;
    bool wired = false;
    bool *arrived = bl_answer_per_unit(a, sizeof(*arrived));
    for (size_t r = 0; arrived != NULL && r < trial->runs; r++) {
        const struct bl_run_lag *lag = a->input->run[r].lag;
        for (size_t i = 0; lag != NULL && i < lag->applications; i++) {
            const struct bl_application *application = &lag->application[i];
            any = true;
            for (size_t u = 0; u < application->units; u++) {
                arrived[application->unit[u].unit] |=
                    application->unit[u].figure[BL_FIGURE_DEMAND_ARRIVAL].known;
            }
        }
    }
    size_t count = 0;
    for (size_t u = 0; arrived != NULL && u < trial->units; u++) {
        count += arrived[u];
        wired = wired || trial->unit[u].outputs > 0;
    }
    struct bl_strbuf text = {0};
    char name[BL_ANSWER_UNIT];
    size_t n = 0;
    for (size_t u = 0; count > 0 && u < trial->units; u++) {
        if (arrived[u]) {
            bl_strbuf_text(&text, n == 0 ? "The electronic demand was seen to "
                                           "arrive at "
                                         : bl_answer_between(n, count));
            bl_strbuf_text(&text, bl_answer_unit(a, u, name));
            n++;
        }
    }
    if (any && count == 0) {
        bl_strbuf_text(&text, wired ? "No first air could be timed"
                                    : "The recordings hold the command only: "
                                      "what the units made of it was not "
                                      "recorded");
    }
    bl_free(arrived);
    if (any && !a->failed) {
        bl_strbuf_text(&text, ".");
        (void)bl_answer_say(a, BL_ANSWER_LAST, &text);
    }
}

void bl_answer_last(struct bl_answering *a)
{
    const struct bl_trial *trial = a->input->trial;
    bool any = false;
    for (size_t u = 0; u < trial->units; u++) {
        struct group group = {.combination = trial->unit[u].combination};
        bool before = false;
        for (size_t k = 0; k < u; k++) {
            before = before || trial->unit[k].combination == group.combination;
        }
        if (!before && hardest(a, &group)) {
            any = true;
            conditions(a, &group);
        }
    }
    if (!any && !a->failed) {
        without_response(a);
    }
}
