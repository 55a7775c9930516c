/* SPDX-License-Identifier: MIT */
/* A unit that a history does not have by this id: who was meant? */
#include "base/alloc.h"
#include "history/store.h"

#include "brakelag/words.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

enum { IDS_TEXT = 160, IDS_SHOWN = 3 };

struct looking {
    const char *wanted;
    struct bl_nearest nearest; /* of ids and names */
    char ids[IDS_TEXT];        /* of the units that are called so */
    size_t called, length;
};

static enum bl_status look_at_unit(void *user, sqlite3_stmt *row)
{
    struct looking *l = user;
    const char *id = (const char *)sqlite3_column_text(row, 0);
    const char *name = (const char *)sqlite3_column_text(row, 1);
    if (id == NULL) {
        return BL_OK;
    }
    bl_nearest_offer(&l->nearest, id);
    if (name == NULL) {
        return BL_OK;
    }
    bl_nearest_offer(&l->nearest, name);
    if (strcasecmp(name, l->wanted) == 0 && l->called++ < IDS_SHOWN) {
        const int more = snprintf(l->ids + l->length, IDS_TEXT - l->length,
                                  "%s%s", l->length == 0 ? "" : " or ", id);
        if (more < 0 || (size_t)more >= IDS_TEXT - l->length) {
            l->ids[l->length] = '\0';
        } else {
            l->length += (size_t)more;
        }
    }
    return BL_OK;
}

enum bl_status bl_store_no_unit(struct bl_history *history, const char *unit_id,
                                struct bl_error *error)
{
    struct looking looking = {.wanted = unit_id,
                              .nearest = {.wanted = unit_id}};
    const enum bl_status status =
        bl_store_each(history,
                      "SELECT DISTINCT unit_id, name FROM member "
                      "WHERE ?1 IS NULL ORDER BY unit_id, name",
                      NULL, look_at_unit, &looking, error);
    if (status != BL_OK) {
        return status;
    }
    if (looking.length > 0) {
        return bl_fail(error, BL_NODATA, history->path,
                       "expected the id of a unit, found the name '%s'; "
                       "the id is %s%s",
                       unit_id, looking.ids,
                       looking.called > IDS_SHOWN ? " or others" : "");
    }
    const char *near = bl_nearest_word(&looking.nearest);
    if (near != NULL) {
        return bl_fail(error, BL_NODATA, history->path,
                       "there is no unit '%s'; did you mean '%s'? `brakelag "
                       "history list` lists all",
                       unit_id, near);
    }
    return bl_fail(error, BL_NODATA, history->path,
                   "there is no unit '%s'; `brakelag history list` lists them",
                   unit_id);
}
