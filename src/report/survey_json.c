/* SPDX-License-Identifier: MIT */
/* A survey as JSON, schema "brakelag-survey/1". Times in seconds since the
   recording's first stamp, which is given in nanoseconds as text. */
#include "report/tree.h"
#include "survey/internal.h"

#include "brakelag/report.h"

#include <math.h>
#include <stdio.h>

static double since(const struct bl_survey_file *file, int64_t time_ns)
{
    return file->untimed ? NAN : bl_survey_span_s(file->first_ns, time_ns);
}

static const char *bus_name(const struct bl_survey_file *file, uint16_t bus)
{
    return bus < file->buses ? file->bus[bus].name : "";
}

static json_t *bus_json(struct bl_tree *tree, const struct bl_survey_file *file,
                        const struct bl_survey_bus *bus)
{
    json_t *o = bl_tree_object(tree);
    const bool pair = bus->longest_gap_ns > 0 && !file->untimed;
    bl_tree_text(tree, o, "name", bus->name);
    bl_tree_count(tree, o, "classic", bus->frames[BL_FRAME_CLASSIC]);
    bl_tree_count(tree, o, "fd", bus->frames[BL_FRAME_FD]);
    bl_tree_count(tree, o, "remote", bus->frames[BL_FRAME_REMOTE]);
    bl_tree_count(tree, o, "error", bus->frames[BL_FRAME_ERROR]);
    bl_tree_number(tree, o, "first_s", since(file, bus->first_ns));
    bl_tree_number(tree, o, "last_s", since(file, bus->last_ns));
    bl_tree_number(tree, o, "longest_gap_s",
                   pair ? (double)bus->longest_gap_ns * 1e-9 : NAN);
    bl_tree_number(tree, o, "longest_gap_at_s",
                   pair ? since(file, bus->longest_gap_at_ns) : NAN);
    bl_tree_number(tree, o, "mean_bit_per_s", bus->mean_bit_s);
    bl_tree_number(tree, o, "peak_bit_per_s", bus->peak_bit_s);
    return o;
}

static json_t *signal_json(struct bl_tree *tree,
                           const struct bl_survey_file *file,
                           const struct bl_survey_signal *signal)
{
    json_t *o = bl_tree_object(tree);
    const bool moved = signal->changes > 0;
    bl_tree_text(tree, o, "message", signal->signal->message->name);
    bl_tree_text(tree, o, "signal", signal->signal->name);
    bl_tree_text(tree, o, "role", bl_role_name(signal->signal->role));
    bl_tree_text(tree, o, "unit", signal->signal->unit);
    bl_tree_count(tree, o, "frames", signal->frames);
    bl_tree_count(tree, o, "valid", signal->valid);
    bl_tree_count(tree, o, "changes", signal->changes);
    bl_tree_number(tree, o, "smallest", signal->smallest);
    bl_tree_number(tree, o, "largest", signal->largest);
    bl_tree_number(tree, o, "first_change_s",
                   moved ? since(file, signal->first_change_ns) : NAN);
    bl_tree_number(tree, o, "last_change_s",
                   moved ? since(file, signal->last_change_ns) : NAN);
    return o;
}

static json_t *id_json(struct bl_tree *tree, const struct bl_survey_file *file,
                       const struct bl_survey_id *id)
{
    json_t *o = bl_tree_object(tree);
    json_t *names = bl_tree_array(tree);
    json_t *signals = bl_tree_array(tree);
    const struct bl_id parts = bl_id_split(id->id);
    const bool pair = id->frames > 1 && !file->untimed;
    bl_tree_text(tree, o, "bus", bus_name(file, id->bus));
    bl_tree_count(tree, o, "id", id->id);
    bl_tree_bool(tree, o, "extended", id->extended);
    if (id->extended) {
        bl_tree_count(tree, o, "pgn", parts.pgn);
        bl_tree_count(tree, o, "source", parts.source);
        bl_tree_count(tree, o, "destination", parts.destination);
    }
    bl_tree_count(tree, o, "frames", id->frames);
    bl_tree_count(tree, o, "remote", id->remote);
    bl_tree_number(tree, o, "interval_min_s",
                   pair ? (double)id->interval_min_ns * 1e-9 : NAN);
    bl_tree_number(tree, o, "interval_median_s",
                   pair ? (double)id->interval_median_ns * 1e-9 : NAN);
    bl_tree_number(tree, o, "interval_max_s",
                   pair ? (double)id->interval_max_ns * 1e-9 : NAN);
    for (size_t m = 0; m < id->messages; m++) {
        bl_tree_append_text(tree, names, id->message[m]->name);
    }
    bl_tree_put(tree, o, "messages", names);
    for (size_t s = 0; s < id->signals; s++) {
        bl_tree_append(tree, signals, signal_json(tree, file, &id->signal[s]));
    }
    bl_tree_put(tree, o, "signals", signals);
    return o;
}

static json_t *address_json(struct bl_tree *tree,
                            const struct bl_survey_file *file,
                            const struct bl_survey_address *address)
{
    char raw[24] = "";
    json_t *o = bl_tree_object(tree);
    json_t *names = bl_tree_array(tree);
    bl_tree_text(tree, o, "bus", bus_name(file, address->bus));
    bl_tree_count(tree, o, "address", address->address);
    bl_tree_count(tree, o, "frames", address->frames);
    for (size_t i = 0; i < address->names; i++) {
        const struct bl_survey_name *claim = &file->name[address->name + i];
        json_t *one = bl_tree_object(tree);
        snprintf(raw, sizeof(raw), "%016llX",
                 (unsigned long long)claim->name.raw);
        bl_tree_text(tree, one, "name", raw);
        bl_tree_count(tree, one, "claims", claim->claims);
        bl_tree_append(tree, names, one);
    }
    const bool failed = bl_claim_failed(address->address);
    bl_tree_text(tree, o, "name", address->names == 1 ? raw : NULL);
    bl_tree_put(tree, o, "names", names);
    bl_tree_bool(tree, o, "cannot_claim", failed && address->names > 0);
    bl_tree_bool(tree, o, "conflict", !failed && address->names > 1);
    return o;
}

static json_t *talk_json(struct bl_tree *tree,
                         const struct bl_survey_file *file)
{
    json_t *list = bl_tree_array(tree);
    for (size_t i = 0; i < file->transports; i++) {
        const struct bl_survey_transport *t = &file->transport[i];
        json_t *o = bl_tree_object(tree);
        bl_tree_text(tree, o, "bus", bus_name(file, t->bus));
        bl_tree_count(tree, o, "pgn", t->pgn);
        bl_tree_count(tree, o, "source", t->source);
        bl_tree_count(tree, o, "destination", t->destination);
        bl_tree_count(tree, o, "messages", t->messages);
        bl_tree_count(tree, o, "largest_bytes", t->largest);
        bl_tree_text(tree, o, "message",
                     t->message == NULL ? NULL : t->message->name);
        bl_tree_append(tree, list, o);
    }
    return list;
}

static json_t *trouble_json(struct bl_tree *tree,
                            const struct bl_survey_file *file)
{
    json_t *list = bl_tree_array(tree);
    for (size_t i = 0; i < file->troubles; i++) {
        const struct bl_survey_trouble *t = &file->trouble[i];
        json_t *o = bl_tree_object(tree);
        bl_tree_text(tree, o, "bus", bus_name(file, t->bus));
        bl_tree_count(tree, o, "source", t->source);
        uint32_t spn[3];
        const size_t readings = bl_trouble_readings(&t->code, spn);
        json_t *all = bl_tree_array(tree);
        for (size_t k = 0; k < readings; k++) {
            bl_tree_append_count(tree, all, spn[k]);
        }
        bl_tree_put(tree, o, "spn",
                    readings == 1 ? json_integer(spn[0]) : json_null());
        bl_tree_put(tree, o, "spn_readings", all);
        bl_tree_count(tree, o, "fmi", t->code.fmi);
        bl_tree_count(tree, o, "seen", t->seen);
        bl_tree_number(tree, o, "first_s", since(file, t->first_ns));
        bl_tree_number(tree, o, "last_s", since(file, t->last_ns));
        bl_tree_append(tree, list, o);
    }
    return list;
}

static json_t *column_json(struct bl_tree *tree,
                           const struct bl_survey_file *file,
                           const struct bl_survey_column *column)
{
    json_t *o = bl_tree_object(tree);
    json_t *odd = bl_tree_array(tree);
    bl_tree_count(tree, o, "column", column->index + 1);
    bl_tree_text(tree, o, "name", column->name);
    bl_tree_text(tree, o, "unit", column->unit);
    bl_tree_count(tree, o, "values", column->values);
    bl_tree_count(tree, o, "missing", column->missing);
    bl_tree_count(tree, o, "not_numbers", column->not_numbers);
    bl_tree_count(tree, o, "overflows", column->overflows);
    bl_tree_number(tree, o, "smallest", column->smallest);
    bl_tree_number(tree, o, "largest", column->largest);
    bl_tree_number(tree, o, "step", column->step > 0 ? column->step : NAN);
    bl_tree_number(tree, o, "low", column->low);
    bl_tree_number(tree, o, "high", column->high);
    bl_tree_number(tree, o, "noise", column->noise);
    bl_tree_number(tree, o, "stair_s",
                   column->stair_ns > 0 ? (double)column->stair_ns * 1e-9
                                        : NAN);
    if (column->identical_to < 0) {
        bl_tree_text(tree, o, "identical_to", NULL);
    } else {
        bl_tree_count(tree, o, "identical_to",
                      file->column[column->identical_to].index + 1);
    }
    bl_tree_text(tree, o, "quantity",
                 column->quantity == BL_QUANTITY_NONE
                     ? NULL
                     : bl_quantity_name(column->quantity));
    bl_tree_text(tree, o, "read_in", column->quantity_unit);
    bl_tree_bool(tree, o, "guessed", column->guessed);
    for (size_t i = 0; bl_oddity_at(i) != 0; i++) {
        if ((column->oddities & bl_oddity_at(i)) != 0) {
            bl_tree_append_text(tree, odd, bl_oddity_code(bl_oddity_at(i)));
        }
    }
    bl_tree_put(tree, o, "oddities", odd);
    return o;
}

static void bus_file_json(struct bl_tree *tree, json_t *o,
                          const struct bl_survey_file *file)
{
    json_t *buses = bl_tree_array(tree);
    json_t *ids = bl_tree_array(tree);
    json_t *addresses = bl_tree_array(tree);
    bl_tree_count(tree, o, "frames", file->frames);
    bl_tree_count(tree, o, "late_stamps", file->late);
    bl_tree_count(tree, o, "strays", file->strays);
    bl_tree_count(tree, o, "other_packets", file->other_packets);
    bl_tree_count(tree, o, "frames_not_listed", file->ids_left_out);
    for (size_t i = 0; i < file->buses; i++) {
        bl_tree_append(tree, buses, bus_json(tree, file, &file->bus[i]));
    }
    bl_tree_put(tree, o, "buses", buses);
    for (size_t i = 0; i < file->ids; i++) {
        bl_tree_append(tree, ids, id_json(tree, file, &file->id[i]));
    }
    bl_tree_put(tree, o, "identifiers", ids);
    for (size_t i = 0; i < file->addresses; i++) {
        bl_tree_append(tree, addresses,
                       address_json(tree, file, &file->address[i]));
    }
    bl_tree_put(tree, o, "addresses", addresses);
    bl_tree_put(tree, o, "transport", talk_json(tree, file));
    bl_tree_put(tree, o, "trouble_codes", trouble_json(tree, file));
}

static json_t *file_json(struct bl_tree *tree,
                         const struct bl_survey_file *file)
{
    char first[24];
    json_t *o = bl_tree_object(tree);
    json_t *notes = bl_tree_array(tree);
    const bool bus = file->kind == BL_SURVEY_BUS;
    bl_tree_text(tree, o, "file", file->path);
    bl_tree_text(tree, o, "kind", bus ? "bus" : "log");
    bl_tree_text(tree, o, "format", file->format);
    bl_tree_text(tree, o, "sha256", file->stored.sha256);
    bl_tree_count(tree, o, "bytes", file->stored.bytes);
    bl_tree_text(tree, o, "damaged",
                 file->status == BL_OK ? NULL : file->failure);
    snprintf(first, sizeof(first), "%lld", (long long)file->first_ns);
    bl_tree_text(tree, o, "first_ns", first);
    bl_tree_number(tree, o, "last_s", since(file, file->last_ns));
    bl_tree_bool(tree, o, "absolute_time", file->absolute_time);
    bl_tree_bool(tree, o, "untimed", file->untimed);
    bl_tree_count(tree, o, "splits", file->splits);
    bl_tree_times(tree, o, &file->times, file->first_ns);
    for (size_t i = 0; i < file->notes.count; i++) {
        json_t *note = bl_tree_object(tree);
        bl_tree_text(tree, note, "code", file->notes.item[i].code);
        bl_tree_text(tree, note, "text", file->notes.item[i].text);
        bl_tree_count(tree, note, "count", file->notes.item[i].count);
        bl_tree_append(tree, notes, note);
    }
    bl_tree_put(tree, o, "notes", notes);
    if (bus) {
        bus_file_json(tree, o, file);
        return o;
    }
    json_t *columns = bl_tree_array(tree);
    bl_tree_count(tree, o, "rows", file->rows);
    bl_tree_count(tree, o, "late_stamps", file->late);
    bl_tree_number(tree, o, "interval_s", (double)file->interval_ns * 1e-9);
    bl_tree_text(tree, o, "decided", file->decided);
    for (size_t c = 0; c < file->columns; c++) {
        bl_tree_append(tree, columns,
                       column_json(tree, file, &file->column[c]));
    }
    bl_tree_put(tree, o, "columns", columns);
    return o;
}

enum bl_status bl_report_survey_json(const struct bl_survey *survey,
                                     struct bl_output *output,
                                     struct bl_error *error)
{
    struct bl_tree made = {false};
    struct bl_tree *tree = &made;
    json_t *root = bl_tree_object(tree);
    json_t *files = bl_tree_array(tree);
    bl_tree_text(tree, root, "schema", "brakelag-survey/1");
    for (size_t f = 0; f < survey->files; f++) {
        bl_tree_append(tree, files, file_json(tree, &survey->file[f]));
    }
    bl_tree_put(tree, root, "files", files);
    const enum bl_status status = bl_tree_write(tree, root, output, error);
    json_decref(root);
    return status;
}
