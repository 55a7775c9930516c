/* SPDX-License-Identifier: MIT */
/* A [log] section and a channel may name a log with '*' (docs/trial-file.md):
   what they say must reach the reading of it. Rows are counted on paper. */
#include "testing.h"
#include "trial/reading.h"

#include "brakelag/load.h"

#include <stdlib.h>
#include <unistd.h>

enum { ROWS = 20, FIRST_ROW = 12, PATH = 512 };

/* `offset` negative: only the text. */
static void write_file(const char *folder, const char *name, const char *text,
                       int offset)
{
    char path[PATH];
    (void)snprintf(path, sizeof(path), "%s/%s", folder, name);
    FILE *to = fopen(path, "w");
    assert_non_null(to);
    fprintf(to, "%s", text);
    for (int i = 0; i < ROWS && offset >= 0; i++) {
        fprintf(to, "%.2f,%d\n", i * 0.01, offset + i);
    }
    assert_int_equal(fclose(to), 0);
}

static void check_channel(const struct bl_run_data *data, long channel,
                          float first)
{
    const struct bl_channel_series *is = bl_run_channel(data, channel);
    assert_non_null(is);
    /* The heading is row 1; rows 12 to 21 are read. */
    assert_int_equal(is->samples.count, ROWS + 2 - FIRST_ROW);
    assert_true(is->samples.value[0] == first);
}

static const char trial_text[] =
    "[trial]\nname = names\n[unit 0]\ncommand = c\n"
    "command_kind = treadle-pressure\ncommand_at = 20 kPa\noutput = o\n"
    "[channel c]\ncolumn = p\nquantity = pressure\nmeasured_in = kPa\n"
    "log = *-1.csv\n"
    "[channel o]\ncolumn = p\nquantity = pressure\nmeasured_in = kPa\n"
    "log = yard-2*\n"
    "[log yard-*.csv]\nfirst_row = 12\n"
    "[run A]\nlogs = yard-1.csv, yard-2.csv\n";

static void a_star_stands_for_any_text(void **state)
{
    (void)state;
    static const char *const names[] = {"yard-1.csv", "yard-2.csv",
                                        "trial.ini"};
    char folder[256];
    char path[PATH];
    char line[1024];
    struct bl_trial *trial;
    struct bl_run_data *data;
    struct bl_error error;
    bl_error_clear(&error);
    test_folder_name(folder, sizeof(folder), "names");
    assert_non_null(mkdtemp(folder));
    write_file(folder, names[0], "time,p\n", 0);
    write_file(folder, names[1], "time,p\n", 100);
    write_file(folder, names[2], trial_text, -1);
    (void)snprintf(path, sizeof(path), "%s/trial.ini", folder);
    if (bl_trial_read_file(&trial, path, NULL, &error) != BL_OK ||
        bl_load_run(&data, trial, 0, &error) != BL_OK) {
        fail_msg("%s", bl_error_line(&error, line, sizeof(line)));
    }
    check_channel(data, bl_trial_channel_index(trial, "c"), 10);
    check_channel(data, bl_trial_channel_index(trial, "o"), 110);
    bl_run_data_destroy(data);
    bl_trial_destroy(trial);
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        (void)snprintf(path, sizeof(path), "%s/%s", folder, names[i]);
        assert_int_equal(unlink(path), 0);
    }
    assert_int_equal(rmdir(folder), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_star_stands_for_any_text),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
