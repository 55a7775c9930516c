/* SPDX-License-Identifier: MIT */
/* The files: readable by the project's own readers and by jansson. */
#include "simulate/files.h"
#include "small.h"

#include <jansson.h>

typedef enum bl_status (*writer)(const struct bl_simulation *simulation,
                                 struct bl_output *output,
                                 struct bl_error *error);

static struct bl_output *written(const struct small *s, writer write,
                                 const char **text, size_t *size)
{
    struct bl_output *output;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    assert_int_equal(write(s->simulation, output, NULL), BL_OK);
    *text = bl_output_memory(output, size);
    assert_non_null(*text);
    return output;
}

static void truth_is_json(void **state)
{
    (void)state;
    struct small s = small_run(SMALL, 0);
    const char *text;
    size_t size;
    json_error_t error;
    struct bl_output *output = written(&s, bl_simulation_truth, &text, &size);
    json_t *root = json_loadb(text, size, JSON_REJECT_DUPLICATES, &error);
    assert_non_null(root);
    assert_string_equal(json_string_value(json_object_get(root, "schema")),
                        "brakelag-truth/1");
    const json_t *run =
        json_array_get(json_object_get(root, "runs"), UNPOWERED);
    const json_t *application =
        json_array_get(json_object_get(run, "applications"), 1);
    assert_string_equal(json_string_value(json_object_get(application, "kind")),
                        "light");
    const json_t *unit =
        json_array_get(json_object_get(application, "units"), 3);
    assert_near(json_real_value(json_object_get(unit, "response")),
                truth_of(&s, UNPOWERED, 1, 3)->figure[BL_FIGURE_RESPONSE].s,
                1e-7);
    assert_true(json_is_null(json_object_get(unit, "demand_arrival")));
    json_decref(root);
    bl_output_discard(output);
    small_end(&s);
}

static void capture_reads_back(void **state)
{
    (void)state;
    struct small s = small_run(SMALL, 0);
    const struct bl_simulated_run *run =
        bl_simulation_run(s.simulation, POWERED);
    struct bl_output *output;
    struct bl_bytes *source;
    struct bl_bus_reader *reader;
    const struct bl_frame *batch;
    size_t size;
    size_t count;
    size_t at = 0;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    assert_int_equal(bl_simulation_capture(s.simulation, POWERED, output, NULL),
                     BL_OK);
    const char *bytes = bl_output_memory(output, &size);
    assert_int_equal(
        bl_bytes_open_memory(&source, "P.pcapng", bytes, size, NULL), BL_OK);
    assert_int_equal(bl_bus_open(&reader, source, NULL, NULL), BL_OK);
    for (;;) {
        assert_int_equal(bl_bus_next(reader, &batch, &count, NULL), BL_OK);
        if (count == 0) {
            break;
        }
        for (size_t i = 0; i < count; i++, at++) {
            assert_true(batch[i].time_ns == run->frame[at].time_ns);
            assert_int_equal(batch[i].id, run->frame[at].id);
            assert_memory_equal(batch[i].data, run->frame[at].data, 8);
        }
    }
    assert_int_equal(at, run->frames);
    bl_bus_close(reader);
    bl_bytes_close(source);
    bl_output_discard(output);
    small_end(&s);
}

static void log_reads_back(void **state)
{
    (void)state;
    struct small s = small_run(SMALL, 0);
    const struct bl_simulated_run *run =
        bl_simulation_run(s.simulation, POWERED);
    struct bl_output *output;
    struct bl_bytes *source;
    struct bl_log_reader *reader;
    struct bl_log_block block;
    size_t size;
    size_t at = 0;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    assert_int_equal(bl_simulation_log(s.simulation, POWERED, output, NULL),
                     BL_OK);
    const char *bytes = bl_output_memory(output, &size);
    assert_int_equal(bl_bytes_open_memory(&source, "P.csv", bytes, size, NULL),
                     BL_OK);
    assert_int_equal(bl_log_open(&reader, source, NULL, NULL), BL_OK);
    const long column = bl_log_find(bl_log_info(reader), "output_2");
    assert_true(column >= 0);
    const struct bl_simulated_column *c = column_of(run, "output_2");
    for (;;) {
        assert_int_equal(bl_log_next(reader, &block, NULL), BL_OK);
        if (block.rows == 0) {
            break;
        }
        for (size_t i = 0; i < block.rows; i++, at++) {
            assert_true(block.time_ns[i] == run->row_ns[at]);
            assert_near(block.value[column][i], c->value[at], 1e-9);
        }
    }
    assert_int_equal(at, run->rows);
    bl_log_close(reader);
    bl_bytes_close(source);
    bl_output_discard(output);
    small_end(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(truth_is_json),
        cmocka_unit_test(capture_reads_back),
        cmocka_unit_test(log_reads_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
