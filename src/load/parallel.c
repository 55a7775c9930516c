/* SPDX-License-Identifier: MIT */
/*
 * A run's recordings on threads. Each log is a task of its own; the captures
 * together are one, read in their order, because what the links carried is
 * collected across them. Which thread takes which task leaves no trace: a task
 * writes to places of its own, and the results are put together in the order of
 * the trial afterwards.
 */
#include "load/build.h"

#include "base/alloc.h"

#include <pthread.h>
#include <stdatomic.h>

enum { MOST_THREADS = 64 };

struct task {
    bool captures; /* all of them */
    size_t index;  /* else: of the log in bl_run_data.recording */
    struct bl_log_build *log;
    enum bl_status status;
    struct bl_error error;
    size_t failed; /* recording that the status is about */
};

struct work {
    struct bl_run_store *store;
    const struct bl_trial *trial;
    struct task *task;
    size_t tasks;
    atomic_size_t next;
};

static void read_captures(struct work *work, struct task *task)
{
    struct bl_run_data *data = &work->store->data;
    for (size_t i = 0; i < data->recordings && task->status == BL_OK; i++) {
        if (data->recording[i].kind == BL_RECORDING_CAPTURE) {
            task->failed = i;
            task->status =
                bl_load_capture(work->store, work->trial, i, &task->error);
        }
    }
}

static void *take_tasks(void *context)
{
    struct work *work = context;
    for (;;) {
        const size_t number = atomic_fetch_add(&work->next, 1);
        if (number >= work->tasks) {
            return NULL;
        }
        struct task *task = &work->task[number];
        if (task->captures) {
            read_captures(work, task);
        } else {
            task->failed = task->index;
            task->status = bl_log_read(&task->log, work->store, work->trial,
                                       task->index, &task->error);
        }
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

static void list_tasks(struct work *work)
{
    const struct bl_run_data *data = &work->store->data;
    bool captures = false;
    for (size_t i = 0; i < data->recordings; i++) {
        const bool capture = data->recording[i].kind == BL_RECORDING_CAPTURE;
        if (capture && captures) {
            continue;
        }
        captures = captures || capture;
        struct task *task = &work->task[work->tasks++];
        *task = (struct task){.captures = capture, .index = i, .status = BL_OK};
        bl_error_clear(&task->error);
    }
}

/* Of several failures, that of the first recording. */
static enum bl_status first_failure(const struct work *work,
                                    struct bl_error *error)
{
    const struct task *first = NULL;
    for (size_t i = 0; i < work->tasks; i++) {
        const struct task *task = &work->task[i];
        if (task->status != BL_OK &&
            (first == NULL || task->failed < first->failed)) {
            first = task;
        }
    }
    if (first == NULL) {
        return BL_OK;
    }
    if (error != NULL) {
        *error = first->error;
    }
    return first->status;
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
    list_tasks(&work);
    run_tasks(&work, threads);
    enum bl_status status = first_failure(&work, error);
    for (size_t i = 0; i < work.tasks; i++) {
        if (status == BL_OK && work.task[i].log != NULL) {
            status =
                bl_log_keep(store, work.task[i].log, work.task[i].index, error);
        }
        bl_log_build_free(work.task[i].log);
    }
    bl_free(work.task);
    return status;
}
