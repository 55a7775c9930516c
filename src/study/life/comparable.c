/* SPDX-License-Identifier: MIT */
/*
 * Which visits can be compared with the last one, and what the facts that
 * differ between them make: recorded ones as a shared covariance, others as an
 * allowance. docs/methods/life.md, "What makes visits comparable".
 */
#include "study/life/frame.h"

#include "study/life/rules.h"

#include <math.h>
#include <string.h>

static bool said(const char *text)
{
    return text != NULL && *text != '\0';
}

static bool same(const char *a, const char *b)
{
    return said(a) ? said(b) && strcmp(a, b) == 0 : !said(b);
}

/* What keeps two visits from being compared; BL_LIFE_FACTS: nothing does. */
static enum bl_life_fact kept_apart(const struct bl_life *life,
                                    const struct bl_life_value *now,
                                    const struct bl_life_value *then)
{
    if (!same(now->position, then->position)) {
        return BL_LIFE_FACT_POSITION;
    }
    return same(life->visit[now->visit].command,
                life->visit[then->visit].command)
               ? BL_LIFE_FACTS
               : BL_LIFE_FACT_COMMAND;
}

static void choose(struct bl_life_frame *frame, struct bl_life_row *row,
                   const struct bl_life *life,
                   const struct bl_life_series *series)
{
    size_t last = series->values;
    while (last > 0 && isnan(series->value[last - 1].value)) {
        last--;
    }
    size_t alike = 0;
    row->lefts = 0;
    for (size_t i = 0; i < last; i++) {
        const struct bl_life_value *then = &series->value[i];
        if (isnan(then->value)) {
            continue;
        }
        const enum bl_life_fact why =
            kept_apart(life, &series->value[last - 1], then);
        if (why == BL_LIFE_FACTS) {
            alike++;
        } else {
            row->left[row->lefts++] =
                (struct bl_life_left){.visit = then->visit, .why = why};
        }
    }
    row->older =
        alike > BL_LIMIT_LIFE_VISITS ? alike - BL_LIMIT_LIFE_VISITS : 0;
    frame->n = 0;
    size_t passed = 0;
    for (size_t i = 0; i < last; i++) {
        const struct bl_life_value *then = &series->value[i];
        if (!isnan(then->value) &&
            kept_apart(life, &series->value[last - 1], then) == BL_LIFE_FACTS &&
            passed++ >= row->older) {
            frame->value[frame->n++] = i;
        }
    }
}

/* A recorded fact of which `whole` is the most it makes; NaN where it was not
   recorded, and `any` then is what it may have made. */
static void take_fact(struct bl_life_frame *frame, enum bl_life_fact fact,
                      const double *whole, double any)
{
    double sum = 0;
    double count = 0;
    for (size_t i = 0; i < frame->n; i++) {
        if (isfinite(whole[i])) {
            sum += whole[i];
            count++;
        }
    }
    double off[BL_LIMIT_LIFE_VISITS];
    for (size_t i = 0; i < frame->n; i++) {
        off[i] = isfinite(whole[i]) ? whole[i] - sum / count : 0;
        frame->y[i] -= 0.5 * off[i];
        frame->any[fact][i] += isfinite(whole[i]) ? 0 : any;
    }
    for (size_t i = 0; i < frame->n; i++) {
        for (size_t k = 0; k < frame->n; k++) {
            frame->shared[i][k] += off[i] * off[k] / 12;
        }
    }
}

/* A time that goes with 1 / x at most: what it makes of the mean value. */
static void inverse(double *whole, size_t n, double mean_value, double zero)
{
    double sum = 0;
    double count = 0;
    for (size_t i = 0; i < n; i++) {
        if (isfinite(whole[i])) {
            sum += whole[i] - zero;
            count++;
        }
    }
    for (size_t i = 0; i < n; i++) {
        whole[i] = -mean_value * (whole[i] - zero) / (sum / count);
    }
}

static void air(struct bl_life_frame *frame, const struct bl_life *life,
                const struct bl_life_series *series)
{
    double supply[BL_LIMIT_LIFE_VISITS];
    double warmth[BL_LIMIT_LIFE_VISITS];
    double mean = 0;
    for (size_t i = 0; i < frame->n; i++) {
        const struct bl_life_value *value = &series->value[frame->value[i]];
        supply[i] = life->visit[value->visit].supply_kpa;
        warmth[i] = life->visit[value->visit].temperature_c;
        mean += value->value / (double)frame->n;
    }
    inverse(supply, frame->n, mean, -BL_LIFE_ATMOSPHERE_KPA);
    inverse(warmth, frame->n, mean, -BL_LIFE_ZERO_C);
    take_fact(frame, BL_LIFE_FACT_SUPPLY, supply,
              fabs(mean) * BL_LIFE_ANY_SUPPLY_KPA /
                  (BL_LIFE_USUAL_SUPPLY_KPA + BL_LIFE_ATMOSPHERE_KPA));
    take_fact(frame, BL_LIFE_FACT_TEMPERATURE, warmth,
              fabs(mean) * BL_LIFE_ANY_TEMPERATURE_K /
                  (BL_LIFE_USUAL_TEMPERATURE_C + BL_LIFE_ZERO_C));
}

/* Without units in front there are no kinds to record. */
static bool kinds_known(const struct bl_life_visit *visit)
{
    return said(visit->kinds_in_front) || visit->units_in_front == 0;
}

/* How many units stood in front, and which: of equal number but other kinds,
   as one more or less. */
static void in_front(struct bl_life_frame *frame, const struct bl_life *life,
                     const struct bl_life_series *series)
{
    const double each =
        series->by_air ? BL_LIFE_FRONT_AIR_S : BL_LIFE_FRONT_DATA_S;
    double whole[BL_LIMIT_LIFE_VISITS] = {0};
    const struct bl_life_visit *visit[BL_LIMIT_LIFE_VISITS];
    for (size_t i = 0; i < frame->n; i++) {
        visit[i] = &life->visit[series->value[frame->value[i]].visit];
        whole[i] = each * visit[i]->units_in_front;
    }
    take_fact(frame, BL_LIFE_FACT_IN_FRONT, whole, BL_LIFE_ANY_IN_FRONT * each);
    for (size_t i = 0; i < frame->n; i++) {
        frame->any[BL_LIFE_FACT_IN_FRONT][i] +=
            kinds_known(visit[i]) ? 0 : each;
        for (size_t k = 0; k < frame->n; k++) {
            if (kinds_known(visit[i]) && kinds_known(visit[k]) &&
                same(visit[k]->kinds_in_front, visit[i]->kinds_in_front)) {
                frame->shared[i][k] += each * each / 12;
            }
        }
    }
}

static void rise(struct bl_life_frame *frame,
                 const struct bl_life_series *series)
{
    double whole[BL_LIMIT_LIFE_VISITS] = {0};
    for (size_t i = 0; i < frame->n; i++) {
        whole[i] = series->value[frame->value[i]].command_rise_s;
    }
    take_fact(frame, BL_LIFE_FACT_RISE, whole, BL_LIFE_ANY_RISE_S);
}

/* Stated error of the transducers of visit i: its own, else that of another
   visit with the same ones; NaN: not stated. */
static double stated(const struct bl_life_frame *frame,
                     const struct bl_life_series *series, size_t i)
{
    const struct bl_life_value *own = &series->value[frame->value[i]];
    for (size_t k = 0;
         k < frame->n && isnan(own->u_systematic) && said(own->transducer);
         k++) {
        const struct bl_life_value *other = &series->value[frame->value[k]];
        if (same(own->transducer, other->transducer) &&
            !isnan(other->u_systematic)) {
            return other->u_systematic;
        }
    }
    return own->u_systematic;
}

static void transducers(struct bl_life_frame *frame,
                        const struct bl_life_series *series)
{
    for (size_t i = 0; i < frame->n; i++) {
        const char *name = series->value[frame->value[i]].transducer;
        const double u = stated(frame, series, i);
        frame->unstated[i] = 0;
        if (!said(name)) {
            /* One set before a change and another after it is the worst: as
               independent errors they would average out over the visits. A
               rectangle's half-width is sqrt 3 of its u (GUM 4.3.7). */
            frame->any[BL_LIFE_FACT_TRANSDUCER][i] =
                isnan(u) ? BL_LIFE_ANY_TRANSDUCER_S : sqrt(3.0) * u;
            continue;
        }
        for (size_t k = 0; k <= i; k++) {
            if (!same(name, series->value[frame->value[k]].transducer)) {
                continue;
            }
            if (isnan(u)) {
                frame->unstated[i] = frame->unstated[i] == 0
                                         ? (unsigned)k + 1
                                         : frame->unstated[i];
            } else {
                const double both = u * stated(frame, series, k);
                frame->shared[i][k] += both;
                frame->shared[k][i] += k == i ? 0 : both;
            }
        }
    }
}

/* Visits of one day, from the first of them on, are off together: weather, yard
   and the state of the unit are the same. Each by itself would make the day
   weigh as much as so many days. */
static void days(struct bl_life_frame *frame)
{
    size_t first = 0;
    for (size_t i = 1; i <= frame->n; i++) {
        if (i < frame->n &&
            (frame->year[i] - frame->year[first]) * BL_LIFE_DAYS_A_YEAR <
                BL_LIFE_SPAN_ONE_DAY) {
            continue;
        }
        for (size_t k = first; i - first > 1 && k < i; k++) {
            for (size_t j = first; j < i; j++) {
                frame->shared[k][j] += BL_LIFE_DAY_S * BL_LIFE_DAY_S;
            }
        }
        first = i;
    }
}

void bl_life_compare(struct bl_life_frame *frame, struct bl_life_row *row,
                     const struct bl_life *life,
                     const struct bl_life_series *series)
{
    memset(frame, 0, sizeof(*frame));
    choose(frame, row, life, series);
    if (frame->n == 0) {
        return;
    }
    const double first = life->visit[series->value[frame->value[0]].visit].day;
    for (size_t i = 0; i < frame->n; i++) {
        const struct bl_life_value *value = &series->value[frame->value[i]];
        const struct bl_life_visit *visit = &life->visit[value->visit];
        frame->year[i] = (visit->day - first) / BL_LIFE_DAYS_A_YEAR;
        frame->y[i] = value->value;
        frame->u_random[i] = value->u_random;
        /* Unknown at all of them: nothing can be compared. */
        frame->any[BL_LIFE_FACT_POSITION][i] =
            said(value->position) ? 0 : (double)INFINITY;
        frame->any[BL_LIFE_FACT_COMMAND][i] =
            said(visit->command) ? 0 : (double)INFINITY;
    }
    air(frame, life, series);
    in_front(frame, life, series);
    rise(frame, series);
    transducers(frame, series);
    days(frame);
}

void bl_life_frame_part(struct bl_life_frame *out,
                        const struct bl_life_frame *frame, size_t from,
                        size_t to)
{
    memset(out, 0, sizeof(*out));
    out->n = to - from;
    for (size_t i = 0; i < out->n; i++) {
        out->value[i] = frame->value[from + i];
        out->year[i] = frame->year[from + i] - frame->year[from];
        out->y[i] = frame->y[from + i];
        out->u_random[i] = frame->u_random[from + i];
        /* By the number of the first of them in this part. */
        for (size_t k = 0; frame->unstated[from + i] != 0 && k <= i; k++) {
            if (frame->unstated[from + k] == frame->unstated[from + i]) {
                out->unstated[i] = (unsigned)k + 1;
                break;
            }
        }
        memcpy(out->shared[i], &frame->shared[from + i][from],
               out->n * sizeof(out->shared[i][0]));
        for (size_t fact = 0; fact < BL_LIFE_FACTS; fact++) {
            out->any[fact][i] = frame->any[fact][from + i];
        }
    }
}

double bl_life_allowance(const struct bl_life_frame *frame,
                         const double *weight, unsigned *facts)
{
    /* Of one fact the worst, all its visits together; several facts do not know
       of each other. */
    double squares = 0;
    for (size_t fact = 0; fact < BL_LIFE_FACTS; fact++) {
        double part = 0;
        for (size_t i = 0; i < frame->n; i++) {
            if (weight[i] != 0 && frame->any[fact][i] > 0) {
                part += fabs(weight[i]) * frame->any[fact][i];
            }
        }
        for (unsigned group = 1;
             fact == BL_LIFE_FACT_TRANSDUCER && group <= frame->n; group++) {
            double together = 0;
            double apart = 0;
            for (size_t i = 0; i < frame->n; i++) {
                if (frame->unstated[i] == group) {
                    together += weight[i];
                    apart += fabs(weight[i]);
                }
            }
            /* What cancels leaves rounding. */
            if (fabs(together) > 1e-9 * apart) {
                part += fabs(together) * BL_LIFE_ANY_TRANSDUCER_S;
            }
        }
        squares += part * part;
        *facts |= part > 0 ? 1u << fact : 0;
    }
    return sqrt(squares);
}

double bl_life_variance(const struct bl_life_frame *frame, const double *weight,
                        double variance)
{
    double sum = 0;
    for (size_t i = 0; i < frame->n; i++) {
        sum += weight[i] * weight[i] *
               (variance + frame->u_random[i] * frame->u_random[i]);
        for (size_t k = 0; k < frame->n; k++) {
            sum += weight[i] * weight[k] * frame->shared[i][k];
        }
    }
    return sum;
}
