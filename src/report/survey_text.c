/* SPDX-License-Identifier: MIT */
/* A survey for people. Times are seconds since the recording's first stamp. */
#include "brakelag/report.h"

#include "base/alloc.h"
#include "io/output.h"
#include "report/wrap.h"
#include "survey/internal.h"

#include <math.h>
#include <stdio.h>

#include "base/number.h"

enum { NUMBER_SIZE = 32 };

struct page {
    struct bl_output *output;
    const struct bl_survey_file *file;
};

static const char *number(double value, char text[NUMBER_SIZE])
{
    return isnan(value) ? "-" : bl_number_format(value, 6, text, NUMBER_SIZE);
}

static const char *seconds(const struct page *page, int64_t time_ns,
                           char text[NUMBER_SIZE])
{
    return bl_number_format(bl_survey_span_s(page->file->first_ns, time_ns), 9,
                            text, NUMBER_SIZE);
}

static const char *milliseconds(int64_t ns, char text[NUMBER_SIZE])
{
    return bl_number_format((double)ns * 1e-6, 6, text, NUMBER_SIZE);
}

enum { SHOWN_SIZE = 600 };

/* Names come from the recording: nothing of them reaches the terminal raw. */
static const char *bus_name(const struct bl_survey_file *file, uint16_t bus,
                            char text[SHOWN_SIZE])
{
    return bus < file->buses && file->bus[bus].name[0] != '\0'
               ? bl_plain_line(file->bus[bus].name, text, SHOWN_SIZE)
               : "-";
}

static void write_bus(const struct page *page, const struct bl_survey_bus *bus)
{
    char name[SHOWN_SIZE];
    char a[NUMBER_SIZE];
    char b[NUMBER_SIZE];
    bl_output_format(page->output,
                     "  bus %s: %llu classic, %llu FD, %llu remote, %llu error "
                     "frames",
                     bus->name[0] == '\0'
                         ? "(no name)"
                         : bl_plain_line(bus->name, name, sizeof(name)),
                     (unsigned long long)bus->frames[BL_FRAME_CLASSIC],
                     (unsigned long long)bus->frames[BL_FRAME_FD],
                     (unsigned long long)bus->frames[BL_FRAME_REMOTE],
                     (unsigned long long)bus->frames[BL_FRAME_ERROR]);
    if (page->file->untimed) {
        bl_output_text(page->output, "\n");
        return;
    }
    bl_output_format(page->output, ", from %s",
                     seconds(page, bus->first_ns, a));
    bl_output_format(page->output, " to %s s\n",
                     seconds(page, bus->last_ns, a));
    if (bus->longest_gap_ns > 0) {
        bl_output_format(page->output, "    longest silence %s ms at %s s; ",
                         milliseconds(bus->longest_gap_ns, a),
                         seconds(page, bus->longest_gap_at_ns, b));
    } else {
        bl_output_format(page->output, "    ");
    }
    bl_output_format(page->output,
                     "%s kbit/s without stuff bits, fullest second",
                     number(bus->mean_bit_s / 1000, a));
    bl_output_format(page->output, " %s (of 250 kbit/s: %.0f and %.0f %%)\n",
                     number(bus->peak_bit_s / 1000, b), bus->mean_bit_s / 2500,
                     bus->peak_bit_s / 2500);
}

static void write_signal(const struct page *page,
                         const struct bl_survey_signal *signal)
{
    char a[NUMBER_SIZE];
    char b[NUMBER_SIZE];
    bl_output_format(page->output, "        %s = %s",
                     bl_role_name(signal->signal->role), signal->signal->name);
    if (signal->valid == 0) {
        bl_output_text(page->output, ": no valid value\n");
        return;
    }
    bl_output_format(page->output, ": %s to %s %s", number(signal->smallest, a),
                     number(signal->largest, b), signal->signal->unit);
    if (signal->changes > 0 && page->file->untimed) {
        bl_output_format(page->output, ", %llu changes",
                         (unsigned long long)signal->changes);
    } else if (signal->changes > 0) {
        bl_output_format(page->output, ", %llu changes from %s",
                         (unsigned long long)signal->changes,
                         seconds(page, signal->first_change_ns, a));
        bl_output_format(page->output, " to %s s",
                         seconds(page, signal->last_change_ns, a));
    }
    if (signal->valid < signal->frames) {
        bl_output_format(page->output, ", %llu frames without value",
                         (unsigned long long)(signal->frames - signal->valid));
    }
    bl_output_text(page->output, "\n");
}

static void write_id(const struct page *page, const struct bl_survey_id *id)
{
    char name[SHOWN_SIZE];
    char a[NUMBER_SIZE];
    char b[NUMBER_SIZE];
    char c[NUMBER_SIZE];
    bl_output_format(page->output,
                     id->extended ? "    %-8s %08X" : "    %-8s      %03X",
                     bus_name(page->file, id->bus, name), (unsigned)id->id);
    if (id->extended) {
        const struct bl_id parts = bl_id_split(id->id);
        bl_output_format(page->output, " PGN %u from 0x%02X",
                         (unsigned)parts.pgn, (unsigned)parts.source);
        if (parts.pdu1) {
            bl_output_format(page->output, " to 0x%02X",
                             (unsigned)parts.destination);
        }
    }
    bl_output_format(page->output, ": %llu frames",
                     (unsigned long long)id->frames);
    if (id->remote > 0) {
        bl_output_format(page->output, " and %llu remote",
                         (unsigned long long)id->remote);
    }
    if (id->frames > 1 && !page->file->untimed) {
        bl_output_format(page->output, ", every %s ms (%s to %s)",
                         milliseconds(id->interval_median_ns, a),
                         milliseconds(id->interval_min_ns, b),
                         milliseconds(id->interval_max_ns, c));
    }
    for (size_t m = 0; m < id->messages; m++) {
        bl_output_format(page->output, "%s%s", m == 0 ? ", " : " or ",
                         id->message[m]->name);
    }
    bl_output_text(page->output, "\n");
    for (size_t s = 0; s < id->signals; s++) {
        write_signal(page, &id->signal[s]);
    }
}

static void write_name(const struct page *page,
                       const struct bl_survey_name *claim, const char *before)
{
    bl_output_format(page->output,
                     "%sfunction %u, vehicle system %u, manufacturer code %u, "
                     "identity %u",
                     before, (unsigned)claim->name.function,
                     (unsigned)claim->name.vehicle_system,
                     (unsigned)claim->name.manufacturer,
                     (unsigned)claim->name.identity);
}

static void write_address(const struct page *page,
                          const struct bl_survey_address *address)
{
    char bus[SHOWN_SIZE];
    const struct bl_survey_name *name = page->file->name + address->name;
    bl_output_format(page->output, "  address 0x%02X on %s: %llu frames",
                     (unsigned)address->address,
                     bus_name(page->file, address->bus, bus),
                     (unsigned long long)address->frames);
    if (bl_claim_failed(address->address)) {
        for (size_t i = 0; i < address->names; i++) {
            write_name(page, &name[i],
                       i == 0 ? ", cannot claim an address: " : "; and ");
        }
    } else if (address->names == 1) {
        write_name(page, name, ", claimed: ");
    } else if (address->names > 1) {
        bl_output_format(page->output,
                         ", conflict: %zu NAMEs claim it, the lowest keeps it",
                         address->names);
        for (size_t i = 0; i < address->names; i++) {
            char line[64];
            (void)snprintf(line, sizeof(line),
                           "\n    NAME %016llX, claimed %llu times: ",
                           (unsigned long long)name[i].name.raw,
                           (unsigned long long)name[i].claims);
            write_name(page, &name[i], line);
        }
    }
    bl_output_text(page->output, "\n");
}

static void write_talk(const struct page *page)
{
    char name[SHOWN_SIZE];
    const struct bl_survey_file *file = page->file;
    for (size_t i = 0; i < file->addresses; i++) {
        write_address(page, &file->address[i]);
    }
    for (size_t i = 0; i < file->transports; i++) {
        const struct bl_survey_transport *t = &file->transport[i];
        bl_output_format(page->output,
                         "  multi-packet PGN %u%s%s from 0x%02X to 0x%02X on "
                         "%s: %llu messages, up to %zu bytes\n",
                         (unsigned)t->pgn, t->message == NULL ? "" : " ",
                         t->message == NULL ? "" : t->message->name,
                         (unsigned)t->source, (unsigned)t->destination,
                         bus_name(file, t->bus, name),
                         (unsigned long long)t->messages, t->largest);
    }
    uint64_t lost = 0;
    for (int i = 0; i < BL_TRANSPORT_LOSSES; i++) {
        lost += file->transport_lost[i];
    }
    if (lost > 0) {
        bl_output_format(page->output,
                         "  %llu multi-packet messages were never completed\n",
                         (unsigned long long)lost);
    }
    for (size_t i = 0; i < file->troubles; i++) {
        const struct bl_survey_trouble *t = &file->trouble[i];
        char spn[BL_TROUBLE_TEXT];
        bl_output_format(page->output,
                         "  trouble code %s FMI %u %s from 0x%02X on %s: "
                         "seen %llu times\n",
                         bl_trouble_spn_text(&t->code, spn, sizeof(spn)),
                         (unsigned)t->code.fmi, bl_fmi_text(t->code.fmi),
                         (unsigned)t->source, bus_name(file, t->bus, name),
                         (unsigned long long)t->seen);
    }
}

static void write_column(const struct page *page,
                         const struct bl_survey_column *column)
{
    char a[NUMBER_SIZE];
    char b[NUMBER_SIZE];
    char c[NUMBER_SIZE];
    char name[120];
    char unit[40];
    bl_output_format(page->output, "  #%zu \"%s\"%s%s: %s to %s, step %s",
                     column->index + 1,
                     bl_survey_clean(column->name, name, sizeof(name)),
                     column->unit == NULL ? "" : " in ",
                     column->unit == NULL
                         ? ""
                         : bl_survey_clean(column->unit, unit, sizeof(unit)),
                     number(column->smallest, a), number(column->largest, b),
                     number(column->step, c));
    bl_output_format(page->output, ", released at %s, plateau %s, noise %s\n",
                     number(column->low, a), number(column->high, b),
                     number(column->noise, c));
    bl_output_format(
        page->output, "     %s%s%s%s: %s\n", column->guessed ? "guess: " : "",
        column->quantity == BL_QUANTITY_NONE
            ? "cannot tell what it is"
            : bl_quantity_name(column->quantity),
        column->quantity_unit == NULL || column->quantity_unit[0] == '\0'
            ? ""
            : " in ",
        column->quantity_unit == NULL ? "" : column->quantity_unit,
        column->why == NULL ? "" : column->why);
    if (column->missing + column->not_numbers + column->overflows > 0) {
        bl_output_format(
            page->output,
            "     %llu cells empty, %llu no number, %llu overflow\n",
            (unsigned long long)column->missing,
            (unsigned long long)column->not_numbers,
            (unsigned long long)column->overflows);
    }
    for (size_t i = 0; bl_oddity_at(i) != 0; i++) {
        if ((column->oddities & bl_oddity_at(i)) != 0) {
            bl_output_format(page->output, "     %s: it %s\n",
                             bl_oddity_code(bl_oddity_at(i)),
                             bl_oddity_meaning(bl_oddity_at(i)));
        }
    }
    if (column->identical_to >= 0) {
        bl_output_format(page->output, "     the same as #%zu\n",
                         page->file->column[column->identical_to].index + 1);
    }
}

/* Places where stamps leave the recorder's pace, as many as a reader wants. */
static void write_times(const struct page *page)
{
    enum { LISTED = 20 };
    static const char *const what[] = {
        "nothing written for %s ms: something is missing, or the clock jumped "
        "forward",
        "stamps too close by %s ms: the clock stood still or stepped back",
        "stamps step back, by %s ms in all: sorted in",
        "the clock jumps back by %s ms: a new part"};
    const struct bl_time_places *times = &page->file->times;
    char a[NUMBER_SIZE];
    char text[SHOWN_SIZE];
    const uint64_t all = times->places + times->more;
    if (all == 0) {
        return;
    }
    bl_output_format(
        page->output,
        "  time stamps do not run evenly in %llu place%s, figures that span "
        "them are flagged:\n",
        (unsigned long long)all, all == 1 ? "" : "s");
    for (size_t i = 0; i < times->places && i < LISTED; i++) {
        const struct bl_time_place *p = &times->place[i];
        const int64_t width_ns =
            p->kind == BL_TIME_LONG ? p->until_ns - p->from_ns : p->off_ns;
        snprintf(text, sizeof(text), what[p->kind], milliseconds(width_ns, a));
        bl_output_format(page->output, "    at %s s: %s\n",
                         seconds(page, p->from_ns, a), text);
    }
    if (all > LISTED) {
        bl_output_format(page->output, "    and %llu more\n",
                         (unsigned long long)(all - LISTED));
    }
}

static void write_bus_file(const struct page *page)
{
    const struct bl_survey_file *file = page->file;
    bl_output_format(page->output,
                     "  order: %llu late stamps sorted, %llu stray, %llu jumps "
                     "back; %llu packets of other kinds skipped\n",
                     (unsigned long long)file->late,
                     (unsigned long long)file->strays,
                     (unsigned long long)file->splits,
                     (unsigned long long)file->other_packets);
    write_times(page);
    for (size_t i = 0; i < file->buses; i++) {
        write_bus(page, &file->bus[i]);
    }
    bl_output_format(page->output, "  %zu identifiers\n", file->ids);
    for (size_t i = 0; i < file->ids; i++) {
        write_id(page, &file->id[i]);
    }
    if (file->ids_left_out > 0) {
        bl_output_format(
            page->output,
            "    frames of further identifiers, not listed: %llu\n",
            (unsigned long long)file->ids_left_out);
    }
    write_talk(page);
}

static void write_log_file(const struct page *page)
{
    const struct bl_survey_file *file = page->file;
    char a[NUMBER_SIZE];
    if (file->rows == 0) {
        return; /* why, has been said */
    }
    bl_output_format(
        page->output,
        "  rows every %s ms (median), %llu late, %llu stray, %llu jumps back\n",
        milliseconds(file->interval_ns, a), (unsigned long long)file->late,
        (unsigned long long)file->strays, (unsigned long long)file->splits);
    write_times(page);
    if (file->decided != NULL && file->decided[0] != '\0') {
        bl_output_format(page->output, "  read as: %s\n", file->decided);
    }
    for (size_t c = 0; c < file->columns; c++) {
        write_column(page, &file->column[c]);
    }
    if (file->columns > 0) {
        /* Only a trial file says that a column is a pressure or a pedal. */
        bl_output_format(page->output,
                         "  spikes are not looked for here: check and measure "
                         "do\n");
    }
}

static void write_file(const struct page *page)
{
    const struct bl_survey_file *file = page->file;
    char a[NUMBER_SIZE];
    char text[SHOWN_SIZE];
    const bool bus = file->kind == BL_SURVEY_BUS;
    bl_output_format(page->output, "%s: %s, %llu %s, %s%s\n",
                     bl_plain_line(file->path, text, sizeof(text)),
                     bus ? "bus recording" : "log",
                     (unsigned long long)(bus ? file->frames : file->rows),
                     bus ? "frames" : "rows",
                     file->untimed ? "no times"
                                   : seconds(page, file->last_ns, a),
                     file->untimed ? "" : " s");
    bl_output_format(page->output, "  sha256 %s\n  %llu bytes%s%s\n",
                     file->stored.sha256,
                     (unsigned long long)file->stored.bytes,
                     file->format == NULL ? "" : ", ",
                     file->format == NULL ? "" : file->format);
    if (file->status != BL_OK) {
        bl_output_format(page->output, "  damaged: %s\n",
                         bl_plain_line(file->failure, text, sizeof(text)));
    }
    for (size_t i = 0; i < file->notes.count; i++) {
        bl_output_format(
            page->output, "  note: %s (%llu times)\n",
            bl_plain_line(file->notes.item[i].text, text, sizeof(text)),
            (unsigned long long)file->notes.item[i].count);
    }
    if (bus) {
        write_bus_file(page);
    } else {
        write_log_file(page);
    }
}

enum bl_status bl_report_survey_text(const struct bl_survey *survey,
                                     struct bl_output *output, size_t columns,
                                     struct bl_error *error)
{
    struct bl_output *memory = NULL;
    enum bl_status status = bl_output_open(&memory, NULL, error);
    if (status != BL_OK) {
        return status;
    }
    bl_output_plain(memory);
    for (size_t f = 0; status == BL_OK && f < survey->files; f++) {
        write_file(&(const struct page){memory, &survey->file[f]});
        size_t size = 0;
        const char *text = bl_output_memory(memory, &size);
        if (text == NULL) {
            status = bl_fail_memory(error);
            break;
        }
        bl_output_text(output, f == 0 ? "" : "\n");
        bl_wrap_write(output, text, columns == 0 ? BL_WRAP_USUAL : columns);
        bl_output_forget(memory);
    }
    bl_output_discard(memory);
    return status;
}
