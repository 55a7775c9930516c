/* SPDX-License-Identifier: MIT */
/* A survey as JSON, schema "brakelag-survey/1". Times in seconds since the
   recording's first stamp, which is given in nanoseconds as text. */
#include "survey/internal.h"

#include "base/utf8.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>

/* Add to an object or an array; a failure anywhere clears *good. */
static void put(json_t *object, const char *key, json_t *value, bool *good)
{
    if (json_object_set_new(object, key, value) != 0) {
        *good = false;
    }
}

static void append(json_t *array, json_t *value, bool *good)
{
    if (json_array_append_new(array, value) != 0) {
        *good = false;
    }
}

static json_t *real(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *count(uint64_t value)
{
    return json_integer(value > INT64_MAX ? INT64_MAX : (json_int_t)value);
}

/* A recording's text that is no UTF-8 is read as ISO 8859-1, as in a result.
   NULL: out of memory. */
static json_t *text(const char *value)
{
    if (value == NULL) {
        return json_null();
    }
    struct bl_strbuf utf8 = {0};
    /* Of NULL, which is memory that ended, it makes NULL. */
    json_t *made = json_string_nocheck(bl_utf8_text(value, &utf8));
    bl_strbuf_finish(&utf8);
    return made;
}

static json_t *since(const struct bl_survey_file *file, int64_t time_ns)
{
    return real(bl_survey_span_s(file->first_ns, time_ns));
}

static json_t *bus_name(const struct bl_survey_file *file, uint16_t bus)
{
    return text(bus < file->buses ? file->bus[bus].name : "");
}

static json_t *bus_json(const struct bl_survey_file *file,
                        const struct bl_survey_bus *bus, bool *good)
{
    json_t *o = json_object();
    const bool pair = bus->longest_gap_ns > 0;
    put(o, "name", text(bus->name), good);
    put(o, "classic", count(bus->frames[BL_FRAME_CLASSIC]), good);
    put(o, "fd", count(bus->frames[BL_FRAME_FD]), good);
    put(o, "remote", count(bus->frames[BL_FRAME_REMOTE]), good);
    put(o, "error", count(bus->frames[BL_FRAME_ERROR]), good);
    put(o, "first_s", since(file, bus->first_ns), good);
    put(o, "last_s", since(file, bus->last_ns), good);
    put(o, "longest_gap_s",
        real(pair ? (double)bus->longest_gap_ns * 1e-9 : NAN), good);
    put(o, "longest_gap_at_s",
        pair ? since(file, bus->longest_gap_at_ns) : json_null(), good);
    put(o, "mean_bit_per_s", real(bus->mean_bit_s), good);
    put(o, "peak_bit_per_s", real(bus->peak_bit_s), good);
    return o;
}

static json_t *signal_json(const struct bl_survey_file *file,
                           const struct bl_survey_signal *signal, bool *good)
{
    json_t *o = json_object();
    const bool moved = signal->changes > 0;
    put(o, "message", text(signal->signal->message->name), good);
    put(o, "signal", text(signal->signal->name), good);
    put(o, "role", text(bl_role_name(signal->signal->role)), good);
    put(o, "unit", text(signal->signal->unit), good);
    put(o, "frames", count(signal->frames), good);
    put(o, "valid", count(signal->valid), good);
    put(o, "changes", count(signal->changes), good);
    put(o, "smallest", real(signal->smallest), good);
    put(o, "largest", real(signal->largest), good);
    put(o, "first_change_s",
        moved ? since(file, signal->first_change_ns) : json_null(), good);
    put(o, "last_change_s",
        moved ? since(file, signal->last_change_ns) : json_null(), good);
    return o;
}

static json_t *id_json(const struct bl_survey_file *file,
                       const struct bl_survey_id *id, bool *good)
{
    json_t *o = json_object();
    json_t *names = json_array();
    json_t *signals = json_array();
    const struct bl_id parts = bl_id_split(id->id);
    const bool pair = id->frames > 1;
    put(o, "bus", bus_name(file, id->bus), good);
    put(o, "id", count(id->id), good);
    put(o, "extended", json_boolean(id->extended), good);
    if (id->extended) {
        put(o, "pgn", count(parts.pgn), good);
        put(o, "source", count(parts.source), good);
        put(o, "destination", count(parts.destination), good);
    }
    put(o, "frames", count(id->frames), good);
    put(o, "remote", count(id->remote), good);
    put(o, "interval_min_s",
        real(pair ? (double)id->interval_min_ns * 1e-9 : NAN), good);
    put(o, "interval_median_s",
        real(pair ? (double)id->interval_median_ns * 1e-9 : NAN), good);
    put(o, "interval_max_s",
        real(pair ? (double)id->interval_max_ns * 1e-9 : NAN), good);
    for (size_t m = 0; m < id->messages; m++) {
        append(names, text(id->message[m]->name), good);
    }
    put(o, "messages", names, good);
    for (size_t s = 0; s < id->signals; s++) {
        append(signals, signal_json(file, &id->signal[s], good), good);
    }
    put(o, "signals", signals, good);
    return o;
}

static json_t *address_json(const struct bl_survey_file *file,
                            const struct bl_survey_address *address, bool *good)
{
    char name[24];
    json_t *o = json_object();
    put(o, "bus", bus_name(file, address->bus), good);
    put(o, "address", count(address->address), good);
    put(o, "frames", count(address->frames), good);
    snprintf(name, sizeof(name), "%016llX",
             (unsigned long long)address->name.raw);
    put(o, "name", address->claimed ? text(name) : json_null(), good);
    return o;
}

static json_t *talk_json(const struct bl_survey_file *file, bool *good)
{
    json_t *list = json_array();
    for (size_t i = 0; i < file->transports; i++) {
        const struct bl_survey_transport *t = &file->transport[i];
        json_t *o = json_object();
        put(o, "bus", bus_name(file, t->bus), good);
        put(o, "pgn", count(t->pgn), good);
        put(o, "source", count(t->source), good);
        put(o, "destination", count(t->destination), good);
        put(o, "messages", count(t->messages), good);
        put(o, "largest_bytes", count(t->largest), good);
        put(o, "message", text(t->message == NULL ? NULL : t->message->name),
            good);
        append(list, o, good);
    }
    return list;
}

static json_t *trouble_json(const struct bl_survey_file *file, bool *good)
{
    json_t *list = json_array();
    for (size_t i = 0; i < file->troubles; i++) {
        const struct bl_survey_trouble *t = &file->trouble[i];
        json_t *o = json_object();
        put(o, "bus", bus_name(file, t->bus), good);
        put(o, "source", count(t->source), good);
        put(o, "spn", count(t->code.spn), good);
        put(o, "fmi", count(t->code.fmi), good);
        put(o, "seen", count(t->seen), good);
        put(o, "first_s", since(file, t->first_ns), good);
        put(o, "last_s", since(file, t->last_ns), good);
        append(list, o, good);
    }
    return list;
}

static json_t *column_json(const struct bl_survey_file *file,
                           const struct bl_survey_column *column, bool *good)
{
    json_t *o = json_object();
    json_t *odd = json_array();
    put(o, "column", count(column->index + 1), good);
    put(o, "name", text(column->name), good);
    put(o, "unit", text(column->unit), good);
    put(o, "values", count(column->values), good);
    put(o, "missing", count(column->missing), good);
    put(o, "not_numbers", count(column->not_numbers), good);
    put(o, "overflows", count(column->overflows), good);
    put(o, "smallest", real(column->smallest), good);
    put(o, "largest", real(column->largest), good);
    put(o, "step", real(column->step > 0 ? column->step : NAN), good);
    put(o, "low", real(column->low), good);
    put(o, "high", real(column->high), good);
    put(o, "noise", real(column->noise), good);
    put(o, "stair_s",
        real(column->stair_ns > 0 ? (double)column->stair_ns * 1e-9 : NAN),
        good);
    put(o, "identical_to",
        column->identical_to < 0
            ? json_null()
            : count(file->column[column->identical_to].index + 1),
        good);
    put(o, "quantity",
        column->quantity == BL_QUANTITY_NONE
            ? json_null()
            : text(bl_quantity_name(column->quantity)),
        good);
    put(o, "read_in", text(column->quantity_unit), good);
    put(o, "guessed", json_boolean(column->guessed), good);
    for (size_t i = 0; bl_oddity_at(i) != 0; i++) {
        if ((column->oddities & bl_oddity_at(i)) != 0) {
            append(odd, text(bl_oddity_code(bl_oddity_at(i))), good);
        }
    }
    put(o, "oddities", odd, good);
    return o;
}

static void bus_file_json(json_t *o, const struct bl_survey_file *file,
                          bool *good)
{
    json_t *buses = json_array();
    json_t *ids = json_array();
    json_t *addresses = json_array();
    put(o, "frames", count(file->frames), good);
    put(o, "late_stamps", count(file->late), good);
    put(o, "strays", count(file->strays), good);
    put(o, "other_packets", count(file->other_packets), good);
    put(o, "frames_not_listed", count(file->ids_left_out), good);
    for (size_t i = 0; i < file->buses; i++) {
        append(buses, bus_json(file, &file->bus[i], good), good);
    }
    put(o, "buses", buses, good);
    for (size_t i = 0; i < file->ids; i++) {
        append(ids, id_json(file, &file->id[i], good), good);
    }
    put(o, "identifiers", ids, good);
    for (size_t i = 0; i < file->addresses; i++) {
        append(addresses, address_json(file, &file->address[i], good), good);
    }
    put(o, "addresses", addresses, good);
    put(o, "transport", talk_json(file, good), good);
    put(o, "trouble_codes", trouble_json(file, good), good);
}

static json_t *file_json(const struct bl_survey_file *file, bool *good)
{
    char first[24];
    json_t *o = json_object();
    json_t *notes = json_array();
    const bool bus = file->kind == BL_SURVEY_BUS;
    put(o, "file", text(file->path), good);
    put(o, "kind", text(bus ? "bus" : "log"), good);
    put(o, "format", text(file->format), good);
    put(o, "sha256", text(file->stored.sha256), good);
    put(o, "bytes", count(file->stored.bytes), good);
    put(o, "damaged", file->status == BL_OK ? json_null() : text(file->failure),
        good);
    snprintf(first, sizeof(first), "%lld", (long long)file->first_ns);
    put(o, "first_ns", text(first), good);
    put(o, "last_s", since(file, file->last_ns), good);
    put(o, "absolute_time", json_boolean(file->absolute_time), good);
    put(o, "splits", count(file->splits), good);
    for (size_t i = 0; i < file->notes.count; i++) {
        json_t *note = json_object();
        put(note, "code", text(file->notes.item[i].code), good);
        put(note, "text", text(file->notes.item[i].text), good);
        put(note, "count", count(file->notes.item[i].count), good);
        append(notes, note, good);
    }
    put(o, "notes", notes, good);
    if (bus) {
        bus_file_json(o, file, good);
        return o;
    }
    json_t *columns = json_array();
    put(o, "rows", count(file->rows), good);
    put(o, "late_stamps", count(file->late), good);
    put(o, "interval_s", real((double)file->interval_ns * 1e-9), good);
    put(o, "decided", text(file->decided), good);
    for (size_t c = 0; c < file->columns; c++) {
        append(columns, column_json(file, &file->column[c], good), good);
    }
    put(o, "columns", columns, good);
    return o;
}

static int write_part(const char *buffer, size_t size, void *data)
{
    bl_output_write(data, buffer, size);
    return 0;
}

enum bl_status bl_survey_json(const struct bl_survey *survey,
                              struct bl_output *output, struct bl_error *error)
{
    bool good = true;
    json_t *root = json_object();
    json_t *files = json_array();
    put(root, "schema", text("brakelag-survey/1"), &good);
    for (size_t f = 0; f < survey->files; f++) {
        append(files, file_json(&survey->file[f], &good), &good);
    }
    put(root, "files", files, &good);
    if (good &&
        json_dump_callback(root, write_part, output,
                           JSON_INDENT(1) | JSON_REAL_PRECISION(12)) != 0) {
        good = false;
    }
    json_decref(root);
    if (!good) {
        return bl_fail_memory(error);
    }
    bl_output_text(output, "\n");
    return BL_OK;
}
