/* SPDX-License-Identifier: MIT */
/* A result as JSON, taken into a history in memory and read from it again: what
   is taken can be read, and what is refused leaves nothing. */
#include "base/alloc.h"
#include "history/store.h"

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
        }
        must(rows(&history) == 0);
        bl_bytes_close(source);
    }
    bl_history_added_finish(&added);
    (void)sqlite3_close(history.db);
    return 0;
}
