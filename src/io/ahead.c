/* SPDX-License-Identifier: MIT */
#include "io/ahead.h"

#include "base/alloc.h"

#include <pthread.h>
#include <string.h>

enum { BLOCK_BYTES = 256 * 1024, BLOCKS = 4 };

struct block {
    uint8_t *data;
    size_t size;
    enum bl_status status; /* of the read that filled it */
    struct bl_error error;
};

struct bl_ahead {
    struct bl_gzip *gzip;
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t filled, emptied;
    struct block block[BLOCKS];
    size_t made, used; /* blocks so far; under the lock */
    bool stop;         /* under the lock */
    size_t at;         /* taken of the block at hand; the reader's own */
};

/* Wait for an empty block; false: the reader has gone. */
static bool wait_for_room(struct bl_ahead *ahead)
{
    (void)pthread_mutex_lock(&ahead->lock);
    while (ahead->made - ahead->used == BLOCKS && !ahead->stop) {
        (void)pthread_cond_wait(&ahead->emptied, &ahead->lock);
    }
    const bool stop = ahead->stop;
    (void)pthread_mutex_unlock(&ahead->lock);
    return !stop;
}

static void *inflate_blocks(void *context)
{
    struct bl_ahead *ahead = context;
    size_t number = 0;
    bool last = false;
    while (!last && wait_for_room(ahead)) {
        struct block *block = &ahead->block[number++ % BLOCKS];
        bl_error_clear(&block->error);
        block->status = bl_gzip_read(ahead->gzip, block->data, BLOCK_BYTES,
                                     &block->size, &block->error);
        last = block->status != BL_OK || block->size == 0;
        (void)pthread_mutex_lock(&ahead->lock);
        ahead->made++;
        (void)pthread_cond_signal(&ahead->filled);
        (void)pthread_mutex_unlock(&ahead->lock);
    }
    return NULL;
}

static void free_all(struct bl_ahead *ahead)
{
    (void)pthread_mutex_destroy(&ahead->lock);
    (void)pthread_cond_destroy(&ahead->filled);
    (void)pthread_cond_destroy(&ahead->emptied);
    for (size_t i = 0; i < BLOCKS; i++) {
        bl_free(ahead->block[i].data);
    }
    bl_free(ahead);
}

struct bl_ahead *bl_ahead_start(struct bl_gzip *gzip)
{
    struct bl_ahead *ahead = bl_alloc(1, sizeof(*ahead));
    if (ahead == NULL) {
        return NULL;
    }
    ahead->gzip = gzip;
    bool good = pthread_mutex_init(&ahead->lock, NULL) == 0 &&
                pthread_cond_init(&ahead->filled, NULL) == 0 &&
                pthread_cond_init(&ahead->emptied, NULL) == 0;
    for (size_t i = 0; i < BLOCKS && good; i++) {
        ahead->block[i].data = bl_alloc(BLOCK_BYTES, 1);
        good = ahead->block[i].data != NULL;
    }
    if (!good ||
        pthread_create(&ahead->thread, NULL, inflate_blocks, ahead) != 0) {
        free_all(ahead);
        return NULL;
    }
    return ahead;
}

enum bl_status bl_ahead_read(struct bl_ahead *ahead, uint8_t *buffer,
                             size_t size, size_t *got, struct bl_error *error)
{
    *got = 0;
    (void)pthread_mutex_lock(&ahead->lock);
    while (ahead->made == ahead->used) {
        (void)pthread_cond_wait(&ahead->filled, &ahead->lock);
    }
    const size_t number = ahead->used;
    (void)pthread_mutex_unlock(&ahead->lock);
    struct block *block = &ahead->block[number % BLOCKS];
    const size_t left = block->size - ahead->at;
    *got = left < size ? left : size;
    memcpy(buffer, block->data + ahead->at, *got);
    ahead->at += *got;
    if (ahead->at < block->size) {
        return BL_OK;
    }
    if (block->status != BL_OK || block->size == 0) {
        /* The last block stays, so that its answer comes again. */
        if (block->status != BL_OK && error != NULL) {
            *error = block->error;
        }
        return block->status;
    }
    ahead->at = 0;
    (void)pthread_mutex_lock(&ahead->lock);
    ahead->used++;
    (void)pthread_cond_signal(&ahead->emptied);
    (void)pthread_mutex_unlock(&ahead->lock);
    return BL_OK;
}

void bl_ahead_stop(struct bl_ahead *ahead)
{
    if (ahead == NULL) {
        return;
    }
    (void)pthread_mutex_lock(&ahead->lock);
    ahead->stop = true;
    (void)pthread_cond_signal(&ahead->emptied);
    (void)pthread_mutex_unlock(&ahead->lock);
    (void)pthread_join(ahead->thread, NULL);
    free_all(ahead);
}
