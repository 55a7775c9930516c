/* SPDX-License-Identifier: MIT */
/*
 * A trailer link may carry nothing but messages that the tables know, with
 * values that change in every frame. So a field in the first eight bytes is
 * compared as it stands, without branches that depend on its value: valid are
 * the raw values up to a bound, and the physical value is monotonic in the raw
 * one, so that its least and most are those of the raw values. Others are
 * decoded one by one.
 */
#include "survey/moves.h"

#include <math.h>
#include <string.h>

#include "base/alloc.h"

enum { SIGNALS_MAX = 64, WORD = 8, NO_LENGTH = UINT8_MAX };

struct bl_survey_move {
    const struct bl_signal *signal;
    uint64_t mask, most; /* of the field; of its valid values */
    uint64_t last, least_raw, most_raw;
    uint64_t valid, changes;
    int64_t first_change_ns, last_change_ns;
    double smallest, largest; /* of those decoded one by one; NaN: none */
    uint8_t shift;
    bool plain; /* a number in the first eight bytes, without sign */
};

static void start_move(struct bl_survey_move *move,
                       const struct bl_signal *signal)
{
    *move = (struct bl_survey_move){.signal = signal,
                                    .least_raw = UINT64_MAX,
                                    .smallest = NAN,
                                    .largest = NAN};
    if (!signal->big_endian && !signal->is_signed && signal->bits > 0 &&
        signal->start_bit + signal->bits <= 8 * WORD) {
        move->plain = true;
        move->shift = (uint8_t)signal->start_bit;
        move->mask = UINT64_MAX >> (8 * WORD - signal->bits);
        move->most = bl_value_most(signal->bits);
    }
}

enum bl_status bl_survey_moves_start(struct bl_survey_moves *moves,
                                     struct bl_survey_id *id,
                                     struct bl_error *error)
{
    size_t count = 0;
    for (size_t m = 0; m < id->messages; m++) {
        count += id->message[m]->signals;
    }
    count = count < SIGNALS_MAX ? count : SIGNALS_MAX;
    *moves = (struct bl_survey_moves){.length = NO_LENGTH};
    if (count == 0) {
        return BL_OK;
    }
    id->signal = bl_alloc(count, sizeof(*id->signal));
    moves->move = bl_alloc(count, sizeof(*moves->move));
    if (id->signal == NULL || moves->move == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t m = 0; m < id->messages; m++) {
        for (size_t s = 0; s < id->message[m]->signals; s++) {
            const struct bl_signal *signal = &id->message[m]->signal[s];
            if (signal->role != BL_ROLE_NONE && id->signals < count &&
                signal->kind != BL_SIGNAL_TEXT) {
                start_move(&moves->move[id->signals], signal);
                id->signal[id->signals++].signal = signal;
            }
        }
    }
    moves->signals = id->signals;
    return BL_OK;
}

static void note_change(struct bl_survey_move *move, uint64_t raw,
                        int64_t time_ns)
{
    if (raw != move->last) {
        if (move->changes++ == 0) {
            move->first_change_ns = time_ns;
        }
        move->last_change_ns = time_ns;
    }
    move->last = raw;
}

static void feed_decoded(struct bl_survey_move *move,
                         const struct bl_frame *frame, bool first)
{
    const struct bl_value value =
        bl_signal_decode(move->signal, frame->data, frame->length);
    if (first) {
        move->last = value.raw;
    }
    note_change(move, value.raw, frame->time_ns);
    if (value.state == BL_VALUE_VALID) {
        move->valid++;
        if (!(value.value >= move->smallest)) { /* the first one, too */
            move->smallest = value.value;
        }
        if (!(value.value <= move->largest)) {
            move->largest = value.value;
        }
    }
}

/* The value is random to a processor: every choice is a move, not a jump. */
static void feed_plain(struct bl_survey_move *move, uint64_t word,
                       int64_t time_ns)
{
    const uint64_t raw = word >> move->shift & move->mask;
    const bool changed = raw != move->last;
    const bool valid = raw <= move->most;
    const uint64_t low = valid ? raw : UINT64_MAX;
    const uint64_t high = valid ? raw : 0;
    if (move->changes == 0 && changed) { /* once */
        move->first_change_ns = time_ns;
    }
    move->changes += changed;
    move->last_change_ns = changed ? time_ns : move->last_change_ns;
    move->last = raw;
    move->valid += valid;
    move->least_raw = low < move->least_raw ? low : move->least_raw;
    move->most_raw = high > move->most_raw ? high : move->most_raw;
}

static uint64_t word_of(const uint8_t *data)
{
    uint64_t word = 0;
    for (size_t i = WORD; i > 0; i--) {
        word = word << 8 | data[i - 1];
    }
    return word;
}

/* Frames that repeated the one before them, one by one, would have done this.
 */
static void feed_repeats(struct bl_survey_moves *moves)
{
    uint8_t data[WORD];
    memcpy(data, &moves->data, sizeof(data));
    for (size_t i = 0; i < moves->signals; i++) {
        struct bl_survey_move *move = &moves->move[i];
        if (bl_signal_decode(move->signal, data, moves->length).state ==
            BL_VALUE_VALID) {
            move->valid += moves->repeat;
        }
    }
    moves->repeat = 0;
}

/* Most frames repeat what the one before them said: they are counted only. */
void bl_survey_moves_feed(struct bl_survey_moves *moves,
                          const struct bl_frame *frame)
{
    uint64_t data;
    memcpy(&data, frame->data, sizeof(data));
    const bool first = moves->frames++ == 0;
    if (moves->length == frame->length && moves->data == data) {
        moves->repeat++;
        return;
    }
    if (moves->repeat > 0) {
        feed_repeats(moves);
    }
    moves->data = data;
    moves->length = frame->length <= sizeof(data) ? frame->length : NO_LENGTH;
    const uint64_t word = word_of(frame->data);
    const bool whole = frame->length >= WORD && !first;
    for (size_t i = 0; i < moves->signals; i++) {
        struct bl_survey_move *move = &moves->move[i];
        if (whole && move->plain) {
            feed_plain(move, word, frame->time_ns);
        } else {
            feed_decoded(move, frame, first);
        }
    }
}

/* The physical value at one end of the raw ones. */
static void take_end(struct bl_survey_move *move, uint64_t raw)
{
    uint8_t data[WORD] = {0};
    if (bl_signal_encode_raw(move->signal, raw, data, sizeof(data)) != BL_OK) {
        return; /* it fits: it was taken from such a field */
    }
    const double value =
        bl_signal_decode(move->signal, data, sizeof(data)).value;
    move->smallest =
        fmin(move->smallest, value); /* of NaN and a number, that */
    move->largest = fmax(move->largest, value);
}

void bl_survey_moves_end(struct bl_survey_moves *moves, struct bl_survey_id *id)
{
    if (moves->repeat > 0) {
        feed_repeats(moves);
    }
    for (size_t i = 0; i < moves->signals; i++) {
        struct bl_survey_move *move = &moves->move[i];
        struct bl_survey_signal *out = &id->signal[i];
        if (move->least_raw <= move->most_raw) {
            take_end(move, move->least_raw);
            take_end(move, move->most_raw);
        }
        out->frames = moves->frames;
        out->valid = move->valid;
        out->changes = move->changes;
        out->smallest = move->smallest;
        out->largest = move->largest;
        out->first_change_ns = move->first_change_ns;
        out->last_change_ns = move->last_change_ns;
    }
}

void bl_survey_moves_finish(struct bl_survey_moves *moves)
{
    bl_free(moves->move);
    moves->move = NULL;
}
