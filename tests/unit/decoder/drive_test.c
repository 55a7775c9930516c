/* SPDX-License-Identifier: MIT */
/* Real recordings (MIT): a brake controller on a bench and a parked truck.
   Outside reference: counts of a separate script over the same text (205
   announcements, of which 175 are completed and 6 aborted; 79 lists of
   trouble codes of address 11 in several packets), and the pedal and pressure
   sequences that the data's own notes give. */
#include "support.h"

#include "brakelag/bus.h"

typedef void visit(void *user, const struct bl_frame *frame);

static void each_frame(const char *file, visit *call, void *user)
{
    char path[4096];
    shared_data(file, path, sizeof(path));
    struct bl_bytes *source;
    struct bl_bus_reader *reader;
    assert_int_equal(bl_bytes_open(&source, path, NULL), BL_OK);
    assert_int_equal(bl_bus_open(&reader, source, NULL, NULL), BL_OK);
    for (;;) {
        const struct bl_frame *frame;
        size_t count;
        assert_true(bl_bus_next(reader, &frame, &count, NULL) >= 0);
        if (count == 0) {
            break;
        }
        for (size_t i = 0; i < count; i++) {
            call(user, &frame[i]);
        }
    }
    bl_bus_close(reader);
    bl_bytes_close(source);
}

static bool is_data(const struct bl_frame *frame)
{
    return frame->kind == BL_FRAME_CLASSIC &&
           (frame->flags & BL_FRAME_EXTENDED) != 0;
}

struct bench {
    struct bl_tables *tables;
    struct bl_transport *transport;
    int lists, lists_of_eight, claims, completed;
};

static void check_list(struct bench *bench,
                       const struct bl_transport_message *message)
{
    struct bl_trouble code[8];
    size_t count;
    if (message->pgn != 65226 || message->source != 11) {
        return;
    }
    bench->lists++;
    assert_int_equal(
        bl_trouble_read(message->data, message->size, code, 8, &count), BL_OK);
    assert_int_equal(count, (message->size - 2) / 4);
    if (count == 8) {
        bench->lists_of_eight++;
        assert_int_equal(code[0].spn, 811);
        assert_int_equal(code[0].fmi, 13);
        assert_int_equal(code[6].spn, 639);
        assert_int_equal(code[7].spn, 1045);
    }
}

static void on_bench(void *user, const struct bl_frame *frame)
{
    struct bench *bench = user;
    if (!is_data(frame)) {
        return;
    }
    bool done;
    struct bl_transport_message message;
    assert_int_equal(
        bl_transport_feed(bench->transport,
                          &(const struct bl_transport_frame){
                              frame->time_ns, frame->bus, frame->id,
                              frame->data, frame->length},
                          &done, &message),
        BL_OK);
    if (done) {
        bench->completed++;
        check_list(bench, &message);
    }
    const struct bl_message *found[2];
    if (bl_tables_match(bench->tables, frame->id, true, NULL, found, 2) == 1 &&
        found[0]->signal[0].role == BL_ROLE_ADDRESS_CLAIM &&
        (frame->id & 0xFF) == 11) {
        const struct bl_name name = bl_name_split(frame->data);
        assert_int_equal(name.manufacturer, 90);
        assert_int_equal(name.function, 9);
        bench->claims++;
    }
}

static void a_bench_recording_is_put_together(void **state)
{
    (void)state;
    char path[4096];
    shared_data("truck-bench-drive/drive_211s.log.gz", path, sizeof(path));
    struct bench bench = {.tables = shipped()};
    assert_int_equal(bl_transport_create(&bench.transport, 65536, NULL), BL_OK);
    each_frame("truck-bench-drive/drive_211s.log.gz", on_bench, &bench);
    bl_transport_flush(bench.transport);
    uint64_t lost = 0;
    for (int why = 0; why < BL_TRANSPORT_LOSSES; why++) {
        lost += bl_transport_lost(bench.transport, (enum bl_transport_loss)why);
    }
    assert_int_equal(bench.completed, 175);
    assert_int_equal(lost, 205 - 175);
    assert_int_equal(bl_transport_lost(bench.transport, BL_TRANSPORT_ABORTED),
                     6);
    assert_int_equal(bench.lists, 79);
    assert_int_equal(bench.lists_of_eight, 10);
    assert_int_equal(bench.claims, 1);
    bl_transport_destroy(bench.transport);
    bl_tables_destroy(bench.tables);
}

struct parked {
    struct bl_tables *tables;
    double pedal[16], pressure[16];
    size_t pedals, pressures;
    int64_t first_ns, last_ns;
};

/* Keep a value where it differs from the one before. */
static bool keep_change(double *values, size_t *count, double value)
{
    if (isnan(value) || *count == 16 ||
        (*count > 0 && values[*count - 1] == value)) {
        return false;
    }
    values[(*count)++] = value;
    return true;
}

static void on_truck(void *user, const struct bl_frame *frame)
{
    struct parked *parked = user;
    const struct bl_message *found[2];
    if (!is_data(frame) ||
        bl_tables_match(parked->tables, frame->id, true, NULL, found, 2) != 1) {
        return;
    }
    for (size_t i = 0; i < found[0]->signals; i++) {
        const struct bl_signal *signal = &found[0]->signal[i];
        const double value =
            bl_signal_decode(signal, frame->data, frame->length).value;
        if (signal->role == BL_ROLE_PEDAL_POSITION) {
            if (keep_change(parked->pedal, &parked->pedals, value)) {
                if (parked->pedals == 2) {
                    parked->first_ns = frame->time_ns;
                }
                parked->last_ns = frame->time_ns;
            }
        } else if (strcmp(signal->name, "service_circuit_1") == 0) {
            keep_change(parked->pressure, &parked->pressures, value);
        }
    }
}

static void a_brake_release_reads_as_noted(void **state)
{
    (void)state;
    static const double pedal[] = {43.2, 37.6, 26.8, 24.0, 21.6, 10.0, 0.0};
    char path[4096];
    shared_data("truck-brake-release/release.log", path, sizeof(path));
    struct parked parked = {.tables = shipped()};
    each_frame("truck-brake-release/release.log", on_truck, &parked);
    assert_int_equal(parked.pedals, COUNT_OF(pedal));
    for (size_t i = 0; i < COUNT_OF(pedal); i++) {
        assert_near(parked.pedal[i], pedal[i], 1e-9);
    }
    /* five steps of 100 ms between the first fall and zero */
    assert_near((double)(parked.last_ns - parked.first_ns) / 1e9, 0.5, 0.02);
    /* bytes 72, 71 and 72 of 8 kPa each, one second apart */
    static const double pressure[] = {912, 904, 912};
    assert_true(parked.pressures >= COUNT_OF(pressure));
    for (size_t i = 0; i < COUNT_OF(pressure); i++) {
        assert_near(parked.pressure[i], pressure[i], 1e-9);
    }
    bl_tables_destroy(parked.tables);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_bench_recording_is_put_together),
        cmocka_unit_test(a_brake_release_reads_as_noted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
