/* SPDX-License-Identifier: MIT */
/*
 * Simulated lives: a unit that comes to the yard every half year, in another
 * train, with other transducers, at another pressure and temperature. Written
 * for tests only and apart from the method: what a fact does is drawn here by
 * unit, not taken from src/study/life/rules.h. docs/testing.md has what came
 * out.
 */
#ifndef BRAKELAG_TESTS_LIFE_PLANT_H
#define BRAKELAG_TESTS_LIFE_PLANT_H

#include "life_dice.h"

enum {
    LIFE_VISITS = 12,
    LIFE_FIGURES = 8,
    LIFE_SERIES = 4 * LIFE_FIGURES, /* powered and not, light and full */
    LIFE_SETS = 5                   /* sets of transducers in the yard */
};

/* How visits scatter: the law, scaled to a standard deviation of 1. */
enum life_law {
    LIFE_NORMAL,
    LIFE_HEAVY, /* Student's with 4 degrees of freedom */
    LIFE_WILD   /* one visit in twelve is three times as far off */
};

static double life_noise(enum life_law law)
{
    double z = life_normal();
    if (law == LIFE_HEAVY) {
        double squares = 0;
        for (int i = 0; i < 4; i++) {
            squares += pow(life_normal(), 2);
        }
        return z / sqrt(squares / 4) / sqrt(2.0);
    }
    return law == LIFE_WILD ? z * (life_even() < 1.0 / 12 ? 3 : 1) : z;
}

struct life_plan {
    enum life_law law;
    double spread_low_s, spread_high_s; /* between visits; drawn by unit */
    double drift_s;                     /* a year at 75 %; 0: none */
    double step_s;                      /* at visit `step_at` */
    int step_at;                        /* index of the first behind it */
    bool on_release;                    /* it is the release that changes */
    bool moved;  /* at the seventh visit all facts change for good */
    bool unsaid; /* facts, transducers and their errors are not recorded */
};

struct life_unit {
    struct bl_life_visit visit[LIFE_VISITS];
    struct bl_life_value value[LIFE_SERIES][LIFE_VISITS];
    struct bl_life_series series[LIFE_SERIES];
    double planted[LIFE_SERIES]; /* share of drift or step; 0: as it was */
};

static const struct {
    enum bl_figure_name figure;
    double powered_s, air_s; /* of an unit without any in front */
    double share;            /* of what changes at 75 % */
    double of_rise;          /* of the command's own time */
} LIFE_FIGURE[LIFE_FIGURES] = {
    {BL_FIGURE_RISE_START, 0.12, 0.20, 0.20, 0.05},
    {BL_FIGURE_RESPONSE, 0.18, 0.28, 0.35, 0.15},
    {BL_FIGURE_APPLY_10, 0.19, 0.30, 0.40, 0.20},
    {BL_FIGURE_APPLY_75, 0.42, 0.62, 1.00, 0.55},
    {BL_FIGURE_APPLY_90, 0.52, 0.75, 1.15, 0.70},
    {BL_FIGURE_RELEASE_START, 0.15, 0.25, 0.30, 0.20},
    {BL_FIGURE_RELEASE_10, 0.60, 0.85, 1.00, 0.60},
    {BL_FIGURE_RELEASE_END, 0.70, 1.00, 1.15, 0.65},
};

static const char *const LIFE_SET[LIFE_SETS] = {"set 1", "set 2", "set 3",
                                                "set 4", "set 5"};
static const char *const LIFE_FRONT[] = {
    "",
    "prime mover",
    "prime mover, trailer",
    "prime mover, trailer, dolly",
    "prime mover, trailer, dolly, trailer",
    "prime mover, dolly, trailer, trailer"};

/* What moves all figures of one visit. */
struct life_day {
    int front, set;
    double together[2]; /* of apply and release figures, by the law */
    double warm_share, supply_share;
};

static void life_visits(struct life_unit *unit, struct life_day *day,
                        const struct life_plan *plan)
{
    for (int i = 0; i < LIFE_VISITS; i++) {
        day[i].front = (int)life_between(1, 6);
        day[i].set = (int)life_between(0, LIFE_SETS);
        struct bl_life_visit *visit = &unit->visit[i];
        *visit = (struct bl_life_visit){
            .day = 182.625 * i + life_between(-20, 20),
            .supply_kpa = life_between(680, 860),
            .temperature_c = 14 + (i % 2 == 0 ? 9 : -9) + 4 * life_normal(),
            .units_in_front = day[i].front == 5 ? 4 : day[i].front,
            .kinds_in_front = LIFE_FRONT[day[i].front],
            .command = "treadle pressure"};
        if (plan->moved) {
            const bool late = i >= LIFE_VISITS / 2;
            day[i].set = late ? 1 : 0;
            day[i].front = late ? 2 : 1;
            visit->units_in_front = day[i].front;
            visit->kinds_in_front = LIFE_FRONT[day[i].front];
            visit->supply_kpa = late ? 690 : 830;
            visit->temperature_c = late ? 4 : 26;
        }
        day[i].warm_share = (273.15 + visit->temperature_c) / 288.15;
        day[i].supply_share = (visit->supply_kpa + 101.3) / 870;
    }
}

/* One series. How much the facts make of it is the unit's own. */
static void life_series(struct life_unit *unit, int index,
                        const struct life_day *day,
                        const struct life_plan *plan, double spread_s)
{
    const int f = index % LIFE_FIGURES;
    const bool air = index / LIFE_FIGURES % 2 == 1;
    const bool full = index / LIFE_FIGURES / 2 == 1;
    const bool release = f >= 5;
    const double front_s = air ? life_between(0.10, 0.22) : 0.006;
    const double each_kind_s = air ? 0.03 : 0.003;
    const double by_supply = full ? life_between(0, 0.3) : life_between(0.4, 1);
    const double by_warmth = life_between(0.4, 0.8);
    double set_error[LIFE_SETS];
    double kind_error[COUNT_OF(LIFE_FRONT)];
    /* 5 ms half-width of delay, as stated. */
    for (int i = 0; i < LIFE_SETS; i++) {
        set_error[i] = life_between(-0.005, 0.005);
    }
    for (size_t i = 0; i < COUNT_OF(LIFE_FRONT); i++) {
        kind_error[i] = life_between(-each_kind_s, each_kind_s);
    }
    unit->planted[index] =
        release == plan->on_release ? LIFE_FIGURE[f].share : 0;
    for (int i = 0; i < LIFE_VISITS; i++) {
        const double rise_s = life_between(0.10, 0.22);
        double value = (air ? LIFE_FIGURE[f].air_s : LIFE_FIGURE[f].powered_s) *
                       pow(day[i].supply_share, -by_supply) *
                       pow(day[i].warm_share, -by_warmth);
        value += front_s * unit->visit[i].units_in_front +
                 kind_error[day[i].front] + set_error[day[i].set] +
                 LIFE_FIGURE[f].of_rise * rise_s;
        value += unit->planted[index] *
                 (plan->drift_s * unit->visit[i].day / 365.25 +
                  (plan->step_s != 0 && i >= plan->step_at ? plan->step_s : 0));
        value += spread_s * (sqrt(0.5) * day[i].together[release] +
                             sqrt(0.5) * life_noise(plan->law));
        /* Six applications that scatter by 5 ms; their own scatter is what is
           known of it. */
        double sum = 0;
        double squares = 0;
        for (int k = 0; k < 6; k++) {
            const double off = 0.005 * life_normal();
            sum += off;
            squares += off * off;
        }
        unit->value[index][i] = (struct bl_life_value){
            .visit = (size_t)i,
            .value = value + sum / 6,
            .u_random = sqrt((squares - sum * sum / 6) / 5 / 6),
            .u_systematic = 0.005 / sqrt(3.0),
            .command_rise_s = rise_s,
            .position = "chamber, rear axle",
            .transducer = LIFE_SET[day[i].set]};
    }
    unit->series[index] = (struct bl_life_series){
        .key = {.figure = LIFE_FIGURE[f].figure,
                .level_kpa = (double)NAN,
                .condition = air ? "unpowered" : "powered",
                .kind = full ? BL_KIND_FULL : BL_KIND_LIGHT,
                .shape = BL_SHAPE_STEP},
        .by_air = air,
        .value = unit->value[index],
        .values = LIFE_VISITS};
}

static void life_make(struct life_unit *unit, const struct life_plan *plan,
                      uint64_t seed)
{
    life_state = seed;
    memset(unit, 0, sizeof(*unit));
    struct life_day day[LIFE_VISITS];
    life_visits(unit, day, plan);
    for (int i = 0; i < LIFE_VISITS; i++) {
        day[i].together[0] = life_noise(plan->law);
        day[i].together[1] = life_noise(plan->law);
    }
    const double spread_s =
        life_between(plan->spread_low_s, plan->spread_high_s);
    for (int i = 0; i < LIFE_SERIES; i++) {
        life_series(unit, i, day, plan, spread_s);
    }
    for (int i = 0; i < LIFE_SERIES; i++) {
        for (int k = 0; plan->unsaid && k < LIFE_VISITS; k++) {
            unit->value[i][k].u_systematic = (double)NAN;
            unit->value[i][k].command_rise_s = (double)NAN;
            unit->value[i][k].transducer = NULL;
        }
        const bool changes = plan->drift_s != 0 || plan->step_s != 0;
        unit->planted[i] = changes ? unit->planted[i] : 0;
    }
    for (int k = 0; plan->unsaid && k < LIFE_VISITS; k++) {
        unit->visit[k].supply_kpa = unit->visit[k].temperature_c =
            unit->visit[k].units_in_front = (double)NAN;
        unit->visit[k].kinds_in_front = NULL;
    }
}

/* The life as it stood after so many visits. */
static struct bl_lives *life_look(struct life_unit *unit, size_t visits)
{
    for (int i = 0; i < LIFE_SERIES; i++) {
        unit->series[i].values = visits;
    }
    struct bl_error error;
    bl_error_clear(&error);
    struct bl_lives *lives =
        bl_life_create(&(const struct bl_life){.visit = unit->visit,
                                               .visits = visits,
                                               .series = unit->series,
                                               .series_count = LIFE_SERIES},
                       NULL, &error);
    if (lives == NULL) {
        print_error("%s\n", error.message);
    }
    assert_non_null(lives);
    return lives;
}

/* Counts over many lives. */
struct life_count {
    int units, drifts, steps;    /* units with such a plan */
    int drift_units, step_units; /* found in any figure; of drifts by the
                                    sixth visit, of steps three behind it */
    /* 75 % (release: 10 %) of these; powered, by air */
    int drift_series[2], drift_found[2];
    int drift_called[2]; /* and called a drift */
    int step_series[2], step_found[2], step_called[2], step_placed[2];
    int last_series, last_found, last_open; /* drifts at the last visit: found,
                                               cannot be told */
    int false_units;                        /* a trend where none was planted */
    int false_at[LIFE_VISITS + 1];          /* first at so many visits */
    int apart_units;         /* the first or last visit called apart, wrongly */
    long covered, intervals; /* drift within its interval */
    bool wrong, apart;       /* of the unit that is being counted */
};

static bool life_leading(const struct life_unit *unit, int index)
{
    return unit->planted[index] == 1;
}

static inline void life_count_look(struct life_count *count,
                                   const struct life_unit *unit,
                                   const struct life_plan *plan,
                                   const struct bl_lives *lives, size_t visits)
{
    const bool step_seen =
        plan->step_s != 0 && (int)visits == plan->step_at + 3;
    bool any = false;
    for (int i = 0; i < LIFE_SERIES; i++) {
        const struct bl_life_row *row = &lives->row[i];
        const bool trend = life_is_trend(row->verdict);
        const bool air = unit->series[i].by_air;
        const bool planted =
            unit->planted[i] != 0 &&
            (plan->drift_s != 0 || (int)visits > plan->step_at);
        if (!planted) {
            count->wrong = count->wrong || trend;
            count->apart = count->apart || row->verdict == BL_LIFE_LAST_APART ||
                           row->verdict == BL_LIFE_FIRST_APART;
            continue;
        }
        any = any || trend;
        if (plan->drift_s != 0 && visits == 6 && life_leading(unit, i)) {
            count->drift_series[air]++;
            count->drift_found[air] += trend;
            count->drift_called[air] += row->verdict == BL_LIFE_DRIFT;
        }
        if (plan->drift_s != 0 && visits == LIFE_VISITS &&
            life_leading(unit, i)) {
            count->last_series++;
            count->last_found += trend;
            count->last_open += row->verdict == BL_LIFE_CANNOT_TELL;
        }
        if (step_seen && life_leading(unit, i)) {
            count->step_series[air]++;
            count->step_found[air] += trend;
            count->step_called[air] += row->verdict == BL_LIFE_STEP;
            count->step_placed[air] += row->verdict == BL_LIFE_STEP &&
                                       (int)row->step_at == plan->step_at;
        }
        if (plan->drift_s != 0 && visits >= 5 && row->drift.known) {
            const double truth = plan->drift_s * unit->planted[i];
            count->intervals++;
            count->covered +=
                row->drift.low <= truth && truth <= row->drift.high;
        }
    }
    count->drift_units += plan->drift_s != 0 && visits == 6 && any;
    count->step_units += step_seen && any;
}

static inline void life_count_unit(struct life_count *count,
                                   const struct life_plan *plan, uint64_t seed)
{
    static struct life_unit unit;
    life_make(&unit, plan, seed);
    count->units++;
    count->drifts += plan->drift_s != 0;
    count->steps += plan->step_s != 0;
    count->wrong = count->apart = false;
    for (size_t visits = 3; visits <= LIFE_VISITS; visits++) {
        struct bl_lives *lives = life_look(&unit, visits);
        const bool before = count->wrong;
        life_count_look(count, &unit, plan, lives, visits);
        count->false_at[visits] += count->wrong && !before;
        bl_life_destroy(lives);
    }
    count->false_units += count->wrong;
    count->apart_units += count->apart;
}

/* A yard's units: of four, two stay as they are, one drifts and one steps, up
   or down, in its apply or its release figures. */
static inline void life_count_yard(struct life_count *count, int units,
                                   struct life_plan plan, double drift_s,
                                   double step_s, uint64_t seed)
{
    *count = (struct life_count){0};
    for (int i = 0; i < units; i++) {
        struct life_plan own = plan;
        const double sign = i / 4 % 3 == 2 ? -1 : 1;
        own.drift_s = i % 4 == 1 ? sign * drift_s : 0;
        own.step_s = i % 4 == 3 ? sign * step_s : 0;
        own.step_at = 3 + i / 4 % 6;
        own.on_release = i / 4 % 2 == 1;
        life_count_unit(count, &own, seed + (uint64_t)i);
    }
}

static inline void life_print(const char *name, const struct life_count *c,
                              uint64_t seed)
{
    print_message(
        "%s, seeds from %llu, %d units: drift found by visit 6 in %d of %d "
        "units, step three visits on in %d of %d; false trend in %d units over "
        "all looks, a visit wrongly apart in %d; drift within its 95 %% "
        "interval %.1f %%\n",
        name, (unsigned long long)seed, c->units, c->drift_units, c->drifts,
        c->step_units, c->steps, c->false_units, c->apart_units,
        100.0 * (double)c->covered / (double)(c->intervals + !c->intervals));
    for (int air = 0; air < 2; air++) {
        print_message("  %s, leading figures: drift found in %d of %d, called "
                      "drift %d; step found in %d of %d, called step %d, at "
                      "its visit %d\n",
                      air ? "by air" : "powered", c->drift_found[air],
                      c->drift_series[air], c->drift_called[air],
                      c->step_found[air], c->step_series[air],
                      c->step_called[air], c->step_placed[air]);
    }
    print_message("  leading figures that drift, at the last visit: %d of %d "
                  "found, %d cannot be told\n",
                  c->last_found, c->last_series, c->last_open);
    print_message("  first false trend at visits");
    for (int i = 3; i <= LIFE_VISITS; i++) {
        print_message(" %d:%d", i, c->false_at[i]);
    }
    print_message("\n");
}

#endif
