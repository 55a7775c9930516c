/* SPDX-License-Identifier: MIT */
/*
 * Faults of the demand with their place, and sound trains without any. What
 * was put in is the scenario's word; how many frames, what delay and which
 * value follow from its statement, not from the analysis.
 */
#include "reach_trains.h"

#ifndef BL_TEST_SEEDS
#define BL_TEST_SEEDS 20 /* sound trains */
#define BL_TEST_QUICK 1  /* a few places for every fault, not all */
#endif

struct kind {
    const char *name, *keys; /* UNIT is the unit */
    enum bl_finding_code code;
    size_t first;      /* least unit that it can be put at */
    size_t before_end; /* units that must lie behind it */
    bool no_unit;
    bool hop_only;   /* a bus that is split through the train has nobody who
                        hands the demand on, or one demand for all */
    bool split_only; /* the bus ends in front of the unit */
};

static const struct kind kinds[] = {
    {"cut at coupling", "code = demand-missing\nunit = UNIT\n",
     BL_FINDING_DEMAND_MISSING, 1, 0, false, true, false},
    {"cut bus", "", BL_FINDING_UNIT_SILENT, 2, 0, false, false, true},
    {"thinned frames", "code = frames-lost\nunit = UNIT\namount = 0.3\n",
     BL_FINDING_FRAMES_LOST, 1, 0, false, true, false},
    {"dropouts in one application", "", BL_FINDING_FRAMES_LOST, 1, 0, false,
     true, false},
    {"demand ends in an application", "", BL_FINDING_DEMAND_MISSING, 1, 0,
     false, true, false},
    {"altered value", "code = demand-altered\nunit = UNIT\namount = 0.9\n",
     BL_FINDING_DEMAND_ALTERED, 1, 1, false, true, false},
    {"late re-issue", "code = demand-late\nunit = UNIT\namount = 0.08\n",
     BL_FINDING_DEMAND_LATE, 1, 1, false, true, false},
    {"wrong order of addresses",
     "code = wrong-address-order\nunit = UNIT\nother = NEXT\n",
     BL_FINDING_ADDRESS_ORDER, 1, 1, false, true, false},
    {"silent unit", "code = unit-silent\nunit = UNIT\n", BL_FINDING_UNIT_SILENT,
     1, 0, false, false, false},
    {"restarted unit",
     "code = unit-restarted\nunit = UNIT\nat = 3 s\nfor = 0.8 s\n",
     BL_FINDING_UNIT_RESTARTED, 1, 0, false, false, false},
    {"error values",
     "code = error-values\nunit = UNIT\nat = 1.4 s\nfor = 0.2 s\n",
     BL_FINDING_DEMAND_MISSING, 1, 0, false, true, false},
    {"late wake-up", "code = late-wake-up\nunit = UNIT\namount = 2\n",
     BL_FINDING_DEMAND_MISSING, 2, 0, false, true, false},
    {"all recording stopped",
     "code = recording-gap\nunit = 0\nat = 3 s\nfor = 0.5 s\n",
     BL_FINDING_RECORDING_GAP, 1, 0, true, false, false},
};

/* Can the fault be at this unit of such a train, and be seen there? */
static bool possible(const struct kind *kind, size_t units, size_t unit,
                     enum layout layout)
{
    const bool split = layout == SPLIT_BUS;
    if (unit < kind->first || unit + kind->before_end > units ||
        (kind->no_unit && unit != 1)) {
        return false;
    }
    if (split ? kind->hop_only && (unit != 1 || kind->before_end > 0)
              : kind->split_only) {
        return false;
    }
    /* Alone, a unit that says nothing may have nothing to say: the first one
       behind a cut is alone too where it is the only other. */
    if (kind->code == BL_FINDING_UNIT_SILENT && units == 1) {
        return false;
    }
    return true;
}

static bool named(const struct judged *j, enum bl_finding_code code, long unit)
{
    for (size_t i = 0; i < j->reach->findings.count; i++) {
        const struct bl_finding *f = &j->reach->findings.item[i];
        if (f->code == code && f->unit == unit) {
            return true;
        }
    }
    return false;
}

struct table {
    unsigned cases[COUNT_OF(kinds) + 1], named[COUNT_OF(kinds) + 1];
    unsigned found[COUNT_OF(kinds) + 1][BL_FINDINGS];
};

static void count(struct table *table, size_t row, const struct judged *j)
{
    bool seen[BL_FINDINGS] = {false};
    for (size_t i = 0; i < j->reach->findings.count; i++) {
        seen[j->reach->findings.item[i].code] = true;
    }
    for (size_t c = 0; c < BL_FINDINGS; c++) {
        table->found[row][c] += seen[c];
    }
    table->cases[row]++;
}

static void print_table(const struct table *table)
{
    print_message("put in | cases | place named | found (code: cases)\n");
    for (size_t row = 0; row <= COUNT_OF(kinds); row++) {
        char line[512];
        size_t n = (size_t)snprintf(line, sizeof(line), "%s | %u | %u |",
                                    row < COUNT_OF(kinds) ? kinds[row].name
                                                          : "nothing",
                                    table->cases[row], table->named[row]);
        for (size_t c = 0; c < BL_FINDINGS; c++) {
            if (table->found[row][c] > 0 && n < sizeof(line)) {
                n += (size_t)snprintf(
                    line + n, sizeof(line) - n, " %s: %u",
                    bl_finding_kind((enum bl_finding_code)c)->code,
                    table->found[row][c]);
            }
        }
        print_message("%s\n", line);
    }
}

static void put_keys(const struct kind *kind, size_t unit, char *text,
                     size_t size)
{
    (void)snprintf(text, size, "%s", kind->keys);
    const size_t value[] = {unit, unit + 1};
    static const char *const word[] = {"UNIT", "NEXT"};
    for (size_t i = 0; i < COUNT_OF(word); i++) {
        char number[16];
        (void)snprintf(number, sizeof(number), "%zu", value[i]);
        if (strstr(text, word[i]) != NULL) {
            replace(text, word[i], number);
        }
    }
}

static void one_fault(struct table *table, size_t row, size_t units,
                      size_t unit, enum layout layout)
{
    const struct kind *kind = &kinds[row];
    struct train t = {.units = units,
                      .layout = layout,
                      .seed = 7 + units,
                      .shared_clock = true};
    struct judged j;
    put_keys(kind, unit, t.fault, sizeof(t.fault));
    if (kind->keys[0] == '\0' && kind->split_only) {
        t.cut_at = unit;
    } else if (kind->keys[0] == '\0') {
        t.dropped_at = unit;
        t.for_good = kind->code == BL_FINDING_DEMAND_MISSING;
    }
    judge_train(&j, &t);
    count(table, row, &j);
    const bool ok = named(&j, kind->code, kind->no_unit ? -1 : (long)unit);
    table->named[row] += ok;
    if (!ok || j.reach->findings.count != 1) {
        print_message("%s at unit %zu of %zu, layout %d:\n", kind->name, unit,
                      units, (int)layout);
        print_findings(&j);
    }
    judged_finish(&j);
}

static void healthy(struct table *table, uint64_t seed)
{
    struct judged j;
    const struct train t = {.units = 1 + (size_t)(seed % UNITS_MOST),
                            .layout = (enum layout)(seed / 8 % 3),
                            .seed = seed,
                            .shared_clock = seed % 2 == 0};
    judge_train(&j, &t);
    count(table, COUNT_OF(kinds), &j);
    bool sound = weighty(&j) == 0;
    for (size_t k = 0; k < j.reach->units; k++) {
        /* That one bus runs through all is an assumption: where the unit's own
           output does not show that it is on it, nobody can tell. */
        const struct bl_reach_unit *unit = &j.reach->unit[k];
        const bool shown = t.layout != SPLIT_BUS || k == 0 ||
                           unit->claim[BL_REACH_ACTED_ON].answer == BL_YES;
        sound = sound && unit->verdict ==
                             (shown ? BL_REACH_REACHED : BL_REACH_CANNOT_TELL);
    }
    table->named[COUNT_OF(kinds)] += sound;
    if (!sound) {
        print_message("sound train, seed %llu, %zu units, layout %d:\n",
                      (unsigned long long)seed, t.units, (int)t.layout);
        print_findings(&j);
        for (size_t k = 0; k < j.reach->units; k++) {
            for (size_t w = 0; w < j.reach->unit[k].whys; w++) {
                print_message("  unit %zu: %s\n", k + 1,
                              j.reach->unit[k].why[w]);
            }
        }
    }
    judged_finish(&j);
}

static void each_fault(struct table *table, size_t units, size_t unit,
                       enum layout layout)
{
    for (size_t row = 0; row < COUNT_OF(kinds); row++) {
        if (possible(&kinds[row], units, unit, layout)) {
            one_fault(table, row, units, unit, layout);
        }
    }
}

/* The long run: every coupling of trains of 1 to 8 units. */
static void sweep(struct table *table)
{
#ifdef BL_TEST_QUICK
    each_fault(table, 1, 1, HOP_BY_HOP);
    each_fault(table, 3, 2, HOP_BY_HOP);
    each_fault(table, 5, 2, ONE_RECORDER_EACH);
    each_fault(table, 4, 1, SPLIT_BUS);
    each_fault(table, 4, 3, SPLIT_BUS);
#else
    for (size_t units = 1; units <= UNITS_MOST; units++) {
        for (size_t unit = 1; unit <= units; unit++) {
            each_fault(table, units, unit, HOP_BY_HOP);
            each_fault(table, units, unit, ONE_RECORDER_EACH);
            each_fault(table, units, unit, SPLIT_BUS);
        }
    }
#endif
}

static void faults_are_placed(void **state)
{
    (void)state;
    struct table table = {0};
    sweep(&table);
    for (uint64_t seed = 1; seed <= BL_TEST_SEEDS; seed++) {
        healthy(&table, seed);
    }
    print_table(&table);
    for (size_t row = 0; row <= COUNT_OF(kinds); row++) {
        assert_true(table.cases[row] > 0);
        assert_int_equal(table.named[row], table.cases[row]);
    }
}

/* One bus for all, and no air is recorded that would show what a unit waited
   for: the unit to which the demand goes is reached, the others are assumed to
   be on that bus, which proves nothing, cut or not. */
static void a_tap_proves_nothing_behind_a_cut(void **state)
{
    (void)state;
    struct judged j;
    const struct train t = {.units = 4,
                            .layout = SPLIT_BUS,
                            .seed = 9,
                            .shared_clock = true,
                            .sensors = "[sensors]\ncontrol = no\n",
                            .cut_at = 3};
    judge_train(&j, &t);
    for (size_t k = 0; k < 4; k++) {
        assert_true(j.reach->unit[k].found);
        assert_int_equal(j.reach->unit[k].verdict,
                         k < 1 ? BL_REACH_REACHED : BL_REACH_CANNOT_TELL);
    }
    judged_finish(&j);
}

/* Addresses in another order than the trial file says. */
static void order_of_addresses(void **state)
{
    (void)state;
    struct judged j;
    struct train t = {.units = 4, .seed = 3, .shared_clock = true};
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = wrong-address-order\nunit = 2\nother = 3\n");
    judge_train(&j, &t);
    assert_true(named(&j, BL_FINDING_ADDRESS_ORDER, 2));
    assert_int_equal(j.reach->unit[1].verdict, BL_REACH_DEFECTS);
    judged_finish(&j);
}

/* A unit far back whose air comes late shows what it follows. */
static void follows_air(void **state)
{
    (void)state;
    struct judged j;
    struct train t = {.units = 6, .seed = 4, .shared_clock = true};
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = demand-ignored\nunit = 6\n");
    judge_train(&j, &t);
    assert_true(named(&j, BL_FINDING_DEMAND_IGNORED, 6));
    assert_int_equal(j.reach->unit[4].follows, BL_FOLLOWS_DATA);
    judged_finish(&j);
}

/* A run that is not what it declares gives no comparison anything. */
static void condition_is_refused(void **state)
{
    (void)state;
    struct judged j;
    struct train t = {.units = 1, .seed = 8, .shared_clock = true};
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = demand-missing\nunit = 1\n");
    judge_train(&j, &t);
    assert_true(named(&j, BL_FINDING_CONDITION_NOT_MET, -1));
    assert_int_equal(j.lag->applications, 3);
    for (size_t i = 0; i < j.lag->applications; i++) {
        assert_true(j.lag->application[i].excluded);
    }
    judged_finish(&j);
}

/* Two recorders tied by nothing but the demand itself give no delay. */
static void unrelated_clocks(void **state)
{
    (void)state;
    struct judged j;
    const struct train t = {.units = 3, .layout = ONE_RECORDER_EACH, .seed = 5};
    judge_train(&j, &t);
    assert_false(j.reach->unit[2].delay.known);
    assert_int_equal(j.reach->unit[2].delay.reason, BL_REASON_CLOCKS_UNRELATED);
    assert_int_equal(j.reach->unit[2].verdict, BL_REACH_REACHED);
    judged_finish(&j);
}

/* A hop adds the unit's own time (4 ms) and up to one sending interval
   (10 ms): the figure lies within, give or take its uncertainty. */
static void delay_of_a_hop(void **state)
{
    (void)state;
    struct judged j;
    const struct train t = {.units = 5, .seed = 6, .shared_clock = true};
    judge_train(&j, &t);
    for (size_t k = 1; k < j.reach->units; k++) {
        const struct bl_figure *added = &j.reach->unit[k].added;
        assert_true(added->known);
        assert_near(added->s, 0.004 + 0.005, 2 * 2 * added->u_s);
        assert_near(j.reach->unit[k].median_s, 0.01, 0.0002);
        assert_near(j.reach->unit[k].difference_counts, 0, 0.5);
    }
    judged_finish(&j);
}

/* The capture lacks 0.2 s of the first application's demand, sent every 10 ms:
   twenty frames, give or take the one at each end. */
static void lost_frames_of_an_application(void **state)
{
    (void)state;
    struct judged j;
    const struct train t = {
        .units = 3, .seed = 8, .shared_clock = true, .dropped_at = 2};
    judge_train(&j, &t);
    for (size_t k = 0; k < j.reach->units; k++) {
        const struct bl_reach_unit *unit = &j.reach->unit[k];
        assert_int_equal(unit->counts, 3);
        for (size_t i = 0; i < unit->counts; i++) {
            assert_int_equal(unit->count[i].application, (int)i + 1);
            assert_true(unit->count[i].frames > 50);
            if (k == 1 && i == 0) {
                assert_in_range(unit->count[i].lost, 19, 21);
            } else {
                assert_in_range(unit->count[i].lost, 0, 1);
            }
        }
    }
    judged_finish(&j);
}

/* The unit in the middle is heard behind, where it hands the demand on, and not
   in front: that is named, and its output led the air all the same. */
static void silent_in_front_is_named(void **state)
{
    (void)state;
    struct judged j;
    const struct train t = {
        .units = 4, .seed = 5, .shared_clock = true, .mute = 3};
    judge_train(&j, &t);
    assert_true(named(&j, BL_FINDING_UNIT_SILENT, 3));
    assert_int_equal(j.reach->findings.count, 1);
    const struct bl_reach_unit *unit = &j.reach->unit[2];
    assert_int_equal(unit->status_frames, 0);
    assert_int_equal(unit->follows, BL_FOLLOWS_DATA);
    assert_int_equal(unit->claim[BL_REACH_ACTED_ON].answer, BL_YES);
    assert_int_equal(unit->verdict, BL_REACH_DEFECTS);
    assert_int_equal(unit->whys, 1);
    assert_non_null(strstr(unit->why[0], "sends nothing on its link"));
    judged_finish(&j);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(order_of_addresses),
        cmocka_unit_test(follows_air),
        cmocka_unit_test(condition_is_refused),
        cmocka_unit_test(unrelated_clocks),
        cmocka_unit_test(delay_of_a_hop),
        cmocka_unit_test(lost_frames_of_an_application),
        cmocka_unit_test(a_tap_proves_nothing_behind_a_cut),
        cmocka_unit_test(silent_in_front_is_named),
        cmocka_unit_test(faults_are_placed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
