/* SPDX-License-Identifier: MIT */
#include "testing.h"

#include "base/alloc.h"
#include "brakelag/io.h"
#include "io/bytes.h"
#include "io/stdio_bridge.h"

#include <sys/types.h>
#include <unistd.h>

/* FIPS 180-4 examples, as published by NIST ("SHA256.pdf", and the digest of
   the empty message in the SHAVS short-message vectors). */
static const struct {
    const char *message, *hex;
} published[] = {
    {"abc", "ba7816bf8f01cfea414140de5dae2223"
            "b00361a396177a9cb410ff61f20015ad"},
    {"", "e3b0c44298fc1c149afbf4c8996fb924"
         "27ae41e4649b934ca495991b7852b855"},
    {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
     "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
};

static void sha256_gives_published_digests(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(published); i++) {
        char hex[BL_SHA256_HEX];
        const char *message = published[i].message;
        assert_int_equal(bl_sha256(message, strlen(message), hex, NULL), BL_OK);
        assert_string_equal(hex, published[i].hex);
    }
}

static void hash_covers_what_was_not_read(void **state)
{
    (void)state;
    const char *message = published[2].message;
    for (size_t taken = 0; taken <= strlen(message); taken += 7) {
        struct bl_bytes *source;
        assert_int_equal(bl_bytes_open_memory(&source, "memory", message,
                                              strlen(message), NULL),
                         BL_OK);
        char buffer[64];
        size_t got;
        assert_int_equal(bl_bytes_read(source, buffer, taken, &got, NULL),
                         BL_OK);
        assert_int_equal(got, taken);
        struct bl_stored stored;
        assert_int_equal(bl_bytes_drain(source, &stored, NULL), BL_OK);
        assert_string_equal(stored.sha256, published[2].hex);
        assert_int_equal(stored.bytes, strlen(message));
        bl_bytes_close(source);
    }
}

static void peek_takes_nothing(void **state)
{
    (void)state;
    struct bl_bytes *source;
    assert_int_equal(bl_bytes_open_memory(&source, "m", "brake", 5, NULL),
                     BL_OK);
    const uint8_t *data;
    size_t available;
    assert_int_equal(bl_bytes_peek(source, 3, &data, &available, NULL), BL_OK);
    assert_true(available >= 3);
    assert_memory_equal(data, "bra", 3);
    assert_int_equal(bl_bytes_offset(source), 0);
    char buffer[2];
    size_t got;
    assert_int_equal(bl_bytes_read(source, buffer, 2, &got, NULL), BL_OK);
    assert_int_equal(
        bl_bytes_peek(source, BL_PEEK_MAX, &data, &available, NULL), BL_OK);
    assert_int_equal(available, 3);
    assert_memory_equal(data, "ake", 3);
    assert_int_equal(bl_bytes_offset(source), 2);
    assert_false(bl_bytes_is_gzip(source));
    assert_string_equal(bl_bytes_name(source), "m");
    bl_bytes_close(source);
    bl_bytes_close(NULL);
}

/* A pattern whose byte at any offset is known, larger than every buffer. */
enum { LARGE = 3 * 1024 * 1024 + 17 };

static uint8_t pattern(size_t i)
{
    return (uint8_t)((i * 2654435761u) >> 13);
}

static void any_size_of_read_gives_the_same_bytes(void **state)
{
    (void)state;
    uint8_t *all = malloc(LARGE);
    assert_non_null(all);
    for (size_t i = 0; i < LARGE; i++) {
        all[i] = pattern(i);
    }
    static const size_t sizes[] = {1009, 65536, 262144, LARGE};
    for (size_t k = 0; k < COUNT_OF(sizes); k++) {
        struct bl_bytes *source;
        assert_int_equal(bl_bytes_open_memory(&source, "m", all, LARGE, NULL),
                         BL_OK);
        uint8_t *part = malloc(sizes[k]);
        assert_non_null(part);
        size_t at = 0;
        for (;;) {
            const uint8_t *ahead;
            size_t available;
            size_t got;
            assert_int_equal(
                bl_bytes_peek(source, BL_PEEK_MAX, &ahead, &available, NULL),
                BL_OK);
            assert_true(available >= BL_PEEK_MAX || at + available == LARGE);
            assert_int_equal(bl_bytes_read(source, part, sizes[k], &got, NULL),
                             BL_OK);
            if (got == 0) {
                break;
            }
            assert_memory_equal(part, all + at, got);
            at += got;
        }
        assert_int_equal(at, LARGE);
        assert_int_equal(bl_bytes_offset(source), LARGE);
        free(part);
        bl_bytes_close(source);
    }
    free(all);
}

static void a_wide_window_is_in_one_piece(void **state)
{
    (void)state;
    uint8_t *all = malloc(LARGE);
    assert_non_null(all);
    for (size_t i = 0; i < LARGE; i++) {
        all[i] = pattern(i);
    }
    struct bl_bytes *source;
    assert_int_equal(bl_bytes_open_memory(&source, "m", all, LARGE, NULL),
                     BL_OK);
    uint64_t skipped;
    assert_int_equal(bl_bytes_skip(source, 777777, &skipped, NULL), BL_OK);
    assert_int_equal(skipped, 777777);
    const uint8_t *data;
    size_t available;
    assert_int_equal(
        bl_bytes_window(source, BL_WINDOW_MAX, &data, &available, NULL), BL_OK);
    assert_true(available >= BL_WINDOW_MAX);
    assert_memory_equal(data, all + 777777, BL_WINDOW_MAX);
    assert_int_equal(bl_bytes_skip(source, LARGE, &skipped, NULL), BL_OK);
    assert_int_equal(skipped, LARGE - 777777);
    bl_bytes_close(source);
    free(all);
}

static void what_cannot_be_opened_is_said(void **state)
{
    (void)state;
    struct bl_bytes *source;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_bytes_open(&source, "/nowhere/x.pcap", &error), BL_IO);
    assert_null(source);
    assert_non_null(strstr(error.message, "cannot open"));
    assert_string_equal(error.source, "/nowhere/x.pcap");
    bl_error_clear(&error);
    assert_int_equal(bl_bytes_open(&source, "/", &error), BL_IO);
    assert_non_null(strstr(error.message, "folder"));
}

static void standard_input_is_a_dash(void **state)
{
    (void)state;
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    assert_int_equal(write(ends[1], "from a pipe", 11), 11);
    close(ends[1]);
    const int kept = dup(STDIN_FILENO);
    assert_true(dup2(ends[0], STDIN_FILENO) >= 0);
    close(ends[0]);
    struct bl_bytes *source;
    assert_int_equal(bl_bytes_open(&source, "-", NULL), BL_OK);
    char buffer[32];
    size_t got;
    assert_int_equal(bl_bytes_read(source, buffer, sizeof(buffer), &got, NULL),
                     BL_OK);
    assert_int_equal(got, 11);
    assert_memory_equal(buffer, "from a pipe", 11);
    assert_int_equal(bl_bytes_read(source, buffer, sizeof(buffer), &got, NULL),
                     BL_OK);
    assert_int_equal(got, 0);
    assert_string_equal(bl_bytes_name(source), "-");
    bl_bytes_close(source);
    assert_true(dup2(kept, STDIN_FILENO) >= 0);
    close(kept);
}

/* A source that fails after some bytes. */
static enum bl_status failing_fill(void *context, uint8_t *buffer, size_t size,
                                   size_t *got, struct bl_error *error)
{
    unsigned *calls = context;
    if ((*calls)++ > 0) {
        return bl_fail(error, BL_IO, "disk", "expected to read, found a fault");
    }
    assert_true(size >= 3);
    memcpy(buffer, "abc", 3);
    *got = 3;
    return BL_OK;
}

static void a_failure_comes_after_the_bytes_and_stays(void **state)
{
    (void)state;
    unsigned calls = 0;
    struct bl_bytes *source;
    assert_int_equal(
        bl_bytes_open_function(&source, "disk", failing_fill, &calls, NULL),
        BL_OK);
    char buffer[8];
    size_t got;
    assert_int_equal(bl_bytes_read(source, buffer, 8, &got, NULL), BL_OK);
    assert_int_equal(got, 3);
    for (int i = 0; i < 2; i++) {
        struct bl_error error;
        bl_error_clear(&error);
        assert_int_equal(bl_bytes_read(source, buffer, 8, &got, &error), BL_IO);
        assert_int_equal(got, 0);
        assert_non_null(strstr(error.message, "found a fault"));
    }
    assert_int_equal(calls, 2);
    bl_bytes_close(source);
}

static void a_file_reads_a_source_and_reports_its_failure(void **state)
{
    (void)state;
    unsigned calls = 0;
    struct bl_bytes *source;
    struct bl_stdio bridge;
    char buffer[8];
    assert_int_equal(
        bl_bytes_open_function(&source, "disk", failing_fill, &calls, NULL),
        BL_OK);
    assert_int_equal(bl_stdio_open_source(&bridge, source, NULL), BL_OK);
    assert_int_equal(fread(buffer, 1, 3, bridge.file), 3);
    assert_memory_equal(buffer, "abc", 3);
    assert_int_equal(fread(buffer, 1, 8, bridge.file), 0);
    assert_true(ferror(bridge.file));
    assert_int_equal(bridge.status, BL_IO);
    bl_stdio_close(&bridge);
    bl_bytes_close(source);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    bool opened = false;
    for (uint64_t n = 1; !opened; n++) {
        assert_true(n < 100);
        struct bl_bytes *source;
        bl_alloc_fail_at(n);
        const enum bl_status status =
            bl_bytes_open_memory(&source, "m", "abc", 3, NULL);
        bl_alloc_fail_at(0);
        opened = status == BL_OK;
        if (opened) {
            bl_bytes_close(source);
        } else {
            assert_int_equal(status, BL_NOMEM);
            assert_null(source);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sha256_gives_published_digests),
        cmocka_unit_test(hash_covers_what_was_not_read),
        cmocka_unit_test(peek_takes_nothing),
        cmocka_unit_test(any_size_of_read_gives_the_same_bytes),
        cmocka_unit_test(a_wide_window_is_in_one_piece),
        cmocka_unit_test(what_cannot_be_opened_is_said),
        cmocka_unit_test(standard_input_is_a_dash),
        cmocka_unit_test(a_failure_comes_after_the_bytes_and_stays),
        cmocka_unit_test(a_file_reads_a_source_and_reports_its_failure),
        cmocka_unit_test(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
