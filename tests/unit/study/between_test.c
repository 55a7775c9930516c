/* SPDX-License-Identifier: MIT */
/*
 * By air alone and with outputs only: a line that lets air through slowly and a
 * unit that is slow by itself, told apart from output to output. The trains are
 * those of plants A and B (first_visit_a.h, first_visit_b.h).
 */
#include "first_visit_a.h"
#include "first_visit_b.h"

struct asked {
    enum visit_fault fault;
    double size; /* in thresholds of 0.10 s */
    size_t towed_least, towed_most;
    bool front_output, last_too; /* the last unit of the train, too */
};

struct answers {
    size_t right, wrong, open, nothing;
};

/* Unit and side; and of a line that other units are behind, no part of it. */
static bool about(const struct bl_finding *f, const struct visit *v)
{
    const bool own = f->code == BL_FINDING_SLOW_FILL ||
                     f->code == BL_FINDING_HOSE_RESTRICTED;
    return f->unit == (long)v->at &&
           visit_sides_agree(f->code, visit_entries[v->fault].code[0]) &&
           !(v->fault == VISIT_FILTER && v->at < v->towed && own);
}

/* It is said that the stages differ, and that nobody can tell. */
static bool is_open(const struct bl_assessment *found)
{
    for (size_t i = 0; i < found->findings->count; i++) {
        const struct bl_finding *f = &found->findings->item[i];
        if (f->shown == BL_SHOWN_CANNOT_TELL && f->headline && f->unit < 0) {
            return true;
        }
    }
    return false;
}

static void one(struct answers *n, visit_plant plant, const struct asked *ask,
                uint64_t seed, struct visit *v)
{
    struct bl_trial *trial;
    v->wired = v->capture = false;
    v->air_only = true;
    v->front_output = ask->front_output;
    v->size = ask->size;
    struct bl_assessment *found = visit_assess(v, plant, &trial);
    const struct bl_finding *f = visit_first(found);
    const bool right = f != NULL && (v->fault == VISIT_SOUND || about(f, v));
    n->right += right;
    n->wrong += f != NULL && !right;
    n->open += f == NULL && is_open(found);
    n->nothing += f == NULL && !is_open(found);
    if ((v->fault == VISIT_SOUND) == (f != NULL) || !right) {
        print_message("  seed %llu %s: unit %zu of %zu: %s %ld %s\n",
                      (unsigned long long)seed, visit_entries[v->fault].name,
                      v->at, v->towed,
                      f == NULL ? is_open(found) ? "open" : "nothing"
                                : bl_finding_kind(f->code)->code,
                      f == NULL ? -1 : f->unit, f == NULL ? "" : f->text);
    }
    visit_apart(found->findings);
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
}

/* As many of each plant, and how they were answered. */
static struct answers ask(const struct asked *ask, size_t each, uint64_t seed)
{
    static const visit_plant plants[] = {visit_plant_a, visit_plant_b};
    struct answers n = {0};
    const char *said = getenv("VISIT_EACH");
    each = said == NULL ? each : strtoul(said, NULL, 10);
    for (size_t p = 0; p < COUNT_OF(plants); p++) {
        for (size_t i = 0; i < each; seed++) {
            struct visit v;
            visit_start(&v, ask->fault, seed);
            if (v.towed >= ask->towed_least && v.towed <= ask->towed_most &&
                (ask->fault == VISIT_SOUND ||
                 (v.at > 1 && (ask->last_too || v.at < v.towed)))) {
                one(&n, plants[p], ask, seed, &v);
                i++;
            }
            visit_finish(&v);
        }
    }
    print_message("%s of %zu to %zu: %zu right, %zu wrong, %zu open, "
                  "%zu nothing\n",
                  visit_entries[ask->fault].name, ask->towed_least,
                  ask->towed_most, n.right, n.wrong, n.open, n.nothing);
    return n;
}

static void a_blocked_filter(void **state)
{
    (void)state;
    const struct asked line = {VISIT_FILTER, 4, 5, 6, true, true};
    const struct answers n = ask(&line, 3, 41000);
    assert_true(n.right + 1 >= n.right + n.wrong + n.open + n.nothing);
    assert_int_equal(n.wrong, 0);
}

/* The stage behind it is short by as much: it is not the line in front. */
static void a_slow_unit(void **state)
{
    (void)state;
    static const enum visit_fault faults[] = {VISIT_SLOW_FILL,
                                              VISIT_SLOW_RELEASE};
    for (size_t i = 0; i < COUNT_OF(faults); i++) {
        const struct asked unit = {faults[i], 4, 5, 6, true, false};
        const struct answers n = ask(&unit, 2, 42000 + 500 * i);
        assert_int_equal(n.wrong, 0);
        assert_true(n.right + 1 >= n.right + n.open + n.nothing);
    }
}

/* With so few stages it is said that they differ, or nothing: none is accused
   that is sound. */
static void too_few(void **state)
{
    (void)state;
    const struct asked line = {VISIT_FILTER, 6, 3, 3, true, false};
    const struct answers n = ask(&line, 2, 43000);
    assert_int_equal(n.wrong, 0);
    assert_true(n.open + n.right > 0);
}

static void sound(void **state)
{
    (void)state;
    const struct asked few = {VISIT_SOUND, 0, 3, 3, true, false};
    const struct asked many = {VISIT_SOUND, 0, 4, 6, true, false};
    const struct answers n[] = {ask(&few, 2, 44000), ask(&many, 3, 44500)};
    /* Of few stages one in a hundred is longer by chance than sound ones are:
       nobody is accused. */
    assert_int_equal(n[0].right, 0);
    assert_true(n[0].open <= 1);
    assert_int_equal(n[1].right + n[1].open, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_blocked_filter),
        cmocka_unit_test(a_slow_unit),
        cmocka_unit_test(too_few),
        cmocka_unit_test(sound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
