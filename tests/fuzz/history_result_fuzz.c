/* SPDX-License-Identifier: MIT */
/* A result as JSON, taken into a history in memory and read from it again: what
   is taken can be read, and what is refused leaves nothing. Then as the earlier
   result of a trial that is the same on a later day, as `compare --with`. */
#include "base/alloc.h"
#include "history/store.h"
#include "report/result.h"

#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool good)
{
    if (!good) {
        abort();
    }
}

static int64_t rows(struct bl_history *history)
{
    int64_t count = -1;
    must(
        bl_store_number(history,
                        "SELECT (SELECT count(*) FROM visit) + (SELECT "
                        "count(*) FROM figure) + (SELECT count(*) FROM member)",
                        &count, NULL) == BL_OK);
    return count;
}

static void read_back(struct bl_history *history)
{
    struct bl_history_list *list = NULL;
    struct bl_output *output = NULL;
    struct bl_error error;
    must(bl_output_open(&output, NULL, &error) == BL_OK);
    must(bl_history_list_create(&list, history, NULL, &error) == BL_OK);
    must(list->visits == 1 && list->units > 0);
    for (size_t i = 0; i < list->units; i++) {
        struct bl_history_life *life = NULL;
        must(bl_history_life_create(&life, history, list->unit[i].id, &error) ==
             BL_OK);
        must(bl_history_life_write(life, output, BL_RESULT_TEXT, 80, &error) ==
             BL_OK);
        bl_history_life_destroy(life);
    }
    must(bl_history_export(history, NULL, output, &error) == BL_OK);
    must(bl_history_remove(history, list->visit[0].number, &error) == BL_OK);
    bl_history_list_destroy(list);
    bl_output_discard(output);
}

/* Of these recordings nothing else is known. */
static void make_later(json_t *root)
{
    size_t index;
    json_t *recording;
    must(json_object_set_new(json_object_get(root, "trial"), "date",
                             json_string("2999-12-31")) == 0);
    json_array_foreach(json_object_get(root, "recordings"), index, recording)
    {
        char hash[65];
        (void)snprintf(hash, sizeof(hash), "%064zu", index);
        if (json_is_string(json_object_get(recording, "sha256"))) {
            must(json_object_set_new(recording, "sha256", json_string(hash)) ==
                 0);
        }
        (void)json_object_del(recording, "more_files");
    }
}

static void compare_with_later(const uint8_t *data, size_t size)
{
    struct bl_result later = {.root = json_loadb((const char *)data, size,
                                                 JSON_REJECT_DUPLICATES, NULL)};
    struct bl_bytes *source = NULL;
    struct bl_output *output = NULL;
    struct bl_error error;
    size_t answered = 0;
    must(later.root != NULL);
    make_later(later.root);
    json_t *trial = json_incref(json_object_get(later.root, "trial"));
    must(bl_bytes_open_memory(&source, "fuzz", data, size, &error) == BL_OK);
    must(bl_output_open(&output, NULL, &error) == BL_OK);
    if (bl_history_compare(source, &later, &later, NULL, &answered, &error) ==
        BL_OK) {
        struct bl_result told = {.root = json_object()};
        static const struct bl_result_options text = {.form = BL_RESULT_TEXT};
        must(json_object_set(told.root, "trial", trial) == 0);
        static const char *const parts[] = {"before_after", "answer"};
        for (size_t i = 0; i < 2; i++) {
            must(json_object_set(told.root, parts[i],
                                 json_object_get(later.root, parts[i])) == 0);
        }
        bl_identity_collect(&told);
        must(bl_result_write(&told, output, &text, &error) == BL_OK);
        bl_csv_before_after(&told, output);
        json_decref(told.root);
        json_decref(told.labels);
        json_decref(told.by_unit);
    }
    json_decref(trial);
    json_decref(later.root);
    bl_output_discard(output);
    bl_bytes_close(source);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct bl_history history = {.path = (char *)"memory"};
    struct bl_history_added added = {.visit = 0};
    struct bl_bytes *source = NULL;
    struct bl_error error;
    must(sqlite3_open(":memory:", &history.db) == SQLITE_OK);
    must(bl_schema_bring(&history, &bl_history_schema, &error) == BL_OK);
    must(bl_store_run(&history, "PRAGMA foreign_keys = ON", &error) == BL_OK);
    if (bl_bytes_open_memory(&source, "fuzz", data, size, &error) == BL_OK) {
        const enum bl_status status =
            bl_history_add_json(&history, source, &added, &error);
        if (status == BL_OK) {
            read_back(&history);
            compare_with_later(data, size);
        }
        must(rows(&history) == 0);
        bl_bytes_close(source);
    }
    bl_history_added_finish(&added);
    (void)sqlite3_close(history.db);
    return 0;
}
