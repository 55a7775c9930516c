/* SPDX-License-Identifier: MIT */
/*
 * Malformed trial files, each named after its defect. What must be said about
 * each was written by hand beside them (tests/data/trial/bad/expected.txt): a
 * row for every mistake, and no other mistake may be reported. A text that
 * ends in '*' is the beginning of the message.
 */
#include "testing.h"

#include "brakelag/trial.h"

#include <dirent.h>

struct row {
    char fixture[80];
    int line;
    char text[400];
    bool seen;
};

static struct row rows[300];
static size_t row_count;

static void read_rows(void)
{
    char path[512];
    char line[600];
    FILE *file =
        fopen(test_data("trial/bad/expected.txt", path, sizeof(path)), "r");
    assert_non_null(file);
    row_count = 0;
    while (fgets(line, sizeof(line), file) != NULL) {
        if (line[0] == '#') {
            continue;
        }
        assert_true(row_count < COUNT_OF(rows));
        struct row *row = &rows[row_count++];
        memset(row, 0, sizeof(*row));
        if (sscanf(line, "%79[^\t]\t%d\t%399[^\n]", row->fixture, &row->line,
                   row->text) != 3) {
            fail_msg("no row: %s", line);
        }
    }
    fclose(file);
}

static bool says(const char *text, const char *expected)
{
    const size_t length = strlen(expected);
    if (expected[length - 1] == '*') {
        return strncmp(text, expected, length - 1) == 0;
    }
    return strcmp(text, expected) == 0;
}

/* Returns how many rows and mistakes do not fit. */
static int check_fixture(const char *name, const char *path)
{
    struct bl_trial *trial = NULL;
    struct bl_notes mistakes = {0};
    struct bl_error error;
    int wrong = 0;
    size_t at = 0;
    bl_error_clear(&error);
    const enum bl_status status =
        bl_trial_read_file(&trial, path, &mistakes, &error);
    if (status != BL_TRIAL || trial != NULL) {
        print_error("%s: status %s\n", name, bl_status_name(status));
        bl_trial_destroy(trial);
        wrong++;
    }
    for (size_t i = 0; i < row_count; i++) {
        if (strcmp(rows[i].fixture, name) != 0) {
            continue;
        }
        rows[i].seen = true;
        const struct bl_note *found =
            at < mistakes.count ? &mistakes.item[at] : NULL;
        if (found == NULL || found->first_line != rows[i].line ||
            !says(found->text, rows[i].text)) {
            print_error("%s\n  expected %d: %s\n  found    %d: %s\n", name,
                        rows[i].line, rows[i].text,
                        found == NULL ? -1 : (int)found->first_line,
                        found == NULL ? "nothing" : found->text);
            wrong++;
        }
        if (at == 0 && found != NULL &&
            (error.line != found->first_line ||
             strstr(error.message, found->text) == NULL)) {
            print_error("%s: the error is not the first mistake\n", name);
            wrong++;
        }
        at++;
    }
    for (; at < mistakes.count; at++) {
        print_error("%s: one more: %d: %s\n", name,
                    (int)mistakes.item[at].first_line, mistakes.item[at].text);
        wrong++;
    }
    bl_notes_finish(&mistakes);
    return wrong;
}

static void every_mistake_is_told_with_its_line(void **state)
{
    (void)state;
    char folder[400];
    char path[700];
    int wrong = 0;
    int fixtures = 0;
    read_rows();
    DIR *directory = opendir(test_data("trial/bad", folder, sizeof(folder)));
    assert_non_null(directory);
    const struct dirent *entry;
    while ((entry = readdir(directory)) != NULL) {
        char name[80];
        const char *end = strstr(entry->d_name, ".ini");
        if (end == NULL) {
            continue;
        }
        fixtures++;
        snprintf(name, sizeof(name), "%.*s", (int)(end - entry->d_name),
                 entry->d_name);
        snprintf(path, sizeof(path), "%s/%s", folder, entry->d_name);
        wrong += check_fixture(name, path);
    }
    closedir(directory);
    for (size_t i = 0; i < row_count; i++) {
        if (!rows[i].seen) {
            print_error("no fixture '%s'\n", rows[i].fixture);
            wrong++;
        }
    }
    assert_int_equal(wrong, 0);
    assert_true(fixtures >= 60);
}

static void a_file_that_is_not_there_is_no_trial(void **state)
{
    (void)state;
    struct bl_trial *trial = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(
        bl_trial_read_file(&trial, "/nowhere/trial.ini", NULL, &error), BL_IO);
    assert_null(trial);
}

/* 600 bad lines: 500 are listed, the rest is counted. */
static void a_flood_of_mistakes_is_bounded(void **state)
{
    (void)state;
    static char text[8192];
    size_t at = (size_t)snprintf(text, sizeof(text), "[trial]\nname = A\n");
    for (int i = 0; i < 600; i++) {
        at += (size_t)snprintf(text + at, sizeof(text) - at, "bad line\n");
    }
    struct bl_bytes *source = NULL;
    struct bl_trial *trial = NULL;
    struct bl_notes mistakes = {0};
    assert_int_equal(bl_bytes_open_memory(&source, "memory", text, at, NULL),
                     BL_OK);
    assert_int_equal(bl_trial_read(&trial, source, NULL, &mistakes, NULL),
                     BL_TRIAL);
    bl_bytes_close(source);
    assert_int_equal(mistakes.count, 501);
    /* 600 lines and the missing [unit 0], less the 500 that are listed. */
    assert_string_equal(mistakes.item[500].text,
                        "101 more mistakes were found and are not listed");
    bl_notes_finish(&mistakes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_mistake_is_told_with_its_line),
        cmocka_unit_test(a_file_that_is_not_there_is_no_trial),
        cmocka_unit_test(a_flood_of_mistakes_is_bounded),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
