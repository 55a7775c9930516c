/* SPDX-License-Identifier: MIT */
/* Outside reference: the one-shot EVP_Digest of libcrypto over the same bytes,
   and the digest of a million times "a" that FIPS 180-2 publishes. */
#include "testing.h"

#include "base/alloc.h"
#include "base/random.h"
#include "io/hash.h"

#include <openssl/evp.h>

static void expect_as_one_shot(const uint8_t *data, size_t size,
                               const char *hex)
{
    uint8_t digest[EVP_MAX_MD_SIZE];
    unsigned length = 0;
    assert_int_equal(
        EVP_Digest(data, size, digest, &length, EVP_sha256(), NULL), 1);
    char expected[BL_SHA256_HEX];
    for (unsigned i = 0; i < length; i++) {
        (void)snprintf(expected + 2 * i, 3, "%02x", digest[i]);
    }
    assert_string_equal(hex, expected);
}

static void add_in_pieces(struct bl_hash *hash, const uint8_t *data,
                          size_t size, struct bl_random *random)
{
    for (size_t at = 0; at < size;) {
        size_t piece = (size_t)bl_random_below(random, 400000);
        piece = piece < size - at ? piece : size - at;
        bl_hash_add(hash, data + at, piece);
        at += piece;
    }
}

static void any_size_in_any_pieces(void **state)
{
    (void)state;
    /* Below, at and above where the thread starts, and many blocks. */
    static const size_t sizes[] = {
        0,      1, (1 << 20) - 1, 1 << 20, (1 << 20) + 1, (1 << 20) + (1 << 18),
        5000001};
    struct bl_random random;
    bl_random_seed(&random, 7);
    uint8_t *data = bl_alloc(5000001, 1);
    assert_non_null(data);
    for (size_t i = 0; i < 5000001; i++) {
        data[i] = (uint8_t)(i * 2654435761u >> 13);
    }
    for (size_t i = 0; i < COUNT_OF(sizes); i++) {
        for (int turn = 0; turn < 3; turn++) {
            struct bl_hash *hash;
            struct bl_error error;
            assert_int_equal(bl_hash_new(&hash, &error), BL_OK);
            add_in_pieces(hash, data, sizes[i], &random);
            char hex[BL_SHA256_HEX];
            assert_int_equal(bl_hash_hex(hash, hex, &error), BL_OK);
            expect_as_one_shot(data, sizes[i], hex);
            bl_hash_free(hash);
        }
    }
    bl_free(data);
}

static void million_a(void **state)
{
    (void)state;
    uint8_t *data = bl_alloc(1000000, 1);
    assert_non_null(data);
    memset(data, 'a', 1000000);
    char hex[BL_SHA256_HEX];
    struct bl_error error;
    assert_int_equal(bl_sha256(data, 1000000, hex, &error), BL_OK);
    assert_string_equal(hex, "cdc76e5c9914fb9281a1c7e284d73e67"
                             "f1809a48a497200e046d39ccc7112cd0");
    bl_free(data);
}

/* Given up half way: nothing leaks, no thread is left. */
static void freed_before_the_end(void **state)
{
    (void)state;
    uint8_t *data = bl_alloc(1, 3 << 20);
    assert_non_null(data);
    struct bl_hash *hash;
    struct bl_error error;
    assert_int_equal(bl_hash_new(&hash, &error), BL_OK);
    bl_hash_add(hash, data, 3 << 20);
    bl_hash_free(hash);
    bl_free(data);
}

/* Any allocation of the thread may fail: the digest is the same. */
static void without_memory_for_a_thread(void **state)
{
    (void)state;
    const size_t size = 3 << 20;
    uint8_t *data = bl_alloc(size, 1);
    assert_non_null(data);
    for (uint64_t number = 1; number <= 6; number++) {
        struct bl_hash *hash;
        struct bl_error error;
        assert_int_equal(bl_hash_new(&hash, &error), BL_OK);
        bl_alloc_fail_at(number);
        for (size_t at = 0; at < size; at += 65536) {
            bl_hash_add(hash, data + at, 65536);
        }
        bl_alloc_fail_at(0);
        char hex[BL_SHA256_HEX];
        assert_int_equal(bl_hash_hex(hash, hex, &error), BL_OK);
        expect_as_one_shot(data, size, hex);
        bl_hash_free(hash);
    }
    bl_free(data);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_size_in_any_pieces),
        cmocka_unit_test(million_a),
        cmocka_unit_test(freed_before_the_end),
        cmocka_unit_test(without_memory_for_a_thread),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
