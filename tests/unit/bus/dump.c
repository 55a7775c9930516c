/* SPDX-License-Identifier: MIT */
/* Prints the frames of a bus recording, one per line, for checks by other
   programs: time_ns part bus id kind flags length data.
   usage: bus_dump [-q] FILE
          bus_dump --write FORMAT little|big OUT FILE */
#include "brakelag/bus.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static void print_frame(const struct bl_frame *frame, const char *bus)
{
    printf("%" PRId64 " %u %s %" PRIx32 " %u %u %u ", frame->time_ns,
           frame->part, bus[0] == '\0' ? "-" : bus, frame->id, frame->kind,
           frame->flags, frame->length);
    const unsigned shown = frame->kind == BL_FRAME_REMOTE ? 0 : frame->length;
    for (unsigned i = 0; i < shown; i++) {
        printf("%02x", frame->data[i]);
    }
    putchar('\n');
}

struct job {
    bool quiet;
    const char *format, *order, *path; /* to write to; NULL: print */
};

static enum bl_status dump(struct bl_bus_reader *reader, const struct job *job,
                           struct bl_bus_writer *writer, struct bl_error *error)
{
    const struct bl_bus_info *info = bl_bus_info(reader);
    for (;;) {
        const struct bl_frame *batch;
        size_t count;
        enum bl_status status = bl_bus_next(reader, &batch, &count, error);
        if (status != BL_OK || count == 0) {
            return status;
        }
        for (size_t i = 0; i < count && status == BL_OK; i++) {
            if (writer != NULL) {
                status = bl_bus_writer_put(writer, &batch[i], error);
            } else if (!job->quiet) {
                print_frame(&batch[i], info->bus[batch[i].bus].name);
            }
        }
        if (status != BL_OK) {
            return status;
        }
    }
}

static enum bl_status convert(struct bl_bus_reader *reader,
                              const struct job *job, struct bl_error *error)
{
    if (job->path == NULL) {
        return dump(reader, job, NULL, error);
    }
    const struct bl_bus_writer_options options = {
        .format = job->format, .big_endian = strcmp(job->order, "big") == 0};
    struct bl_output *output = NULL;
    struct bl_bus_writer *writer = NULL;
    enum bl_status status = bl_output_open(&output, job->path, error);
    if (status == BL_OK) {
        status = bl_bus_writer_open(&writer, output, &options, error);
    }
    if (status == BL_OK) {
        status = dump(reader, job, writer, error);
        const enum bl_status finished = bl_bus_writer_close(writer, NULL);
        status = status == BL_OK ? finished : status;
    }
    if (status == BL_OK) {
        return bl_output_commit(output, error);
    }
    bl_output_discard(output);
    return status;
}

static void print_info(const struct bl_bus_info *info)
{
    fprintf(stderr,
            "%s: %" PRIu64 " frames, %" PRIu64 " other, %" PRIu64
            " late, %" PRIu64 " strays, %" PRIu64 " splits, %" PRId64 " ns\n",
            info->format, info->frames, info->other_packets, info->late_sorted,
            info->strays, info->undone_splits, info->resolution_ns);
    for (size_t i = 0; i < info->notes.count; i++) {
        fprintf(stderr, "note %s (%" PRIu64 "): %s\n", info->notes.item[i].code,
                info->notes.item[i].count, info->notes.item[i].text);
    }
}

int main(int argc, char **argv)
{
    struct job job = {.quiet = argc > 2 && strcmp(argv[1], "-q") == 0};
    if (argc == 6 && strcmp(argv[1], "--write") == 0) {
        job.format = argv[2];
        job.order = argv[3];
        job.path = argv[4];
    }
    const char *path = argc > 1 ? argv[argc - 1] : "-";
    struct bl_bytes *source = NULL;
    struct bl_bus_reader *reader = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    enum bl_status status = bl_bytes_open(&source, path, &error);
    if (status == BL_OK) {
        status = bl_bus_open(&reader, source, NULL, &error);
    }
    if (status == BL_OK) {
        status = convert(reader, &job, &error);
        print_info(bl_bus_info(reader));
    }
    if (status != BL_OK) {
        char text[1024];
        fprintf(stderr, "%s\n", bl_error_line(&error, text, sizeof(text)));
    }
    bl_bus_close(reader);
    bl_bytes_close(source);
    return status == BL_OK ? 0 : 1;
}
