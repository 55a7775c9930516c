/* SPDX-License-Identifier: MIT */
/* gzip fixtures are written by Python's gzip (tests/data/io/make.py). */
#include "testing.h"

#include "base/alloc.h"
#include "brakelag/io.h"

enum { LINES = 1000, LINE_BYTES = 28, TEXT_BYTES = LINES * LINE_BYTES };

static void expected_text(char *text)
{
    for (int i = 0; i < LINES; i++) {
        char line[LINE_BYTES + 1];
        snprintf(line, sizeof(line), "line %04d of the plain text\n", i);
        memcpy(text + i * LINE_BYTES, line, LINE_BYTES);
    }
}

struct outcome {
    enum bl_status open_status, status;
    struct bl_error error;
    size_t bytes;
    bool prefix; /* all bytes agree with the text, repeated */
    bool gzip;
};

static struct outcome read_fixture(const char *name, size_t step)
{
    struct outcome o = {.prefix = true};
    char path[4096];
    char fixture[256];
    snprintf(fixture, sizeof(fixture), "io/%s", name);
    static char text[TEXT_BYTES];
    expected_text(text);
    struct bl_bytes *source;
    bl_error_clear(&o.error);
    o.open_status = bl_bytes_open(
        &source, test_data(fixture, path, sizeof(path)), &o.error);
    if (o.open_status != BL_OK) {
        return o;
    }
    o.gzip = bl_bytes_is_gzip(source);
    char *buffer = malloc(step);
    assert_non_null(buffer);
    for (;;) {
        size_t got;
        o.status = bl_bytes_read(source, buffer, step, &got, &o.error);
        if (o.status != BL_OK || got == 0) {
            break;
        }
        for (size_t i = 0; i < got; i++) {
            o.prefix =
                o.prefix && buffer[i] == text[(o.bytes + i) % TEXT_BYTES];
        }
        o.bytes += got;
    }
    size_t got;
    struct bl_error again;
    bl_error_clear(&again);
    assert_int_equal(bl_bytes_read(source, buffer, step, &got, &again),
                     o.status);
    assert_string_equal(again.message, o.error.message);
    struct bl_stored stored;
    assert_int_equal(bl_bytes_drain(source, &stored, NULL), BL_OK);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    static uint8_t whole[65536];
    const size_t size = fread(whole, 1, sizeof(whole), file);
    fclose(file);
    char hex[BL_SHA256_HEX];
    assert_int_equal(bl_sha256(whole, size, hex, NULL), BL_OK);
    assert_string_equal(stored.sha256, hex);
    assert_int_equal(stored.bytes, size);
    free(buffer);
    bl_bytes_close(source);
    return o;
}

static void whole_streams_read_whole(void **state)
{
    (void)state;
    static const char *const names[] = {
        "good.txt.gz", "good-two-members-one-empty.gz", "good-zero-padding.gz"};
    static const size_t steps[] = {1, 777, 65536};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        for (size_t k = 0; k < COUNT_OF(steps); k++) {
            const struct outcome o = read_fixture(names[i], steps[k]);
            assert_int_equal(o.open_status, BL_OK);
            assert_int_equal(o.status, BL_OK);
            assert_true(o.gzip);
            assert_true(o.prefix);
            assert_int_equal(o.bytes, TEXT_BYTES);
        }
    }
}

static void damage_gives_what_could_be_inflated(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        enum bl_status status;
        size_t least, most;
        const char *says;
    } rows[] = {
        {"gzip-cut-in-header.gz", BL_TRUNCATED, 0, 0, "cut"},
        {"gzip-cut-in-data.gz", BL_TRUNCATED, 1000, TEXT_BYTES, "cut"},
        {"gzip-cut-in-trailer.gz", BL_TRUNCATED, TEXT_BYTES, TEXT_BYTES, "cut"},
        {"gzip-cut-in-second-member.gz", BL_TRUNCATED, TEXT_BYTES + 1000,
         2 * TEXT_BYTES, "cut"},
        {"gzip-wrong-crc.gz", BL_FORMAT, TEXT_BYTES, TEXT_BYTES, "check"},
        {"gzip-wrong-length.gz", BL_FORMAT, TEXT_BYTES, TEXT_BYTES, "length"},
        {"gzip-trailing-garbage.gz", BL_FORMAT, TEXT_BYTES, TEXT_BYTES,
         "another gzip member"},
        {"gzip-damaged-in-data.gz", BL_FORMAT, 0, 2 * TEXT_BYTES, "damaged"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct outcome o = read_fixture(rows[i].name, 4096);
        print_message("%s: %zu bytes, %s\n", rows[i].name, o.bytes,
                      o.error.message);
        assert_int_equal(o.open_status, BL_OK);
        assert_int_equal(o.status, rows[i].status);
        assert_true(o.bytes >= rows[i].least && o.bytes <= rows[i].most);
        assert_non_null(strstr(o.error.message, rows[i].says));
        if (rows[i].status == BL_TRUNCATED) {
            assert_true(o.prefix);
        }
    }
}

static void a_broken_header_is_refused_at_once(void **state)
{
    (void)state;
    static const char *const names[] = {"gzip-unknown-method.gz",
                                        "gzip-reserved-flags.gz"};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        const struct outcome o = read_fixture(names[i], 4096);
        assert_int_equal(o.open_status, BL_FORMAT);
        assert_non_null(strstr(o.error.message, "header"));
    }
}

static void a_damaged_stream_peeks_short(void **state)
{
    (void)state;
    char path[4096];
    struct bl_bytes *source;
    assert_int_equal(
        bl_bytes_open(&source,
                      test_data("io/gzip-cut-in-data.gz", path, sizeof(path)),
                      NULL),
        BL_OK);
    const uint8_t *data;
    size_t available;
    assert_int_equal(
        bl_bytes_peek(source, BL_PEEK_MAX, &data, &available, NULL), BL_OK);
    assert_true(available > 0 && available < TEXT_BYTES);
    bl_bytes_close(source);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    char path[4096];
    test_data("io/good.txt.gz", path, sizeof(path));
    bool whole = false;
    for (uint64_t n = 1; !whole; n++) {
        assert_true(n < 100);
        struct bl_bytes *source;
        char buffer[4096];
        size_t got = 0;
        bl_alloc_fail_at(n);
        enum bl_status status = bl_bytes_open(&source, path, NULL);
        if (status == BL_OK) {
            status = bl_bytes_read(source, buffer, sizeof(buffer), &got, NULL);
        }
        bl_alloc_fail_at(0);
        whole = status == BL_OK;
        assert_true(whole ? got > 0 : status == BL_NOMEM);
        bl_bytes_close(source);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whole_streams_read_whole),
        cmocka_unit_test(damage_gives_what_could_be_inflated),
        cmocka_unit_test(a_broken_header_is_refused_at_once),
        cmocka_unit_test(a_damaged_stream_peeks_short),
        cmocka_unit_test(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
