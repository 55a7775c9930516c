/* SPDX-License-Identifier: MIT */
/* Logs and captures as files, and a folder of all that belongs together. */
#include "simulate/files.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <zlib.h>

#include "base/alloc.h"
#include "base/limits.h"
#include "base/strbuf.h"
#include "simulate/result.h"

static const char *const formats[] = {"pcapng", "pcap", "textlog"};

/* A whole multiple of 10^-decimals, without the C library's locale. */
static void add_value(struct bl_strbuf *line, double value, unsigned decimals)
{
    double scale = 1;
    for (unsigned i = 0; i < decimals; i++) {
        scale *= 10;
    }
    const long long whole = llround(value * scale);
    const long long unit = (long long)scale;
    const long long size = whole < 0 ? -whole : whole;
    bl_strbuf_format(line, "%s%lld", whole < 0 ? "-" : "", size / unit);
    if (decimals > 0) {
        bl_strbuf_format(line, ".%0*lld", (int)decimals, size % unit);
    }
}

static void add_head(struct bl_strbuf *line, const struct bl_simulated_run *run)
{
    bl_strbuf_text(line, "time [s]");
    for (size_t c = 0; c < run->columns; c++) {
        bl_strbuf_format(line, ",%s", run->column[c].name);
        if (run->column[c].unit[0] != '\0') {
            bl_strbuf_format(line, " [%s]", run->column[c].unit);
        }
    }
    bl_strbuf_char(line, '\n');
}

/* Stamps to the digit that the rate needs, at least milliseconds. */
static unsigned stamp_digits(const struct bl_scenario *s)
{
    const int64_t interval = (int64_t)llround(1e9 / s->log_hz);
    unsigned digits = 9;
    int64_t unit = 1;
    while (digits > 3 && interval % (unit * 10) == 0) {
        unit *= 10;
        digits--;
    }
    return digits;
}

static void add_row(struct bl_strbuf *line, const struct bl_simulated_run *run,
                    size_t row, unsigned digits)
{
    int64_t part = run->row_ns[row] % 1000000000;
    for (unsigned i = digits; i < 9; i++) {
        part /= 10;
    }
    bl_strbuf_format(line, "%lld.%0*lld",
                     (long long)(run->row_ns[row] / 1000000000), (int)digits,
                     (long long)part);
    for (size_t c = 0; c < run->columns; c++) {
        bl_strbuf_char(line, ',');
        add_value(line, run->column[c].value[row], run->column[c].decimals);
    }
    bl_strbuf_char(line, '\n');
}

enum bl_status bl_simulation_log(const struct bl_simulation *simulation,
                                 size_t index, struct bl_output *output,
                                 struct bl_error *error)
{
    const struct bl_simulated_run *run = bl_simulation_run(simulation, index);
    struct bl_strbuf line = {0};
    if (run == NULL) {
        return bl_fail(error, BL_ARG, NULL, "there is no run %zu", index);
    }
    const unsigned digits = stamp_digits(simulation->scenario);
    add_head(&line, run);
    for (size_t row = 0; row < run->rows && !line.failed; row++) {
        add_row(&line, run, row, digits);
        bl_output_write(output, bl_strbuf_get(&line), line.length);
        line.length = 0;
    }
    const bool failed = line.failed;
    bl_strbuf_finish(&line);
    return failed ? bl_fail_memory(error) : BL_OK;
}

enum bl_status bl_simulation_capture(const struct bl_simulation *simulation,
                                     size_t index, struct bl_output *output,
                                     struct bl_error *error)
{
    const struct bl_simulated_run *run = bl_simulation_run(simulation, index);
    struct bl_bus_writer *writer = NULL;
    if (run == NULL) {
        return bl_fail(error, BL_ARG, NULL, "there is no run %zu", index);
    }
    const struct bl_bus_writer_options options = {
        .format = formats[simulation->scenario->capture_format],
        .bus = run->bus,
        .buses = run->buses};
    enum bl_status status =
        bl_bus_writer_open(&writer, output, &options, error);
    if (status != BL_OK) {
        return status;
    }
    for (size_t i = 0; status == BL_OK && i < run->frames; i++) {
        status = bl_bus_writer_put(writer, &run->frame[i], error);
    }
    const enum bl_status finished =
        bl_bus_writer_close(writer, status == BL_OK ? error : NULL);
    return status == BL_OK ? finished : status;
}

enum bl_status bl_sim_gzip(struct bl_output *output, const void *data,
                           size_t size, struct bl_error *error)
{
    unsigned char out[16384];
    z_stream stream;
    memset(&stream, 0, sizeof(stream));
    if (size > UINT32_MAX) {
        return bl_fail(error, BL_LIMIT, NULL,
                       "%zu bytes are too many for one gzip member", size);
    }
    /* 16 + 15: a gzip header, by default without name and time. */
    if (deflateInit2(&stream, 9, Z_DEFLATED, 16 + 15, 9, Z_DEFAULT_STRATEGY) !=
        Z_OK) {
        return bl_fail_memory(error);
    }
    stream.next_in = (unsigned char *)(uintptr_t)data;
    stream.avail_in = (uInt)size;
    int state;
    do {
        stream.next_out = out;
        stream.avail_out = sizeof(out);
        state = deflate(&stream, Z_FINISH);
        bl_output_write(output, out, sizeof(out) - stream.avail_out);
    } while (state == Z_OK);
    deflateEnd(&stream);
    return state == Z_STREAM_END
               ? BL_OK
               : bl_fail(error, BL_SYSTEM, NULL, "zlib: state %d", state);
}

enum file_kind { FILE_TRIAL, FILE_TRUTH, FILE_LOG, FILE_CAPTURE };

static enum bl_status content(const struct bl_simulation *simulation,
                              enum file_kind kind, size_t run,
                              struct bl_output *output, struct bl_error *error)
{
    switch (kind) {
    case FILE_TRIAL:
        return bl_simulation_trial(simulation, output, error);
    case FILE_TRUTH:
        return bl_simulation_truth(simulation, output, error);
    case FILE_LOG:
        return bl_simulation_log(simulation, run, output, error);
    case FILE_CAPTURE:
        break;
    }
    return bl_simulation_capture(simulation, run, output, error);
}

/* By way of memory, so that a compressed file is made of the same bytes. */
static enum bl_status packed(const struct bl_simulation *simulation,
                             enum file_kind kind, size_t run,
                             struct bl_output *output, struct bl_error *error)
{
    struct bl_output *memory = NULL;
    enum bl_status status = bl_output_open(&memory, NULL, error);
    if (status != BL_OK) {
        return status;
    }
    status = content(simulation, kind, run, memory, error);
    if (status == BL_OK) {
        size_t size = 0;
        const char *data = bl_output_memory(memory, &size);
        status = data == NULL ? bl_fail_memory(error)
                              : bl_sim_gzip(output, data, size, error);
    }
    bl_output_discard(memory);
    return status;
}

static enum bl_status write_file(const struct bl_simulation *simulation,
                                 struct bl_folder *folder, const char *name,
                                 enum file_kind kind, size_t run,
                                 struct bl_error *error)
{
    const bool pack = simulation->scenario->compress && kind >= FILE_LOG;
    struct bl_strbuf whole = {0};
    struct bl_output *output = NULL;
    bl_strbuf_format(&whole, "%s%s", name, pack ? ".gz" : "");
    enum bl_status status = whole.failed
                                ? bl_fail_memory(error)
                                : bl_folder_add(folder, bl_strbuf_get(&whole),
                                                false, &output, error);
    bl_strbuf_finish(&whole);
    if (status != BL_OK) {
        return status;
    }
    status = pack ? packed(simulation, kind, run, output, error)
                  : content(simulation, kind, run, output, error);
    if (status != BL_OK) {
        bl_output_discard(output);
        return status;
    }
    return bl_folder_keep(folder, output, error);
}

static enum bl_status write_run(const struct bl_simulation *simulation,
                                struct bl_folder *folder, size_t index,
                                struct bl_error *error)
{
    const struct bl_simulated_run *run = &simulation->run[index].shown;
    struct bl_strbuf name = {0};
    enum bl_status status = BL_OK;
    bl_strbuf_format(&name, "%s.csv", run->name);
    status = write_file(simulation, folder, bl_strbuf_get(&name), FILE_LOG,
                        index, error);
    name.length = 0;
    bl_strbuf_format(&name, "%s.%s", run->name,
                     bl_sim_capture_ending(simulation->scenario));
    if (status == BL_OK && run->frames > 0) {
        status = write_file(simulation, folder, bl_strbuf_get(&name),
                            FILE_CAPTURE, index, error);
    }
    const bool failed = name.failed;
    bl_strbuf_finish(&name);
    return failed && status == BL_OK ? bl_fail_memory(error) : status;
}

/* The trial and the truth come last: where they are, all is. */
static enum bl_status write_all(const struct bl_simulation *simulation,
                                struct bl_folder *folder, const char *path,
                                struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < simulation->runs; i++) {
        status = write_run(simulation, folder, i, error);
    }
    if (status == BL_OK) {
        status = bl_sim_copy_tables(simulation->scenario, folder, path, error);
    }
    if (status == BL_OK) {
        status =
            write_file(simulation, folder, "truth.json", FILE_TRUTH, 0, error);
    }
    if (status == BL_OK) {
        status =
            write_file(simulation, folder, "trial.ini", FILE_TRIAL, 0, error);
    }
    return status == BL_OK ? bl_folder_commit(folder, NULL, error) : status;
}

enum bl_status bl_simulation_write(const struct bl_simulation *simulation,
                                   const char *folder, struct bl_error *error)
{
    struct bl_folder *files = NULL;
    enum bl_status status = bl_folder_open(&files, folder, error);
    if (status == BL_OK) {
        status = write_all(simulation, files, folder, error);
    }
    bl_folder_close(files);
    return status;
}
