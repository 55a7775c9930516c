/* SPDX-License-Identifier: MIT */
/*
 * Trains whose demand has a known fault: simulated, written to files as a
 * recorder would (one for all links, or one for each), read back and judged.
 */
#ifndef BRAKELAG_TESTS_UNIT_STUDY_REACH_TRAINS_H
#define BRAKELAG_TESTS_UNIT_STUDY_REACH_TRAINS_H

#include "simulate/files.h"
#include "testing.h"

#include "brakelag/reach.h"
#include "brakelag/simulate.h"

#include <dirent.h>
#include <unistd.h>

enum { UNITS_MOST = 8, FOLDER = 256 };

enum layout { HOP_BY_HOP, ONE_RECORDER_EACH, SPLIT_BUS };

struct train {
    size_t units; /* towed */
    enum layout layout;
    char fault[256]; /* keys of a [fault], "" for none */
    uint64_t seed;
    bool shared_clock;
    size_t dropped_at; /* no demand on the link in front of this unit from 1.4 s
                          to 1.6 s after the start: in the first application;
                          0: none */
    bool for_good;     /* ... but none any more from 1.4 s on */
    size_t cut_at;     /* frames of this unit and those behind do not reach the
                          recorder: the bus is cut in front of it; 0: none */
    size_t mute;       /* sends nothing on its own link, but hands the demand on
                          behind; 0: none */
    uint32_t without;  /* group that nobody sends; 0: none */
    double late_demand_s; /* no demand before that; 0: from the start */
    const char *sensors;  /* [sensors] of the scenario; NULL: the usual ones */
    const char *run;      /* keys of [run]; NULL: power and data on */
    const char *trial;    /* more of the trial file; NULL */
    const char *says, *instead; /* the trial file says this instead of that */
};

struct judged {
    struct bl_trial *trial;
    struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    struct bl_run_lag *lag;
    struct bl_reach *reach;
};

/* ISO 11992-2 addresses of towed units 1 to 5; the rest are free ones. */
static const int train_address[UNITS_MOST + 1] = {32,  200, 192, 184, 176,
                                                  168, 160, 152, 144};

static inline void train_text(const struct train *t, char *text, size_t size)
{
    size_t n = (size_t)snprintf(
        text, size,
        "[scenario]\nname = reach\ntables = iso11992-2\nquiet_first = 1 s\n"
        "seed = %llu\ncompress = no\n%srate = 200 Hz\n"
        "[clocks]\nlog_offset = %s\n"
        "[unit 0]\naddress = 32\nbus = vehicle\n",
        (unsigned long long)t->seed,
        t->sensors == NULL ? "[sensors]\n" : t->sensors,
        t->shared_clock ? "0 s" : "0.7 s");
    for (size_t u = 1; u <= t->units; u++) {
        n += (size_t)snprintf(text + n, size - n,
                              "[unit %zu]\naddress = %d\nbus = link%zu\n"
                              "line = 9 m\nmodulator = 40 ms\n%s",
                              u, train_address[u],
                              t->layout == SPLIT_BUS ? (size_t)1 : u,
                              u < t->units ? "control_line = relayed\n" : "");
    }
    n += (size_t)snprintf(
        text + n, size - n,
        "[application full]\npressure = 600 kPa\nhold = 1 s\npause = 2.5 s\n"
        "[application light]\npressure = 120 kPa\nhold = 1 s\npause = 2.5 s\n"
        "[demand]\nmessage = EBS11\n"
        "[message towing]\nmessage = EBS12\nunits = all\non = rear\n"
        "[message status]\nmessage = EBS22\nunits = towed\n"
        "set.service_brake_active = braking\nset.electric_supply = 1\n"
        "[run P]\n%sapplications = full, light, full\nclock = %s\n%s",
        t->run == NULL ? "power = on\ndata = on\n" : t->run,
        t->shared_clock ? "shared" : "auto",
        /* Something to record where the links may be silent. */
        t->run == NULL ? ""
                       : "[message vehicle]\nmessage = EBS12\nunits = 0\n"
                         "on = vehicle\n");
    if (t->fault[0] != '\0') {
        (void)snprintf(text + n, size - n, "[fault f]\n%s", t->fault);
    }
}

static inline void write_text(const char *folder, const char *name,
                              const char *text, size_t size)
{
    char path[FOLDER + 64];
    (void)snprintf(path, sizeof(path), "%s/%s", folder, name);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(text, 1, size, file), size);
    assert_int_equal(fclose(file), 0);
}

static inline bool behind_cut(const struct train *t, uint8_t source)
{
    for (size_t u = t->cut_at; t->cut_at > 0 && u <= UNITS_MOST; u++) {
        if (source == train_address[u]) {
            return true;
        }
    }
    return false;
}

/* Put `with` in the place of the first `what`; `text` has room. */
static inline void replace(char *text, const char *what, const char *with)
{
    char *at = strstr(text, what);
    assert_non_null(at);
    const size_t old = strlen(what);
    memmove(at + strlen(with), at + old, strlen(at + old) + 1);
    memcpy(at, with, strlen(with));
}

/* Frames of bus `bus` (-1: all) as a capture. On a bus split through the train
   the towing vehicle's demand is the only one. */
static inline size_t write_capture(const char *folder, const char *name,
                                   const struct train *t,
                                   const struct bl_simulated_run *run, long bus,
                                   int64_t shift_ns)
{
    char path[FOLDER + 64];
    (void)snprintf(path, sizeof(path), "%s/%s", folder, name);
    struct bl_output *output;
    struct bl_bus_writer *writer;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_output_open(&output, path, &error), BL_OK);
    const struct bl_bus_writer_options options = {
        .format = "pcapng",
        .bus = bus < 0 ? run->bus : &run->bus[bus],
        .buses = bus < 0 ? run->buses : 1};
    assert_int_equal(bl_bus_writer_open(&writer, output, &options, &error),
                     BL_OK);
    size_t frames = 0;
    for (size_t i = 0; i < run->frames; i++) {
        struct bl_frame frame = run->frame[i];
        const struct bl_id id = bl_id_split(frame.id);
        const double at_s =
            (double)(frame.time_ns - run->frame[0].time_ns) * 1e-9;
        char link[32];
        (void)snprintf(link, sizeof(link), "link%zu", t->dropped_at);
        const bool dropped = t->dropped_at > 0 && id.pgn == 512 && at_s > 1.4 &&
                             (t->for_good || at_s < 1.6) &&
                             strcmp(run->bus[frame.bus], link) == 0;
        char own[32];
        (void)snprintf(own, sizeof(own), "link%zu", t->mute);
        const bool muted = t->mute > 0 && id.source == train_address[t->mute] &&
                           strcmp(run->bus[frame.bus], own) == 0;
        if (dropped || muted || (bus >= 0 && frame.bus != bus) ||
            behind_cut(t, id.source) ||
            (id.pgn == 512 && at_s < t->late_demand_s) ||
            (t->without != 0 && id.pgn == t->without) ||
            (t->layout == SPLIT_BUS && id.pgn == 512 && id.source != 32)) {
            continue;
        }
        frame.bus = bus >= 0 ? 0 : frame.bus;
        frame.time_ns += shift_ns;
        assert_int_equal(bl_bus_writer_put(writer, &frame, &error), BL_OK);
        frames++;
    }
    assert_int_equal(bl_bus_writer_close(writer, &error), BL_OK);
    assert_int_equal(bl_output_commit(output, &error), BL_OK);
    return frames;
}

static inline void write_log(const char *folder,
                             const struct bl_simulation *simulation)
{
    char path[FOLDER + 64];
    struct bl_output *output;
    (void)snprintf(path, sizeof(path), "%s/P.csv", folder);
    assert_int_equal(bl_output_open(&output, path, NULL), BL_OK);
    assert_int_equal(bl_simulation_log(simulation, 0, output, NULL), BL_OK);
    assert_int_equal(bl_output_commit(output, NULL), BL_OK);
}

static inline void write_train(const char *folder, const struct train *t,
                               const struct bl_simulation *simulation)
{
    const struct bl_simulated_run *run = bl_simulation_run(simulation, 0);
    char captures[512] = "captures = ";
    if (t->layout == ONE_RECORDER_EACH) {
        const char *between = "";
        for (size_t b = 0; b < run->buses; b++) {
            char name[32];
            (void)snprintf(name, sizeof(name), "b%zu.pcapng", b);
            /* Every recorder's clock is its own, seconds apart. */
            if (write_capture(folder, name, t, run, (long)b,
                              t->shared_clock ? 0 : (int64_t)b * 1370000000) >
                0) {
                const size_t n = strlen(captures);
                (void)snprintf(captures + n, sizeof(captures) - n, "%s%s",
                               between, name);
                between = ", ";
            }
        }
    } else {
        (void)write_capture(folder, "P.pcapng", t, run, -1, 0);
        (void)snprintf(captures, sizeof(captures), "captures = P.pcapng");
    }
    write_log(folder, simulation);
    struct bl_output *output;
    size_t size = 0;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    assert_int_equal(bl_simulation_trial(simulation, output, NULL), BL_OK);
    const char *trial = bl_output_memory(output, &size);
    char *text = malloc(size + 2048);
    assert_non_null(text);
    memcpy(text, trial, size);
    text[size] = '\0';
    bl_output_discard(output);
    replace(text, "captures = P.pcapng", captures);
    if (t->says != NULL) {
        replace(text, t->instead, t->says);
    }
    if (t->trial != NULL) {
        const size_t end = strlen(text);
        assert_true(end + strlen(t->trial) < size + 2048);
        memcpy(text + end, t->trial, strlen(t->trial) + 1);
    }
    write_text(folder, "trial.ini", text, strlen(text));
    free(text);
}

static inline void empty_folder(const char *folder)
{
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    for (struct dirent *e = readdir(dir); e != NULL; e = readdir(dir)) {
        char path[FOLDER + 300];
        (void)snprintf(path, sizeof(path), "%s/%s", folder, e->d_name);
        if (e->d_name[0] != '.') {
            (void)unlink(path);
        }
    }
    (void)closedir(dir);
    (void)rmdir(folder);
}

static inline void must(enum bl_status status, const struct bl_error *error)
{
    char line[1024];
    if (status != BL_OK) {
        fail_msg("%s", bl_error_line(error, line, sizeof(line)));
    }
}

static inline void judge_folder(struct judged *j, const char *folder)
{
    char path[FOLDER + 64];
    struct bl_error error;
    bl_error_clear(&error);
    memset(j, 0, sizeof(*j));
    (void)snprintf(path, sizeof(path), "%s/trial.ini", folder);
    must(bl_trial_read_file(&j->trial, path, NULL, &error), &error);
    must(bl_load_run(&j->data, j->trial, 0, &error), &error);
    must(bl_clock_tie_run(&j->clocks, j->trial, j->data, &error), &error);
    must(bl_measure_run(&j->lag, j->trial, j->data, j->clocks, &error), &error);
    must(bl_reach_run(&j->reach, j->trial, j->data, j->clocks, j->lag, &error),
         &error);
}

static inline void judge_train(struct judged *j, const struct train *t)
{
    static char text[16384];
    char folder[FOLDER];
    struct bl_bytes *source;
    struct bl_scenario *scenario;
    struct bl_simulation *simulation;
    struct bl_error error;
    bl_error_clear(&error);
    train_text(t, text, sizeof(text));
    must(bl_bytes_open_memory(&source, "train.ini", text, strlen(text), &error),
         &error);
    must(bl_scenario_read(&scenario, source, NULL, NULL, &error), &error);
    bl_bytes_close(source);
    must(bl_simulate(&simulation, scenario, &error), &error);
    test_folder_name(folder, sizeof(folder), "reach");
    assert_non_null(mkdtemp(folder));
    write_train(folder, t, simulation);
    bl_simulation_destroy(simulation);
    bl_scenario_destroy(scenario);
    judge_folder(j, folder);
    empty_folder(folder);
}

static inline void judged_finish(struct judged *j)
{
    bl_reach_destroy(j->reach);
    bl_run_lag_destroy(j->lag);
    bl_run_clocks_destroy(j->clocks);
    bl_run_data_destroy(j->data);
    bl_trial_destroy(j->trial);
}

/* Findings of weight: warnings and faults. */
static inline size_t weighty(const struct judged *j)
{
    size_t n = 0;
    for (size_t i = 0; i < j->reach->findings.count; i++) {
        n += j->reach->findings.item[i].severity != BL_SEVERITY_NOTE;
    }
    return n;
}

static inline void print_findings(const struct judged *j)
{
    for (size_t i = 0; i < j->reach->findings.count; i++) {
        const struct bl_finding *f = &j->reach->findings.item[i];
        print_message("  %s, unit %ld: %s\n", bl_finding_kind(f->code)->code,
                      f->unit, f->text);
    }
}

#endif
