/* SPDX-License-Identifier: MIT */
/*
 * Files that are no history, or no longer one, and results that say something
 * else than they should: each is refused with one line, and nothing changes.
 * Also how an older file becomes one of a later form.
 */
#include "made_result.h"

static enum bl_status try_open(const char *path, enum bl_history_mode mode,
                               struct bl_error *error)
{
    struct bl_history *history = NULL;
    bl_error_clear(error);
    const enum bl_status status = bl_history_open(&history, path, mode, error);
    bl_history_close(history);
    return status;
}

static void write_file(const char *path, const void *data, size_t size)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(data, 1, size, file), size);
    fclose(file);
}

static unsigned char *read_file(const char *path, size_t *size)
{
    unsigned char *data = malloc(1 << 20);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    assert_non_null(data);
    *size = fread(data, 1, 1 << 20, file);
    fclose(file);
    return data;
}

/* With SQLite itself, as another program would. */
static void run_sql(const char *path, const char *sql)
{
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK) {
        print_error("%s\n", sqlite3_errmsg(db));
        fail();
    }
    sqlite3_close(db);
}

static void filled(const char *path)
{
    const struct made_visit visit = made_plain('1');
    struct bl_history *history = made_open(path);
    (void)made_add(history, &visit, BL_HISTORY_ADDED);
    bl_history_close(history);
}

static void missing_file_is_said(void **state)
{
    (void)state;
    char path[300];
    struct bl_error error;
    made_path("missing", path, sizeof(path));
    assert_int_equal(try_open(path, BL_HISTORY_READ, &error), BL_IO);
    assert_int_equal(access(path, F_OK), -1);
    assert_int_equal(try_open("/", BL_HISTORY_WRITE, &error), BL_IO);
}

/* What belongs to others stays as it is, to the byte. */
static void foreign_files_are_left_alone(void **state)
{
    (void)state;
    static const char *const kinds[] = {"text", "database", "log"};
    char path[300];
    struct bl_error error;
    for (size_t i = 0; i < COUNT_OF(kinds); i++) {
        made_path(kinds[i], path, sizeof(path));
        if (i == 0) {
            char text[5000];
            memset(text, 'x', sizeof(text));
            write_file(path, text, sizeof(text));
        } else {
            run_sql(path, "CREATE TABLE visit (a, b)");
        }
        if (i == 2) {
            run_sql(path, "PRAGMA user_version = 1");
        }
        size_t size;
        size_t now;
        unsigned char *before = read_file(path, &size);
        assert_int_equal(try_open(path, BL_HISTORY_WRITE, &error), BL_FORMAT);
        assert_non_null(
            strstr(error.message, "expected a history of brakelag"));
        unsigned char *after = read_file(path, &now);
        assert_int_equal(now, size);
        assert_memory_equal(after, before, size);
        free(before);
        free(after);
        (void)unlink(path);
    }
}

/* A trigger, a view, a table more: nothing of it is run. */
static void changed_tables_are_refused(void **state)
{
    (void)state;
    static const char *const changes[] = {
        "CREATE TRIGGER t AFTER INSERT ON visit BEGIN DELETE FROM visit; END",
        "CREATE VIEW v AS SELECT * FROM visit", "CREATE TABLE more (a)",
        "DROP INDEX member_unit", "ALTER TABLE visit ADD COLUMN more"};
    char path[300];
    struct bl_error error;
    for (size_t i = 0; i < COUNT_OF(changes); i++) {
        filled(made_path("changed", path, sizeof(path)));
        run_sql(path, changes[i]);
        assert_int_equal(try_open(path, BL_HISTORY_WRITE, &error), BL_FORMAT);
        assert_non_null(strstr(error.message, "expected the tables"));
        (void)unlink(path);
    }
}

static void later_form_is_refused(void **state)
{
    (void)state;
    char path[300];
    struct bl_error error;
    filled(made_path("later", path, sizeof(path)));
    run_sql(path, "PRAGMA user_version = 2");
    assert_int_equal(try_open(path, BL_HISTORY_READ, &error), BL_UNSUPPORTED);
    assert_non_null(strstr(error.message, "a later version"));
    (void)unlink(path);
}

/* Pages overwritten, one after the other, and files that end early: refused, or
   the place was not in use and everything is there. */
static void damaged_pages_are_found(void **state)
{
    (void)state;
    enum { PAGE = 4096 };
    char path[300];
    size_t size;
    size_t refused = 0;
    filled(made_path("pages", path, sizeof(path)));
    unsigned char *whole = read_file(path, &size);
    unsigned char *bent = malloc(size);
    assert_non_null(bent);
    assert_true(size >= 10 * PAGE);
    for (size_t page = 0; page < size / PAGE; page++) {
        for (int cut = 0; cut < 2; cut++) {
            struct bl_error error;
            memcpy(bent, whole, size);
            if (page > 0 || cut == 0) {
                memset(bent + page * PAGE, 0xA5, PAGE);
            }
            write_file(path, bent, cut == 0 ? size : page * PAGE + 100);
            if (page == 0 && cut == 1) {
                continue;
            }
            const enum bl_status status =
                try_open(path, BL_HISTORY_READ, &error);
            refused += status == BL_FORMAT;
            assert_int_equal(status, BL_FORMAT);
            assert_true(error.message[0] != '\0');
            assert_null(strchr(error.message, '\n'));
        }
    }
    assert_int_equal(refused, 2 * (size / PAGE) - 1);
    free(bent);
    free(whole);
    (void)unlink(path);
}

/* One change of a sound result each: what it becomes, and what is said. */
static const struct {
    const char *from, *to;
    enum bl_status status;
    const char *said;
} wrong[] = {
    {"{\"schema\"", "[\"schema\"", BL_FORMAT, "expected a result as JSON"},
    {"brakelag-result/2", "brakelag-result/3", BL_UNSUPPORTED, "measure"},
    {"brakelag-result/2", "brakelag-survey/1", BL_FORMAT, "schema"},
    {"\"2026-03-01\"", "null        ", BL_TRIAL, "[record]"},
    {"2026-03-01", "2026-02-30", BL_FORMAT, "expected a date"},
    {"2026-03-01", "01.03.2026", BL_FORMAT, "expected a date"},
    {"\"BT-0417\"", "null     ", BL_TRIAL, "no unit has an id"},
    {"\"id\":\"BT-0417\"", "\"id\":7        ", BL_FORMAT,
     "trial.units[1]: expected a text in 'id', found a number"},
    {"\"s\":0.44", "\"s\":\"a\"", BL_FORMAT,
     "runs[1].applications[0].units[0]: expected a number in 's', found a "
     "text"},
    {"\"s\":0.44", "\"s\":4444", BL_FORMAT, "up to 1000 s"},
    {"\"apply_75\":{\"s\":0.44", "\"apply_7\" :{\"s\":0.44", BL_FORMAT,
     "expected a figure in 'apply_75'"},
    {"\"number\":1", "\"number\":0", BL_FORMAT, "runs[0].applications[0]"},
    {"\"kind\":\"full\"", "\"kimd\":\"full\"", BL_FORMAT, "kind"},
    {"[{\"unit\":\"1\",\"name\":\"trailer\",\"lev",
     "[{\"unit\":\"9\",\"name\":\"trailer\",\"lev", BL_FORMAT, "no unit '9'"},
    {"\"sha256\":\"1111", "\"sha256\":\"111x", BL_FORMAT, "SHA-256"},
    {"\"supply_kpa\":800", "\"supply_kpa\":-80", BL_FORMAT, "supply"},
    {"\"runs\":[", "\"rums\":[", BL_NODATA, "no figures"},
    {"\"recordings\":[", "\"recordingz\":[", BL_NODATA, "no recording"},
    {"\"unit\":\"0\"", "\"unit\":null", BL_FORMAT, "trial.units[0]"},
};

static void wrong_results_change_nothing(void **state)
{
    (void)state;
    char path[300];
    const struct made_visit visit = made_plain('1');
    struct bl_history *history =
        made_open(made_path("wrong", path, sizeof(path)));
    for (size_t i = 0; i < COUNT_OF(wrong); i++) {
        struct bl_history_added added;
        struct bl_error error;
        char *json = made_json(&visit);
        char *place = strstr(json, wrong[i].from);
        struct bl_strbuf bent = {0};
        assert_non_null(place);
        bl_strbuf_add(&bent, json, (size_t)(place - json));
        bl_strbuf_text(&bent, wrong[i].to);
        bl_strbuf_text(&bent, place + strlen(wrong[i].from));
        const enum bl_status status =
            made_add_text(history, bent.text, &added, &error);
        if (status != wrong[i].status ||
            strstr(error.message, wrong[i].said) == NULL) {
            print_error("%zu: %d, %s\n", i, status, error.message);
        }
        assert_int_equal(status, wrong[i].status);
        assert_non_null(strstr(error.message, wrong[i].said));
        assert_int_equal(made_rows(history, "visit"), 0);
        assert_int_equal(made_rows(history, "figure"), 0);
        bl_history_added_finish(&added);
        bl_strbuf_finish(&bent);
        bl_free(json);
    }
    bl_history_close(history);
    (void)unlink(path);
}

/* Forms that never were: from 1 to 3 with what is in the file, and a step that
   fails leaves the older form. */
static void older_file_is_brought_up(void **state)
{
    (void)state;
    static const char *const sound[] = {
        NULL, "ALTER TABLE visit ADD COLUMN weather TEXT",
        "UPDATE visit SET weather = 'dry'; CREATE INDEX w ON visit (weather)"};
    static const char *const broken[] = {
        NULL, "ALTER TABLE visit ADD COLUMN weather TEXT",
        "DROP TABLE nothing"};
    const char *step[3];
    const struct bl_schema schema = {step, 3};
    char path[300];
    struct bl_history *history = NULL;
    struct bl_error error;
    filled(made_path("older", path, sizeof(path)));
    memcpy(step, broken, sizeof(step));
    step[0] = bl_history_schema.step[0];
    assert_int_not_equal(
        bl_store_open(&history, path, BL_HISTORY_WRITE, &schema, &error),
        BL_OK);
    assert_int_equal(try_open(path, BL_HISTORY_READ, &error), BL_OK);
    memcpy(step, sound, sizeof(step));
    step[0] = bl_history_schema.step[0];
    assert_int_equal(
        bl_store_open(&history, path, BL_HISTORY_READ, &schema, &error), BL_OK);
    assert_int_equal(made_rows(history, "visit WHERE weather = 'dry'"), 1);
    assert_int_equal(made_rows(history, "application"), 4);
    bl_history_close(history);
    assert_int_equal(try_open(path, BL_HISTORY_READ, &error), BL_UNSUPPORTED);
    /* A new file goes the same way. */
    made_path("newest", path, sizeof(path));
    assert_int_equal(
        bl_store_open(&history, path, BL_HISTORY_WRITE, &schema, &error),
        BL_OK);
    bl_history_close(history);
    (void)unlink(path);
    made_path("older", path, sizeof(path));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(missing_file_is_said),
        cmocka_unit_test(foreign_files_are_left_alone),
        cmocka_unit_test(changed_tables_are_refused),
        cmocka_unit_test(later_form_is_refused),
        cmocka_unit_test(damaged_pages_are_found),
        cmocka_unit_test(wrong_results_change_nothing),
        cmocka_unit_test(older_file_is_brought_up)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
