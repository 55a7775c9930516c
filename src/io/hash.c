/* SPDX-License-Identifier: MIT */
#include "io/hash.h"

#include "base/alloc.h"

#include <openssl/evp.h>
#include <pthread.h>
#include <string.h>

enum {
    SHA256_BYTES = 32,
    /* Smaller inputs are hashed sooner than a thread is made. */
    DIRECT_BYTES = 1 << 20,
    BLOCK_BYTES = 256 * 1024,
    BLOCKS = 4
};

/* Blocks of copied input, handed round: the caller fills them in turn, the
   thread empties them in the same turn. */
struct ring {
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t filled, emptied;
    uint8_t *block[BLOCKS];
    size_t size[BLOCKS];
    size_t given, done; /* blocks so far; under the lock */
    bool closing;       /* under the lock */
    size_t open;        /* bytes in the block at hand; the caller's own */
};

struct bl_hash {
    EVP_MD_CTX *context; /* the thread's while it runs */
    bool failed;
    uint64_t seen;
    struct ring *ring; /* NULL: no thread */
    bool alone;        /* a thread could not be had, or is not wanted */
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

static void *empty_blocks(void *context)
{
    struct bl_hash *hash = context;
    struct ring *ring = hash->ring;
    (void)pthread_mutex_lock(&ring->lock);
    for (;;) {
        while (ring->done == ring->given && !ring->closing) {
            (void)pthread_cond_wait(&ring->filled, &ring->lock);
        }
        if (ring->done == ring->given) {
            break;
        }
        const size_t at = ring->done % BLOCKS;
        (void)pthread_mutex_unlock(&ring->lock);
        if (EVP_DigestUpdate(hash->context, ring->block[at], ring->size[at]) !=
            1) {
            hash->failed = true;
        }
        (void)pthread_mutex_lock(&ring->lock);
        ring->done++;
        (void)pthread_cond_signal(&ring->emptied);
    }
    (void)pthread_mutex_unlock(&ring->lock);
    return NULL;
}

static void free_ring(struct ring *ring)
{
    (void)pthread_mutex_destroy(&ring->lock);
    (void)pthread_cond_destroy(&ring->filled);
    (void)pthread_cond_destroy(&ring->emptied);
    for (size_t i = 0; i < BLOCKS; i++) {
        bl_free(ring->block[i]);
    }
    bl_free(ring);
}

/* Start the thread. Where it cannot be had, hashing goes on without. */
static void start_ring(struct bl_hash *hash)
{
    hash->alone = true;
    struct ring *ring = bl_alloc(1, sizeof(*ring));
    if (ring == NULL) {
        return;
    }
    bool good = pthread_mutex_init(&ring->lock, NULL) == 0 &&
                pthread_cond_init(&ring->filled, NULL) == 0 &&
                pthread_cond_init(&ring->emptied, NULL) == 0;
    for (size_t i = 0; i < BLOCKS && good; i++) {
        ring->block[i] = bl_alloc(BLOCK_BYTES, 1);
        good = ring->block[i] != NULL;
    }
    hash->ring = ring;
    if (!good || pthread_create(&ring->thread, NULL, empty_blocks, hash) != 0) {
        hash->ring = NULL;
        free_ring(ring);
        return;
    }
    hash->alone = false;
}

/* The block at hand goes to the thread; wait until another one is free. */
static void give_block(struct ring *ring)
{
    (void)pthread_mutex_lock(&ring->lock);
    ring->size[ring->given % BLOCKS] = ring->open;
    ring->given++;
    (void)pthread_cond_signal(&ring->filled);
    while (ring->given - ring->done == BLOCKS) {
        (void)pthread_cond_wait(&ring->emptied, &ring->lock);
    }
    (void)pthread_mutex_unlock(&ring->lock);
    ring->open = 0;
}

static void stop_ring(struct bl_hash *hash)
{
    struct ring *ring = hash->ring;
    if (ring == NULL) {
        return;
    }
    if (ring->open > 0) {
        give_block(ring);
    }
    (void)pthread_mutex_lock(&ring->lock);
    ring->closing = true;
    (void)pthread_cond_signal(&ring->filled);
    (void)pthread_mutex_unlock(&ring->lock);
    (void)pthread_join(ring->thread, NULL);
    hash->ring = NULL;
    hash->alone = true;
    free_ring(ring);
}

void bl_hash_alone(struct bl_hash *hash)
{
    stop_ring(hash);
    hash->alone = true;
}

void bl_hash_add(struct bl_hash *hash, const void *data, size_t size)
{
    hash->seen += size;
    if (hash->ring == NULL && !hash->alone && hash->seen > DIRECT_BYTES) {
        start_ring(hash);
    }
    if (hash->ring == NULL) {
        if (size > 0 && EVP_DigestUpdate(hash->context, data, size) != 1) {
            hash->failed = true;
        }
        return;
    }
    const uint8_t *from = data;
    while (size > 0) {
        struct ring *ring = hash->ring;
        const size_t room = BLOCK_BYTES - ring->open;
        const size_t step = size < room ? size : room;
        memcpy(ring->block[ring->given % BLOCKS] + ring->open, from, step);
        ring->open += step;
        from += step;
        size -= step;
        if (ring->open == BLOCK_BYTES) {
            give_block(ring);
        }
    }
}

enum bl_status bl_hash_hex(struct bl_hash *hash, char hex[BL_SHA256_HEX],
                           struct bl_error *error)
{
    uint8_t digest[EVP_MAX_MD_SIZE];
    unsigned size = 0;
    hex[0] = '\0';
    stop_ring(hash);
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
        stop_ring(hash);
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
