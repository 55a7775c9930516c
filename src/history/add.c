/* SPDX-License-Identifier: MIT */
/*
 * A result becomes a visit, in one transaction. The visit is known by its
 * recordings: their hashes, in order and without doubles, and one hash over
 * these. What a result says is one hash over its trial and runs as they are
 * written (12 digits), so that the same result is known whether it comes from a
 * trial or from its JSON.
 */
#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/logtime.h"
#include "base/strbuf.h"
#include "history/take.h"
#include "io/hash.h"
#include "report/result.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { HEX = BL_SHA256_HEX - 1 };

struct hashes {
    const char **item;
    size_t count, capacity;
    char all[BL_SHA256_HEX]; /* over them */
    char content[BL_SHA256_HEX];
};

static void put_hash(struct bl_take *take, struct hashes *to,
                     const json_t *recording)
{
    const char *hash = bl_take_text(take, recording, "sha256");
    if (hash == NULL || hash[0] == '\0') {
        return; /* it could not be read */
    }
    if (strlen(hash) != HEX || strspn(hash, "0123456789abcdef") != HEX) {
        bl_take_fail(take, BL_FORMAT,
                     "expected a SHA-256 of 64 digits, found '%.80s'", hash);
        return;
    }
    if (!bl_grow(&to->item, &to->capacity, to->count + 1, sizeof(*to->item),
                 BL_LIMIT_TRIAL_ITEMS)) {
        bl_take_fail(take, BL_LIMIT, "more than %u recordings",
                     BL_LIMIT_TRIAL_ITEMS);
        return;
    }
    to->item[to->count++] = hash;
}

static bool run_is_reference(const struct bl_take *take, const char *name)
{
    size_t index;
    json_t *run;
    json_array_foreach(json_object_get(take->root, "runs"), index, run)
    {
        const char *other = json_string_value(json_object_get(run, "name"));
        if (name != NULL && other != NULL && strcmp(other, name) == 0) {
            return bl_take_is_reference(run);
        }
    }
    return false;
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static void collect_hashes(struct bl_take *take, struct hashes *to)
{
    size_t r;
    json_t *recording;
    json_array_foreach(bl_take_array(take, take->root, "recordings"), r,
                       recording)
    {
        size_t m;
        json_t *more;
        (void)snprintf(take->place, sizeof(take->place), "recordings[%zu]", r);
        if (run_is_reference(take, bl_take_text(take, recording, "run"))) {
            continue;
        }
        put_hash(take, to, recording);
        json_array_foreach(bl_take_array(take, recording, "more_files"), m,
                           more)
        {
            put_hash(take, to, more);
        }
    }
    take->place[0] = '\0';
    if (to->count == 0) {
        bl_take_fail(take, BL_NODATA,
                     "it names no recording that could be read; `brakelag "
                     "measure TRIAL --json` writes what is taken here");
        return;
    }
    qsort(to->item, to->count, sizeof(*to->item), by_text);
    size_t kept = 1;
    for (size_t i = 1; i < to->count; i++) {
        if (strcmp(to->item[i], to->item[kept - 1]) != 0) {
            to->item[kept++] = to->item[i];
        }
    }
    to->count = kept;
}

static int add_piece(const char *text, size_t size, void *user)
{
    bl_hash_add(user, text, size);
    return 0;
}

/* What trial and runs say; not where the trial file lay that day. */
static void hash_content(struct bl_take *take, char hex[BL_SHA256_HEX])
{
    json_t *trial = json_copy((json_t *)take->trial);
    struct bl_hash *hash = NULL;
    const json_t *const parts[] = {trial, json_object_get(take->root, "runs")};
    (void)json_object_del(trial, "file");
    take->status = bl_hash_new(&hash, take->error);
    for (size_t i = 0; take->status == BL_OK && i < 2; i++) {
        if (trial == NULL ||
            (parts[i] != NULL &&
             json_dump_callback(
                 parts[i], add_piece, hash,
                 JSON_COMPACT | JSON_SORT_KEYS | JSON_ENCODE_ANY |
                     JSON_REAL_PRECISION(BL_TREE_DIGITS)) != 0)) {
            bl_take_fail(take, BL_NOMEM, "out of memory");
        }
    }
    if (take->status == BL_OK) {
        take->status = bl_hash_hex(hash, hex, take->error);
    }
    bl_hash_free(hash);
    json_decref(trial);
}

static void sum_up(struct bl_take *take, struct hashes *to)
{
    struct bl_hash *hash = NULL;
    if (take->status != BL_OK) {
        return;
    }
    take->status = bl_hash_new(&hash, take->error);
    for (size_t i = 0; take->status == BL_OK && i < to->count; i++) {
        bl_hash_add(hash, to->item[i], HEX);
    }
    if (take->status == BL_OK) {
        take->status = bl_hash_hex(hash, to->all, take->error);
    }
    bl_hash_free(hash);
    if (take->status == BL_OK) {
        hash_content(take, to->content);
    }
}

/* What must be right before anything is written. */
static void check_head(struct bl_take *take)
{
    static const char family[] = "brakelag-result/";
    if (!json_is_object(take->root)) {
        bl_take_fail(take, BL_FORMAT, "expected a result of brakelag as JSON");
        return;
    }
    const char *schema = bl_take_text(take, take->root, "schema");
    if (schema == NULL || strncmp(schema, family, sizeof(family) - 1) != 0) {
        bl_take_fail(take, BL_FORMAT,
                     "expected a result (schema brakelag-result/2), found "
                     "schema '%.80s'",
                     schema == NULL ? "" : schema);
    } else if (strcmp(schema, "brakelag-result/2") != 0) {
        bl_take_fail(take, BL_UNSUPPORTED,
                     "a result of schema '%.80s', which is not read; measure "
                     "its trial again",
                     schema);
    }
    take->trial = bl_take_object(take, take->root, "trial");
    const char *date = bl_take_text(take, take->trial, "date");
    if (date == NULL) {
        bl_take_fail(take, BL_TRIAL,
                     "the trial states no date; write 'date = 2026-03-01' in "
                     "its section [record] and measure again");
        return;
    }
    int64_t days = 0;
    int64_t time_ns = 0;
    int64_t resolution_ns = 0;
    const size_t length = strlen(date);
    if (length < 10 || date[4] != '-' ||
        !bl_log_time_date(date, 10, false, &days) ||
        (length > 10 &&
         (date[10] != 'T' || !bl_log_time_clock(date + 11, length - 11,
                                                &time_ns, &resolution_ns)))) {
        bl_take_fail(take, BL_FORMAT,
                     "expected a date such as 2026-03-01, found '%.40s'", date);
    }
    take->day = (double)days + (double)time_ns / (double)LOG_DAY_NS;
}

static int64_t number_of(struct bl_take *take, const char *sql)
{
    int64_t number = 0;
    if (take->status == BL_OK) {
        take->status =
            bl_store_number(take->history, sql, &number, take->error);
    }
    return number;
}

/* The first of the visits that share a recording with this one, 0: none. All of
   them are to be replaced: one that has a recording more is refused. */
static int64_t find_older(struct bl_take *take, const struct hashes *hashes)
{
    sqlite3_stmt *one;
    /* A table of this connection, of what the new visit has. */
    bl_take_run(take,
                "CREATE TEMP TABLE IF NOT EXISTS now (sha256 TEXT PRIMARY "
                "KEY); DELETE FROM now");
    bl_take_prepare(take, &one, "INSERT INTO now VALUES (?1)");
    for (size_t i = 0; i < hashes->count; i++) {
        bl_take_put(take, one, "t", hashes->item[i]);
    }
    (void)sqlite3_finalize(one);
    const int64_t partly = number_of(
        take,
        "SELECT visit FROM recording WHERE sha256 NOT IN now AND visit IN "
        "(SELECT visit FROM recording WHERE sha256 IN now) LIMIT 1");
    if (partly != 0) {
        bl_take_fail(take, BL_ARG,
                     "it shares recordings with visit %lld, which has others, "
                     "too; add the whole trial, or remove that visit first",
                     (long long)partly);
    }
    return number_of(
        take,
        "SELECT coalesce(min(visit), 0) FROM recording WHERE sha256 IN now");
}

/* Is the visit there already, of these recordings and with this content? */
static bool is_same(struct bl_take *take, const struct hashes *hashes)
{
    sqlite3_stmt *statement;
    bool same = false;
    bl_take_prepare(take, &statement,
                    "SELECT id FROM visit WHERE recordings = ?1 AND content = "
                    "?2");
    if (take->status == BL_OK) {
        take->status = bl_store_bind(take->history, statement, take->error,
                                     "tt", hashes->all, hashes->content);
    }
    if (take->status == BL_OK) {
        const int step = bl_store_step(take->history, statement, take->error);
        take->status = step < 0 ? (enum bl_status)step : BL_OK;
        same = step == 1;
        take->visit = same ? sqlite3_column_int64(statement, 0) : 0;
    }
    (void)sqlite3_finalize(statement);
    return same;
}

/* Under the number that it had, where it replaces another. */
static void put_visit(struct bl_take *take, const struct hashes *hashes,
                      int64_t number)
{
    const json_t *trial = take->trial;
    sqlite3_stmt *statement;
    bl_take_prepare(take, &statement,
                    "INSERT INTO visit VALUES (nullif(?1, 0), ?2, ?3, ?4, ?5, "
                    "?6, ?7, ?8, ?9, ?10, ?11)");
    const char *tool = json_string_value(
        json_object_get(json_object_get(take->root, "tool"), "version"));
    const double supply_kpa = bl_take_number(take, trial, "supply_kpa");
    const double temperature_c = bl_take_number(take, trial, "temperature_c");
    if (supply_kpa < 0 || supply_kpa > 20000 || temperature_c < -200 ||
        temperature_c > 200) {
        bl_take_fail(take, BL_FORMAT,
                     "expected a supply pressure up to 20000 kPa and a "
                     "temperature within 200 C");
    }
    bl_take_put(take, statement, "ittrtrrrttt", number,
                bl_take_text(take, trial, "name"),
                bl_take_text(take, trial, "date"), take->day,
                bl_take_text(take, trial, "place"), supply_kpa, temperature_c,
                bl_take_number(take, trial, "response_at_kpa"), hashes->all,
                hashes->content, tool);
    take->visit = sqlite3_last_insert_rowid(take->history->db);
    (void)sqlite3_finalize(statement);
}

static void put_recordings(struct bl_take *take, const struct hashes *hashes)
{
    sqlite3_stmt *statement;
    bl_take_prepare(take, &statement, "INSERT INTO recording VALUES (?1, ?2)");
    for (size_t i = 0; i < hashes->count; i++) {
        bl_take_put(take, statement, "ti", hashes->item[i], take->visit);
    }
    (void)sqlite3_finalize(statement);
}

/* All of it within a transaction, which stays open. */
static void put(struct bl_take *take, const struct hashes *hashes)
{
    struct bl_history_added *added = take->added;
    const uint64_t refused = bl_alloc_refused();
    bl_take_run(take, "BEGIN IMMEDIATE");
    if (is_same(take, hashes)) {
        added->change = BL_HISTORY_SAME;
    } else {
        const int64_t older = find_older(take, hashes);
        added->change = older == 0 ? BL_HISTORY_ADDED : BL_HISTORY_REPLACED;
        bl_take_run(take, "DELETE FROM visit WHERE id IN (SELECT visit FROM "
                          "recording WHERE sha256 IN now)");
        put_visit(take, hashes, older);
        put_recordings(take, hashes);
        bl_take_rows(take);
        /* A note that is lost would be a unit left out in silence. */
        if (bl_alloc_refused() != refused) {
            bl_take_fail(take, BL_NOMEM, "out of memory");
        }
    }
    added->visit = take->visit;
}

enum bl_status bl_take_result(struct bl_take *take)
{
    struct hashes hashes = {.count = 0};
    check_head(take);
    if (take->status == BL_OK) {
        collect_hashes(take, &hashes);
    }
    sum_up(take, &hashes);
    if (take->status == BL_OK) {
        put(take, &hashes);
    }
    bl_free(hashes.item);
    bl_free(take->unit);
    take->unit = NULL;
    return take->status;
}

static enum bl_status add(struct bl_history *history, const json_t *root,
                          const char *source, struct bl_history_added *added,
                          struct bl_error *error)
{
    struct bl_error own = {.status = BL_OK};
    struct bl_take take = {.history = history,
                           .source = source,
                           .error = error == NULL ? &own : error,
                           .root = root,
                           .added = added};
    (void)bl_take_result(&take);
    bl_take_run(&take, "COMMIT");
    bl_store_undo(history); /* what was not committed */
    return take.status;
}

enum bl_status bl_history_add(struct bl_history *history,
                              const struct bl_result *result,
                              struct bl_history_added *added,
                              struct bl_error *error)
{
    const char *file = json_string_value(
        json_object_get(json_object_get(result->root, "trial"), "file"));
    return add(history, result->root, file, added, error);
}

/* How many values a JSON text has at most, by its signs outside of texts: what
   jansson would make of it is bounded before it does. */
static size_t count_values(const char *text, size_t size)
{
    size_t values = 1;
    bool in_text = false;
    for (size_t i = 0; i < size; i++) {
        if (text[i] == '"') {
            in_text = !in_text;
        } else if (in_text && text[i] == '\\') {
            i++;
        } else if (!in_text) {
            values += text[i] == ',' || text[i] == '[' || text[i] == '{';
        }
    }
    return values;
}

static enum bl_status read_all(struct bl_strbuf *text, struct bl_bytes *source,
                               struct bl_error *error)
{
    char block[65536];
    size_t got = 0;
    enum bl_status status;
    do {
        status = bl_bytes_read(source, block, sizeof(block), &got, error);
        bl_strbuf_add(text, block, status == BL_OK ? got : 0);
    } while (status == BL_OK && got > 0 && !text->failed);
    if (status == BL_OK && text->failed) {
        status = bl_fail(error, BL_LIMIT, bl_bytes_name(source),
                         "more than %u MiB of JSON, or than memory holds; add "
                         "the trial itself",
                         BL_LIMIT_RESULT_BYTES >> 20);
    }
    const size_t values = count_values(bl_strbuf_get(text), text->length);
    if (status == BL_OK && values > BL_LIMIT_RESULT_VALUES) {
        status = bl_fail(error, BL_LIMIT, bl_bytes_name(source),
                         "%zu values of JSON, at most %u are read; add the "
                         "trial itself",
                         values, BL_LIMIT_RESULT_VALUES);
    }
    return status;
}

enum bl_status bl_history_add_json(struct bl_history *history,
                                   struct bl_bytes *source,
                                   struct bl_history_added *added,
                                   struct bl_error *error)
{
    struct bl_strbuf text = {.limit = BL_LIMIT_RESULT_BYTES};
    json_error_t said;
    json_t *root = NULL;
    enum bl_status status = read_all(&text, source, error);
    if (status == BL_OK) {
        root = json_loadb(bl_strbuf_get(&text), text.length,
                          JSON_REJECT_DUPLICATES, &said);
        if (root == NULL) {
            const bool memory =
                json_error_code(&said) == json_error_out_of_memory;
            status = memory ? bl_fail_memory(error)
                            : bl_fail_line(error, BL_FORMAT,
                                           bl_bytes_name(source), said.line,
                                           "expected a result as JSON: %s",
                                           said.text);
        }
    }
    bl_strbuf_finish(&text);
    if (status == BL_OK) {
        status = add(history, root, bl_bytes_name(source), added, error);
    }
    json_decref(root);
    return status;
}

void bl_history_added_finish(struct bl_history_added *added)
{
    bl_notes_finish(&added->notes);
}
