/* SPDX-License-Identifier: MIT */
/*
 * Which shift pairs few presses and releases, by likelihood. Under a shift each
 * event of one side either has its partner on the other, a little off, or it is
 * clutter; an event that the other recorder should have seen and did not costs.
 * Releases come a common, unknown time later on the side of the air: they say
 * which shift it is, presses alone measure it. A shift is taken at odds of 1000
 * to 1 against all others and against unrelated lists together, with at least
 * four events paired; and never where presses alone would fit another shift as
 * well (even pauses), whatever is missing there.
 */
#include "clock/signed.h"

#include "base/alloc.h"
#include "brakelag/stats.h"

#include <math.h>

/* Own choices, on the side of refusing. An event is seen nine times in ten; air
   comes back up to 1.5 s later than it is let go, and 30 ms differently from
   stroke to stroke; presses pair within four standard deviations, of 3 ms at
   least; two presses 30 ms off fit another shift. */
static const double SEEN = 0.9, LATEST_S = 1.5;
static const double RELEASE_S = 0.030, PRESS_LEAST_S = 0.003;
static const double WITHIN = 4, EVEN_S = 0.030;
static const double ODDS = 1000;
/* Two presses have one pause, and one pause shows nothing of whether pauses are
   even. */
enum { LEAST_EVENTS = 4, LEAST_PRESSES = 3, PRIOR_DOF = 4 };
/* Drift is not fitted from few events: 100 ppm either way, as a rectangle
   (common practice for two crystals). */
static const double DRIFT = 100e-6;
static const double ROOT_TWO_PI = 2.5066282746310002;
/* Of k = 2. */
static const double UPPER = 0.975;

struct paired {
    size_t a[BL_SIGNED_MOST], b[BL_SIGNED_MOST];
    size_t count;
};

/* One supposed shift and what it pairs. */
struct shift {
    double at, later; /* presses; releases come so much later still */
    struct paired on, off;
    double log_likelihood;
};

struct fewer {
    const struct bl_signed_events *a, *b;
    double press_s, even_s, range_s;
};

/* Pair what lies within `most` of the shift, each once, nearest first come. */
static void pair_up(struct paired *out, const double *a, size_t na,
                    const double *b, size_t nb, const double shift[2])
{
    const double most = shift[1];
    size_t i = 0;
    size_t k = 0;
    out->count = 0;
    while (i < na && k < nb) {
        const double off = b[k] - a[i] - shift[0];
        if (off > most) {
            i++;
        } else if (off < -most) {
            k++;
        } else {
            out->a[out->count] = i++;
            out->b[out->count++] = k++;
        }
    }
}

static double mean_off(const struct paired *p, const double *a, const double *b)
{
    double sum = 0;
    for (size_t i = 0; i < p->count; i++) {
        sum += b[p->b[i]] - a[p->a[i]];
    }
    return sum / (double)p->count;
}

/* Events of a side that the other recorded at, by this shift. */
static size_t inside(const double *value, size_t n, double low, double high)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        count += value[i] >= low && value[i] <= high;
    }
    return count;
}

/* Log of the likelihood of paired events over that of clutter. */
static double of_pairs(const struct paired *p, const double *a, const double *b,
                       const double shift_sd[2], double rate)
{
    double sum = 0;
    for (size_t i = 0; i < p->count; i++) {
        const double z = (b[p->b[i]] - a[p->a[i]] - shift_sd[0]) / shift_sd[1];
        sum += log(SEEN / (rate * shift_sd[1] * ROOT_TWO_PI)) - 0.5 * z * z;
    }
    return sum;
}

/* What should have been seen and was not, on both sides. */
static double of_missing(const struct paired *p, const double *a, size_t na,
                         const double *b, size_t nb, const double window[4])
{
    const size_t mine = inside(a, na, window[0], window[1]);
    const size_t theirs = inside(b, nb, window[2], window[3]);
    const size_t lost = (mine > p->count ? mine - p->count : 0) +
                        (theirs > p->count ? theirs - p->count : 0);
    return (double)lost * log(1 - SEEN);
}

/* Releases under this shift: the common delay that pairs most of them best. */
static void find_releases(const struct fewer *f, struct shift *s)
{
    const struct bl_signed_events *a = f->a;
    const struct bl_signed_events *b = f->b;
    double best = INFINITY;
    for (size_t i = 0; i < a->offs; i++) {
        for (size_t k = 0; k < b->offs; k++) {
            const double later = b->off[k] - a->off[i] - s->at;
            struct paired p;
            if (later < -LATEST_S || later > LATEST_S) {
                continue;
            }
            pair_up(&p, a->off, a->offs, b->off, b->offs,
                    (const double[2]){s->at + later, WITHIN * RELEASE_S});
            const double mean = mean_off(&p, a->off, b->off);
            double squares = 0;
            for (size_t j = 0; j < p.count; j++) {
                const double off = b->off[p.b[j]] - a->off[p.a[j]] - mean;
                squares += off * off;
            }
            if (p.count > s->off.count ||
                (p.count == s->off.count && squares < best)) {
                best = squares;
                s->off = p;
                s->later = mean - s->at;
            }
        }
    }
}

static double rate_of(size_t events, const struct bl_signed_events *side)
{
    return fmax(1, (double)events) / fmax(1, side->to_s - side->from_s);
}

/* The likelihood of one shift over that of unrelated lists, with what is known
   of the shift and of the delay of releases beforehand. */
static void judge(const struct fewer *f, struct shift *s)
{
    const struct bl_signed_events *a = f->a;
    const struct bl_signed_events *b = f->b;
    pair_up(&s->on, a->on, a->ons, b->on, b->ons,
            (const double[2]){s->at, WITHIN * f->press_s});
    s->log_likelihood = -INFINITY;
    if (s->on.count == 0) {
        return;
    }
    s->at = mean_off(&s->on, a->on, b->on);
    find_releases(f, s);
    const double window[4] = {
        fmax(a->from_s, b->from_s - s->at), fmin(a->to_s, b->to_s - s->at),
        fmax(b->from_s, a->from_s + s->at), fmin(b->to_s, a->to_s + s->at)};
    const double n = (double)s->on.count;
    double sum =
        of_pairs(&s->on, a->on, b->on, (const double[2]){s->at, f->press_s},
                 rate_of(b->ons, b)) +
        of_missing(&s->on, a->on, a->ons, b->on, b->ons, window) +
        log(f->press_s * ROOT_TWO_PI / sqrt(n) / f->range_s);
    if (s->off.count > 0) {
        const double m = (double)s->off.count;
        sum += of_pairs(&s->off, a->off, b->off,
                        (const double[2]){s->at + s->later, RELEASE_S},
                        rate_of(b->offs, b)) +
               log(RELEASE_S * ROOT_TWO_PI / sqrt(m) / (2 * LATEST_S));
    }
    sum += of_missing(&s->off, a->off, a->offs, b->off, b->offs, window);
    s->log_likelihood = sum;
}

/* Would two presses fit another shift nearly as well? Then the pauses are even
   there, and what is missing would decide. */
static bool fits_elsewhere(const struct fewer *f, const struct shift *best,
                           double *other)
{
    const struct bl_signed_events *a = f->a;
    const struct bl_signed_events *b = f->b;
    for (size_t i = 0; i < a->ons; i++) {
        for (size_t k = 0; k < b->ons; k++) {
            const double one = b->on[k] - a->on[i];
            for (size_t j = i + 1; j < a->ons; j++) {
                for (size_t l = k + 1; l < b->ons; l++) {
                    const double two = b->on[l] - a->on[j];
                    const double at = 0.5 * (one + two);
                    if (fabs(one - two) <= f->even_s &&
                        fabs(at - best->at) > f->even_s) {
                        *other = at;
                        return true;
                    }
                }
            }
        }
    }
    return false;
}

/* Neighbouring pauses of one list that are alike, or one twice the other as
   where a press was missed: who counts goes on counting, and what the other
   side missed would decide. */
static bool counted(const double *on, size_t n, double even_s)
{
    for (size_t i = 0; i + 2 < n; i++) {
        const double one = on[i + 1] - on[i];
        const double two = on[i + 2] - on[i + 1];
        if (fabs(one - two) <= even_s || fabs(one - 2 * two) <= even_s ||
            fabs(two - 2 * one) <= even_s) {
            return true;
        }
    }
    return false;
}

/* Best shift, and the log of the odds against all others and none. */
static void search(const struct fewer *f, struct shift *best, double *log_odds)
{
    double others = 0; /* unrelated lists: 1, in logs relative to `best` */
    best->log_likelihood = -INFINITY;
    for (int pass = 0; pass < 2; pass++) {
        others = exp(-best->log_likelihood);
        double last = -INFINITY;
        for (size_t i = 0; i < f->a->ons; i++) {
            for (size_t k = 0; k < f->b->ons; k++) {
                struct shift s = {.at = f->b->on[k] - f->a->on[i]};
                judge(f, &s);
                if (pass == 0 && s.log_likelihood > best->log_likelihood) {
                    *best = s;
                }
                const bool apart =
                    fabs(s.at - best->at) > WITHIN * f->press_s &&
                    fabs(s.at - last) > 1e-9;
                if (pass == 1 && apart) {
                    others += exp(s.log_likelihood - best->log_likelihood);
                    last = s.at;
                }
            }
        }
    }
    *log_odds = -log(others);
}

/* Offset from the presses alone. Scatter as in pair.c: that of the pairs joined
   with what is usual, and Student's factor for what is left. */
static void measure(const struct fewer *f, const struct shift *best,
                    const struct bl_pair_options *o, struct bl_pair_result *r)
{
    const double n = (double)best->on.count;
    double squares = 0;
    double centre = 0;
    for (size_t i = 0; i < best->on.count; i++) {
        const double at = f->a->on[best->on.a[i]];
        const double off = f->b->on[best->on.b[i]] - at - best->at;
        squares += off * off;
        centre += at / n;
        r->residual[r->residuals++] = (struct bl_clock_residual){at, off, true};
    }
    const double dof = PRIOR_DOF + n - 1;
    const double sd =
        sqrt((PRIOR_DOF * o->u_event_s * o->u_event_s + squares) / dof);
    const double k =
        bl_student_quantile(UPPER, dof) / bl_normal_quantile(UPPER);
    r->pairs = best->on.count;
    r->releases = best->off.count;
    r->centre_s = centre;
    r->offset_s = best->at;
    r->drift = 0;
    r->u_offset_s = k * sd / sqrt(n);
    r->u_drift = DRIFT / sqrt(3.0);
    r->residual_s = sqrt(squares / n);
    r->first_s = f->a->on[best->on.a[0]];
    r->last_s = f->a->on[best->on.a[best->on.count - 1]];
}

enum bl_status bl_clock_pair_signed(const struct bl_signed_events *a,
                                    const struct bl_signed_events *b,
                                    const struct bl_pair_options *options,
                                    struct bl_pair_result *result,
                                    struct bl_error *error)
{
    (void)error;
    *result = (struct bl_pair_result){.outcome = BL_PAIR_TOO_FEW};
    if (a->ons < LEAST_PRESSES || b->ons < LEAST_PRESSES ||
        a->ons > BL_SIGNED_MOST || b->ons > BL_SIGNED_MOST ||
        a->offs > BL_SIGNED_MOST || b->offs > BL_SIGNED_MOST) {
        return BL_OK;
    }
    const double press_s = fmax(PRESS_LEAST_S, options->u_event_s);
    const struct fewer f = {
        .a = a,
        .b = b,
        .press_s = press_s,
        .even_s = fmax(EVEN_S, WITHIN * sqrt(2.0) * press_s),
        .range_s = fmax(1, a->to_s - a->from_s) + fmax(1, b->to_s - b->from_s)};
    struct shift best = {.at = 0};
    double log_odds = 0;
    search(&f, &best, &log_odds);
    if (best.on.count < LEAST_PRESSES ||
        best.on.count + best.off.count < LEAST_EVENTS) {
        result->pairs = best.on.count;
        return BL_OK;
    }
    measure(&f, &best, options, result);
    result->odds = exp(fmin(log_odds, 700));
    if (fits_elsewhere(&f, &best, &result->other_offset_s)) {
        result->other_pairs = 2;
        result->outcome = BL_PAIR_AMBIGUOUS;
    } else if (counted(a->on, a->ons, f.even_s) ||
               counted(b->on, b->ons, f.even_s)) {
        result->period_s =
            (result->last_s - result->first_s) / (double)(result->pairs - 1);
        result->outcome = BL_PAIR_AMBIGUOUS;
    } else {
        result->outcome = result->odds >= ODDS ? BL_PAIR_TIED : BL_PAIR_CHANCE;
    }
    return BL_OK;
}
