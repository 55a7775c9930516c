/* SPDX-License-Identifier: MIT */
/*
 * Results as JSON, written by hand: two units and two runs of two applications
 * each, of one figure whose values the test states. Nothing of the program
 * writes them.
 */
#ifndef BRAKELAG_TESTS_UNIT_HISTORY_MADE_RESULT_H
#define BRAKELAG_TESTS_UNIT_HISTORY_MADE_RESULT_H

#include "testing.h"

#include "base/alloc.h"
#include "base/strbuf.h"
#include "history/store.h"

#include <math.h>
#include <unistd.h>

enum { MADE_RUNS = 2, MADE_APPLICATIONS = 2 };

struct made_visit {
    const char *date;  /* NULL: null */
    const char *id;    /* of unit 1 */
    const char *label; /* of its output */
    char hash;         /* a digit: recordings are 64 of it, and of the next */
    int runs;          /* 0: both */
    double u_gain;     /* s */
    double value[MADE_RUNS][MADE_APPLICATIONS]; /* NaN: null */
};

static inline void made_text(struct bl_strbuf *to, const char *text)
{
    if (text == NULL) {
        bl_strbuf_text(to, "null");
        return;
    }
    bl_strbuf_char(to, '"');
    for (; *text != '\0'; text++) {
        if (*text == '"' || *text == '\\') {
            bl_strbuf_char(to, '\\');
        }
        bl_strbuf_char(to, *text);
    }
    bl_strbuf_char(to, '"');
}

static inline void made_units(struct bl_strbuf *to, const struct made_visit *v)
{
    bl_strbuf_text(
        to, "\"units\":[{\"unit\":\"0\",\"name\":\"truck\",\"id\":null,"
            "\"labels\":[],\"control_line\":\"relayed\",\"command\":\"pedal\","
            "\"command_kind\":\"treadle-pressure\",\"command_at\":\"20 kPa\","
            "\"outputs\":[]},{\"unit\":\"1\",\"name\":\"trailer\",\"id\":");
    made_text(to, v->id);
    bl_strbuf_text(to, ",\"labels\":[{\"label\":\"valve\",\"value\":\"R\"}],"
                       "\"control_line\":\"relayed\",\"outputs\":[{\"label\":");
    made_text(to, v->label);
    bl_strbuf_text(to, ",\"from\":\"out1\"}]}],\"channels\":[{\"channel\":"
                       "\"out1\",\"instrument\":\"T-7\"},{\"channel\":"
                       "\"pedal\",\"instrument\":\"T-1\"}],\"record\":[]");
}

static inline void made_run(struct bl_strbuf *to, const struct made_visit *v,
                            int run)
{
    bl_strbuf_format(to,
                     "%s{\"name\":\"P%d\",\"condition\":\"powered\",\"power\":"
                     "\"on\",\"data\":\"on\",\"applications\":[",
                     run > 0 ? "," : "", run + 1);
    for (int a = 0; a < MADE_APPLICATIONS; a++) {
        bl_strbuf_format(
            to,
            "%s{\"number\":%d,\"combination\":\"A\",\"kind\":\"full\","
            "\"shape\":\"step\",\"excluded\":false,\"command\":{\"own\":{"
            "\"apply_10\":{\"s\":0.02},\"apply_75\":{\"s\":0.14}}},\"units\":[{"
            "\"unit\":\"1\",\"name\":\"trailer\",\"levels\":[]",
            a > 0 ? "," : "", a + 1);
        for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
            if (i == BL_FIGURE_APPLY_75 && !isnan(v->value[run][a])) {
                /* 3, 4: 5 ms of what differs; 2 ms of the delay; 1 ms clock */
                bl_strbuf_format(
                    to,
                    ",\"apply_75\":{\"s\":%.12g,\"u_s\":0.0055,\"flags\":["
                    "\"held-value\"],\"u_parts\":{\"crossing\":0.003,"
                    "\"sampling\":0.004,\"resolution\":0,\"gain\":%.12g,"
                    "\"zero\":0,"
                    "\"delay\":0.002,\"rest\":0,\"command\":0,\"clock\":0.001}"
                    "}",
                    v->value[run][a], v->u_gain);
            } else if (bl_figure_of_unit(i)) {
                bl_strbuf_format(to,
                                 ",\"%s\":{\"s\":null,\"u_s\":null,\"reason\":"
                                 "\"no-channel\"}",
                                 bl_figure_name_text(i));
            }
        }
        bl_strbuf_text(to, "}]}");
    }
    bl_strbuf_text(to, "]}");
}

/* bl_free it. */
static inline char *made_json(const struct made_visit *v)
{
    struct bl_strbuf to = {0};
    const int runs = v->runs == 0 ? MADE_RUNS : v->runs;
    bl_strbuf_text(&to, "{\"schema\":\"brakelag-result/2\",\"tool\":{"
                        "\"version\":\"0.2\"},\"trial\":{\"name\":\"yard\","
                        "\"file\":\"trial.ini\",\"sha256\":\"\",\"date\":");
    made_text(&to, v->date);
    bl_strbuf_text(&to, ",\"place\":\"works\",\"supply_kpa\":800,"
                        "\"temperature_c\":20,\"response_at_kpa\":20,");
    made_units(&to, v);
    bl_strbuf_text(&to, "},\"recordings\":[");
    for (int i = 0; i < runs; i++) {
        char hash[65];
        memset(hash, v->hash + i, 64);
        hash[64] = '\0';
        bl_strbuf_format(&to, "%s{\"run\":\"P%d\",\"sha256\":\"%s\"}",
                         i > 0 ? "," : "", i + 1, hash);
    }
    bl_strbuf_text(&to, "],\"runs\":[");
    for (int i = 0; i < runs; i++) {
        made_run(&to, v, i);
    }
    bl_strbuf_text(&to, "]}");
    assert_false(to.failed);
    return to.text;
}

/* A name in the folder for tests that is nobody else's; what lay there is
   gone. */
static inline const char *made_path(const char *name, char *path, size_t size)
{
    const char *folder = getenv("TMPDIR");
    const char *const ends[] = {"", "-wal", "-shm"};
    for (size_t i = COUNT_OF(ends); i-- > 0;) {
        snprintf(path, size, "%s/brakelag-history-%ld-%s%s",
                 folder == NULL ? "/tmp" : folder, (long)getpid(), name,
                 ends[i]);
        (void)unlink(path);
    }
    return path;
}

static inline struct bl_history *made_open(const char *path)
{
    struct bl_history *history = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_history_open(&history, path, BL_HISTORY_WRITE, &error) != BL_OK) {
        print_error("%s\n", error.message);
    }
    assert_non_null(history);
    return history;
}

static inline enum bl_status made_add_text(struct bl_history *history,
                                           const char *json,
                                           struct bl_history_added *added,
                                           struct bl_error *error)
{
    struct bl_bytes *source = NULL;
    bl_error_clear(error);
    memset(added, 0, sizeof(*added));
    assert_int_equal(
        bl_bytes_open_memory(&source, "r.json", json, strlen(json), error),
        BL_OK);
    const enum bl_status status =
        bl_history_add_json(history, source, added, error);
    bl_bytes_close(source);
    return status;
}

/* What became of it; it must be taken. The number of the visit. */
static inline int64_t made_add(struct bl_history *history,
                               const struct made_visit *visit,
                               enum bl_history_change change)
{
    struct bl_history_added added;
    struct bl_error error;
    char *json = made_json(visit);
    if (made_add_text(history, json, &added, &error) != BL_OK) {
        print_error("%s\n", error.message);
        fail();
    }
    assert_int_equal(added.change, change);
    bl_free(json);
    bl_history_added_finish(&added);
    return added.visit;
}

static inline struct made_visit made_plain(char hash)
{
    return (struct made_visit){.date = "2026-03-01",
                               .id = "BT-0417",
                               .label = "rear",
                               .hash = hash,
                               .value = {{0.40, 0.42}, {0.44, 0.46}}};
}

/* How many rows a table has. */
static inline int64_t made_rows(struct bl_history *history, const char *table)
{
    char sql[100];
    int64_t rows = -1;
    snprintf(sql, sizeof(sql), "SELECT count(*) FROM %s", table);
    assert_int_equal(bl_store_number(history, sql, &rows, NULL), BL_OK);
    return rows;
}

#endif
