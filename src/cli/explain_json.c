/* SPDX-License-Identifier: MIT */
/* What explain says, as JSON (schema "brakelag-explain/1"). */
#include "explain.h"

#include "json.h"

#include <math.h>

static void signal_members(struct json *json, const struct bl_signal *signal)
{
    json_text(json, "signal", signal->name);
    json_text(json, "unit", signal->unit);
    json_count(json, "byte", signal->start_bit / 8 + 1);
    json_count(json, "bit", signal->start_bit % 8 + 1);
    json_count(json, "bits", signal->bits);
    json_number(json, "scale", signal->scale);
    json_number(json, "offset", signal->offset);
    json_number(json, "low", signal->low);
    json_number(json, "high", signal->high);
    json_text(json, "states", signal->states);
    json_text(json, "role", bl_role_name(signal->role));
    json_text(json, "confidence", bl_confidence_name(signal->confidence));
    json_text(json, "source", signal->source);
}

static void value_members(struct json *json, const struct bl_signal *signal,
                          const struct explained *frame)
{
    char text[128];
    const struct bl_value value =
        bl_signal_decode(signal, frame->data, frame->size);
    const bool there = value.state != BL_VALUE_ABSENT;
    json_text(json, "state", bl_value_state_name(value.state));
    json_number(json, "value",
                value.state == BL_VALUE_VALID ? value.value : NAN);
    json_bool(json, "in_range", value.in_range);
    if (there && signal->kind != BL_SIGNAL_TEXT) {
        json_count(json, "raw", value.raw);
    }
    json_text(json, "words",
              there && signal->kind == BL_SIGNAL_STATE
                  ? bl_signal_state_text(signal, value.raw, text, sizeof(text))
                  : NULL);
}

static void message_object(struct json *json, const struct bl_message *message,
                           const struct bl_signal *only,
                           const struct explained *frame)
{
    json_open(json, NULL, '{');
    json_text(json, "message", message->name);
    json_text(json, "table", message->table);
    json_count(json, message->single_id ? "id" : "pgn",
               message->single_id ? message->id : message->pgn);
    json_number(json, "period_ms",
                message->period_ms > 0 ? message->period_ms : NAN);
    json_open(json, "signals", '[');
    for (size_t i = 0; i < message->signals; i++) {
        if (only != NULL && only != &message->signal[i]) {
            continue;
        }
        json_open(json, NULL, '{');
        signal_members(json, &message->signal[i]);
        if (frame != NULL && !frame->remote) {
            value_members(json, &message->signal[i], frame);
        }
        json_close(json, '}');
    }
    json_close(json, ']');
    json_close(json, '}');
}

static void frame_object(struct json *json, const struct explained *frame)
{
    json_open(json, "frame", '{');
    json_count(json, "id", frame->id);
    json_bool(json, "extended", frame->extended);
    json_bool(json, "remote", frame->remote);
    if (frame->extended) {
        const struct bl_id id = bl_id_split(frame->id);
        json_count(json, "priority", id.priority);
        json_count(json, "pgn", id.pgn);
        json_count(json, "source", id.source);
        json_count(json, "destination", id.destination);
    }
    json_open(json, "data", '[');
    for (size_t i = 0; i < frame->size; i++) {
        json_count(json, NULL, frame->data[i]);
    }
    json_close(json, ']');
    json_close(json, '}');
}

void explain_json(struct bl_output *output, const struct explained *frame,
                  const struct bl_message *const *message, size_t messages,
                  const struct bl_signal *only)
{
    struct json json = {output, false};
    bl_output_text(output, "{");
    json_text(&json, "schema", "brakelag-explain/1");
    if (frame != NULL) {
        frame_object(&json, frame);
    }
    json_open(&json, "messages", '[');
    for (size_t i = 0; i < messages; i++) {
        message_object(&json, message[i], only, frame);
    }
    json_close(&json, ']');
    json_close(&json, '}');
    bl_output_text(output, "\n");
}
