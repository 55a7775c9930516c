/* SPDX-License-Identifier: MIT */
#include "io/hash.h"

#include "base/alloc.h"

#include <openssl/evp.h>

enum { SHA256_BYTES = 32 };

struct bl_hash {
    EVP_MD_CTX *context;
    bool failed;
};

enum bl_status bl_hash_new(struct bl_hash **out, struct bl_error *error)
{
    *out = NULL;
    struct bl_hash *hash = bl_alloc(1, sizeof(*hash));
    if (hash == NULL) {
        return bl_fail_memory(error);
    }
    hash->context = EVP_MD_CTX_new();
    if (hash->context == NULL) {
        bl_hash_free(hash);
        return bl_fail_memory(error);
    }
    if (EVP_DigestInit_ex(hash->context, EVP_sha256(), NULL) != 1) {
        bl_hash_free(hash);
        return bl_fail(error, BL_SYSTEM, NULL,
                       "SHA-256 is not available in this system's libcrypto");
    }
    *out = hash;
    return BL_OK;
}

void bl_hash_add(struct bl_hash *hash, const void *data, size_t size)
{
    if (size > 0 && EVP_DigestUpdate(hash->context, data, size) != 1) {
        hash->failed = true;
    }
}

enum bl_status bl_hash_hex(struct bl_hash *hash, char hex[BL_SHA256_HEX],
                           struct bl_error *error)
{
    uint8_t digest[EVP_MAX_MD_SIZE];
    unsigned size = 0;
    hex[0] = '\0';
    if (hash->failed || EVP_DigestFinal_ex(hash->context, digest, &size) != 1 ||
        size != SHA256_BYTES) {
        return bl_fail(error, BL_SYSTEM, NULL, "libcrypto could not hash");
    }
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < SHA256_BYTES; i++) {
        hex[2 * i] = digits[digest[i] >> 4];
        hex[2 * i + 1] = digits[digest[i] & 15];
    }
    hex[BL_SHA256_HEX - 1] = '\0';
    return BL_OK;
}

void bl_hash_free(struct bl_hash *hash)
{
    if (hash != NULL) {
        EVP_MD_CTX_free(hash->context);
        bl_free(hash);
    }
}

enum bl_status bl_sha256(const void *data, size_t size, char hex[BL_SHA256_HEX],
                         struct bl_error *error)
{
    struct bl_hash *hash;
    enum bl_status status = bl_hash_new(&hash, error);
    if (status != BL_OK) {
        hex[0] = '\0';
        return status;
    }
    bl_hash_add(hash, data, size);
    status = bl_hash_hex(hash, hex, error);
    bl_hash_free(hash);
    return status;
}
