/* SPDX-License-Identifier: MIT */
/*
 * Survey of made-up logs and buses whose content is known, and of an open
 * recording as its README describes it (truck-bench-drive).
 */
#include "testing.h"

#include "base/alloc.h"
#include "base/strbuf.h"
#include "brakelag/survey.h"
#include "brakelag/trial.h"

static struct bl_survey *survey_of(const char *name, const char *text,
                                   const struct bl_tables *tables)
{
    struct bl_survey *survey = NULL;
    struct bl_bytes *source = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_survey_create(&survey, tables, &error), BL_OK);
    assert_int_equal(
        bl_bytes_open_memory(&source, name, text, strlen(text), &error), BL_OK);
    if (bl_survey_add(survey, source, name, NULL, NULL, &error) != BL_OK) {
        fail_msg("%s", error.message);
    }
    bl_bytes_close(source);
    return survey;
}

static struct bl_tables *shipped(void)
{
    struct bl_tables *tables = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_tables_create(&tables, &error), BL_OK);
    for (const char *const *name = bl_tables_shipped(); *name != NULL; name++) {
        assert_int_equal(bl_tables_add_named(tables, *name, ".", NULL, &error),
                         BL_OK);
    }
    return tables;
}

/* Uniform in -1 .. 1, from a small congruential generator of the test. */
static double jitter(uint32_t *state)
{
    *state = *state * 1664525U + 1013904223U;
    return (double)(*state >> 8) / 8388608.0 - 1;
}

/* Five applications of 1 s in 20 s at 100 Hz; 0 to 1. */
static double pulse(unsigned row)
{
    const double t = fmod(row / 100.0, 4) - 1;
    return t < 0 || t > 1.4 ? 0 : fmin(1, fmin(t / 0.2, (1.4 - t) / 0.2));
}

enum {
    TIME,
    GOOD,
    WRONG,
    ABSOLUTE,
    DEAD,
    CLIPPED,
    STAIRS,
    TWIN,
    BELOW,
    CONTACT,
    HOLES,
    PLAIN_PSI,
    SUPPLY
};

static void yard_row(struct bl_strbuf *text, unsigned row, uint32_t *seed,
                     double *held)
{
    const double p = pulse(row);
    const double good = 6.5 * p + 0.02 * jitter(seed);
    if (row % 10 == 0) {
        *held = 6.5 * pulse(row);
    }
    bl_strbuf_format(text, "%.2f,%.4f,%.4f,%.2f,2.5,%.3f,%.3f,%.4f,%.3f,%d,",
                     row / 100.0, good, 6.4 * p + 0.02 * jitter(seed),
                     101.3 + 600 * p + jitter(seed),
                     fmin(5, 6.5 * p + 0.02 * jitter(seed)), *held, good,
                     -0.12 + 6.5 * p + 0.005 * jitter(seed), p > 0.1);
    bl_strbuf_text(text, row == 50 ? "OVERFLOW" : row == 60 ? "" : "1.25");
    bl_strbuf_format(text, ",%.2f,%.3f\n", 95 * p + 0.2 * jitter(seed),
                     24.1 + 0.05 * jitter(seed));
}

static void test_columns(void **state)
{
    (void)state;
    struct bl_strbuf text = {0};
    uint32_t seed = 7;
    double held = 0;
    bl_strbuf_text(&text,
                   "t [s],good [bar],wrong [kPa],absolute [kPa],dead [bar],"
                   "clipped [bar],stairs [bar],twin [bar],below [Bar],contact,"
                   "holes,plain,battery\n");
    for (unsigned row = 0; row < 2000; row++) {
        yard_row(&text, row, &seed, &held);
    }
    assert_false(text.failed);
    struct bl_survey *survey =
        survey_of("yard.csv", bl_strbuf_get(&text), NULL);
    const struct bl_survey_file *file = &survey->file[0];
    assert_int_equal(file->kind, BL_SURVEY_LOG);
    assert_int_equal(file->rows, 2000);
    assert_int_equal(file->columns, 12);
    assert_int_equal(file->interval_ns, 10000000);
    static const struct {
        unsigned column, oddities;
        enum bl_quantity quantity;
        const char *unit;
        bool guessed;
    } expected[] = {
        {GOOD, 0, BL_QUANTITY_PRESSURE, "bar", false},
        {WRONG, BL_ODDITY_WRONG_UNIT, BL_QUANTITY_PRESSURE, "bar", true},
        {ABSOLUTE, BL_ODDITY_ABSOLUTE, BL_QUANTITY_PRESSURE, "kPa", false},
        {DEAD, BL_ODDITY_CONSTANT, BL_QUANTITY_PRESSURE, "bar", false},
        {CLIPPED, BL_ODDITY_CLIPPED, BL_QUANTITY_PRESSURE, "bar", false},
        {STAIRS, BL_ODDITY_STAIR_STEPS, BL_QUANTITY_PRESSURE, "bar", false},
        {TWIN, BL_ODDITY_IDENTICAL, BL_QUANTITY_PRESSURE, "bar", false},
        {BELOW, BL_ODDITY_ZERO_OFFSET, BL_QUANTITY_PRESSURE, "bar", false},
        {CONTACT, 0, BL_QUANTITY_SWITCH, "", true},
        {HOLES, BL_ODDITY_OVERFLOW | BL_ODDITY_MISSING | BL_ODDITY_CONSTANT,
         BL_QUANTITY_NONE, NULL, true},
        {PLAIN_PSI, 0, BL_QUANTITY_PRESSURE, "psi", true},
        {SUPPLY, 0, BL_QUANTITY_VOLTAGE, "V", true},
    };
    for (size_t i = 0; i < COUNT_OF(expected); i++) {
        const struct bl_survey_column *c =
            &file->column[expected[i].column - 1];
        if (c->oddities != expected[i].oddities) {
            fail_msg("%s: oddities %x, expected %x", c->name, c->oddities,
                     expected[i].oddities);
        }
        assert_int_equal(c->quantity, expected[i].quantity);
        assert_int_equal(c->guessed, expected[i].guessed);
        if (expected[i].unit == NULL) {
            assert_null(c->quantity_unit);
        } else {
            assert_string_equal(c->quantity_unit, expected[i].unit);
        }
    }
    assert_int_equal(file->column[STAIRS - 1].stair_ns, 100000000);
    assert_int_equal(file->column[TWIN - 1].identical_to, GOOD - 1);
    assert_int_equal(file->column[HOLES - 1].overflows, 1);
    assert_int_equal(file->column[HOLES - 1].missing, 1);
    assert_near(file->column[GOOD - 1].high, 6.5, 0.03);
    assert_near(file->column[GOOD - 1].low, 0, 0.03);
    bl_survey_destroy(survey);
    bl_strbuf_finish(&text);
}

/* Two buses; 0x123 every 10 ms with one silence of 50 ms; by hand. */
static const char two_buses[] = "(10.000000) can0 123#0011\n"
                                "(10.010000) can0 123#0012\n"
                                "(10.020000) can0 123#001122\n"
                                "(10.070000) can0 123#0011\n"
                                "(10.080000) can1 18FEF100#0102030405060708\n"
                                "(10.090000) can1 123#R2\n";

static void test_bus_by_hand(void **state)
{
    (void)state;
    struct bl_survey *survey = survey_of("two.log", two_buses, NULL);
    const struct bl_survey_file *file = &survey->file[0];
    assert_int_equal(file->kind, BL_SURVEY_BUS);
    assert_int_equal(file->frames, 6);
    assert_int_equal(file->buses, 2);
    assert_int_equal(file->ids, 3);
    assert_string_equal(file->bus[0].name, "can0");
    assert_int_equal(file->bus[0].longest_gap_ns, 50000000);
    assert_int_equal(file->bus[0].longest_gap_at_ns, 10020000000);
    assert_int_equal(file->bus[1].frames[BL_FRAME_REMOTE], 1);
    /* 47 bits and 8 for each byte (ISO 11898-1): 63 + 63 + 71 + 63 in 70 ms. */
    assert_near(file->bus[0].mean_bit_s, 260 / 0.07, 1e-6);
    assert_near(file->bus[0].peak_bit_s, 260, 1e-9);
    assert_near(file->bus[1].peak_bit_s, 67 + 64 + 47, 1e-9);
    const struct bl_survey_id *id = &file->id[0];
    assert_int_equal(id->id, 0x123);
    assert_int_equal(id->frames, 4);
    assert_int_equal(id->shortest, 2);
    assert_int_equal(id->longest, 3);
    assert_int_equal(id->interval_min_ns, 10000000);
    assert_int_equal(id->interval_median_ns, 10000000);
    assert_int_equal(id->interval_max_ns, 50000000);
    assert_int_equal(id->longest_gap_at_ns, 10020000000);
    assert_int_equal(file->id[1].remote, 1);
    assert_int_equal(file->id[1].frames, 0);
    assert_int_equal(file->addresses, 1);
    assert_int_equal(file->address[0].address, 0);
    bl_survey_destroy(survey);
}

/* Every second interval is 9.01 ms and the others 9.958 ms, with one more of
   those: the median is 9.958 ms, and every 2nd, 4th .. interval says 9.01. And
   a clock that jumps 1.2 million seconds away and back again: neither silence
   nor interval nor rate carries that. A frame is 47 + 8 n bits. */
static void test_median_and_jump(void **state)
{
    (void)state;
    struct bl_strbuf text = {0};
    double t = 1000;
    for (unsigned i = 0; i < 4002; i++) {
        const double away = i >= 2000 && i < 2100 ? 1.2e6 : 0;
        bl_strbuf_format(&text, "(%.6f) can0 123#0011223344556677\n", t + away);
        t += i % 2 == 0 && i < 3980 ? 0.00901 : 0.009958;
    }
    struct bl_survey *survey =
        survey_of("jump.log", bl_strbuf_get(&text), NULL);
    const struct bl_survey_file *file = &survey->file[0];
    assert_int_equal(file->frames, 4002);
    assert_int_equal(file->id[0].interval_median_ns, 9958000);
    assert_int_equal(file->id[0].interval_max_ns, 9958000);
    assert_int_equal(file->bus[0].longest_gap_ns, 9958000);
    assert_near(file->bus[0].mean_bit_s, 111 / 0.009484, 10);
    assert_non_null(bl_notes_find(&file->notes, "time-jumps"));
    bl_survey_destroy(survey);
    bl_strbuf_finish(&text);
}

/* The bench drive's README: 39,740 frames in 211 s, one remote frame, these
   PGNs, 65226 in single and multi-packet form, address claims. */
static void test_bench_drive(void **state)
{
    (void)state;
    static const uint32_t pgns[] = {61441, 65215, 65134, 65265, 65226};
    char path[512];
    shared_data("truck-bench-drive/drive_211s.log.gz", path, sizeof(path));
    struct bl_tables *tables = shipped();
    struct bl_survey *survey = NULL;
    struct bl_bytes *source = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_survey_create(&survey, tables, &error), BL_OK);
    assert_int_equal(bl_bytes_open(&source, path, &error), BL_OK);
    assert_int_equal(bl_survey_add(survey, source, path, NULL, NULL, &error),
                     BL_OK);
    bl_bytes_close(source);
    const struct bl_survey_file *file = &survey->file[0];
    assert_int_equal(file->frames, 39740);
    assert_int_equal(file->bus[0].frames[BL_FRAME_REMOTE], 1);
    assert_near((double)(file->last_ns - file->first_ns) * 1e-9, 211, 1);
    for (size_t p = 0; p < COUNT_OF(pgns); p++) {
        bool seen = false;
        for (size_t i = 0; i < file->ids; i++) {
            seen = seen || (file->id[i].extended &&
                            bl_id_split(file->id[i].id).pgn == pgns[p]);
        }
        assert_true(seen);
    }
    bool multi = false;
    for (size_t i = 0; i < file->transports; i++) {
        multi = multi || file->transport[i].pgn == 65226;
    }
    assert_true(multi);
    assert_true(file->troubles > 0);
    bool claimed = false;
    for (size_t i = 0; i < file->addresses; i++) {
        claimed = claimed || file->address[i].names > 0;
    }
    assert_true(claimed);
    bl_survey_destroy(survey);
    bl_tables_destroy(tables);
}

/* J1939-73 5.7.1.14, as a public test quotes it: 00 97 03 with conversion bit 1
   is SPN 1208 by version 1; by 2 and 3 it is 309248 and 38656. With bit 0 the
   same bytes are 38656 and nothing else. */
static void test_older_trouble_codes(void **state)
{
    (void)state;
    struct bl_tables *tables = shipped();
    struct bl_survey *survey =
        survey_of("codes.log",
                  "(1.0) can0 18FECA0B#00FF00970381FFFF\n"
                  "(2.0) can0 18FECA0B#00FF00970301FFFF\n"
                  "(3.0) can0 18FECA0B#00FF00970381FFFF\n",
                  tables);
    const struct bl_survey_file *file = &survey->file[0];
    char spn[BL_TROUBLE_TEXT];
    assert_int_equal(file->troubles, 2);
    assert_int_equal(file->trouble[0].seen, 2);
    assert_string_equal(
        bl_trouble_spn_text(&file->trouble[0].code, spn, sizeof(spn)),
        "SPN 1208, 309248 or 38656 (conversion bit 1: version 1, 2 or 3)");
    assert_string_equal(
        bl_trouble_spn_text(&file->trouble[1].code, spn, sizeof(spn)),
        "SPN 38656");
    bl_survey_destroy(survey);
    bl_tables_destroy(tables);
}

/* J1939-81 as public implementations have it: two NAMEs at 0x80, of which the
   lower (6F in byte 6) keeps it, and the other says from 254 that it cannot
   claim. Two that cannot are no conflict. */
static void test_contested_address(void **state)
{
    (void)state;
    struct bl_tables *tables = shipped();
    struct bl_survey *survey =
        survey_of("claims.log",
                  "(1.0) can0 18EEFF80#87D6525382C9FE52\n"
                  "(1.1) can0 18EEFF80#87D65253826FFE52\n"
                  "(1.2) can0 18EEFFFE#87D6525382C9FE52\n"
                  "(1.3) can0 18EEFFFE#0000400B00090000\n"
                  "(1.4) can0 18EEFF0B#0000400B00090000\n"
                  "(1.5) can1 18EEFF0B#0000400B00080000\n",
                  tables);
    const struct bl_survey_file *file = &survey->file[0];
    static const struct {
        unsigned address, names;
    } expected[] = {{0x0B, 1}, {0x80, 2}, {0xFE, 2}, {0x0B, 1}};
    assert_int_equal(file->addresses, 4);
    for (size_t i = 0; i < COUNT_OF(expected); i++) {
        assert_int_equal(file->address[i].address, expected[i].address);
        assert_int_equal(file->address[i].names, expected[i].names);
    }
    const struct bl_survey_name *name = &file->name[file->address[1].name];
    assert_int_equal(name[0].name.function, 0x6F);
    assert_int_equal(name[1].name.function, 0xC9);
    assert_true(bl_claim_failed(0xFE));
    assert_false(bl_claim_failed(0x80));
    bl_survey_destroy(survey);
    bl_tables_destroy(tables);
}

/* A towing vehicle at 0x20 and trailers at 0xC8 and 0xC0, each link a bus of
   its own (ISO 11992-2: EBS11 is PGN 512, the demand in bytes 3 and 4 at
   5/256 kPa per bit; addresses as in the tables). */
static void test_draft(void **state)
{
    (void)state;
    static const char *const lines[] = {
        "[unit 0]\n",
        "address = 0x20 ",
        "command = EBS11.service_demand@0x20/can0 ",
        "command_kind = electronic-demand\n",
        "[unit 1]\n",
        "address = 0xC8 ",
        "bus = can0 ",
        "[unit 2]\n",
        "address = 0xC0 ",
        "bus = can1 ",
        "captures = links.log\n",
    };
    struct bl_strbuf text = {0};
    for (unsigned i = 0; i < 40; i++) {
        /* The rear link hears more changes: it must not be taken for that. */
        bl_strbuf_format(&text,
                         "(%u.000000) can0 0C02C820#FFFF00%02XFFFFFFFF\n"
                         "(%u.010000) can1 0C02C0C8#FFFF00%02XFFFFFFFF\n"
                         "(%u.020000) can1 0C03C8C0#00FFFFFFFFFFFFFF\n",
                         i, i < 20 ? 0 : 0x50, i, i % 2 ? 0 : 0x50, i);
    }
    struct bl_tables *tables = shipped();
    struct bl_survey *survey =
        survey_of("links.log", bl_strbuf_get(&text), tables);
    struct bl_output *output = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_output_open(&output, NULL, &error), BL_OK);
    assert_int_equal(bl_survey_draft(survey, NULL, output, &error), BL_OK);
    size_t size = 0;
    const char *at = bl_output_memory(output, &size);
    assert_non_null(at);
    for (size_t i = 0; i < COUNT_OF(lines); i++) {
        const char *found = strstr(at, lines[i]);
        if (found == NULL) {
            fail_msg("expected '%s' after the line before it", lines[i]);
            return;
        }
        at = found + strlen(lines[i]);
    }
    double demand = NAN;
    for (size_t i = 0; i < survey->file[0].id[0].signals; i++) {
        const struct bl_survey_signal *s = &survey->file[0].id[0].signal[i];
        if (s->signal->role == BL_ROLE_SERVICE_DEMAND) {
            assert_int_equal(s->changes, 1);
            assert_int_equal(s->first_change_ns, 20000000000);
            demand = s->largest;
        }
    }
    assert_near(demand, 0x5000 * 5.0 / 256, 1e-9);
    /* As it stands it is a trial file. */
    struct bl_trial *trial = NULL;
    struct bl_bytes *source = NULL;
    const char *draft = bl_output_memory(output, &size);
    assert_int_equal(
        bl_bytes_open_memory(&source, "draft.ini", draft, size, &error), BL_OK);
    if (bl_trial_read(&trial, source, ".", NULL, &error) != BL_OK) {
        fail_msg("%s", error.message);
    }
    assert_int_equal(trial->units, 3);
    assert_int_equal(trial->unit[2].address, 0xC0);
    bl_trial_destroy(trial);
    bl_bytes_close(source);
    bl_output_discard(output);
    bl_survey_destroy(survey);
    bl_tables_destroy(tables);
    bl_strbuf_finish(&text);
}

/* Every allocation in turn fails: an error each time, no leak (the address
   sanitizer watches), and in the end it works. */
static void memory_runs_out(const char *name, const char *text)
{
    for (uint64_t at = 1; at < 2000; at++) {
        struct bl_survey *survey = NULL;
        struct bl_bytes *source = NULL;
        struct bl_output *output = NULL;
        struct bl_error error;
        bl_error_clear(&error);
        assert_int_equal(
            bl_bytes_open_memory(&source, name, text, strlen(text), &error),
            BL_OK);
        assert_int_equal(bl_output_open(&output, NULL, &error), BL_OK);
        bl_alloc_fail_at(at);
        enum bl_status status = bl_survey_create(&survey, NULL, &error);
        if (status == BL_OK) {
            status = bl_survey_add(survey, source, name, NULL, NULL, &error);
        }
        const uint64_t used = bl_alloc_count();
        bl_alloc_fail_at(0);
        bl_output_discard(output);
        bl_survey_destroy(survey);
        bl_bytes_close(source);
        if (status == BL_OK && used < at) {
            assert_true(at > 5);
            return;
        }
    }
    fail_msg("%s: more allocations than expected", name);
}

static void test_memory(void **state)
{
    (void)state;
    memory_runs_out("two.log", two_buses);
    memory_runs_out("small.csv", "t [s],P [bar]\n0,1\n0.1,1.1\n0.2,1.2\n"
                                 "0.3,1.5\n0.4,1.1\n0.5,1\n");
}

static void test_unreadable(void **state)
{
    (void)state;
    struct bl_survey *survey = NULL;
    struct bl_bytes *source = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_survey_create(&survey, NULL, &error), BL_OK);
    assert_int_equal(
        bl_bytes_open_memory(&source, "no.txt", "hello", 5, &error), BL_OK);
    assert_int_not_equal(
        bl_survey_add(survey, source, "no.txt", NULL, NULL, &error), BL_OK);
    bl_bytes_close(source);
    /* It is listed all the same, with its failure and its hash. */
    assert_int_equal(survey->files, 1);
    assert_int_not_equal(survey->file[0].status, BL_OK);
    assert_string_equal(survey->file[0].stored.sha256,
                        "2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e730433"
                        "62938b9824");
    bl_survey_destroy(survey);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_columns),
        cmocka_unit_test(test_bus_by_hand),
        cmocka_unit_test(test_bench_drive),
        cmocka_unit_test(test_draft),
        cmocka_unit_test(test_median_and_jump),
        cmocka_unit_test(test_older_trouble_codes),
        cmocka_unit_test(test_contested_address),
        cmocka_unit_test(test_memory),
        cmocka_unit_test(test_unreadable),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
