/* SPDX-License-Identifier: MIT */
/*
 * The command is compared before anything that follows it. In a chain that
 * answers more to more pressure and never looks ahead, a command that reaches
 * each of its levels up to d later makes every unit later by nothing to d: so
 * much of a difference to earlier runs may be the foot's.
 */
#include "study/causes/causes.h"

#include <math.h>

/* As the comparison of conditions has them (compare/commanded.c): feet agree no
   better than 5 ms; k = 2. */
static const double least_move_s = 0.005, covers = 2;
/* The whole rise or fall, of a straight one that is read at 75 % of it, or
   from 90 to 10 %. */
static const double whole_rise = 1 / 0.75, whole_fall = 1 / 0.8;

struct side {
    double *value, u;
    size_t n;
};

static void put(struct side *to, const struct bl_application *at, bool release)
{
    const struct bl_figure *from =
        release ? &at->own[BL_FIGURE_RELEASE_START] : NULL;
    const struct bl_figure *end =
        &at->own[release ? BL_FIGURE_RELEASE_10 : BL_FIGURE_APPLY_75];
    if (at->excluded || !end->known || (from != NULL && !from->known)) {
        return;
    }
    to->u = fmax(to->u, hypot(end->u_s, from == NULL ? 0 : from->u_s));
    to->value[to->n++] = end->s - (from == NULL ? 0 : from->s);
}

/* Middle and its u. */
static double middle_of(struct side *side, double *u)
{
    double scatter;
    const double middle = bl_causes_middle(side->value, side->n, &scatter);
    *u = 1.2533 * fmax(scatter, side->u) / sqrt((double)side->n);
    return middle;
}

double bl_causes_rise_apart(const struct bl_causing *c, const size_t run[2],
                            char combination, size_t group, double *u_s)
{
    struct side side[2] = {{c->room[0], 0, 0}, {c->room[1], 0, 0}};
    double u[2];
    double s[2];
    for (size_t i = 0; i < 2; i++) {
        const struct bl_run_lag *lag = c->run[run[i]].lag;
        for (size_t a = 0; lag != NULL && a < lag->applications; a++) {
            const struct bl_application *at = &lag->application[a];
            if (at->combination == combination &&
                bl_trait_group(at->kind, at->shape) == group) {
                put(&side[i], at, false);
            }
        }
        if (side[i].n == 0) {
            return NAN;
        }
        s[i] = middle_of(&side[i], &u[i]);
    }
    *u_s = whole_rise * hypot(u[0], u[1]);
    return whole_rise * (s[0] - s[1]);
}

struct bl_pedal_move bl_causes_pedal(const struct bl_causing *c, size_t run,
                                     char combination, size_t group,
                                     bool release)
{
    struct side now = {c->room[0], 0, 0};
    struct side before = {c->room[1], 0, 0};
    struct bl_pedal_move out = {false, NAN, NAN, NAN, 0};
    for (size_t r = 0; r <= run; r++) {
        const struct bl_run_lag *lag = c->run[r].lag;
        for (size_t a = 0; bl_causes_like(c, r, run) && a < lag->applications;
             a++) {
            const struct bl_application *at = &lag->application[a];
            if (at->combination == combination &&
                bl_trait_group(at->kind, at->shape) == group) {
                put(r == run ? &now : &before, at, release);
            }
        }
    }
    if (now.n == 0 || before.n == 0) {
        return out;
    }
    double u[2];
    out.now_s = middle_of(&now, &u[0]);
    out.before_s = middle_of(&before, &u[1]);
    out.u_s = hypot(u[0], u[1]);
    const double by = fabs(out.now_s - out.before_s);
    out.differs = by > covers * out.u_s && by > least_move_s;
    out.explains_s = out.differs ? (release ? whole_fall : whole_rise) * by : 0;
    return out;
}
