/* SPDX-License-Identifier: MIT */
/*
 * SHA-256 piece by piece (FIPS 180-4, by libcrypto). Beyond the first mebibyte
 * a thread of its own does the sums, beside the caller's parsing; without
 * threads the caller does, with the same result.
 */
#ifndef BRAKELAG_SRC_IO_HASH_H
#define BRAKELAG_SRC_IO_HASH_H

#include "brakelag/io.h"

struct bl_hash;

/* Created; free with bl_hash_free (NULL is fine). */
enum bl_status bl_hash_new(struct bl_hash **out, struct bl_error *error);
/* From now on bl_hash_add does the sums itself: its caller is a thread that has
   nothing better to do. */
void bl_hash_alone(struct bl_hash *hash);
/* A failure sticks and is reported by bl_hash_hex. */
void bl_hash_add(struct bl_hash *hash, const void *data, size_t size);
/* Once, at the end. Errors: SYSTEM. */
enum bl_status bl_hash_hex(struct bl_hash *hash, char hex[BL_SHA256_HEX],
                           struct bl_error *error);
void bl_hash_free(struct bl_hash *hash);

#endif
