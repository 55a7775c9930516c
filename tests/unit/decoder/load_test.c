/* SPDX-License-Identifier: MIT */
/* Outside reference: docs/mapping-tables.md states what a table must be; each
   fixture under tests/data/decoder breaks one rule and is named after it.
   Quoting: RFC 4180 section 2. */
#include "support.h"

#include "base/alloc.h"

#include <unistd.h>

#define ROW "YARD1,65300,any,any,100,demand,1.1,16,0.5,0,kPa,0,1000,number,,,"

struct broken {
    const char *name;
    int line;
    const char *text;
};

static const struct broken cases[] = {
    {"header-missing-column", 1,
     "column 18 must be 'confidence', but is missing"},
    {"header-unknown-column", 1,
     "column 5 must be 'period_ms', found 'rate_ms'"},
    {"header-one-column-more", 1, "expected 18 columns, found 19"},
    {"header-absent", 1, "the table is empty"},
    {"cells-too-few", 3, "expected 18 cells, found 3"},
    {"cells-too-many", 2, "expected 18 cells, found 19"},
    {"signals-overlap", 3, "YARD1.lamp overlaps demand of line 2"},
    {"signal-beyond-frame", 2, "YARD1.demand ends in byte 9, a frame has 8"},
    {"signal-twice", 3, "YARD1.demand is there already, in line 2"},
    {"number-bad", 2, "scale: expected a number, found '0.5x'"},
    {"number-missing", 2, "low: expected a number, found ''"},
    {"scale-zero", 2, "scale: must not be 0"},
    {"scale-of-state", 2, "only kind number has a scale"},
    {"role-unknown", 2, "role: 'brake_wish' is not known"},
    {"kind-unknown", 2,
     "kind: expected number, signed, state, count or text, found 'float'"},
    {"confidence-unknown", 2,
     "confidence: expected confirmed, single-source or from-memory, found "
     "'sure'"},
    {"direction-unknown", 2,
     "direction: expected any, down or up, found 'left'"},
    {"sender-unknown", 2,
     "sender: expected any, towing, towed or an address, found 'trailer'"},
    {"sender-address-too-large", 2,
     "sender: expected an address up to 253, found '255'"},
    {"unit-unknown", 2, "unit: 'kpa' is not known"},
    {"unit-of-state", 2, "only kind number has a unit, found 'kPa'"},
    {"low-above-high", 2, "low 1000 is above high 0"},
    {"range-beyond-bits", 2,
     "low to high, 0 to 1000, does not fit into 8 bits"},
    {"source-missing", 2, "source: every row says where it comes from"},
    {"pgn-bad", 2, "pgn: expected a number up to 262143"},
    {"pgn-too-large", 2, "found '262144'"},
    {"pgn-with-destination", 2,
     "pgn: 0x0232 has a destination in its low byte"},
    {"id-too-large", 2, "found 'id:0x20000000'"},
    {"start-without-byte", 2, "start: expected byte.bit"},
    {"start-bit-nine", 2, "found '1.9'"},
    {"start-byte-zero", 2, "found '0.1'"},
    {"bits-zero", 2, "bits: expected 1 to 64, found '0'"},
    {"bits-65", 2, "bits: expected 1 to 64, found '65'"},
    {"text-of-seven-bits", 2, "a multiple of 8"},
    {"text-within-a-byte", 2, "text begins at bit 1 of a byte, found '1.3'"},
    {"states-of-number", 2, "only kind state has states"},
    {"states-without-value", 2, "expected 0=word;1=word, found 'off;on'"},
    {"states-falling", 2, "expected rising values"},
    {"states-beyond-bits", 2, "that fit into 2 bits"},
    {"period-negative", 2, "period_ms: expected 0 or more, found '-100'"},
    {"message-name-with-dot", 2,
     "message: expected a name of letters, digits, _ and -, found "
     "'YARD.1'"},
    {"message-rows-apart", 4, "the rows of YARD1 do not stand together"},
    {"message-of-two-pgns", 3,
     "pgn: differs from the first row of message YARD1"},
    {"message-of-two-senders", 3,
     "sender: differs from the first row of message YARD1"},
    {"quote-open", 2, "a quoted cell does not end on its line"},
    {"quote-stray", 2, "a quote stands inside a cell"},
    {"not-utf8", 2, "the line is not UTF-8"},
    {"three-mistakes", 2, "role: 'x' is not known"},
};

static void every_mistake_names_its_line(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char name[256], path[4096];
        snprintf(name, sizeof(name), "decoder/%s.csv", cases[i].name);
        test_data(name, path, sizeof(path));
        struct bl_tables *tables;
        struct bl_notes mistakes = {0};
        struct bl_error error;
        bl_error_clear(&error);
        assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
        const enum bl_status status =
            bl_tables_add_named(tables, path, "", &mistakes, &error);
        if (status != BL_TRIAL || error.line != cases[i].line ||
            strstr(error.message, cases[i].text) == NULL) {
            fail_msg("%s: status %d, line %d, '%s'", cases[i].name, status,
                     (int)error.line, error.message);
        }
        assert_true(mistakes.count >= 1);
        assert_int_equal(mistakes.item[0].first_line, cases[i].line);
        assert_string_equal(mistakes.item[0].text, error.message);
        /* Nothing of a wrong table is used. */
        assert_int_equal(bl_tables_count(tables), 0);
        assert_int_equal(bl_tables_messages(tables), 0);
        bl_notes_finish(&mistakes);
        bl_tables_destroy(tables);
    }
}

static void all_mistakes_are_told(void **state)
{
    (void)state;
    char path[4096];
    test_data("decoder/three-mistakes.csv", path, sizeof(path));
    struct bl_tables *tables;
    struct bl_notes mistakes = {0};
    assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
    assert_int_equal(bl_tables_add_named(tables, path, "", &mistakes, NULL),
                     BL_TRIAL);
    assert_int_equal(mistakes.count, 3);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(mistakes.item[i].first_line, (int)i + 2);
    }
    bl_notes_finish(&mistakes);
    bl_tables_destroy(tables);
}

/* RFC 4180: quoted cells, doubled quotes; line ends of either kind. */
static void quotes_line_ends_and_comments_are_fine(void **state)
{
    (void)state;
    struct bl_tables *tables;
    assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
    char text[2048];
    snprintf(text, sizeof(text),
             "\xEF\xBB\xBF# our own list\r\n\r\n%s" ROW
             "\"a, b \"\"c\"\"\",confirmed\r\n",
             TABLE_HEADER);
    struct bl_error error;
    bl_error_clear(&error);
    const enum bl_status status = add_text(tables, "own", text, NULL, &error);
    assert_string_equal(error.message, "");
    assert_int_equal(status, BL_OK);
    const struct bl_signal *signal = signal_of(tables, "YARD1.demand");
    assert_string_equal(signal->source, "a, b \"c\"");
    assert_int_equal(signal->line, 4);
    assert_string_equal(signal->unit, "kPa");
    assert_ptr_equal(signal->message, bl_tables_message_named(tables, "YARD1"));
    bl_tables_destroy(tables);
}

static void a_later_message_replaces_a_whole_one(void **state)
{
    (void)state;
    struct bl_tables *tables = shipped();
    const size_t before = bl_tables_messages(tables);
    assert_true(signal_of(tables, "EBS12.vehicle_speed") != NULL);
    assert_int_equal(bl_tables_notes(tables)->count, 0);
    static const char own[] =
        TABLE_HEADER "EBS12,65225,towing,down,100,vehicle_speed,5.1,16,"
                     "0.00390625,0,km/h,0,250,number,road_speed,,own "
                     "measurement,confirmed\n";
    assert_int_equal(add_text(tables, "mine", own, NULL, NULL), BL_OK);
    assert_int_equal(bl_tables_messages(tables), before);
    const struct bl_message *message = bl_tables_message_named(tables, "EBS12");
    assert_string_equal(message->table, "mine");
    assert_int_equal(message->signals, 1);
    const struct bl_note *note =
        bl_notes_find(bl_tables_notes(tables), "message-replaced");
    assert_non_null(note);
    assert_string_equal(note->text, "message EBS12 of table iso11992-2 is "
                                    "replaced by that of table mine");
    const struct bl_message *found[4];
    assert_int_equal(bl_tables_match(tables, 0x18FEC920, true, NULL, found, 4),
                     1);
    assert_ptr_equal(found[0], message);
    bl_tables_destroy(tables);
}

/* SHA-256 of three bytes "abc" is in FIPS 180-2; here the table's own hash is
   compared with that of its bytes. */
static void tables_say_what_they_are(void **state)
{
    (void)state;
    static const char own[] = TABLE_HEADER ROW "own,single-source\n";
    struct bl_tables *tables;
    assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
    assert_int_equal(add_text(tables, "mine", own, NULL, NULL), BL_OK);
    char hash[BL_SHA256_HEX];
    assert_int_equal(bl_sha256(own, strlen(own), hash, NULL), BL_OK);
    assert_int_equal(bl_tables_count(tables), 1);
    const struct bl_table_info *info = bl_tables_info(tables, 0);
    assert_string_equal(info->name, "mine");
    assert_string_equal(info->sha256, hash);
    assert_int_equal(info->messages, 1);
    assert_int_equal(info->signals, 1);
    assert_int_equal(info->by_confidence[BL_SINGLE_SOURCE], 1);
    assert_int_equal(info->by_confidence[BL_CONFIRMED], 0);
    assert_null(bl_tables_info(tables, 1));
    assert_null(bl_tables_message(tables, 1));
    assert_null(bl_tables_message_named(tables, "YARD2"));
    bl_tables_destroy(tables);
}

static void names_and_paths_are_looked_for(void **state)
{
    (void)state;
    char folder[] = "tables-XXXXXX";
    assert_non_null(mkdtemp(folder));
    char path[256];
    snprintf(path, sizeof(path), "%s/own list.csv", folder);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs(TABLE_HEADER ROW "own,confirmed\n", file);
    fclose(file);
    struct bl_tables *tables;
    struct bl_error error;
    assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
    assert_int_equal(
        bl_tables_add_named(tables, "own list.csv", folder, NULL, NULL), BL_OK);
    assert_string_equal(bl_tables_info(tables, 0)->name, "own list");
    assert_int_equal(
        bl_tables_add_named(tables, "none.csv", folder, NULL, &error), BL_IO);
    assert_int_equal(
        bl_tables_add_named(tables, "no-such-table", folder, NULL, &error),
        BL_TRIAL);
    assert_non_null(strstr(error.message, "no mapping table 'no-such-table'"));
    /* A name is looked for in the environment's folder first. */
    const char *place = getenv("BRAKELAG_TABLES");
    assert_non_null(place);
    assert_non_null(strstr(error.message, place));
    unlink(path);
    rmdir(folder);
    bl_tables_destroy(tables);
}

/* The limits that docs/mapping-tables.md states: 4096 bytes, 20,000 rows. */
static void limits_hold(void **state)
{
    (void)state;
    static const char row[] =
        "M%d,65300,any,any,,a,1.1,8,,,,,,count,,,own,confirmed\n";
    const size_t size = 20001 * sizeof(row) + 80000;
    char *text = calloc(size, 1);
    assert_non_null(text);
    for (int rows = 20000; rows <= 20001; rows++) {
        size_t at = (size_t)snprintf(text, size, "%s", TABLE_HEADER);
        for (int i = 0; i < rows; i++) {
            at += (size_t)snprintf(text + at, size - at, row, i / 1000);
        }
        struct bl_tables *tables;
        struct bl_error error;
        assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
        /* 1000 rows of one signal are mistakes, told in bounded time. */
        assert_int_equal(add_text(tables, "own", text, NULL, &error),
                         rows == 20000 ? BL_TRIAL : BL_LIMIT);
        if (rows == 20001) {
            assert_non_null(strstr(error.message, "at most 20000 rows"));
        }
        bl_tables_destroy(tables);
    }
    for (size_t bytes = 4096; bytes <= 4097; bytes++) {
        size_t at = (size_t)snprintf(text, size, "%s" ROW, TABLE_HEADER);
        memset(text + at, 'x', bytes);
        snprintf(text + at + bytes, size - at - bytes, ",confirmed\n");
        struct bl_tables *tables;
        struct bl_error error;
        assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
        assert_int_equal(add_text(tables, "own", text, NULL, &error),
                         bytes == 4096 ? BL_OK : BL_TRIAL);
        bl_tables_destroy(tables);
    }
    free(text);
}

/* The worked example of docs/mapping-tables.md, as a reader would copy it; its
   values are worked out there by hand. */
static void the_worked_example_reads_as_written(void **state)
{
    (void)state;
    char path[4096], text[16384];
    test_path("BL_SOURCE_ROOT", "docs/mapping-tables.md", path, sizeof(path));
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    text[fread(text, 1, sizeof(text) - 1, file)] = '\0';
    fclose(file);
    static const char opens[] = "cat >yard.csv <<'END'\n";
    char *start = strstr(text, opens);
    assert_non_null(start);
    start += strlen(opens);
    char *end = strstr(start, "\nEND\n");
    assert_non_null(end);
    end[1] = '\0';
    struct bl_tables *tables = shipped();
    assert_int_equal(add_text(tables, "yard", start, NULL, NULL), BL_OK);
    static const uint8_t data[8] = {0x2A, 0xFF, 0x64, 0x19,
                                    0xFD, 0xFF, 0xFF, 0xFF};
    const struct bl_message *found[2];
    assert_int_equal(bl_tables_match(tables, 0x18FF41C0, true, NULL, found, 2),
                     1);
    assert_string_equal(found[0]->name, "DOLLY1");
    struct bl_signal_ref ref;
    assert_int_equal(bl_signal_ref_parse(
                         tables, "DOLLY1.relay_pressure@0xC0/can1", &ref, NULL),
                     BL_OK);
    assert_near(bl_signal_decode(ref.signal, data, 8).value, 650, 1e-9);
    const struct bl_signal *number = signal_of(tables, "DOLLY1.running_number");
    assert_near(bl_signal_decode(number, data, 8).value, 42, 0);
    const struct bl_signal *supply = signal_of(tables, "DOLLY1.supply");
    char word[16];
    assert_string_equal(
        bl_signal_state_text(supply, bl_signal_decode(supply, data, 8).raw,
                             word, sizeof(word)),
        "enough");
    bl_tables_destroy(tables);
}

/* Any single allocation may fail: a status, no leak, and the set that was
   there still works. */
static void memory_may_end_anywhere(void **state)
{
    (void)state;
    static const char own[] =
        TABLE_HEADER ROW "own,confirmed\nYARD2,65301,any,any,,lamp,1.1,2,,,,,,"
                         "state,,0=off;1=on,own,confirmed\n";
    enum bl_status status = BL_NOMEM;
    uint64_t at = 1;
    for (; status == BL_NOMEM && at < 200; at++) {
        struct bl_tables *tables;
        struct bl_notes mistakes = {0};
        bl_alloc_fail_at(at);
        status = bl_tables_create(&tables, NULL);
        if (status == BL_OK) {
            status = add_text(tables, "own", own, &mistakes, NULL);
            bl_alloc_fail_at(0);
            assert_true(status == BL_OK || status == BL_NOMEM);
            assert_true(bl_tables_messages(tables) <= 2);
            bl_tables_destroy(tables);
        }
        bl_notes_finish(&mistakes);
    }
    bl_alloc_fail_at(0);
    assert_int_equal(status, BL_OK);
    assert_true(at > 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_mistake_names_its_line),
        cmocka_unit_test(all_mistakes_are_told),
        cmocka_unit_test(quotes_line_ends_and_comments_are_fine),
        cmocka_unit_test(a_later_message_replaces_a_whole_one),
        cmocka_unit_test(tables_say_what_they_are),
        cmocka_unit_test(names_and_paths_are_looked_for),
        cmocka_unit_test(limits_hold),
        cmocka_unit_test(the_worked_example_reads_as_written),
        cmocka_unit_test(memory_may_end_anywhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
