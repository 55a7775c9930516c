/* SPDX-License-Identifier: MIT */
/*
 * A rule asks for the time at its own pressure, which a trial need not have
 * measured. Pressure rises (or falls) through all levels in turn, so the time
 * lies between those of the measured levels below and above it.
 */
#include "study/limits/evidence.h"
#include "study/limits/judge.h"

#include "base/psi.h"

#include <math.h>

#define RELEASED_KPA (5 * BL_PSI_KPA) /* what published rules ask for */
/* Levels this near count as the rule's own: trials write 414 kPa for 60 psi. */
#define SAME_KPA 1.0

static void take(struct bl_evidence *out, double asked_kpa, double level_kpa,
                 const struct bl_figure *figure, bool rising)
{
    if (!figure->known || isnan(level_kpa)) {
        return;
    }
    const double past = rising ? level_kpa - asked_kpa : asked_kpa - level_kpa;
    if (past >= -SAME_KPA && !(figure->s >= out->high)) {
        out->high = figure->s;
        out->u_high = figure->u_s;
    }
    if (past <= SAME_KPA && !(figure->s <= out->low)) {
        out->low = figure->s;
        out->u_low = figure->u_s;
    }
}

/* The pressure of a share of the hold above rest; NaN where not known. */
static double share_kpa(const struct bl_unit_lag *unit, double share)
{
    if (!unit->hold.known || !unit->rest.known ||
        unit->hold.quantity != BL_QUANTITY_PRESSURE) {
        return NAN;
    }
    return unit->rest.value + share * (unit->hold.value - unit->rest.value);
}

static double above_rest_kpa(const struct bl_trial *trial,
                             const struct bl_unit_lag *unit)
{
    return unit->rest.known ? unit->rest.value + trial->response_at_kpa : NAN;
}

/* All figures of one side: each gives a time at a pressure. */
static void side(struct bl_evidence *out, const struct bl_trial *trial,
                 const struct bl_unit_lag *unit, enum bl_figure_side which,
                 double asked_kpa)
{
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *entry = bl_figure_entry(i);
        if (entry->side == which &&
            (entry->at == BL_AT_HOLD || entry->at == BL_AT_RESPONSE_AT)) {
            take(out, asked_kpa,
                 entry->at == BL_AT_HOLD ? share_kpa(unit, entry->share)
                                         : above_rest_kpa(trial, unit),
                 &unit->figure[i], which == BL_SIDE_APPLY);
        }
    }
}

static void apply(struct bl_evidence *out, const struct bl_trial *trial,
                  const struct bl_unit_lag *unit)
{
    if (isnan(out->most_kpa)) {
        return;
    }
    const double asked = bl_limit_apply_kpa(out->most_kpa);
    side(out, trial, unit, BL_SIDE_APPLY, asked);
    for (size_t i = 0; unit->level != NULL && i < trial->levels; i++) {
        take(out, asked, trial->level_kpa[i], &unit->level[i], true);
    }
}

/* Steady at both couplings: while the pressure still moves, the line between
   them fills, and the rule looks at what then stays. */
static void loss(struct bl_evidence *out,
                 const struct bl_published_limit *limit,
                 const struct bl_application *application, size_t unit)
{
    const struct bl_level *front = &application->unit[unit].control_hold;
    const struct bl_level *rear = &application->unit[unit + 1].control_hold;
    double lost = fabs(front->value - rear->value);
    double u = hypot(front->u, rear->u);
    if (limit->unit[0] == '%') {
        lost *= 100 / front->value;
        u *= 100 / front->value;
    }
    *out = (struct bl_evidence){lost, u, lost, u, front->value, false};
}

bool bl_evidence_asked(const struct bl_published_limit *limit,
                       const struct bl_application *application, size_t unit)
{
    if (application->excluded || limit->by == BL_LIMIT_BY_NOTHING) {
        return false;
    }
    const struct bl_unit_lag *measured = &application->unit[unit];
    if (limit->by != BL_LIMIT_BY_LOSS) {
        return application->kind == BL_KIND_FULL &&
               application->shape == BL_SHAPE_STEP &&
               measured->responded != BL_UNKNOWN;
    }
    /* Only from one coupling to the next one: units without either channel
       between them would be counted as one. */
    return unit + 1 < application->units &&
           application->unit[unit + 1].unit == measured->unit + 1 &&
           measured->control_hold.known &&
           application->unit[unit + 1].control_hold.known &&
           measured->control_hold.quantity == BL_QUANTITY_PRESSURE &&
           bl_limit_of_loss(measured->control_hold.value) == limit;
}

void bl_evidence_of(struct bl_evidence *out,
                    const struct bl_published_limit *limit,
                    const struct bl_trial *trial,
                    const struct bl_application *application, size_t unit)
{
    const struct bl_unit_lag *measured = &application->unit[unit];
    *out =
        (struct bl_evidence){NAN, NAN, NAN, NAN, share_kpa(measured, 1), false};
    switch (limit->by) {
    case BL_LIMIT_BY_APPLY_75:
        if (measured->figure[BL_FIGURE_FILLED].known) {
            out->low = out->high = measured->figure[BL_FIGURE_FILLED].s;
            out->u_low = out->u_high = measured->figure[BL_FIGURE_FILLED].u_s;
        } else if (measured->figure[BL_FIGURE_FILLED].bounded) {
            out->low = measured->figure[BL_FIGURE_FILLED].later_than_s;
            out->u_low = measured->figure[BL_FIGURE_FILLED].u_later_s;
            out->is_bound = true;
        }
        break;
    case BL_LIMIT_BY_APPLY:
        apply(out, trial, measured);
        break;
    case BL_LIMIT_BY_RELEASE:
        side(out, trial, measured, BL_SIDE_RELEASE, RELEASED_KPA);
        break;
    case BL_LIMIT_BY_LOSS:
        loss(out, limit, application, unit);
        break;
    case BL_LIMIT_BY_NOTHING:
        break;
    }
}
