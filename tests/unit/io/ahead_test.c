/* SPDX-License-Identifier: MIT */
/* gzip streams long enough to be inflated ahead, and files long enough to be
   read ahead. Outside reference: the bytes that zlib packed. */
#include "testing.h"

#include "base/alloc.h"
#include "base/random.h"
#include "io/bytes.h"

#include <stdio.h>
#include <unistd.h>

#include <zlib.h>

enum { PLAIN = 5000000, GZIP_BITS = 15 + 16 };

static uint8_t plain[PLAIN];
static uint8_t packed[PLAIN];
static size_t packed_size;

static int pack(void **state)
{
    (void)state;
    uint64_t random = 88172645463325252u;
    for (size_t i = 0; i < PLAIN; i++) {
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        plain[i] = (uint8_t)(random & 15);
    }
    z_stream z = {0};
    if (deflateInit2(&z, 1, Z_DEFLATED, GZIP_BITS, 8, Z_DEFAULT_STRATEGY) !=
        Z_OK) {
        return -1;
    }
    z.next_in = plain;
    z.avail_in = PLAIN;
    z.next_out = packed;
    z.avail_out = PLAIN;
    const int code = deflate(&z, Z_FINISH);
    packed_size = PLAIN - z.avail_out;
    (void)deflateEnd(&z);
    return code == Z_STREAM_END ? 0 : -1;
}

/* Reads all there is; the bytes must be those packed. */
static size_t read_all(struct bl_bytes *source, enum bl_status *status,
                       struct bl_error *error)
{
    static uint8_t buffer[70001];
    size_t at = 0;
    for (;;) {
        size_t got;
        *status = bl_bytes_read(source, buffer, sizeof(buffer), &got, error);
        if (*status != BL_OK || got == 0) {
            return at;
        }
        assert_true(at + got <= PLAIN);
        assert_memory_equal(buffer, plain + at, got);
        at += got;
    }
}

static struct bl_bytes *open_packed(size_t size)
{
    struct bl_bytes *source;
    struct bl_error error;
    assert_int_equal(
        bl_bytes_open_memory(&source, "packed", packed, size, &error), BL_OK);
    return source;
}

static void all_bytes_in_order(void **state)
{
    (void)state;
    struct bl_bytes *source = open_packed(packed_size);
    enum bl_status status;
    struct bl_error error;
    assert_int_equal(read_all(source, &status, &error), PLAIN);
    assert_int_equal(status, BL_OK);
    struct bl_stored stored;
    assert_int_equal(bl_bytes_drain(source, &stored, &error), BL_OK);
    assert_int_equal(stored.bytes, packed_size);
    char hex[BL_SHA256_HEX];
    assert_int_equal(bl_sha256(packed, packed_size, hex, &error), BL_OK);
    assert_string_equal(stored.sha256, hex);
    bl_bytes_close(source);
}

/* What stands before the cut comes first, then the failure, again and again. */
static void cut_stream(void **state)
{
    (void)state;
    struct bl_bytes *source = open_packed(packed_size / 4 * 3);
    for (int turn = 0; turn < 2; turn++) {
        enum bl_status status;
        struct bl_error error;
        const size_t bytes = read_all(source, &status, &error);
        assert_int_equal(status, BL_TRUNCATED);
        assert_true(turn > 0 ? bytes == 0 : bytes > PLAIN / 2);
        assert_int_equal(error.offset, packed_size / 4 * 3);
    }
    bl_bytes_close(source);
}

/* Finished or closed in the middle: the hash still covers all bytes. */
static void given_up_in_the_middle(void **state)
{
    (void)state;
    for (int finish = 0; finish < 2; finish++) {
        struct bl_bytes *source = open_packed(packed_size);
        static uint8_t buffer[65536];
        struct bl_error error;
        size_t at = 0;
        while (at < PLAIN / 2) {
            size_t got;
            assert_int_equal(
                bl_bytes_read(source, buffer, sizeof(buffer), &got, &error),
                BL_OK);
            at += got;
        }
        if (finish == 1) {
            struct bl_stored stored;
            char hex[BL_SHA256_HEX];
            assert_int_equal(bl_bytes_drain(source, &stored, &error), BL_OK);
            assert_int_equal(bl_sha256(packed, packed_size, hex, &error),
                             BL_OK);
            assert_string_equal(stored.sha256, hex);
        }
        bl_bytes_close(source);
    }
}

/* Without memory for a thread the stream is inflated by the reader. */
static void without_memory_for_a_thread(void **state)
{
    (void)state;
    for (uint64_t number = 1; number <= 12; number++) {
        struct bl_bytes *source = open_packed(packed_size);
        static uint8_t buffer[1 << 20];
        struct bl_error error;
        size_t at = 0;
        size_t got = 1;
        /* Past zlib's own allocations, short of the thread's. */
        while (at < 900000 && got > 0) {
            assert_int_equal(bl_bytes_read(source, buffer, 65536, &got, &error),
                             BL_OK);
            at += got;
        }
        bl_alloc_fail_at(number);
        while (got > 0) {
            assert_int_equal(bl_bytes_read(source, buffer, 65536, &got, &error),
                             BL_OK);
            assert_true(at + got <= PLAIN);
            assert_memory_equal(buffer, plain + at, got);
            at += got;
        }
        bl_alloc_fail_at(0);
        assert_int_equal(at, PLAIN);
        bl_bytes_close(source);
    }
}

static struct bl_bytes *open_plain_file(void)
{
    char path[512];
    (void)test_folder_name(path, sizeof(path), "ahead");
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    FILE *file = fdopen(fd, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(plain, 1, PLAIN, file), PLAIN);
    assert_int_equal(fclose(file), 0);
    struct bl_bytes *source;
    struct bl_error error;
    assert_int_equal(bl_bytes_open(&source, path, &error), BL_OK);
    assert_int_equal(unlink(path), 0);
    return source;
}

/* Windows of any size from `*at` on, of which a part is taken. */
static void look_around(struct bl_bytes *source, size_t *at, size_t until)
{
    struct bl_random random;
    bl_random_seed(&random, 7);
    while (*at < until) {
        /* Mostly short ones; some are wider than the blocks, some the widest
           that there are. */
        const uint64_t kind = bl_random_below(&random, 40);
        size_t wanted = bl_random_below(&random, 200);
        wanted = kind == 0 ? BL_WINDOW_MAX : wanted;
        wanted = kind == 1 ? bl_random_below(&random, 600000) : wanted;
        wanted = kind == 2 ? bl_random_below(&random, 20000) : wanted;
        const uint8_t *data;
        size_t available;
        struct bl_error error;
        assert_int_equal(
            bl_bytes_window(source, wanted, &data, &available, &error), BL_OK);
        assert_true(available >= wanted || *at + available == PLAIN);
        assert_true(*at + available <= PLAIN);
        assert_memory_equal(data, plain + *at, available);
        assert_int_equal(bl_bytes_offset(source), *at);
        const size_t step = bl_random_below(&random, available + 1);
        bl_bytes_take(source, step);
        *at += step;
    }
}

static void windows_of_any_size(void **state)
{
    (void)state;
    for (int turn = 0; turn < 4; turn++) {
        struct bl_bytes *source =
            turn % 2 == 0 ? open_plain_file() : open_packed(packed_size);
        size_t at = 0;
        look_around(source, &at, turn < 2 ? PLAIN : PLAIN / 2);
        struct bl_stored stored;
        struct bl_error error;
        assert_int_equal(bl_bytes_drain(source, &stored, &error), BL_OK);
        char hex[BL_SHA256_HEX];
        assert_int_equal(turn % 2 == 0
                             ? bl_sha256(plain, PLAIN, hex, &error)
                             : bl_sha256(packed, packed_size, hex, &error),
                         BL_OK);
        assert_string_equal(stored.sha256, hex);
        assert_int_equal(stored.bytes, turn % 2 == 0 ? PLAIN : packed_size);
        bl_bytes_close(source);
    }
}

/* Closed in the middle: the thread ends. */
static void a_file_closed_in_the_middle(void **state)
{
    (void)state;
    struct bl_bytes *source = open_plain_file();
    size_t at = 0;
    look_around(source, &at, PLAIN / 3);
    bl_bytes_close(source);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_bytes_in_order),
        cmocka_unit_test(cut_stream),
        cmocka_unit_test(given_up_in_the_middle),
        cmocka_unit_test(without_memory_for_a_thread),
        cmocka_unit_test(windows_of_any_size),
        cmocka_unit_test(a_file_closed_in_the_middle),
    };
    return cmocka_run_group_tests(tests, pack, NULL);
}
