/* SPDX-License-Identifier: MIT */
/* What else was on the buses of a run: load, error frames by class, trouble
   codes, addresses and their NAMEs, messages in several frames. */
#include "report/text.h"

#include <math.h>
#include <string.h>

static void classes(struct bl_text *to, const json_t *bus)
{
    const char *name;
    json_t *count;
    json_object_foreach(json_object_get(bus, "error_classes"), name, count)
    {
        bl_output_format(to->output, ", %s %lld", name,
                         (long long)json_integer_value(count));
    }
}

static void buses(struct bl_text *to, const json_t *all)
{
    char load[BL_TEXT_CELL];
    char most[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *bus = json_array_get(all, i);
        const double bits = bl_tree_get_number(bus, "bits_per_s");
        const double busiest = bl_tree_get_number(bus, "busiest_bits_per_s");
        bl_output_text(to->output, "    ");
        bl_text_plain(to, bl_tree_get_text(bus, "recording"));
        bl_output_text(to->output, ", bus ");
        bl_text_plain(to, bl_tree_get_text(bus, "bus"));
        bl_output_format(
            to->output,
            ": %llu frames, %s kbit/s (busiest second %s), %llu remote, %llu "
            "error frames",
            (unsigned long long)bl_tree_get_count(bus, "frames"),
            isnan(bits) ? "-" : bl_text_fixed(bits * 1e-3, 1, load),
            isnan(busiest) ? "-" : bl_text_fixed(busiest * 1e-3, 1, most),
            (unsigned long long)bl_tree_get_count(bus, "remote_frames"),
            (unsigned long long)bl_tree_get_count(bus, "error_frames"));
        classes(to, bus);
        bl_output_text(to->output, "\n");
    }
}

static void spn(struct bl_text *to, const json_t *trouble)
{
    const char *name = bl_tree_get_text(trouble, "spn_text");
    bl_output_format(to->output, "%llu",
                     (unsigned long long)bl_tree_get_count(trouble, "spn"));
    if (name[0] != '\0') {
        bl_output_text(to->output, " (");
        bl_text_plain(to, name);
        bl_output_text(to->output, ")");
    }
}

/* All readings where the message does not tell which one holds. */
static void code(struct bl_text *to, const json_t *trouble)
{
    const json_t *all = json_object_get(trouble, "spn_readings");
    bl_output_text(to->output, "SPN ");
    if (json_array_size(all) == 0) {
        spn(to, trouble);
        return;
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *one = json_array_get(all, i);
        bl_output_text(to->output, i == 0                          ? ""
                                   : i + 1 == json_array_size(all) ? " or "
                                                                   : ", ");
        spn(to, one);
        bl_output_format(to->output, " by version %llu",
                         (unsigned long long)bl_tree_get_count(one, "version"));
    }
    bl_output_text(to->output, " (conversion bit 1: the message does not tell "
                               "which)");
}

static void troubles(struct bl_text *to, const json_t *all)
{
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *trouble = json_array_get(all, i);
        bl_output_format(
            to->output, "    trouble code of address %llu: ",
            (unsigned long long)bl_tree_get_count(trouble, "address"));
        code(to, trouble);
        bl_output_format(
            to->output, " FMI %llu (%s), counted %llu times, %s\n",
            (unsigned long long)bl_tree_get_count(trouble, "fmi"),
            bl_tree_get_text(trouble, "fmi_text"),
            (unsigned long long)bl_tree_get_count(trouble, "occurrences"),
            bl_tree_get_bool(trouble, "multi_packet") ? "in several frames"
                                                      : "in one frame");
    }
}

static void names(struct bl_text *to, const json_t *all)
{
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *claim = json_array_get(all, i);
        bl_output_format(
            to->output, "    address %llu %s NAME %s",
            (unsigned long long)bl_tree_get_count(claim, "address"),
            bl_tree_get_bool(claim, "cannot_claim")
                ? "(none): cannot claim one,"
                : "claims",
            bl_tree_get_text(claim, "name"));
        bl_output_format(
            to->output, ": manufacturer %llu, function %llu, identity %llu%s\n",
            (unsigned long long)bl_tree_get_count(claim, "manufacturer"),
            (unsigned long long)bl_tree_get_count(claim, "function"),
            (unsigned long long)bl_tree_get_count(claim, "identity"),
            bl_tree_get_bool(claim, "conflict")
                ? "; conflict: another NAME claims it too, the lowest keeps it"
                : "");
    }
}

static void long_messages(struct bl_text *to, const json_t *all)
{
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *message = json_array_get(all, i);
        bl_output_format(
            to->output,
            "    address %llu sent %llu messages of group %llu in several "
            "frames, up to %llu bytes\n",
            (unsigned long long)bl_tree_get_count(message, "address"),
            (unsigned long long)bl_tree_get_count(message, "messages"),
            (unsigned long long)bl_tree_get_count(message, "pgn"),
            (unsigned long long)bl_tree_get_count(message, "longest_bytes"));
    }
}

void bl_text_reach_buses(struct bl_text *to, const json_t *run)
{
    bl_output_text(to->output, "  On the buses; load without stuffed bits\n");
    buses(to, json_object_get(run, "buses"));
    troubles(to, json_object_get(run, "trouble_codes"));
    names(to, json_object_get(run, "names"));
    long_messages(to, json_object_get(run, "multi_packet"));
}
