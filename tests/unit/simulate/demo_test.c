/* SPDX-License-Identifier: MIT */
/* captures-demo holds what simulate makes of its scenario, byte for byte
   before compression, in under 3 MB. */
#include "simulate/files.h"
#include "small.h"

static const char *demo(const char *name, char *text, size_t size)
{
    snprintf(text, size, "%s/captures-demo/%s", getenv("BL_SOURCE_ROOT"), name);
    return text;
}

/* Compare a stored file, inflated, with what was made; returns its bytes as
   stored. */
static uint64_t assert_stored(const char *name, struct bl_output *made)
{
    char path[1024];
    char buffer[65536];
    struct bl_bytes *source;
    struct bl_stored stored;
    size_t size;
    size_t at = 0;
    size_t got;
    const char *bytes = bl_output_memory(made, &size);
    assert_int_equal(
        bl_bytes_open(&source, demo(name, path, sizeof(path)), NULL), BL_OK);
    do {
        assert_int_equal(
            bl_bytes_read(source, buffer, sizeof(buffer), &got, NULL), BL_OK);
        assert_true(at + got <= size);
        assert_memory_equal(buffer, bytes + at, got);
        at += got;
    } while (got > 0);
    assert_int_equal(at, size);
    assert_int_equal(bl_bytes_drain(source, &stored, NULL), BL_OK);
    bl_bytes_close(source);
    bl_output_discard(made);
    return stored.bytes;
}

static void reproduces_the_demo(void **state)
{
    (void)state;
    char path[1024];
    char name[64];
    struct small s = {NULL, NULL};
    struct bl_output *made;
    uint64_t bytes = 0;
    assert_int_equal(
        bl_scenario_read_file(
            &s.scenario, demo("scenario.ini", path, sizeof(path)), NULL, NULL),
        BL_OK);
    assert_int_equal(bl_simulate(&s.simulation, s.scenario, NULL), BL_OK);
    assert_int_equal(bl_output_open(&made, NULL, NULL), BL_OK);
    assert_int_equal(bl_simulation_trial(s.simulation, made, NULL), BL_OK);
    bytes += assert_stored("trial.ini", made);
    assert_int_equal(bl_output_open(&made, NULL, NULL), BL_OK);
    assert_int_equal(bl_simulation_truth(s.simulation, made, NULL), BL_OK);
    bytes += assert_stored("truth.json", made);
    for (size_t i = 0; i < bl_simulation_runs(s.simulation); i++) {
        const char *run = bl_simulation_run(s.simulation, i)->name;
        assert_int_equal(bl_output_open(&made, NULL, NULL), BL_OK);
        assert_int_equal(bl_simulation_log(s.simulation, i, made, NULL), BL_OK);
        snprintf(name, sizeof(name), "%s.csv.gz", run);
        bytes += assert_stored(name, made);
        assert_int_equal(bl_output_open(&made, NULL, NULL), BL_OK);
        assert_int_equal(bl_simulation_capture(s.simulation, i, made, NULL),
                         BL_OK);
        snprintf(name, sizeof(name), "%s.pcapng.gz", run);
        bytes += assert_stored(name, made);
    }
    assert_true(bytes < 3000000);
    small_end(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(reproduces_the_demo)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
