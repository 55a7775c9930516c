/* SPDX-License-Identifier: MIT */
/*
 * docs/trial-file.md against the program: every key of either is in the other,
 * and the example that people copy is read without a mistake.
 */
#include "testing.h"
#include "trial/reading.h"

#include "brakelag/trial.h"

enum { DOCUMENT_MAX = 64 * 1024, ROWS_MAX = 200 };

static char document[DOCUMENT_MAX];

struct documented {
    char section[32];
    char key[48];
    bool seen;
};
static struct documented rows[ROWS_MAX];
static size_t row_count;

static void read_document(void)
{
    char path[512];
    FILE *file = fopen(
        test_path("BL_SOURCE_ROOT", "docs/trial-file.md", path, sizeof(path)),
        "rb");
    assert_non_null(file);
    const size_t size = fread(document, 1, sizeof(document) - 1, file);
    fclose(file);
    assert_true(size > 0 && size < sizeof(document) - 1);
    document[size] = '\0';
}

/* "## `[unit 0]`, .." begins a section, "| `key` |" is a key of it. */
static void collect_rows(void)
{
    char section[32] = "";
    row_count = 0;
    for (const char *line = document; line != NULL && *line != '\0';) {
        if (strncmp(line, "## ", 3) == 0) {
            section[0] = '\0';
            (void)sscanf(line, "## `[%31[a-z]", section);
        } else if (strncmp(line, "| `", 3) == 0 && section[0] != '\0') {
            assert_true(row_count < ROWS_MAX);
            struct documented *row = &rows[row_count++];
            memset(row, 0, sizeof(*row));
            snprintf(row->section, sizeof(row->section), "%s", section);
            assert_int_equal(sscanf(line, "| `%47[^`]", row->key), 1);
        }
        line = strchr(line, '\n');
        line = line == NULL ? NULL : line + 1;
    }
}

static void every_key_is_documented_and_every_row_is_a_key(void **state)
{
    (void)state;
    const char *section;
    const char *key;
    const char *meaning;
    int wrong = 0;
    read_document();
    collect_rows();
    for (size_t i = 0; bl_trial_keys(i, &section, &key, &meaning); i++) {
        bool found = false;
        for (size_t k = 0; k < row_count; k++) {
            if (strcmp(rows[k].section, section) == 0 &&
                strcmp(rows[k].key, key) == 0) {
                found = true;
                rows[k].seen = true;
            }
        }
        if (!found) {
            print_error("not documented: [%s] %s\n", section, key);
            wrong++;
        }
        assert_true(meaning[0] != '\0');
    }
    for (size_t k = 0; k < row_count; k++) {
        if (!rows[k].seen) {
            print_error("no such key: [%s] %s\n", rows[k].section, rows[k].key);
            wrong++;
        }
    }
    assert_int_equal(wrong, 0);
    assert_true(row_count > 80);
}

static void every_unit_of_measurement_is_documented(void **state)
{
    (void)state;
    const struct bl_measurement_unit *unit;
    int wrong = 0;
    read_document();
    const char *start = strstr(document, "## Units of measurement");
    assert_non_null(start);
    for (size_t i = 0; (unit = bl_measurement_unit_at(i)) != NULL; i++) {
        char quoted[40];
        snprintf(quoted, sizeof(quoted), "`%s`", unit->name);
        if (strstr(start, quoted) == NULL) {
            print_error("not documented: unit %s\n", unit->name);
            wrong++;
        }
    }
    assert_int_equal(wrong, 0);
}

static void the_example_is_read(void **state)
{
    (void)state;
    read_document();
    const char *start = strstr(document, "```ini\n");
    assert_non_null(start);
    start += strlen("```ini\n");
    const char *end = strstr(start, "```");
    assert_non_null(end);
    struct bl_bytes *source = NULL;
    struct bl_trial *trial = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_bytes_open_memory(&source, "docs", start,
                                          (size_t)(end - start), &error),
                     BL_OK);
    if (bl_trial_read(&trial, source, NULL, NULL, &error) != BL_OK) {
        fail_msg("line %d of the example: %s", (int)error.line, error.message);
    }
    bl_bytes_close(source);
    assert_int_equal(trial->units, 3);
    assert_int_equal(trial->runs, 2);
    assert_int_equal(trial->notes.count, 0);
    bl_trial_destroy(trial);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_key_is_documented_and_every_row_is_a_key),
        cmocka_unit_test(every_unit_of_measurement_is_documented),
        cmocka_unit_test(the_example_is_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
