/* SPDX-License-Identifier: MIT */
/* INI files: what is met, in order. The rule for comments is that of
   docs/trial-file.md and docs/scenario-file.md. */
#include "testing.h"

#include "base/alloc.h"
#include "io/ini.h"

#include <stdio.h>
#include <string.h>

struct met {
    char text[1024];
    size_t length;
    int stop_after; /* events; 0: never */
};

static bool put(struct met *met, const char *kind, const char *a, const char *b,
                int line)
{
    met->length += (size_t)snprintf(met->text + met->length,
                                    sizeof(met->text) - met->length,
                                    "%d%s %s|%s\n", line, kind, a, b);
    assert_true(met->length < sizeof(met->text));
    return met->stop_after == 0 || --met->stop_after > 0;
}

static bool section(void *user, const char *heading, int line)
{
    return put(user, "s", heading, "", line);
}

static bool entry(void *user, const char *key, const char *value, int line)
{
    return put(user, "e", key, value, line);
}

static bool mistake(void *user, const char *code, int line, const char *text)
{
    (void)text;
    return put(user, "m", code, "", line);
}

static const struct bl_ini_events events = {section,     entry, mistake,
                                            "test file", "[a]", "[b 0]"};

static enum bl_status read_text(struct met *met, const char *text, size_t size)
{
    struct bl_bytes *source;
    struct bl_error error;
    enum bl_status status =
        bl_bytes_open_memory(&source, "test.ini", text, size, &error);
    if (status == BL_OK) {
        status = bl_ini_read(source, &events, met, &error);
        bl_bytes_close(source);
    }
    return status;
}

static void expect(const char *text, size_t size, const char *wanted)
{
    struct met met = {.stop_after = 0};
    assert_int_equal(read_text(&met, text, size), BL_OK);
    assert_string_equal(met.text, wanted);
}
#define EXPECT(text, wanted) expect(text, sizeof(text) - 1, wanted)

static void comments(void **state)
{
    (void)state;
    EXPECT("; first\n# second\n  ; indented\n[a]\n"
           "column = #3\nnote = a;b # c ; d\n  indented = 1\n",
           "4s a|\n5e column|#3\n6e note|a;b # c\n7e indented|1\n");
}

static void mistakes(void **state)
{
    (void)state;
    EXPECT("key = 1\n", "1m line-form|\n");
    EXPECT("[a]\nk = 1\nk = 2\nempty =\nword\nx: y = z\n",
           "1s a|\n2e k|1\n3m repeated-key|\n4m wrong-value|\n5m line-form|\n"
           "6m line-form|\n");
    /* The entries of a heading that is none belong to no section. */
    EXPECT("[a\nk = 1\n[b]\nk = 2\n", "1m line-form|\n3s b|\n4e k|2\n");
    /* The same key in another section. */
    EXPECT("[a]\nk = 1\n[b]\nk = 2\n", "1s a|\n2e k|1\n3s b|\n4e k|2\n");
    EXPECT("[a]\nk = \x01\nk = \xFF\n", "1s a|\n2m not-text|\n3m not-text|\n");
    EXPECT("[a]\nk = \0\n", "1s a|\n2m not-text|\n");
    EXPECT("a\0b\0\n\0[a]\nk = 1\n", "1m binary|\n");
}

/* 197 bytes fit a line, 49 a heading (docs/trial-file.md). */
static void longest(void **state)
{
    (void)state;
    char text[512];
    char wanted[512];
    for (int more = 0; more < 2; more++) {
        snprintf(text, sizeof(text), "[a]\nk = %0*d ; and a comment\n",
                 193 + more, 7);
        snprintf(wanted, sizeof(wanted), "1s a|\n2e k|%0*d\n", 193, 7);
        expect(text, strlen(text), more == 0 ? wanted : "1s a|\n2m limit|\n");
        snprintf(text, sizeof(text), "[ %0*d ]\nk = 1\n", 49 + more, 7);
        snprintf(wanted, sizeof(wanted), "1s %0*d|\n2e k|1\n", 49, 7);
        expect(text, strlen(text), more == 0 ? wanted : "1m limit|\n");
    }
}

/* Whoever listens may stop the reader at any event. */
static void stops(void **state)
{
    (void)state;
    static const char text[] = "[a]\nk = 1\nbad\n[b]\n";
    static const char *const upto[] = {"1s a|\n", "1s a|\n2e k|1\n",
                                       "1s a|\n2e k|1\n3m line-form|\n"};
    for (int after = 1; after <= 3; after++) {
        struct met met = {.stop_after = after};
        assert_int_equal(read_text(&met, text, sizeof(text) - 1), BL_OK);
        assert_string_equal(met.text, upto[after - 1]);
    }
}

static void memory_fails(void **state)
{
    (void)state;
    static const char text[] = "[a]\nk = 1\nl = 2\n[b]\nm = 3\n";
    enum bl_status status = BL_NOMEM;
    for (uint64_t at = 1; status != BL_OK; at++) {
        struct met met = {.stop_after = 0};
        bl_alloc_fail_at(at);
        status = read_text(&met, text, sizeof(text) - 1);
        bl_alloc_fail_at(0);
        assert_true(status == BL_OK || status == BL_NOMEM);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(comments), cmocka_unit_test(mistakes),
        cmocka_unit_test(longest), cmocka_unit_test(stops),
        cmocka_unit_test(memory_fails)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
