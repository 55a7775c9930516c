/* SPDX-License-Identifier: MIT */
/*
 * A run's recordings on threads, each a task of its own. Which thread takes
 * which task leaves no trace: a task writes to places of its own, and the
 * results are put together in the order of the trial afterwards.
 */
#include "load/build.h"

#include "base/alloc.h"

#include <pthread.h>
#include <stdatomic.h>

enum { MOST_THREADS = 64 };

struct task {
    struct bl_capture_build *capture; /* of the two, one */
    struct bl_log_build *log;
    enum bl_status status;
    struct bl_error error;
};

struct work {
    struct bl_run_store *store;
    const struct bl_trial *trial;
    struct task *task; /* one per recording */
    size_t tasks;
    atomic_size_t next;
};

static void *take_tasks(void *context)
{
    struct work *work = context;
    for (;;) {
        const size_t number = atomic_fetch_add(&work->next, 1);
        if (number >= work->tasks) {
            return NULL;
        }
        struct task *task = &work->task[number];
        task->status =
            work->store->data.recording[number].kind == BL_RECORDING_CAPTURE
                ? bl_capture_read(&task->capture, work->store, work->trial,
                                  number, &task->error)
                : bl_log_read(&task->log, work->store, work->trial, number,
                              &task->error);
    }
}

/* The caller works too; a thread that cannot be had is one fewer. */
static void run_tasks(struct work *work, size_t threads)
{
    pthread_t thread[MOST_THREADS];
    size_t started = 0;
    while (started < MOST_THREADS && started + 1 < threads &&
           started + 1 < work->tasks &&
           pthread_create(&thread[started], NULL, take_tasks, work) == 0) {
        started++;
    }
    (void)take_tasks(work);
    for (size_t i = 0; i < started; i++) {
        (void)pthread_join(thread[i], NULL);
    }
}

/* Of several failures, that of the first recording. */
static enum bl_status first_failure(const struct work *work,
                                    struct bl_error *error)
{
    for (size_t i = 0; i < work->tasks; i++) {
        if (work->task[i].status != BL_OK) {
            if (error != NULL) {
                *error = work->task[i].error;
            }
            return work->task[i].status;
        }
    }
    return BL_OK;
}

enum bl_status bl_load_recordings(struct bl_run_store *store,
                                  const struct bl_trial *trial, size_t threads,
                                  struct bl_error *error)
{
    struct work work = {.store = store, .trial = trial};
    atomic_init(&work.next, 0);
    work.task = bl_alloc(store->data.recordings, sizeof(*work.task));
    if (work.task == NULL) {
        return bl_fail_memory(error);
    }
    work.tasks = store->data.recordings;
    for (size_t i = 0; i < work.tasks; i++) {
        bl_error_clear(&work.task[i].error);
    }
    run_tasks(&work, threads);
    enum bl_status status = first_failure(&work, error);
    for (size_t i = 0; i < work.tasks; i++) {
        struct task *task = &work.task[i];
        if (status == BL_OK && task->log != NULL) {
            status = bl_log_keep(store, task->log, i, error);
        }
        if (status == BL_OK && task->capture != NULL) {
            status = bl_capture_keep(store, task->capture, error);
        }
        bl_log_build_free(task->log);
        bl_capture_build_free(task->capture);
    }
    bl_free(work.task);
    return status;
}
