/* SPDX-License-Identifier: MIT */
/* A run of two captures and four logs of the demo, read by one, two and four
   threads. Outside reference: the definition that the number of threads may not
   show, and the loads against each other, bit for bit. */
#include "testing.h"

#include "brakelag/brakelag.h"
#include "load/build.h"

static const char trial_text[] =
    "[trial]\nname = threads\n"
    "tables = iso11992-2, j1939-brakes, j1939-vehicle\n"
    "[unit 0]\ncommand = c0\ncommand_kind = treadle-pressure\n"
    "command_at = 20 kPa\noutput = o0\naddress = 32\n"
    "[unit 1]\noutput = o1\naddress = 200\n"
    "[channel c0]\ncolumn = treadle\nquantity = pressure\nlog = P1.csv.gz\n"
    "[channel o0]\ncolumn = output_1\nquantity = pressure\nlog = P2.csv.gz\n"
    "[channel o1]\ncolumn = output_4\nquantity = pressure\nlog = U1.csv.gz\n"
    "[channel s]\ncolumn = pedal_switch\nquantity = switch\nlog = U2.csv.gz\n"
    "[run A]\n"
    "captures = P1.pcapng.gz, P2.pcapng.gz\n"
    "logs = P1.csv.gz, P2.csv.gz, U1.csv.gz, U2.csv.gz\n"
    "clock = offset 0 s +- 1 s\n";

static void same_samples(const struct bl_samples *a, const struct bl_samples *b)
{
    assert_int_equal(a->count, b->count);
    assert_true(a->count > 1000);
    assert_memory_equal(a->time_ns, b->time_ns, a->count * sizeof(*a->time_ns));
    assert_memory_equal(a->value, b->value, a->count * sizeof(*a->value));
    assert_int_equal(a->interval_ns, b->interval_ns);
    assert_true(a->resolution == b->resolution);
    assert_int_equal(a->parts, b->parts);
}

static void same_steps(const struct bl_steps *a, const struct bl_steps *b)
{
    assert_int_equal(a->count, b->count);
    assert_int_equal(a->frames, b->frames);
    assert_int_equal(a->interval_ns, b->interval_ns);
    for (size_t i = 0; i < a->count; i++) {
        assert_int_equal(a->segment[i].first_ns, b->segment[i].first_ns);
        assert_int_equal(a->segment[i].last_ns, b->segment[i].last_ns);
        assert_int_equal(a->segment[i].raw, b->segment[i].raw);
        assert_int_equal(a->segment[i].count, b->segment[i].count);
    }
}

/* What the captures carried, put together from all of them. */
static void same_links(const struct bl_links *a, const struct bl_links *b)
{
    assert_int_equal(a->ids, b->ids);
    for (size_t i = 0; i < a->ids; i++) {
        assert_int_equal(a->id[i].recording, b->id[i].recording);
        assert_int_equal(a->id[i].id, b->id[i].id);
        assert_int_equal(a->id[i].frames, b->id[i].frames);
        assert_int_equal(a->id[i].gap_count, b->id[i].gap_count);
        assert_memory_equal(&a->id[i].nominal_s, &b->id[i].nominal_s,
                            sizeof(double));
    }
    assert_int_equal(a->buses, b->buses);
    assert_true(a->buses > 1);
    for (size_t i = 0; i < a->buses; i++) {
        assert_int_equal(a->bus[i].recording, b->bus[i].recording);
        assert_int_equal(a->bus[i].frames, b->bus[i].frames);
        assert_int_equal(a->bus[i].busiest_bits, b->bus[i].busiest_bits);
    }
    assert_int_equal(a->names, b->names);
    for (size_t i = 0; i < a->names; i++) {
        assert_int_equal(a->name[i].recording, b->name[i].recording);
        assert_int_equal(a->name[i].claims, b->name[i].claims);
    }
    assert_int_equal(a->troubles, b->troubles);
    assert_int_equal(a->transports, b->transports);
    assert_int_equal(a->silences, b->silences);
    for (size_t i = 0; i < a->silences; i++) {
        assert_int_equal(a->silence_recording[i], b->silence_recording[i]);
        assert_int_equal(a->silence[i].from_ns, b->silence[i].from_ns);
    }
}

static void same_run(const struct bl_run_data *a, const struct bl_run_data *b)
{
    assert_int_equal(a->recordings, b->recordings);
    for (size_t i = 0; i < a->recordings; i++) {
        const struct bl_loaded_recording *x = &a->recording[i];
        const struct bl_loaded_recording *y = &b->recording[i];
        assert_int_equal(x->recording, y->recording);
        assert_int_equal(x->frames, y->frames);
        assert_int_equal(x->rows, y->rows);
        assert_int_equal(x->notes.count, y->notes.count);
        assert_string_equal(x->file[0].stored.sha256, y->file[0].stored.sha256);
    }
    assert_int_equal(a->channels, b->channels);
    for (size_t i = 0; i < a->channels; i++) {
        assert_int_equal(a->channel[i].channel, b->channel[i].channel);
        assert_int_equal(a->channel[i].recording, b->channel[i].recording);
        same_samples(&a->channel[i].samples, &b->channel[i].samples);
    }
    assert_int_equal(a->series_count, b->series_count);
    assert_true(a->series_count > 0);
    for (size_t i = 0; i < a->series_count; i++) {
        assert_ptr_equal(a->series[i].signal, b->series[i].signal);
        assert_string_equal(a->series[i].bus, b->series[i].bus);
        same_steps(&a->series[i].steps, &b->series[i].steps);
    }
    same_links(&a->links, &b->links);
}

static void any_number_of_threads(void **state)
{
    (void)state;
    char folder[4096];
    test_path("BL_SOURCE_ROOT", "captures-demo", folder, sizeof(folder));
    struct bl_bytes *source;
    struct bl_error error;
    assert_int_equal(bl_bytes_open_memory(&source, "trial.ini", trial_text,
                                          sizeof(trial_text) - 1, &error),
                     BL_OK);
    struct bl_notes mistakes = {0};
    struct bl_trial *trial = NULL;
    const enum bl_status status =
        bl_trial_read(&trial, source, folder, &mistakes, &error);
    for (size_t i = 0; i < mistakes.count; i++) {
        print_message("%s\n", mistakes.item[i].text);
    }
    assert_int_equal(status, BL_OK);
    static const size_t threads[] = {1, 2, 4, 4};
    struct bl_run_data *data[COUNT_OF(threads)];
    for (size_t i = 0; i < COUNT_OF(threads); i++) {
        assert_int_equal(
            bl_load_run_with(&data[i], trial, 0, threads[i], SIZE_MAX, &error),
            BL_OK);
    }
    assert_int_equal(data[0]->channels, 4);
    for (size_t i = 1; i < COUNT_OF(threads); i++) {
        same_run(data[0], data[i]);
    }
    for (size_t i = 0; i < COUNT_OF(threads); i++) {
        bl_run_data_destroy(data[i]);
    }
    bl_trial_destroy(trial);
    bl_notes_finish(&mistakes);
    bl_bytes_close(source);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_number_of_threads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
