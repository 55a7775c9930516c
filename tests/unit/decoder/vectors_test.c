/* SPDX-License-Identifier: MIT */
/* Every row of the shipped tables against values worked out by hand from the
   cited layouts, and against real frames: decoders/vectors/ *.csv, whose last
   column names the source of each. */
#include "support.h"

enum { SIGNALS_MOST = 2000, DATA_MOST = 64 };

struct vector {
    char message[64], signal[64], state[32], value[64];
    uint32_t id;
    uint8_t data[DATA_MOST];
    size_t size;
};

static const char *take_cell(const char *text, char *out, size_t size)
{
    const size_t length = strcspn(text, ",\n");
    assert_true(length < size);
    memcpy(out, text, length);
    out[length] = '\0';
    return text[length] == ',' ? text + length + 1 : text + length;
}

static void read_vector(const char *line, struct vector *v)
{
    char id[16], data[2 * DATA_MOST + 1];
    line = take_cell(line, v->message, sizeof(v->message));
    line = take_cell(line, v->signal, sizeof(v->signal));
    line = take_cell(line, id, sizeof(id));
    line = take_cell(line, data, sizeof(data));
    line = take_cell(line, v->value, sizeof(v->value));
    line = take_cell(line, v->state, sizeof(v->state));
    assert_true(strlen(line) > 5); /* the source is given */
    v->id = (uint32_t)strtoul(id, NULL, 16);
    v->size = strlen(data) / 2;
    for (size_t i = 0; i < v->size; i++) {
        const char pair[3] = {data[2 * i], data[2 * i + 1], '\0'};
        v->data[i] = (uint8_t)strtoul(pair, NULL, 16);
    }
}

static void check_encode(const struct bl_signal *signal, const struct vector *v,
                         const struct bl_value *value)
{
    uint8_t data[DATA_MOST];
    memcpy(data, v->data, v->size);
    const uint64_t ones =
        signal->bits >= 64 ? UINT64_MAX : (UINT64_C(1) << signal->bits) - 1;
    /* Something else first, so that the write shows. */
    assert_int_equal(
        bl_signal_encode_raw(signal, value->raw ^ ones, data, v->size), BL_OK);
    assert_memory_not_equal(data, v->data, v->size);
    if (value->state == BL_VALUE_VALID) {
        const double given = strtod(v->value, NULL);
        assert_int_equal(bl_signal_encode(signal, given, data, v->size), BL_OK);
    } else {
        assert_int_equal(
            bl_signal_encode_raw(signal, value->raw, data, v->size), BL_OK);
    }
    assert_memory_equal(data, v->data, v->size);
}

static void check_vector(const struct bl_tables *tables,
                         const struct bl_message *message,
                         const struct bl_signal *signal, const struct vector *v,
                         const char *where)
{
    const struct bl_message *found[8];
    const size_t fit = bl_tables_match(tables, v->id, true, NULL, found, 8);
    bool matched = false;
    for (size_t i = 0; i < fit && i < 8; i++) {
        matched |= found[i] == message;
    }
    if (!matched) {
        fail_msg("%s: %08X does not match %s", where, (unsigned)v->id,
                 message->name);
    }
    const struct bl_value got = bl_signal_decode(signal, v->data, v->size);
    if (strcmp(bl_value_state_name(got.state), v->state) != 0) {
        fail_msg("%s: %s.%s reads %s, not %s", where, v->message, v->signal,
                 bl_value_state_name(got.state), v->state);
    }
    if (signal->kind == BL_SIGNAL_TEXT) {
        return;
    }
    if (got.state == BL_VALUE_VALID) {
        const double want = strtod(v->value, NULL);
        if (!(fabs(got.value - want) <= 1e-9 * (1 + fabs(want)))) {
            fail_msg("%s: %s.%s is %.12g, not %s", where, v->message, v->signal,
                     got.value, v->value);
        }
        assert_true(got.in_range);
    } else {
        assert_nan(got.value);
        assert_false(got.in_range);
    }
    check_encode(signal, v, &got);
}

struct covered {
    const struct bl_signal *signal[SIGNALS_MOST];
    size_t count;
};

static bool is_covered(const struct covered *covered,
                       const struct bl_signal *signal)
{
    for (size_t i = 0; i < covered->count; i++) {
        if (covered->signal[i] == signal) {
            return true;
        }
    }
    return false;
}

static void check_file(const struct bl_tables *tables, const char *table,
                       struct covered *covered)
{
    char path[4096], line[4096], where[256];
    snprintf(path, sizeof(path), "%s/vectors/%s.csv", getenv("BRAKELAG_TABLES"),
             table);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    assert_non_null(fgets(line, sizeof(line), file));
    assert_string_equal(line, "message,signal,id,data,value,state,source\n");
    for (int number = 2; fgets(line, sizeof(line), file) != NULL; number++) {
        struct vector v;
        read_vector(line, &v);
        snprintf(where, sizeof(where), "%s:%d", table, number);
        const struct bl_message *message =
            bl_tables_message_named(tables, v.message);
        if (message == NULL || strcmp(message->table, table) != 0) {
            fail_msg("%s: no message %s in that table", where, v.message);
        }
        char reference[160];
        snprintf(reference, sizeof(reference), "%s.%s", v.message, v.signal);
        const struct bl_signal *signal = signal_of(tables, reference);
        check_vector(tables, message, signal, &v, where);
        if (strcmp(v.state, "valid") == 0 && !is_covered(covered, signal)) {
            assert_true(covered->count < SIGNALS_MOST);
            covered->signal[covered->count++] = signal;
        }
    }
    fclose(file);
}

static void every_row_reads_as_worked_out_by_hand(void **state)
{
    (void)state;
    struct bl_tables *tables = shipped();
    struct covered *covered = calloc(1, sizeof(*covered));
    assert_non_null(covered);
    const char *const *name = bl_tables_shipped();
    for (; *name != NULL; name++) {
        check_file(tables, *name, covered);
    }
    size_t rows = 0;
    for (size_t i = 0; i < bl_tables_messages(tables); i++) {
        const struct bl_message *message = bl_tables_message(tables, i);
        for (size_t k = 0; k < message->signals; k++, rows++) {
            if (!is_covered(covered, &message->signal[k])) {
                fail_msg("%s.%s has no vector with a value", message->name,
                         message->signal[k].name);
            }
        }
    }
    assert_int_equal(rows, covered->count);
    free(covered);
    bl_tables_destroy(tables);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_row_reads_as_worked_out_by_hand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
