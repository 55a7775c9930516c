/* SPDX-License-Identifier: MIT */
/*
 * What signals did, counted frame by frame from bl_signal_decode (whose values
 * are compared with published vectors in decoder/vectors), and as survey counts
 * it: random payloads of every length, repeats among them, fields of every
 * kind.
 */
#include "testing.h"

#include "base/alloc.h"
#include "survey/moves.h"

enum { FRAMES = 20000, SIGNALS = 9 };

static const struct bl_signal signals[SIGNALS] = {
    {.role = BL_ROLE_BRAKE_SWITCH, .start_bit = 0, .bits = 1, .scale = 1},
    {.role = BL_ROLE_BRAKE_SWITCH, .start_bit = 6, .bits = 2, .scale = 1},
    {.role = BL_ROLE_BRAKE_SWITCH, .start_bit = 8, .bits = 8, .scale = 0.5},
    {.role = BL_ROLE_BRAKE_SWITCH,
     .start_bit = 16,
     .bits = 16,
     .scale = -0.01,
     .offset = 3},
    {.role = BL_ROLE_BRAKE_SWITCH, .start_bit = 29, .bits = 3, .scale = 1},
    {.role = BL_ROLE_BRAKE_SWITCH, .start_bit = 32, .bits = 32, .scale = 1e-3},
    {.role = BL_ROLE_BRAKE_SWITCH,
     .start_bit = 15,
     .bits = 12,
     .scale = 1,
     .big_endian = true},
    {.role = BL_ROLE_BRAKE_SWITCH,
     .start_bit = 20,
     .bits = 11,
     .scale = 2,
     .is_signed = true},
    {.role = BL_ROLE_BRAKE_SWITCH, .start_bit = 70, .bits = 16, .scale = 1},
};

/* What the header promises of one signal, in so many words. */
static void expect(struct bl_survey_signal *out, uint64_t *last,
                   const struct bl_frame *frame)
{
    const struct bl_value value =
        bl_signal_decode(out->signal, frame->data, frame->length);
    if (out->frames > 0 && value.raw != *last) {
        out->first_change_ns =
            out->changes == 0 ? frame->time_ns : out->first_change_ns;
        out->last_change_ns = frame->time_ns;
        out->changes++;
    }
    *last = value.raw;
    out->frames++;
    if (value.state == BL_VALUE_VALID) {
        out->smallest = fmin(out->smallest, value.value);
        out->largest = fmax(out->largest, value.value);
        out->valid++;
    }
}

static void next_frame(struct bl_frame *frame, uint32_t *state, int number)
{
    static const uint8_t lengths[] = {8, 8, 8, 8, 8, 3, 0, 12, 64};
    frame->time_ns = number * INT64_C(1000000);
    if (*state >> 28 < 6) { /* as the one before it */
        *state = *state * 1664525U + 1013904223U;
        return;
    }
    memset(frame->data, 0, sizeof(frame->data));
    frame->length = lengths[(*state >> 8) % COUNT_OF(lengths)];
    for (size_t i = 0; i < frame->length; i++) {
        *state = *state * 1664525U + 1013904223U;
        frame->data[i] = (uint8_t)(*state >> 24);
        if ((*state >> 16 & 7) == 0) {
            frame->data[i] = 0xFF - (*state >> 8 & 7); /* no values */
        }
    }
    *state = *state * 1664525U + 1013904223U;
}

static void equal_or_nan(double a, double b)
{
    assert_true(a == b || (isnan(a) && isnan(b)));
}

static void signals_are_counted_as_decoded_one_by_one(void **state)
{
    (void)state;
    const struct bl_message message = {.signal = signals, .signals = SIGNALS};
    struct bl_survey_id id = {.messages = 1, .message = {&message}};
    struct bl_survey_moves moves;
    struct bl_survey_signal wanted[SIGNALS];
    uint64_t last[SIGNALS] = {0};
    assert_int_equal(bl_survey_moves_start(&moves, &id, NULL), BL_OK);
    assert_int_equal(id.signals, SIGNALS);
    for (size_t i = 0; i < SIGNALS; i++) {
        wanted[i] = (struct bl_survey_signal){
            .signal = &signals[i], .smallest = NAN, .largest = NAN};
    }
    struct bl_frame frame = {.length = 8};
    uint32_t random = 20261129;
    for (int number = 0; number < FRAMES; number++) {
        next_frame(&frame, &random, number);
        bl_survey_moves_feed(&moves, &frame);
        for (size_t i = 0; i < SIGNALS; i++) {
            expect(&wanted[i], &last[i], &frame);
        }
    }
    bl_survey_moves_end(&moves, &id);
    for (size_t i = 0; i < SIGNALS; i++) {
        const struct bl_survey_signal *found = &id.signal[i];
        assert_int_equal(found->frames, wanted[i].frames);
        assert_int_equal(found->valid, wanted[i].valid);
        assert_true(found->valid > 0);
        assert_int_equal(found->changes, wanted[i].changes);
        assert_true(found->first_change_ns == wanted[i].first_change_ns);
        assert_true(found->last_change_ns == wanted[i].last_change_ns);
        equal_or_nan(found->smallest, wanted[i].smallest);
        equal_or_nan(found->largest, wanted[i].largest);
    }
    bl_survey_moves_finish(&moves);
    bl_free(id.signal);
}

/* No frame ever has a value: nothing is least and most. */
static void a_signal_without_a_value_has_no_range(void **state)
{
    (void)state;
    const struct bl_message message = {.signal = &signals[2], .signals = 1};
    struct bl_survey_id id = {.messages = 1, .message = {&message}};
    struct bl_survey_moves moves;
    struct bl_frame frame = {.length = 8};
    assert_int_equal(bl_survey_moves_start(&moves, &id, NULL), BL_OK);
    memset(frame.data, 0xFF, 8);
    for (int number = 0; number < 4; number++) {
        frame.data[0] = (uint8_t)number;
        bl_survey_moves_feed(&moves, &frame);
    }
    bl_survey_moves_end(&moves, &id);
    assert_int_equal(id.signal[0].frames, 4);
    assert_int_equal(id.signal[0].valid, 0);
    assert_nan(id.signal[0].smallest);
    assert_nan(id.signal[0].largest);
    bl_survey_moves_finish(&moves);
    bl_free(id.signal);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(signals_are_counted_as_decoded_one_by_one),
        cmocka_unit_test(a_signal_without_a_value_has_no_range),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
