/* SPDX-License-Identifier: MIT */
/* Mapping tables as JSON: which there are (schema "brakelag-tables/1"), and
   what they say of messages or of one frame (schema "brakelag-explain/1"). */
#include "report/result.h"

#include <math.h>

enum { CODES = 16 }; /* more do not fit into one frame */

static void signal_members(struct bl_tree *tree, json_t *object,
                           const struct bl_signal *signal)
{
    bl_tree_text(tree, object, "signal", signal->name);
    bl_tree_text(tree, object, "unit", signal->unit);
    bl_tree_count(tree, object, "byte", signal->start_bit / 8 + 1);
    bl_tree_count(tree, object, "bit", signal->start_bit % 8 + 1);
    bl_tree_count(tree, object, "bits", signal->bits);
    bl_tree_bool(tree, object, "big_endian", signal->big_endian);
    bl_tree_bool(tree, object, "signed", signal->is_signed);
    bl_tree_number(tree, object, "scale", signal->scale);
    bl_tree_number(tree, object, "offset", signal->offset);
    bl_tree_number(tree, object, "low", signal->low);
    bl_tree_number(tree, object, "high", signal->high);
    bl_tree_text(tree, object, "states", signal->states);
    bl_tree_text(tree, object, "role", bl_role_name(signal->role));
    bl_tree_text(tree, object, "confidence",
                 bl_confidence_name(signal->confidence));
    bl_tree_text(tree, object, "source", signal->source);
}

static void value_members(struct bl_tree *tree, json_t *object,
                          const struct bl_signal *signal,
                          const struct bl_explained *frame)
{
    char text[128];
    const struct bl_value value =
        bl_signal_decode(signal, frame->data, frame->size);
    const bool there = value.state != BL_VALUE_ABSENT;
    bl_tree_text(tree, object, "state", bl_value_state_name(value.state));
    bl_tree_number(tree, object, "value",
                   value.state == BL_VALUE_VALID ? value.value : NAN);
    bl_tree_bool(tree, object, "in_range", value.in_range);
    if (there && signal->kind != BL_SIGNAL_TEXT) {
        bl_tree_count(tree, object, "raw", value.raw);
    }
    bl_tree_text(
        tree, object, "words",
        there && signal->kind == BL_SIGNAL_STATE
            ? bl_signal_state_text(signal, value.raw, text, sizeof(text))
            : NULL);
}

static json_t *trouble_codes(struct bl_tree *tree,
                             const struct bl_explained *frame)
{
    struct bl_trouble code[CODES];
    size_t count = 0;
    json_t *array = bl_tree_array(tree);
    if (bl_trouble_read(frame->data, frame->size, code, CODES, &count) !=
        BL_OK) {
        return array;
    }
    for (size_t i = 0; i < count && i < CODES; i++) {
        uint32_t spn[3];
        const size_t readings = bl_trouble_readings(&code[i], spn);
        json_t *one = bl_tree_object(tree);
        json_t *all = bl_tree_array(tree);
        for (size_t k = 0; k < readings; k++) {
            bl_tree_append_count(tree, all, spn[k]);
        }
        bl_tree_put(tree, one, "spn_readings", all);
        bl_tree_count(tree, one, "fmi", code[i].fmi);
        bl_tree_text(tree, one, "fmi_text", bl_fmi_text(code[i].fmi));
        bl_tree_count(tree, one, "occurrences", code[i].count);
        bl_tree_bool(tree, one, "conversion_method", code[i].method != 0);
        bl_tree_append(tree, array, one);
    }
    return array;
}

static json_t *message_object(struct bl_tree *tree,
                              const struct bl_message *message,
                              const struct bl_signal *only,
                              const struct bl_explained *frame)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "message", message->name);
    bl_tree_text(tree, object, "table", message->table);
    bl_tree_count(tree, object, message->single_id ? "id" : "pgn",
                  message->single_id ? message->id : message->pgn);
    bl_tree_number(tree, object, "period_ms",
                   message->period_ms > 0 ? message->period_ms : NAN);
    json_t *signals = bl_tree_array(tree);
    for (size_t i = 0; i < message->signals; i++) {
        if (only != NULL && only != &message->signal[i]) {
            continue;
        }
        json_t *signal = bl_tree_object(tree);
        signal_members(tree, signal, &message->signal[i]);
        if (frame != NULL && !frame->remote) {
            value_members(tree, signal, &message->signal[i], frame);
            if (message->signal[i].role == BL_ROLE_TROUBLE_CODES) {
                bl_tree_put(tree, signal, "trouble_codes",
                            trouble_codes(tree, frame));
            }
        }
        bl_tree_append(tree, signals, signal);
    }
    bl_tree_put(tree, object, "signals", signals);
    return object;
}

static json_t *frame_object(struct bl_tree *tree,
                            const struct bl_explained *frame)
{
    json_t *object = bl_tree_object(tree);
    json_t *data = bl_tree_array(tree);
    bl_tree_count(tree, object, "id", frame->id);
    bl_tree_bool(tree, object, "extended", frame->extended);
    bl_tree_bool(tree, object, "remote", frame->remote);
    if (frame->extended) {
        const struct bl_id id = bl_id_split(frame->id);
        bl_tree_count(tree, object, "priority", id.priority);
        bl_tree_count(tree, object, "pgn", id.pgn);
        bl_tree_count(tree, object, "source", id.source);
        bl_tree_count(tree, object, "destination", id.destination);
    }
    for (size_t i = 0; i < frame->size; i++) {
        bl_tree_append_count(tree, data, frame->data[i]);
    }
    bl_tree_put(tree, object, "data", data);
    return object;
}

enum bl_status bl_report_explain_json(struct bl_output *output,
                                      const struct bl_explained *frame,
                                      const struct bl_message *const *message,
                                      size_t messages,
                                      const struct bl_signal *only,
                                      struct bl_error *error)
{
    struct bl_tree tree = {false};
    json_t *root = bl_tree_object(&tree);
    json_t *array = bl_tree_array(&tree);
    bl_tree_text(&tree, root, "schema", "brakelag-explain/1");
    if (frame != NULL) {
        bl_tree_put(&tree, root, "frame", frame_object(&tree, frame));
    }
    for (size_t i = 0; i < messages; i++) {
        bl_tree_append(&tree, array,
                       message_object(&tree, message[i], only, frame));
    }
    bl_tree_put(&tree, root, "messages", array);
    const enum bl_status status = bl_tree_write(&tree, root, output, error);
    json_decref(root);
    return status;
}

enum bl_status bl_report_tables_json(struct bl_output *output,
                                     const struct bl_tables *tables,
                                     struct bl_error *error)
{
    struct bl_tree tree = {false};
    json_t *root = bl_tree_object(&tree);
    json_t *array = bl_tree_array(&tree);
    bl_tree_text(&tree, root, "schema", "brakelag-tables/1");
    for (size_t i = 0; i < bl_tables_count(tables); i++) {
        bl_tree_append(&tree, array,
                       bl_model_table(&tree, bl_tables_info(tables, i)));
    }
    bl_tree_put(&tree, root, "tables", array);
    const enum bl_status status = bl_tree_write(&tree, root, output, error);
    json_decref(root);
    return status;
}
