/* SPDX-License-Identifier: MIT */
#include "io/ahead.h"

#include "base/alloc.h"

#include <pthread.h>
#include <string.h>

/* Four mebibytes: where other programs want the cores too, each of the two
   threads waits for its turn now and then, and the other one should have enough
   to go on with. */
enum { BLOCKS = 16 };

struct block {
    uint8_t *memory; /* BL_AHEAD_FRONT, then the bytes */
    size_t size;
    enum bl_status status; /* of the read that filled it */
    struct bl_error error;
};

struct bl_ahead {
    struct bl_gzip *gzip;
    struct bl_raw *raw;
    const char *name;
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t filled, emptied;
    struct block block[BLOCKS];
    size_t made, used; /* blocks so far; under the lock */
    bool stop;         /* under the lock */
    bool lent;         /* block `used` is with the reader; the reader's own */
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

/* A whole block, unless the file ends or fails in it. */
static enum bl_status read_block(struct bl_ahead *ahead, uint8_t *to,
                                 size_t *got, struct bl_error *error)
{
    *got = 0;
    while (*got < BL_AHEAD_BLOCK) {
        size_t some;
        const enum bl_status status =
            bl_raw_read(ahead->raw, ahead->name, to + *got,
                        BL_AHEAD_BLOCK - *got, &some, error);
        *got += some;
        if (status != BL_OK || some == 0) {
            return status;
        }
    }
    return BL_OK;
}

static void *fill_blocks(void *context)
{
    struct bl_ahead *ahead = context;
    size_t number = 0;
    bool last = false;
    while (!last && wait_for_room(ahead)) {
        struct block *block = &ahead->block[number++ % BLOCKS];
        bl_error_clear(&block->error);
        uint8_t *to = block->memory + BL_AHEAD_FRONT;
        block->status =
            ahead->gzip != NULL
                ? bl_gzip_read(ahead->gzip, to, BL_AHEAD_BLOCK, &block->size,
                               &block->error)
                : read_block(ahead, to, &block->size, &block->error);
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
        bl_free(ahead->block[i].memory);
    }
    bl_free(ahead);
}

struct bl_ahead *bl_ahead_start(struct bl_gzip *gzip, struct bl_raw *raw,
                                const char *name)
{
    struct bl_ahead *ahead = bl_alloc(1, sizeof(*ahead));
    if (ahead == NULL) {
        return NULL;
    }
    ahead->gzip = gzip;
    ahead->raw = raw;
    ahead->name = name;
    bool good = pthread_mutex_init(&ahead->lock, NULL) == 0 &&
                pthread_cond_init(&ahead->filled, NULL) == 0 &&
                pthread_cond_init(&ahead->emptied, NULL) == 0;
    for (size_t i = 0; i < BLOCKS && good; i++) {
        ahead->block[i].memory = bl_alloc(BL_AHEAD_FRONT + BL_AHEAD_BLOCK, 1);
        good = ahead->block[i].memory != NULL;
    }
    if (!good ||
        pthread_create(&ahead->thread, NULL, fill_blocks, ahead) != 0) {
        free_all(ahead);
        return NULL;
    }
    return ahead;
}

/* The block behind the one that the reader has. */
static struct block *wait_for_block(struct bl_ahead *ahead)
{
    (void)pthread_mutex_lock(&ahead->lock);
    const size_t number = ahead->used + ahead->lent;
    while (ahead->made == number) {
        (void)pthread_cond_wait(&ahead->filled, &ahead->lock);
    }
    (void)pthread_mutex_unlock(&ahead->lock);
    return &ahead->block[number % BLOCKS];
}

enum bl_status bl_ahead_next(struct bl_ahead *ahead, const uint8_t *keep,
                             size_t kept, uint8_t **data, size_t *got,
                             struct bl_error *error)
{
    struct block *block = wait_for_block(ahead);
    *data = block->memory + BL_AHEAD_FRONT;
    *got = block->size;
    if (kept > 0) {
        memcpy(*data - kept, keep, kept);
    }
    if (ahead->lent) {
        (void)pthread_mutex_lock(&ahead->lock);
        ahead->used++;
        (void)pthread_cond_signal(&ahead->emptied);
        (void)pthread_mutex_unlock(&ahead->lock);
    }
    ahead->lent = true;
    if (block->status != BL_OK && error != NULL) {
        *error = block->error;
    }
    return block->status;
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
