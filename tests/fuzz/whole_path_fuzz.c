/* SPDX-License-Identifier: MIT */
/*
 * The whole path: trial file, capture and log of any bytes to the result in
 * all three forms. The input is three texts, parted by lines of `%%%%`: the
 * trial, what lies as `c`, what lies as `l`. Inputs that name any other file
 * are left out. The JSON is read back by jansson and compared with two rules of
 * docs/result.md: a figure is a number or null with its reason, and a number
 * has an uncertainty.
 */
/* mkdtemp is in POSIX.1-2008, but as an XSI extension in some systems. */
#define _XOPEN_SOURCE 700
#include "brakelag/brakelag.h"
#include "report/result.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { PARTS = 3, MOST_BYTES = 1 << 20 };

static char folder[256];
static char path[PARTS][300];

static void demand(int truth)
{
    if (!truth) {
        abort();
    }
}

static void remove_folder(void)
{
    for (int i = 0; i < PARTS; i++) {
        (void)unlink(path[i]);
    }
    (void)rmdir(folder);
}

static void make_folder(void)
{
    static const char *const names[PARTS] = {"t", "c", "l"};
    if (folder[0] != '\0') {
        return;
    }
    const char *base = getenv("TMPDIR");
    snprintf(folder, sizeof(folder), "%s/brakelag-fuzz-XXXXXX",
             base == NULL ? "/tmp" : base);
    demand(mkdtemp(folder) != NULL);
    for (int i = 0; i < PARTS; i++) {
        snprintf(path[i], sizeof(path[i]), "%s/%s", folder, names[i]);
    }
    demand(atexit(remove_folder) == 0);
}

/* Start and length of the parts. */
static void part_input(const char *data, size_t size, size_t start[PARTS],
                       size_t length[PARTS])
{
    static const char border[] = "\n%%%%\n";
    const size_t wide = sizeof(border) - 1;
    size_t at = 0;
    for (int i = 0; i < PARTS; i++) {
        size_t end = at;
        while (end < size && (i == PARTS - 1 || size - end < wide ||
                              memcmp(data + end, border, wide) != 0)) {
            end++;
        }
        start[i] = at;
        length[i] = end - at;
        at = end + wide > size ? size : end + wide;
    }
}

static int names_a_table_file(const char *text, size_t size)
{
    for (size_t i = 0; i + 4 <= size; i++) {
        if (memcmp(text + i, "able", 4) != 0) {
            continue;
        }
        for (size_t k = i; k < size && text[k] != '\n' && text[k] != '\r';
             k++) {
            if (text[k] == '/' || text[k] == '.') {
                return 1;
            }
        }
    }
    return 0;
}

static int names_only_ours(const struct bl_trial *trial)
{
    for (size_t i = 0; i < trial->recordings; i++) {
        for (size_t k = 0; k < trial->recording[i].files; k++) {
            if (strcmp(trial->recording[i].file[k], path[1]) != 0 &&
                strcmp(trial->recording[i].file[k], path[2]) != 0) {
                return 0;
            }
        }
    }
    return 1;
}

/* Every member "s" beside "u_s": both numbers, or null with a reason. */
static void check_tree(const json_t *node)
{
    const char *name;
    json_t *member;
    size_t index;
    if (json_is_array(node)) {
        json_array_foreach(node, index, member)
        {
            check_tree(member);
        }
        return;
    }
    if (!json_is_object(node)) {
        return;
    }
    const json_t *s = json_object_get(node, "s");
    const json_t *u = json_object_get(node, "u_s");
    if (s != NULL && u != NULL) {
        demand(json_is_number(s) ||
               json_is_string(json_object_get(node, "reason")));
        demand(!json_is_number(s) || json_is_number(u));
        demand(!json_is_number(u) || json_number_value(u) >= 0);
    }
    json_object_foreach((json_t *)node, name, member)
    {
        check_tree(member);
    }
}

static void write_result(const struct bl_result *result)
{
    static const enum bl_result_form forms[] = {BL_RESULT_JSON, BL_RESULT_TEXT,
                                                BL_RESULT_CSV};
    for (size_t i = 0; i < 3; i++) {
        const struct bl_result_options options = {.form = forms[i]};
        struct bl_output *output;
        size_t size;
        demand(bl_output_open(&output, NULL, NULL) == BL_OK);
        demand(bl_result_write(result, output, &options, NULL) == BL_OK);
        const char *text = bl_output_memory(output, &size);
        demand(text != NULL);
        if (forms[i] == BL_RESULT_JSON) {
            json_t *tree = json_loadb(text, size, 0, NULL);
            demand(tree != NULL);
            check_tree(tree);
            json_decref(tree);
        }
        bl_output_discard(output);
    }
}

static void add_run(struct bl_result *result, const struct bl_trial *trial,
                    size_t run)
{
    struct bl_run_data *data = NULL;
    struct bl_run_clocks *clocks = NULL;
    struct bl_run_lag *lag = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    enum bl_status status = bl_load_run(&data, trial, run, &error);
    if (status == BL_OK) {
        status = bl_clock_tie_run(&clocks, trial, data, &error);
    }
    if (status == BL_OK) {
        status = bl_measure_run(&lag, trial, data, clocks, &error);
    }
    demand(status == BL_OK || error.message[0] != '\0');
    demand(bl_result_add_run(
               result, trial,
               &(const struct bl_result_run){run, data, clocks, lag, &error},
               NULL) == BL_OK);
    bl_run_lag_destroy(lag);
    bl_run_clocks_destroy(clocks);
    bl_run_data_destroy(data);
}

static void walk(const struct bl_trial *trial)
{
    struct bl_result *result;
    demand(bl_result_create(&result, trial, NULL) == BL_OK);
    for (size_t run = 0; run < trial->runs && run < 4; run++) {
        add_run(result, trial, run);
    }
    write_result(result);
    bl_result_destroy(result);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0 || size > MOST_BYTES) {
        return 0;
    }
    make_folder();
    size_t start[PARTS];
    size_t length[PARTS];
    part_input((const char *)data, size, start, length);
    if (names_a_table_file((const char *)data, length[0])) {
        return 0;
    }
    for (int i = 0; i < PARTS; i++) {
        FILE *file = fopen(path[i], "wb");
        demand(file != NULL);
        (void)fwrite(data + start[i], 1, length[i], file);
        demand(fclose(file) == 0);
    }
    struct bl_trial *trial = NULL;
    if (bl_trial_read_file(&trial, path[0], NULL, NULL) == BL_OK &&
        names_only_ours(trial)) {
        walk(trial);
    }
    bl_trial_destroy(trial);
    return 0;
}
