/* SPDX-License-Identifier: MIT */
/*
 * Trial files. Outside references: exact unit factors (SI, international yard
 * and pound agreement: 1 psi = 6.894757293168361 kPa, 1 in3 = 16.387064 cm3);
 * 89 cubic inches of a type 30 chamber (interpretations of 49 CFR 571.121);
 * everything else is read off the fixture by eye.
 */
#include "testing.h"
#include "trial/reading.h"

#include "base/alloc.h"
#include "brakelag/trial.h"

#include <locale.h>

#define PSI 6.894757293168361

static struct bl_trial *read_good(const char *name)
{
    char path[512];
    struct bl_trial *trial = NULL;
    struct bl_notes mistakes = {0};
    struct bl_error error;
    bl_error_clear(&error);
    const enum bl_status status = bl_trial_read_file(
        &trial, test_data(name, path, sizeof(path)), &mistakes, &error);
    for (size_t i = 0; i < mistakes.count; i++) {
        print_error("%s:%d: %s\n", name, (int)mistakes.item[i].first_line,
                    mistakes.item[i].text);
    }
    assert_int_equal(mistakes.count, 0);
    bl_notes_finish(&mistakes);
    if (status != BL_OK) {
        fail_msg("%s: %s", name, error.message);
    }
    return trial;
}

static struct bl_trial *everything(void)
{
    return read_good("trial/everything.ini");
}

static void the_head_is_read_in_canonical_units(void **state)
{
    (void)state;
    struct bl_trial *t = everything();
    assert_string_equal(t->name, "Cane train, mill yard");
    assert_int_equal(t->speeds, 3);
    assert_near(t->speed_kmh[0], 60, 0);
    assert_near(t->speed_kmh[2], 100, 0);
    assert_near(t->response_at_kpa, 20, 0);
    assert_near(t->brakes_at_kpa, 35, 1e-12);
    assert_int_equal(t->levels, 2);
    assert_near(t->level_kpa[0], 65, 0);
    assert_near(t->level_kpa[1], 60 * PSI, 1e-9);
    assert_int_equal(t->table_count, 2);
    assert_string_equal(t->table[1], "j1939-brakes");
    assert_int_equal(bl_tables_count(t->tables), 2);
    assert_int_equal(t->control_line, BL_CONTROL_LINE_RELAYED);
    assert_string_equal(t->date, "2026-03-01T14:30");
    assert_string_equal(t->place, "works yard");
    assert_near(t->supply_kpa, 830, 1e-9);
    assert_int_equal(t->records, 4);
    assert_string_equal(t->record[0].key, "date");
    assert_string_equal(t->record[3].key, "reservoir at start");
    assert_string_equal(t->record[3].value, "830 kPa");
    bl_trial_destroy(t);
}

/* The hash of the file as stored, by the system's own tool. */
static void the_hash_is_that_of_the_file(void **state)
{
    (void)state;
    char path[512];
    char command[600];
    char hex[BL_SHA256_HEX] = "";
    struct bl_trial *t = everything();
    snprintf(command, sizeof(command), "sha256sum '%s'",
             test_data("trial/everything.ini", path, sizeof(path)));
    FILE *tool = popen(command, "r");
    assert_non_null(tool);
    assert_int_equal(fread(hex, 1, 64, tool), 64);
    pclose(tool);
    assert_string_equal(t->sha256, hex);
    bl_trial_destroy(t);
}

static void units_are_read(void **state)
{
    (void)state;
    char label[16];
    struct bl_trial *t = everything();
    assert_int_equal(t->units, 4);
    const struct bl_trial_unit *front = &t->unit[0];
    assert_int_equal(front->address, 0x20);
    assert_null(front->bus);
    assert_int_equal(front->command.kind, BL_INPUT_CHANNEL);
    assert_string_equal(t->channel[front->command.channel].name, "treadle");
    assert_int_equal(front->command_kind, BL_COMMAND_TREADLE_PRESSURE);
    assert_int_equal(front->command_at_kind, BL_COMMAND_AT_PRESSURE);
    assert_near(front->command_at, 20, 0);
    assert_nan(front->pipe_m);
    const struct bl_trial_unit *a = &t->unit[1];
    assert_string_equal(a->name, "bin trailer A");
    assert_string_equal(a->id, "BT-0417");
    assert_int_equal(a->labels, 2);
    assert_string_equal(a->label[0].key, "valve");
    assert_string_equal(a->label[0].value, "relay, type R");
    assert_string_equal(a->label[1].key, "built");
    assert_null(front->id);
    assert_string_equal(a->bus, "can0");
    assert_int_equal(a->outputs, 2);
    assert_string_equal(a->output[1].label, "rear");
    assert_string_equal(t->channel[a->output[1].channel].name, "output_1r");
    assert_int_equal(a->output[1].line, 29);
    assert_near(a->pipe_m, 14, 0);
    assert_near(a->bore_mm, 11, 1e-12);
    assert_near(a->crack_kpa, 25, 0);
    assert_near(a->volume_cm3, 385, 0);
    assert_near(a->chambers_cm3, 6 * 89 * 16.387064, 1e-9);
    assert_near(a->reservoir_volume_cm3, 90000, 1e-9);
    assert_near(a->threshold_kpa, 50, 0);
    assert_near(a->gain, 1, 0);
    assert_int_equal(a->load, BL_LOAD_LADEN);
    assert_near(a->mass_kg, 22000, 0);
    assert_near(a->force_kn_per_kpa, 0.12, 0);
    assert_int_equal(a->kind, BL_UNIT_NOT_STATED);
    assert_int_equal(a->control_line, BL_CONTROL_LINE_UNKNOWN);
    const struct bl_trial_unit *rear = &t->unit[2];
    assert_int_equal(rear->kind, BL_UNIT_DOLLY);
    assert_int_equal(rear->control_line, BL_CONTROL_LINE_THROUGH);
    assert_true(rear->gain_by_load);
    assert_nan(rear->gain);
    assert_int_equal(rear->load, BL_LOAD_MASS);
    assert_near(rear->load_kg, 12000, 0);
    assert_near(rear->chambers_cm3, 4900, 1e-9);
    assert_int_equal(rear->address, -1);
    assert_int_equal(t->unit[3].combination, 'B');
    assert_int_equal(t->unit[3].command.kind, BL_INPUT_NONE);
    assert_string_equal(bl_trial_unit_label(&t->unit[3], label, sizeof(label)),
                        "B.0");
    assert_int_equal(bl_trial_unit_index(t, 'A', 2), 2);
    assert_int_equal(bl_trial_unit_index(t, 'B', 1), -1);
    bl_trial_destroy(t);
}

static const struct bl_trial_channel *channel(const struct bl_trial *t,
                                              const char *name)
{
    const long index = bl_trial_channel_index(t, name);
    assert_true(index >= 0);
    return &t->channel[index];
}

static void channels_are_scaled_to_canonical_units(void **state)
{
    (void)state;
    struct bl_trial *t = everything();
    const struct bl_trial_channel *c = channel(t, "output_1");
    assert_string_equal(c->column, "P_out 1");
    assert_int_equal(c->quantity, BL_QUANTITY_PRESSURE);
    /* 4500 mV are 4.5 V: 4.5 * 250 - 125 = 1000 kPa. */
    assert_near(4500 * c->scale + c->zero, 1000, 1e-9);
    assert_near(c->accuracy_fraction, 0.005, 1e-15);
    assert_nan(c->accuracy_value);
    assert_near(c->u_zero, 0.5, 0);
    assert_near(c->u_gain_fraction, 0.003, 1e-15);
    assert_near(c->resolution, 0.25, 0);
    assert_near(c->delay_s, 0.002, 1e-15);
    assert_near(c->u_delay_s, 0.0005, 1e-15);
    assert_near(c->range_low, 0, 0);
    assert_near(c->range_high, 1000, 1e-9);
    assert_string_equal(c->calibrated, "2026-02, works bench");
    c = channel(t, "output_1r");
    assert_near(c->scale, 200, 1e-9);
    assert_near(c->zero, 0, 0);
    assert_string_equal(c->measured_in, "V");
    assert_near(c->accuracy_value, 2, 0);
    assert_nan(c->u_zero);
    c = channel(t, "treadle");
    assert_near(c->scale, 100, 0);
    assert_near(c->zero, 10, 1e-12);
    c = channel(t, "res_0");
    assert_string_equal(c->measured_in, "psi");
    assert_nan(c->scale);
    c = channel(t, "switch_2");
    assert_near(c->trips_at_kpa, 35, 0);
    assert_near(c->resets_at_kpa, 28, 0);
    assert_true(c->on_when_low);
    assert_near(c->on_level, 2.5, 1e-12);
    bl_trial_destroy(t);
}

static void runs_and_recordings_are_read(void **state)
{
    (void)state;
    char path[600];
    char folder[512];
    struct bl_trial *t = everything();
    assert_int_equal(t->runs, 2);
    const struct bl_trial_run *run = &t->run[0];
    assert_string_equal(run->condition, "powered");
    assert_int_equal(run->power, BL_STATED_ON);
    assert_int_equal(run->data, BL_STATED_OFF);
    assert_int_equal(run->control_air, BL_AIR_BLOCKED);
    assert_int_equal(run->clock.kind, BL_CLOCK_OFFSET);
    assert_near(run->clock.offset_s, -1.25, 0);
    assert_near(run->clock.drift_ppm, 37, 0);
    assert_near(run->clock.half_width_s, 0.002, 1e-15);
    assert_int_equal(run->exclusions, 2);
    assert_int_equal(run->exclude[1].application, 5);
    assert_string_equal(run->exclude[1].why, "horn");
    assert_string_equal(run->exclude[0].why, "pedal slipped");
    assert_int_equal(t->run[1].power, BL_STATED_STOP_LAMP_ONLY);
    assert_int_equal(t->run[1].clock.kind, BL_CLOCK_START);
    assert_near(t->run[1].clock.offset_s, 0.25, 0);
    assert_nan(t->run[1].clock.half_width_s);
    assert_int_equal(t->recordings, 6);
    const struct bl_trial_recording *link2 = &t->recording[0];
    assert_int_equal(link2->run, 1);
    assert_int_equal(link2->files, 2);
    assert_int_equal(link2->kind, BL_RECORDING_CAPTURE);
    assert_int_equal(link2->can_id_order, BL_ID_ORDER_LITTLE);
    assert_string_equal(link2->bus, "can1");
    assert_int_equal(link2->clock.kind, BL_CLOCK_OWN);
    assert_string_equal(t->recording[1].clock.same_as, "link2");
    test_data("trial", folder, sizeof(folder));
    snprintf(path, sizeof(path), "%s/p1.pcap.gz", folder);
    assert_string_equal(t->recording[2].file[0], path);
    assert_string_equal(t->recording[2].name, "p1.pcap.gz");
    assert_int_equal(t->recording[2].clock.kind, BL_CLOCK_UNSET);
    assert_string_equal(t->recording[3].file[0], "/data/p1-rear.pcap");
    assert_int_equal(t->recording[4].kind, BL_RECORDING_LOG);
    bl_trial_destroy(t);
}

static void the_rest_is_read(void **state)
{
    (void)state;
    struct bl_trial *t = everything();
    assert_int_equal(t->characteristics, 2);
    assert_near(t->characteristic[0].threshold_kpa, 70, 0);
    assert_true(t->characteristic[0].gain_by_load);
    assert_int_equal(t->characteristic[0].whens, 2);
    assert_string_equal(t->characteristic[0].when[1], "EBS12");
    assert_near(t->characteristic[0].within_s, 5, 0);
    assert_true(t->characteristic[1].when_none);
    assert_nan(t->characteristic[1].threshold_kpa);
    assert_int_equal(t->limits, 2);
    assert_int_equal(t->limit[0].figure, BL_FIGURE_LEVEL);
    assert_near(t->limit[0].level_kpa, 65, 0);
    assert_int_equal(t->limit[0].unit, 2);
    assert_near(t->limit[0].max_s, 0.4, 1e-15);
    assert_int_equal(t->limit[1].unit, -1);
    assert_true(t->expect.reach);
    assert_near(t->expect.gap_max_s, 0.1, 1e-15);
    assert_near(t->expect.coupling_delay_max_s, 0.02, 1e-15);
    assert_near(t->expect.lost_max_fraction, 0.001, 1e-15);
    assert_near(t->expect.first_valid_max_s, 3, 1e-15);
    assert_near(t->expect.voltage_min_v, 10, 1e-15);
    const struct bl_log_options *o = &t->log[0].options;
    assert_string_equal(o->delimiter, ";");
    assert_string_equal(o->decimal, ",");
    assert_string_equal(o->encoding, "latin-1");
    assert_int_equal(o->header_row, 2);
    assert_int_equal(o->names_row, 3);
    assert_int_equal(o->units_row, -1);
    assert_int_equal(o->first_row, 4);
    assert_string_equal(o->time, "#1");
    assert_string_equal(o->time_form, "clock");
    assert_near(o->rate_hz, 200, 1e-12);
    assert_string_equal(o->date, "2026-03-01");
    assert_string_equal(o->timezone, "+10:00");
    assert_string_equal(o->layout, "columns");
    bl_trial_destroy(t);
}

static void signals_are_found_in_the_tables(void **state)
{
    (void)state;
    struct bl_trial *t = read_good("trial/bus-only.ini");
    const struct bl_trial_unit *front = &t->unit[0];
    assert_int_equal(front->command.kind, BL_INPUT_SIGNAL);
    assert_int_equal(front->command.channel, -1);
    assert_string_equal(front->command.text, "EBS11.service_demand@0x20/can0");
    assert_string_equal(front->command.signal.signal->name, "service_demand");
    assert_int_equal(front->command.signal.address, 0x20);
    assert_string_equal(front->command.signal.bus, "can0");
    assert_int_equal(front->command_kind, BL_COMMAND_ELECTRONIC_DEMAND);
    assert_near(front->command_at, 15, 0);
    const struct bl_trial_clock *clock = &t->run[0].clock;
    assert_int_equal(clock->kind, BL_CLOCK_SYNC);
    assert_int_equal(clock->channel_index, 0);
    assert_string_equal(clock->signal_ref.signal->name, "brake_light_switch");
    assert_int_equal(clock->signal_ref.address, -1);
    /* Defaults: every shipped table, 20 and 35 kPa, nothing else expected. */
    size_t shipped = 0;
    while (bl_tables_shipped()[shipped] != NULL) {
        shipped++;
    }
    assert_int_equal(bl_tables_count(t->tables), shipped);
    assert_near(t->response_at_kpa, 20, 0);
    assert_near(t->brakes_at_kpa, 35, 0);
    assert_int_equal(t->control_line, BL_CONTROL_LINE_UNKNOWN);
    assert_nan(t->expect.gap_max_s);
    assert_nan(t->expect.voltage_min_v);
    const struct bl_note *note =
        bl_notes_find(&t->notes, "unit-without-output");
    assert_non_null(note);
    assert_int_equal(note->first_line, 8);
    assert_null(bl_notes_find(&t->notes, "channel-unused"));
    bl_trial_destroy(t);
}

static void channels_and_logs_find_each_other(void **state)
{
    (void)state;
    struct bl_trial *t = everything();
    const struct bl_trial_channel *picky = channel(t, "output_1");
    const struct bl_trial_channel *any = channel(t, "treadle");
    const struct bl_trial_recording *log = &t->recording[4];
    assert_true(bl_trial_channel_in(picky, log));
    assert_true(bl_trial_channel_in(any, log));
    assert_false(bl_trial_channel_in(any, &t->recording[0]));
    assert_ptr_equal(bl_trial_log_for(t, log), &t->log[0]);
    bl_trial_destroy(t);
}

/* Rated volumes of brake chambers in cm3: 49 CFR 571.121 and its
   interpretations for type 30 (89 cubic inches), trade tables from memory for
   the others. */
static void chambers_by_type(void **state)
{
    static const struct {
        const char *type;
        double cm3;
    } row[] = {{"12", 492},  {"16", 754},  {"20", 885},
               {"24", 1098}, {"30", 1458}, {"36", 2212}};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        char text[512];
        struct bl_bytes *source;
        struct bl_trial *t = NULL;
        snprintf(text, sizeof(text),
                 "[trial]\nname = x\n[unit 0]\ncommand = c\n"
                 "command_kind = treadle-pressure\ncommand_at = 20 kPa\n"
                 "[unit 1]\nchambers = 2 x type %s\n"
                 "[channel c]\nquantity = pressure\n[run A]\nlogs = a.csv\n",
                 row[i].type);
        assert_int_equal(
            bl_bytes_open_memory(&source, "t.ini", text, strlen(text), NULL),
            BL_OK);
        assert_int_equal(bl_trial_read(&t, source, "/yard", NULL, NULL), BL_OK);
        bl_bytes_close(source);
        assert_near(t->unit[1].chambers_cm3, 2 * row[i].cm3, 1.1);
        bl_trial_destroy(t);
    }
}

static void oddities_are_notes(void **state)
{
    (void)state;
    struct bl_trial *t = everything();
    const struct bl_note *note = bl_notes_find(&t->notes, "channel-unused");
    assert_non_null(note);
    assert_string_equal(note->text,
                        "channel 'spare' is described but no unit uses it");
    assert_int_equal(note->first_line, 105);
    assert_null(bl_notes_find(&t->notes, "trip-point-missing"));
    bl_trial_destroy(t);
}

/* By name; with the number where a name does not tell, or is cut; those without
   an output in one remark. */
static void units_are_called_by_their_names(void **state)
{
    static const char text[] =
        "[trial]\nname = x\n[unit 0]\nname = 1\ncommand = c\n"
        "command_kind = treadle-pressure\ncommand_at = 20 kPa\n"
        "[unit 1]\nname = trailer\n[unit 2]\nname = trailer\n"
        "[unit 3]\noutput = c\n[unit 4]\nname = \xC3\xA4 dolly with a name "
        "that is longer than any sentence about it may be\n"
        "[channel c]\nquantity = pressure\n[run A]\nlogs = a.csv\n";
    static const char *const called[] = {"1 (unit 0)", "trailer (unit 1)",
                                         "trailer (unit 2)", "unit 3",
                                         "\xC3\xA4 dolly with a name that is "
                                         "longer than any senten... (unit 4)"};
    (void)state;
    struct bl_bytes *source;
    struct bl_trial *t = NULL;
    char name[BL_UNIT_CALLED];
    const bool one[] = {false, false, true, false, false};
    assert_int_equal(
        bl_bytes_open_memory(&source, "t.ini", text, strlen(text), NULL),
        BL_OK);
    assert_int_equal(bl_trial_read(&t, source, "/yard", NULL, NULL), BL_OK);
    bl_bytes_close(source);
    for (size_t i = 0; i < COUNT_OF(called); i++) {
        assert_string_equal(bl_trial_unit_called(t, i, name, sizeof(name)),
                            called[i]);
    }
    assert_string_equal(bl_trial_unit_begins(t, 3, name, sizeof(name)),
                        "Unit 3");
    assert_string_equal(bl_trial_units_called(t, one, name, sizeof(name)),
                        "trailer (unit 2)");
    const struct bl_note *note =
        bl_notes_find(&t->notes, "unit-without-output");
    assert_non_null(note);
    assert_string_equal(note->text,
                        "units 1, 2 and 4 have no output wired: whether they "
                        "responded cannot be told");
    assert_int_equal(note->first_line, 8);
    bl_trial_destroy(t);
}

/* A key that is read as more than text, in capitals: kept, and said. */
static void capitals_in_the_record_are_noted(void **state)
{
    static const char text[] =
        "[trial]\nname = x\n[unit 0]\ncommand = c\n"
        "command_kind = treadle-pressure\ncommand_at = 20 kPa\n"
        "[channel c]\nquantity = pressure\n[run A]\nlogs = a.csv\n"
        "[record]\nDate = 2026-05-04\nplace = yard\nNote = wet\n"
        "SUPPLY = 8 bar\n";
    (void)state;
    struct bl_bytes *source;
    struct bl_trial *t = NULL;
    assert_int_equal(
        bl_bytes_open_memory(&source, "t.ini", text, strlen(text), NULL),
        BL_OK);
    assert_int_equal(bl_trial_read(&t, source, "/yard", NULL, NULL), BL_OK);
    bl_bytes_close(source);
    const struct bl_note *note =
        bl_notes_find(&t->notes, "record-key-in-capitals");
    assert_non_null(note);
    assert_string_equal(note->text,
                        "'Date' is kept as free text: did you mean 'date'?");
    assert_int_equal(note->first_line, 12);
    size_t noted = 0;
    for (size_t i = 0; i < t->notes.count; i++) {
        noted += strcmp(t->notes.item[i].code, "record-key-in-capitals") == 0;
    }
    assert_int_equal(noted, 2);
    assert_null(t->date);
    assert_nan(t->supply_kpa);
    assert_int_equal(t->records, 4);
    bl_trial_destroy(t);
}

/* The fixture, changed in a way that must not matter. */
static void reads_the_same(const char *start, const char *line_end)
{
    char path[512];
    static char text[16384];
    static char changed[32768];
    FILE *file =
        fopen(test_data("trial/everything.ini", path, sizeof(path)), "rb");
    assert_non_null(file);
    const size_t size = fread(text, 1, sizeof(text), file);
    fclose(file);
    assert_true(size > 0 && size < sizeof(text));
    size_t at = (size_t)snprintf(changed, sizeof(changed), "%s", start);
    for (size_t i = 0; i < size; i++) {
        if (text[i] == '\n') {
            at += (size_t)snprintf(changed + at, sizeof(changed) - at, "%s",
                                   line_end);
        } else {
            changed[at++] = text[i];
        }
    }
    struct bl_bytes *source = NULL;
    struct bl_trial *t = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(
        bl_bytes_open_memory(&source, "memory", changed, at, &error), BL_OK);
    if (bl_trial_read(&t, source, "/yard", NULL, &error) != BL_OK) {
        fail_msg("line %d: %s", (int)error.line, error.message);
    }
    bl_bytes_close(source);
    assert_int_equal(t->units, 4);
    assert_near(t->brakes_at_kpa, 35, 1e-12);
    assert_string_equal(t->channel[0].name, "treadle");
    assert_string_equal(t->recording[2].file[0], "/yard/p1.pcap.gz");
    assert_int_equal(t->unit[1].output[1].line, 29);
    bl_trial_destroy(t);
}

static void line_ends_marks_and_indents_do_not_matter(void **state)
{
    (void)state;
    reads_the_same("", "\r\n");
    reads_the_same("", "\r");
    reads_the_same("\xEF\xBB\xBF", "\n");
    reads_the_same("", "\n\t  ");
    reads_the_same("", "  \t\n");
}

static void a_locale_with_decimal_comma_does_not_matter(void **state)
{
    (void)state;
    static const char *const names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE"};
    bool found = false;
    for (size_t i = 0; i < COUNT_OF(names) && !found; i++) {
        found = setlocale(LC_ALL, names[i]) != NULL;
    }
    if (!found) {
        print_message("skipped: no locale with a decimal comma here\n");
        skip();
        return;
    }
    reads_the_same("", "\n");
    setlocale(LC_ALL, "C");
}

/* Whichever allocation fails, the answer is "out of memory" and nothing
   leaks (the sanitizer watches). A sample of them keeps this short. A table
   that cannot be looked for in one place is found in the next, so a few
   failures may be got over. */
static void fail_allocations(const char *name, enum bl_status expected)
{
    char path[512];
    test_data(name, path, sizeof(path));
    struct bl_trial *t = NULL;
    bl_alloc_fail_at(0);
    assert_int_equal(bl_trial_read_file(&t, path, NULL, NULL), expected);
    const uint64_t count = bl_alloc_count();
    bl_trial_destroy(t);
    assert_true(count > 100);
    t = NULL;
    int told = 0;
    int tried = 0;
    for (uint64_t i = 1; i <= count; i += 1 + count / 300) {
        struct bl_error error;
        bl_error_clear(&error);
        bl_alloc_fail_at(i);
        const enum bl_status status =
            bl_trial_read_file(&t, path, NULL, &error);
        bl_alloc_fail_at(0);
        told += status == BL_NOMEM;
        tried++;
        if (status != BL_NOMEM && status != expected) {
            fail_msg("allocation %d of %d: %s: %s", (int)i, (int)count,
                     bl_status_name(status), error.message);
        }
        assert_true(status == BL_OK || t == NULL);
        bl_trial_destroy(t);
        t = NULL;
    }
    assert_true(told * 10 >= tried * 9);
}

static void no_memory_is_survived(void **state)
{
    (void)state;
    fail_allocations("trial/everything.ini", BL_OK);
    fail_allocations("trial/bad/several-mistakes-in-order-of-lines.ini",
                     BL_TRIAL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_head_is_read_in_canonical_units),
        cmocka_unit_test(the_hash_is_that_of_the_file),
        cmocka_unit_test(units_are_read),
        cmocka_unit_test(channels_are_scaled_to_canonical_units),
        cmocka_unit_test(runs_and_recordings_are_read),
        cmocka_unit_test(the_rest_is_read),
        cmocka_unit_test(signals_are_found_in_the_tables),
        cmocka_unit_test(channels_and_logs_find_each_other),
        cmocka_unit_test(chambers_by_type),
        cmocka_unit_test(oddities_are_notes),
        cmocka_unit_test(units_are_called_by_their_names),
        cmocka_unit_test(capitals_in_the_record_are_noted),
        cmocka_unit_test(line_ends_marks_and_indents_do_not_matter),
        cmocka_unit_test(a_locale_with_decimal_comma_does_not_matter),
        cmocka_unit_test(no_memory_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
