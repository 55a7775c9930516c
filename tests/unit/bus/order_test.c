/* SPDX-License-Identifier: MIT */
/*
 * The ordering stage: late stamps, strays and jumps back, by small text
 * recordings whose right order is plain. Rules: brakelag/bus.h.
 */
#include "recordings.h"

#include "bus/order.h"

#include <inttypes.h>

/* A recording with these stamps in this order; frame i carries i as data. */
static struct recording read_stamps(const int64_t *time_ns, size_t count)
{
    struct bl_output *output;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    for (size_t i = 0; i < count; i++) {
        bl_output_format(output, "(%" PRId64 ".%09" PRId64 ") can0 123#%08zx\n",
                         time_ns[i] / 1000000000, time_ns[i] % 1000000000, i);
    }
    size_t size;
    const char *text = bl_output_memory(output, &size);
    struct recording r = read_memory(text, size, NULL);
    assert_int_equal(r.status, BL_OK);
    bl_output_discard(output);
    return r;
}

static size_t number_of(const struct bl_frame *frame)
{
    return (size_t)frame->data[0] << 24 | (size_t)frame->data[1] << 16 |
           (size_t)frame->data[2] << 8 | frame->data[3];
}

static void check_order(const struct recording *r, const size_t *number,
                        size_t count)
{
    assert_int_equal(r->frames, count);
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(number_of(&r->frame[i]), number[i]);
    }
}

#define MS INT64_C(1000000)
#define S INT64_C(1000000000)
#define HOUR (3600 * S)

static void late_stamps_find_their_place(void **state)
{
    (void)state;
    const int64_t stamps[] = {10 * S,
                              10 * S + 100 * MS,
                              10 * S + 50 * MS,
                              10 * S + 100 * MS,
                              10 * S + 100 * MS,
                              10 * S + 50 * MS,
                              10 * S + 300 * MS,
                              10 * S + 100 * MS,
                              10 * S + 301 * MS};
    /* Equal stamps keep file order. */
    const size_t expected[] = {0, 2, 5, 1, 3, 4, 7, 6, 8};
    struct recording r = read_stamps(stamps, COUNT_OF(stamps));
    check_order(&r, expected, COUNT_OF(expected));
    assert_int_equal(r.info->late_sorted, 3);
    assert_int_equal(notes_of(&r, "late-stamps"), 3);
    assert_int_equal(r.info->undone_splits, 0);
    close_recording(&r);
}

static void the_window_ends_at_200_ms(void **state)
{
    (void)state;
    const int64_t inside[] = {10 * S, 10 * S + 200 * MS, 10 * S};
    const size_t expected[] = {0, 2, 1};
    struct recording r = read_stamps(inside, 3);
    check_order(&r, expected, 3);
    assert_int_equal(r.info->undone_splits, 0);
    close_recording(&r);
    /* Further back, and on from there: a new part. */
    int64_t outside[20];
    size_t kept[20];
    for (size_t i = 0; i < 20; i++) {
        outside[i] = 10 * S + (int64_t)i * MS - (i >= 2 ? 300 * MS : 0);
        kept[i] = i;
    }
    r = read_stamps(outside, 20);
    check_order(&r, kept, 20);
    assert_int_equal(r.info->undone_splits, 1);
    assert_int_equal(r.info->strays, 0);
    assert_int_equal(notes_of(&r, "time-jumps-back"), 1);
    assert_int_equal(r.frame[1].part, 0);
    assert_int_equal(r.frame[2].part, 1);
    assert_int_equal(r.frame[3].part, 1);
    assert_int_equal(r.info->times->places, 1);
    assert_int_equal(r.info->times->place[0].kind, BL_TIME_BACK);
    close_recording(&r);
}

/* The clock of one bus steps back by 20 ms: its frames are sorted in, and that
   is a place; frames of another bus that come late are none. */
static void a_step_back_is_a_place(void **state)
{
    (void)state;
    int64_t stamps[40];
    for (size_t i = 0; i < 40; i++) {
        stamps[i] = 10 * S + (int64_t)i * 2 * MS - (i >= 20 ? 20 * MS : 0);
    }
    struct recording r = read_stamps(stamps, 40);
    assert_int_equal(r.frames, 40);
    assert_int_equal(r.info->times->places, 1);
    const struct bl_time_place *p = &r.info->times->place[0];
    assert_int_equal(p->kind, BL_TIME_SORTED);
    assert_int_equal(p->from_ns, 10 * S + 20 * MS);
    assert_int_equal(p->until_ns, 10 * S + 38 * MS);
    assert_int_equal(p->off_ns, 18 * MS);
    close_recording(&r);
}

/* A jump of `jump` at frame 3 that lasts for `length` frames. */
static struct recording read_jump(int64_t jump, size_t length, size_t count)
{
    int64_t stamps[64];
    for (size_t i = 0; i < count; i++) {
        stamps[i] = 10 * S + (int64_t)i * MS;
        stamps[i] += i >= 3 && i < 3 + length ? jump : 0;
    }
    return read_stamps(stamps, count);
}

static void a_jump_that_is_undone_is_a_stray(void **state)
{
    (void)state;
    const int64_t jump[] = {HOUR + S, -5 * S, S, -S};
    for (size_t k = 0; k < 4 * 16; k++) {
        const size_t length = 1 + k / 4;
        struct recording r = read_jump(jump[k % 4], length, 40);
        assert_int_equal(r.frames, 40 - length);
        assert_int_equal(r.info->strays, length);
        assert_int_equal(notes_of(&r, "stray-stamps"), length);
        assert_int_equal(r.info->undone_splits, 0);
        assert_int_equal(number_of(&r.frame[3]), 3 + length);
        close_recording(&r);
    }
}

static void a_longer_or_shorter_jump_is_none(void **state)
{
    (void)state;
    struct recording r = read_jump(HOUR + S, 17, 40);
    assert_int_equal(r.frames, 40);
    assert_int_equal(r.info->strays, 0);
    assert_int_equal(r.info->undone_splits, 1);
    close_recording(&r);
    /* Not far: sorted among the others. */
    r = read_jump(150 * MS, 2, 40);
    assert_int_equal(r.frames, 40);
    assert_int_equal(r.info->strays, 0);
    assert_int_equal(r.info->undone_splits, 0);
    close_recording(&r);
    /* Never undone: the recorder slept. */
    r = read_jump(HOUR + S, 37, 40);
    assert_int_equal(r.frames, 40);
    assert_int_equal(r.info->strays, 0);
    assert_int_equal(r.info->undone_splits, 0);
    close_recording(&r);
}

/* The same against a plain sort, over batches of any size. */
static void any_batch_size_gives_the_same_order(void **state)
{
    (void)state;
    enum { COUNT = 5000 };
    static int64_t stamps[COUNT];
    uint32_t seed = 1;
    for (size_t i = 0; i < COUNT; i++) {
        seed = seed * 1664525u + 1013904223u;
        /* Out of order by less than 200 ms, with many equal stamps. */
        stamps[i] = 10 * S + (int64_t)(i / 4) * 4 * MS +
                    (int64_t)(seed >> 24) % 190 * MS;
    }
    static const size_t batches[] = {1, 7, 100, 1024, COUNT};
    for (size_t b = 0; b < COUNT_OF(batches); b++) {
        struct bl_order order = {.any = false};
        int64_t last_ns = INT64_MIN;
        size_t last_number = 0;
        size_t taken = 0;
        for (size_t at = 0; at < COUNT || taken < COUNT;) {
            size_t more = COUNT - at < batches[b] ? COUNT - at : batches[b];
            struct bl_frame *room = bl_order_room(&order, batches[b]);
            assert_non_null(room);
            memset(room, 0, more * sizeof(*room));
            for (size_t i = 0; i < more; i++) {
                room[i].time_ns = stamps[at + i];
                room[i].id = (uint32_t)(at + i);
            }
            at += more;
            assert_int_equal(bl_order_add(&order, more, at == COUNT, NULL),
                             BL_OK);
            size_t count;
            const struct bl_frame *frame = bl_order_take(&order, &count);
            for (size_t i = 0; i < count; i++) {
                assert_true(
                    frame[i].time_ns > last_ns ||
                    (frame[i].time_ns == last_ns && frame[i].id > last_number));
                last_ns = frame[i].time_ns;
                last_number = frame[i].id;
            }
            taken += count;
        }
        assert_int_equal(taken, COUNT);
        assert_int_equal(order.part, 0);
        bl_order_finish(&order);
    }
}

static void what_is_held_is_bounded(void **state)
{
    (void)state;
    struct bl_order order = {.any = false};
    enum { BATCH = 1024, BATCHES = 200 };
    size_t taken = 0;
    for (size_t b = 0; b < BATCHES; b++) {
        struct bl_frame *room = bl_order_room(&order, BATCH);
        assert_non_null(room);
        memset(room, 0, BATCH * sizeof(*room)); /* one and the same stamp */
        assert_int_equal(bl_order_add(&order, BATCH, false, NULL), BL_OK);
        size_t count;
        (void)bl_order_take(&order, &count);
        taken += count;
        assert_true((b + 1) * BATCH - taken <= 65536);
    }
    assert_true(order.capacity <= 3 * 65536);
    bl_order_finish(&order);
}

static void too_many_parts_are_an_error(void **state)
{
    (void)state;
    struct bl_order order = {.any = false};
    enum bl_status status = BL_OK;
    struct bl_error error;
    bl_error_clear(&error);
    size_t taken = 0;
    for (int64_t i = 0; i < 70000 && status == BL_OK; i++) {
        struct bl_frame *room = bl_order_room(&order, 1);
        assert_non_null(room);
        memset(room, 0, sizeof(*room));
        room->time_ns = -i * S;
        status = bl_order_add(&order, 1, false, &error);
        size_t count;
        (void)bl_order_take(&order, &count);
        taken += count;
    }
    assert_int_equal(status, BL_LIMIT);
    assert_non_null(strstr(error.message, "65535"));
    assert_int_equal(taken, 65536);
    bl_order_finish(&order);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(late_stamps_find_their_place),
        cmocka_unit_test(the_window_ends_at_200_ms),
        cmocka_unit_test(a_jump_that_is_undone_is_a_stray),
        cmocka_unit_test(a_step_back_is_a_place),
        cmocka_unit_test(a_longer_or_shorter_jump_is_none),
        cmocka_unit_test(any_batch_size_gives_the_same_order),
        cmocka_unit_test(what_is_held_is_bounded),
        cmocka_unit_test(too_many_parts_are_an_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
