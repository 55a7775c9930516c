/* SPDX-License-Identifier: MIT */
/* The table of findings against docs/findings.md, and the rule of four
   standard uncertainties against cases worked out by hand. */
#include "study/findings/fill.h"
#include "testing.h"

#include "brakelag/findings.h"

enum { CELLS = 7, ROW_MAX = 4096, NAME_MAX_LENGTH = 64 };

/* The code of a name, as a reader of docs/findings.md looks for it. */
static bool code_of(const char *name, enum bl_finding_code *out)
{
    for (size_t i = 0; i < BL_FINDINGS; i++) {
        if (strcmp(name, bl_finding_kind((enum bl_finding_code)i)->code) == 0) {
            *out = (enum bl_finding_code)i;
            return true;
        }
    }
    return false;
}

static void each_code_is_whole(void **state)
{
    (void)state;
    static const struct {
        const char *code;
        enum bl_finding_group group;
        enum bl_severity severity;
    } listed[] = {
#define X(id, code, group, severity)                                           \
    {code, BL_GROUP_##group, BL_SEVERITY_##severity},
        BL_FINDING_LIST(X)
#undef X
    };
    assert_int_equal(COUNT_OF(listed), BL_FINDINGS);
    for (size_t i = 0; i < BL_FINDINGS; i++) {
        const struct bl_finding_kind *kind =
            bl_finding_kind((enum bl_finding_code)i);
        assert_string_equal(kind->code, listed[i].code);
        assert_int_equal(kind->group, listed[i].group);
        assert_int_equal(kind->severity, listed[i].severity);
        assert_true(strlen(kind->needs) > 0 && strlen(kind->fires) > 0);
        assert_true(strlen(kind->cannot_tell) > 0);
        assert_true(strlen(kind->next_check) > 0);
        assert_non_null(kind->caution);
        enum bl_finding_code back;
        assert_true(code_of(kind->code, &back));
        assert_int_equal(back, i);
    }
}

/* What a person must be told, and in which order: likely and safe first.
   Common practice; that units without spring brakes roll free when drained, and
   that low air may set spring brakes: public manuals for commercial drivers. */
static const struct {
    enum bl_finding_code code;
    const char *words[5]; /* of next check and caution, one behind other */
} asked[] = {
    {BL_FINDING_RESIDUAL_PRESSURE,
     {"foot and hand control are fully off", "park brake",
      "vent at a test point", "Do not drain", "Do not move"}},
    {BL_FINDING_CHANNELS_SWAPPED,
     {"Unplug one transducer at a time", "never blow"}},
    {BL_FINDING_CHANNEL_DEAD,
     {"plug is firm", "unplug one transducer at a time", "never blow"}},
    {BL_FINDING_NO_OUTPUT,
     {"Check every shut-off cock first", "depressor", "read the pressures",
      "outside the wheels", "Do not move"}},
    {BL_FINDING_HOLD_FALLS,
     {"depressor", "read the pressures", "outside the wheels",
      "chock every unit"}},
    {BL_FINDING_HOLD_UNSTEADY,
     {"depressor", "gauge at the brake", "warning lamp", "modulator",
      "chock every unit"}},
    {BL_FINDING_SLOW_FILL,
     {"reservoir at the valve during an application", "other chambers", "inlet",
      "stroke", "only chocks hold"}},
    {BL_FINDING_BELOW_THRESHOLD,
     {"does what it is set to do", "review the balance",
      "front brakes run hot"}},
    {BL_FINDING_LOW_HOLD,
     {"unladen", "bellows pressure", "then the valve", "At standstill",
      "keep clear"}},
    {BL_FINDING_VOLTAGE_LOW,
     {"pins", "each supply pair", "under load", "fused lead",
      "high voltage, trained persons only"}},
    {BL_FINDING_AUTOMATIC_BRAKING,
     {"interlock", "supply", "anti-compounding valve", "suddenly",
      "Do not move"}},
    {BL_FINDING_OUTPUT_WITHOUT_COMMAND,
     {"interlocks", "supply pressure", "anti-compounding valve", "suddenly",
      "Do not move"}},
    {BL_FINDING_LATE_APPLY,
     {"shut-off cocks", "front coupling", "relay valve", "air supply",
      "electric supply"}},
    {BL_FINDING_UNIT_SILENT,
     {"lamp", "electric supply", "each supply pair", "Red lamp on"}},
    {BL_FINDING_CONTROL_LATE_APPLY,
     {"Check every shut-off cock first", "kinks", "Draining sets spring",
      "only chocks hold", "Do not move"}},
    {BL_FINDING_CONTROL_LATE_RELEASE,
     {"Check every shut-off cock first", "Chock first, then drain",
      "suspension", "Do not move"}},
    {BL_FINDING_AIR_PATH_SHUT,
     {"Check every shut-off cock first", "as its maker says", "Do not move"}},
    {BL_FINDING_SUPPLY_SAG,
     {"shut-off cock", "first", "Low-air warning: stop", "Do not move"}},
    {BL_FINDING_SLOW_RELEASE, {"exhaust", "Drums may be hot"}},
    {BL_FINDING_PARK_BRAKE_ON, {"Chock all", "compounding", "never open"}},
    {BL_FINDING_DEMAND_IGNORED,
     {"lamp", "each supply pair", "At standstill", "Red lamp on",
      "Do not move"}},
    {BL_FINDING_FAULT_CODES_PRESENT,
     {"repair", "clear", "Red lamp on", "lamp works"}},
    {BL_FINDING_CONDITION_NOT_MET,
     {"control_air = blocked", "standing tests only"}},
    {BL_FINDING_FALSE_DEMAND, {"out of service", "Do not move"}},
    {BL_FINDING_DEMAND_MISSING,
     {"plug", "Listen-in lead", "no terminating resistor"}},
};

static void next_checks_are_safe_and_in_order(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(asked); i++) {
        const struct bl_finding_kind *kind = bl_finding_kind(asked[i].code);
        char whole[2048];
        snprintf(whole, sizeof(whole), "%s %s", kind->next_check,
                 kind->caution);
        const char *at = whole;
        for (size_t k = 0; k < 5 && asked[i].words[k] != NULL; k++) {
            const char *found = strstr(at, asked[i].words[k]);
            if (found == NULL) {
                fail_msg("%s: \"%s\" is missing or comes too early: %s",
                         kind->code, asked[i].words[k], whole);
            }
            at = found;
        }
    }
    /* Who opens a line is told before; nothing is cut on the page. */
    for (size_t i = 0; i < BL_FINDINGS; i++) {
        const struct bl_finding_kind *kind =
            bl_finding_kind((enum bl_finding_code)i);
        assert_in_range(strlen(kind->caution), 0, 600);
        assert_in_range(strlen(kind->next_check), 1, BL_FINDING_TEXT_MAX - 1);
        if (strstr(kind->next_check, "shut-off cock") != NULL ||
            strstr(kind->next_check, "hose") != NULL ||
            strstr(kind->next_check, "chamber") != NULL) {
            assert_non_null(strstr(kind->caution, "hock"));
        }
    }
}

/* "| a | b |" into its cells; false where it is no row of seven. */
static bool cells_of(char *line, char *cell[CELLS])
{
    size_t count = 0;
    char *at = line;
    if (strncmp(at, "| ", 2) != 0) {
        return false;
    }
    at += 2;
    while (count < CELLS) {
        char *end = strstr(at, "|");
        if (end == NULL) {
            return false;
        }
        cell[count++] = at;
        *end = '\0';
        for (char *last = end; last > at && last[-1] == ' ';) {
            *--last = '\0';
        }
        at = end + 1;
        at += *at == ' ';
    }
    return *at == '\n' || *at == '\0';
}

static void check_row(char *cell[CELLS], const char *group, int *rows)
{
    char code[NAME_MAX_LENGTH];
    if (sscanf(cell[0], "`%63[a-z-]`", code) != 1) {
        return;
    }
    enum bl_finding_code named = (enum bl_finding_code)0;
    if (!code_of(code, &named)) {
        fail_msg("docs/findings.md has a row for %s, the code has not", code);
    }
    const struct bl_finding_kind *kind = bl_finding_kind(named);
    rows[named]++;
    assert_string_equal(cell[1], bl_severity_name(kind->severity));
    assert_string_equal(cell[2], kind->needs);
    assert_string_equal(cell[3], kind->fires);
    assert_string_equal(cell[4], kind->cannot_tell);
    assert_string_equal(cell[5], kind->next_check);
    assert_string_equal(cell[6], kind->caution);
    assert_string_equal(group, bl_finding_group_name(kind->group));
}

static void page_and_table_agree(void **state)
{
    (void)state;
    char path[512];
    int rows[BL_FINDINGS] = {0};
    char group[NAME_MAX_LENGTH] = "";
    FILE *file =
        fopen(test_path("BL_SOURCE_ROOT", "docs/findings.md", path, 512), "rb");
    assert_non_null(file);
    char line[ROW_MAX];
    while (fgets(line, sizeof(line), file) != NULL) {
        char *cell[CELLS];
        sscanf(line, "## %63s", group);
        if (cells_of(line, cell)) {
            check_row(cell, group, rows);
        }
    }
    fclose(file);
    for (size_t i = 0; i < BL_FINDINGS; i++) {
        if (rows[i] != 1) {
            fail_msg("docs/findings.md has %d rows for %s", rows[i],
                     bl_finding_kind((enum bl_finding_code)i)->code);
        }
    }
}

/* The rule as design and docs/findings.md state it. */
static void rule_of_four(void **state)
{
    (void)state;
    const double u[] = {1, 1, 1, 1, 1, 1};
    double ratio;
    size_t fired;
    const double three[] = {5, 4.1, -1, -1, -1, 9};
    assert_int_equal(bl_finding_judge(three, u, 6, &ratio, &fired),
                     BL_SHOWN_FOUND);
    assert_int_equal(fired, 3);
    const double two[] = {5, 4.1, -1, -1, -1, 4};
    assert_int_equal(bl_finding_judge(two, u, 6, &ratio, &fired),
                     BL_SHOWN_CANNOT_TELL);
    const double all_of_two[] = {5, 4.1};
    assert_int_equal(bl_finding_judge(all_of_two, u, 2, NULL, NULL),
                     BL_SHOWN_FOUND);
    const double above[] = {1, 1, 1};
    assert_int_equal(bl_finding_judge(above, u, 3, &ratio, NULL),
                     BL_SHOWN_CANNOT_TELL);
    assert_near(ratio, 1, 0);
    const double below[] = {-1, -1, 1};
    assert_int_equal(bl_finding_judge(below, u, 3, NULL, NULL), BL_SHOWN_NOT);
    const double holes[] = {NAN, 5, NAN};
    assert_int_equal(bl_finding_judge(holes, u, 3, NULL, NULL), BL_SHOWN_FOUND);
    assert_int_equal(bl_finding_judge(holes, u, 0, &ratio, NULL), BL_SHOWN_NOT);
    assert_nan(ratio);
}

static void list_is_ranked(void **state)
{
    (void)state;
    struct bl_findings list = {0};
    bl_findings_add(&list, BL_FINDING_PEDAL_SLOW, BL_SHOWN_FOUND, -1, 0);
    bl_findings_add(&list, BL_FINDING_NO_OUTPUT, BL_SHOWN_CANNOT_TELL, 1, 0);
    struct bl_finding *late =
        bl_findings_add(&list, BL_FINDING_LATE_APPLY, BL_SHOWN_FOUND, 1, 0);
    late->ratio = 6;
    late = bl_findings_add(&list, BL_FINDING_SLOW_FILL, BL_SHOWN_FOUND, 2, 0);
    late->ratio = 9;
    bl_finding_say(late, "%0500d", 1);
    for (size_t i = 0; i < BL_EVIDENCE_MAX + 2; i++) {
        bl_finding_evidence(late, "lag", 1, 0.1, "s");
    }
    assert_int_equal(late->evidences_dropped, 2);
    assert_true(strlen(late->text) < BL_FINDING_TEXT_MAX);
    bl_findings_missing(&list, BL_FINDING_VOLTAGE_LOW, 1, -1, NULL);
    bl_findings_missing(&list, BL_FINDING_VOLTAGE_LOW, 1, -1, NULL);
    bl_findings_looked(&list, BL_FINDING_LOW_HOLD, 0, 0);
    bl_findings_rank(&list);
    assert_false(list.failed);
    assert_int_equal(list.count, 4);
    assert_int_equal(list.item[0].code, BL_FINDING_SLOW_FILL);
    assert_int_equal(list.item[1].code, BL_FINDING_LATE_APPLY);
    assert_int_equal(list.item[2].code, BL_FINDING_PEDAL_SLOW);
    assert_int_equal(list.item[3].code, BL_FINDING_NO_OUTPUT);
    assert_int_equal(list.missing_count, 1);
    assert_int_equal(list.looked[BL_FINDING_LOW_HOLD], 1);
    assert_int_equal(list.looked[BL_FINDING_SLOW_FILL], 1);
    assert_int_equal(list.looked[BL_FINDING_VOLTAGE_LOW], 0);
    bl_findings_finish(&list);
}

/* Three runs show it, one of them as a note: two of a kind join. */
static void runs_are_joined(void **state)
{
    (void)state;
    struct bl_findings list = {0};
    for (long run = 2; run >= 0; run--) {
        struct bl_finding *f = bl_findings_add(&list, BL_FINDING_SLOW_FILL,
                                               BL_SHOWN_FOUND, 1, run);
        f->ratio = run == 0 ? 9 : 5;
        f->fired = 3;
        f->judged = 4;
        bl_finding_say(f, "run %ld", run);
        bl_finding_evidence(f, "fill", (double)run, 0.1, "s");
        if (run == 1) {
            bl_finding_note(f, "Look again.");
        }
    }
    bl_findings_add(&list, BL_FINDING_SLOW_FILL, BL_SHOWN_FOUND, 2, 0);
    bl_findings_rank(&list);
    bl_findings_merge(&list);
    assert_int_equal(list.count, 3);
    const struct bl_finding *f = &list.item[0];
    assert_string_equal(f->text, "run 0");
    assert_int_equal(f->run, 0);
    assert_int_equal(f->alsos, 1);
    assert_int_equal(f->also[0], 2);
    assert_int_equal(f->fired, 6);
    assert_int_equal(f->judged, 8);
    assert_int_equal(f->evidences, 2);
    assert_int_equal(f->evidence[1].run, 2);
    assert_true(strlen(f->caution) > 0);
    assert_int_equal(list.item[2].severity, BL_SEVERITY_NOTE);
    assert_string_equal(list.item[2].caution, "");
    bl_findings_finish(&list);
}

/* A label that is too long would be cut inside a word; "the same" stands alone
   beside its number. */
static void labels_of_traits_are_whole(void **state)
{
    (void)state;
    for (int i = 0; i < BL_TRAITS; i++) {
        const char *label = bl_trait_label((enum bl_trait)i);
        assert_in_range(strlen(label), 1, BL_EVIDENCE_LABEL_MAX - 1);
        assert_int_not_equal(strncmp(label, "the same", 8), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(labels_of_traits_are_whole),
        cmocka_unit_test(each_code_is_whole),
        cmocka_unit_test(next_checks_are_safe_and_in_order),
        cmocka_unit_test(page_and_table_agree),
        cmocka_unit_test(rule_of_four),
        cmocka_unit_test(list_is_ranked),
        cmocka_unit_test(runs_are_joined),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
