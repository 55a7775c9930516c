/* SPDX-License-Identifier: MIT */
/* A draft of a trial file. Guesses are marked, and what only a person knows is
   asked for in comments. */
#include "survey/internal.h"

#include "base/plain.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { UNITS_MAX = 32 };

/* A unit that speaks, or is spoken to, on a link between units. */
struct found_unit {
    uint8_t address;
    bool towing;
    const char *bus;
};

struct draft {
    const struct bl_survey *survey;
    struct bl_output *output;
    struct found_unit unit[UNITS_MAX];
    size_t units, captures, logs;
};

static void add_unit(struct draft *draft, uint8_t address, bool towing,
                     const char *bus)
{
    for (size_t i = 0; i < draft->units; i++) {
        if (draft->unit[i].address == address) {
            draft->unit[i].towing = draft->unit[i].towing && towing;
            return;
        }
    }
    if (draft->units < UNITS_MAX) {
        size_t at = draft->units++;
        /* Towing first, then as addresses are handed out rearwards: falling. */
        while (at > 0 && !draft->unit[at - 1].towing &&
               (towing || draft->unit[at - 1].address < address)) {
            draft->unit[at] = draft->unit[at - 1];
            at--;
        }
        draft->unit[at] = (struct found_unit){address, towing, bus};
    }
}

static bool has_role(const struct bl_survey_id *id, enum bl_role role)
{
    for (size_t i = 0; i < id->signals; i++) {
        if (id->signal[i].signal->role == role) {
            return true;
        }
    }
    return false;
}

static void find_units(struct draft *draft, const struct bl_survey_file *file)
{
    for (size_t i = 0; i < file->ids; i++) {
        const struct bl_survey_id *id = &file->id[i];
        const struct bl_id parts = bl_id_split(id->id);
        const char *bus = id->bus < file->buses ? file->bus[id->bus].name : "";
        if (!id->extended || id->messages == 0) {
            continue;
        }
        const enum bl_sender sender = id->message[0]->sender;
        if (has_role(id, BL_ROLE_SERVICE_DEMAND)) {
            add_unit(draft, parts.source, true, "");
            if (parts.pdu1 && parts.destination < BL_ADDRESS_NULL) {
                add_unit(draft, parts.destination, false, bus);
            }
        } else if (sender == BL_SENDER_TOWED) {
            add_unit(draft, parts.source, false, bus);
        }
    }
}

struct command {
    const struct bl_survey_file *file;
    const struct bl_survey_id *id;
    const struct bl_survey_signal *signal;
};

/* The signal of that role that moved most often; a demand that units hand on
   counts only as the unit in front sent it. */
static bool find_command(const struct draft *draft, enum bl_role role,
                         struct command *out)
{
    const struct bl_survey *survey = draft->survey;
    const bool front = role == BL_ROLE_SERVICE_DEMAND && draft->units > 0 &&
                       draft->unit[0].towing;
    uint64_t most = 0;
    for (size_t f = 0; f < survey->files; f++) {
        const struct bl_survey_file *file = &survey->file[f];
        for (size_t i = 0; i < file->ids; i++) {
            if (front &&
                bl_id_split(file->id[i].id).source != draft->unit[0].address) {
                continue;
            }
            for (size_t s = 0; s < file->id[i].signals; s++) {
                const struct bl_survey_signal *signal = &file->id[i].signal[s];
                if (signal->signal->role == role && signal->valid > 0 &&
                    signal->changes > most) {
                    most = signal->changes;
                    *out = (struct command){file, &file->id[i], signal};
                }
            }
        }
    }
    return most > 0;
}

static void write_command(struct draft *draft)
{
    static const struct {
        enum bl_role role;
        const char *kind, *at;
    } candidates[] = {
        {BL_ROLE_SERVICE_DEMAND, "electronic-demand", "20 kPa"},
        {BL_ROLE_PEDAL_POSITION, "control-movement", "5 %"},
        {BL_ROLE_BRAKE_SWITCH, "control-movement", "edge"},
    };
    struct bl_output *output = draft->output;
    struct command command;
    for (size_t i = 0; i < sizeof(candidates) / sizeof(candidates[0]); i++) {
        if (!find_command(draft, candidates[i].role, &command)) {
            continue;
        }
        const struct bl_signal *signal = command.signal->signal;
        const char *bus = command.id->bus < command.file->buses
                              ? command.file->bus[command.id->bus].name
                              : "";
        bl_output_format(output, "command = %s.%s", signal->message->name,
                         signal->name);
        if (command.id->extended) {
            bl_output_format(output, "@0x%02X",
                             (unsigned)bl_id_split(command.id->id).source);
        }
        bl_output_format(output, "%s%s  ; guess: it changed %llu times\n",
                         bus[0] == '\0' ? "" : "/", bus,
                         (unsigned long long)command.signal->changes);
        bl_output_format(output, "command_kind = %s\ncommand_at = %s\n",
                         candidates[i].kind, candidates[i].at);
        return;
    }
    bl_output_text(output,
                   "; Write here the channel of the treadle or pedal, with "
                   "command_kind and command_at:\n"
                   "command = none no command was seen by survey\n");
}

static void write_units(struct draft *draft)
{
    struct bl_output *output = draft->output;
    const bool front = draft->units > 0 && draft->unit[0].towing;
    bl_output_text(output,
                   "\n[unit 0]\nname = towing vehicle  ; write which\n");
    if (front) {
        bl_output_format(output, "address = 0x%02X  ; guess: sends demand\n",
                         (unsigned)draft->unit[0].address);
    }
    write_command(draft);
    bl_output_text(output, "; output = the channel of its brake chamber\n");
    for (size_t i = front ? 1 : 0, n = 1; i < draft->units; i++, n++) {
        const struct found_unit *unit = &draft->unit[i];
        bl_output_format(output,
                         "\n[unit %zu]\nname = unit %zu  ; write which\n"
                         "address = 0x%02X  ; guess: seen on its link\n",
                         n, n, (unsigned)unit->address);
        if (unit->bus[0] != '\0') {
            bl_output_format(output,
                             "bus = %s  ; guess: the link at its front\n",
                             unit->bus);
        }
        bl_output_text(output, "; control = the channel at its front coupling\n"
                               "; output = the channel of its brake chamber\n");
    }
    if (draft->units <= (front ? 1U : 0U)) {
        bl_output_text(output,
                       "\n; No towed unit was seen on a bus. Write one section "
                       "for each:\n; [unit 1]\n; name = first trailer\n"
                       "; control = the channel at its front coupling\n"
                       "; output = the channel of its brake chamber\n");
    }
}

enum { PLAIN_MAX = 33 };

/* Letters, digits and underscores from the start, then nothing or a unit in
   brackets; 0: another form. */
static size_t plain_length(const char *name)
{
    const size_t length = strspn(name, "abcdefghijklmnopqrstuvwxyz"
                                       "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
                                       "0123456789_");
    const char *rest = name + length + strspn(name + length, " ");
    return *rest == '\0' || *rest == '[' || *rest == '(' ? length : 0;
}

/* The column's name without a unit in brackets, where that can name a channel
   and no other column of the log is called so. */
static bool plain_name(const struct bl_survey_file *file,
                       const struct bl_survey_column *column,
                       char plain[PLAIN_MAX])
{
    const size_t length = plain_length(column->name);
    if (length == 0 || length >= PLAIN_MAX) {
        return false;
    }
    for (size_t i = 0; i < file->columns; i++) {
        const struct bl_survey_column *other = &file->column[i];
        if (other != column && plain_length(other->name) == length &&
            strncmp(other->name, column->name, length) == 0) {
            return false;
        }
    }
    memcpy(plain, column->name, length);
    plain[length] = '\0';
    return true;
}

static void write_channel(struct draft *draft, size_t log,
                          const struct bl_survey_file *file,
                          const struct bl_survey_column *column)
{
    struct bl_output *output = draft->output;
    const bool known = column->quantity != BL_QUANTITY_NONE &&
                       (column->quantity == BL_QUANTITY_SWITCH ||
                        column->quantity_unit != NULL);
    const char *off = known ? "" : "; ";
    char name[80];
    bl_output_format(output, "\n; \"%s\": %s%s\n",
                     bl_survey_clean(column->name, name, sizeof(name)),
                     column->guessed ? "guess: " : "",
                     column->why == NULL ? "" : column->why);
    for (size_t i = 0; bl_oddity_at(i) != 0; i++) {
        if ((column->oddities & bl_oddity_at(i)) != 0) {
            bl_output_format(output, "; look: it %s\n",
                             bl_oddity_meaning(bl_oddity_at(i)));
        }
    }
    char plain[PLAIN_MAX];
    if (!plain_name(file, column, plain)) {
        (void)snprintf(plain, sizeof(plain), "c%zu", column->index + 1);
    }
    bl_output_format(output, "%s[channel %s", off, plain);
    if (draft->logs > 1) {
        bl_output_format(output, "_%zu]\n%slog = %s\n", log, off, file->path);
    } else {
        bl_output_text(output, "]\n");
    }
    bl_output_format(output, "%scolumn = #%zu\n", off, column->index + 1);
    if (!known) {
        bl_output_text(output, "; quantity = pressure, and measured_in\n");
        return;
    }
    bl_output_format(output, "quantity = %s\n",
                     bl_quantity_name(column->quantity));
    if (column->quantity != BL_QUANTITY_SWITCH) {
        bl_output_format(output, "measured_in = %s\n", column->quantity_unit);
    }
}

/* A name that could not be written as it is leads nowhere from the draft. */
static void write_hidden(struct draft *draft, const char *what,
                         const char *name)
{
    if (!bl_plain_is(name)) {
        bl_output_format(draft->output,
                         "; write a new name: that of this %s holds characters "
                         "that do not show\n",
                         what);
    }
}

static void write_recordings(struct draft *draft)
{
    const struct bl_survey *survey = draft->survey;
    struct bl_output *output = draft->output;
    const bool brief = draft->captures <= 1 && draft->logs <= 1;
    bl_output_text(output, "\n[run R1]\ncondition = as recorded  ; write "
                           "powered, unpowered, ...\n"
                           "; power, data and control_air say what was done\n");
    for (size_t f = 0; brief && f < survey->files; f++) {
        write_hidden(draft, "file", survey->file[f].path);
        bl_output_format(output, "%s = %s\n",
                         survey->file[f].kind == BL_SURVEY_BUS ? "captures"
                                                               : "logs",
                         survey->file[f].path);
    }
    if (draft->captures > 0 && draft->logs > 0) {
        bl_output_text(output,
                       "clock = auto  ; better: shared, offset or sync, "
                       "if you know it\n");
    }
    for (size_t f = 0; !brief && f < survey->files; f++) {
        const bool bus = survey->file[f].kind == BL_SURVEY_BUS;
        bl_output_format(output,
                         "\n[recording r%zu]\nrun = R1\nkind = %s\n"
                         "file = %s\n",
                         f + 1, bus ? "capture" : "log", survey->file[f].path);
        write_hidden(draft, "file", survey->file[f].path);
    }
}

void bl_survey_draft(const struct bl_survey *survey, struct bl_output *output)
{
    struct draft draft = {.survey = survey, .output = output};
    bl_output_plain(output);
    for (size_t f = 0; f < survey->files; f++) {
        draft.captures += survey->file[f].kind == BL_SURVEY_BUS;
        draft.logs += survey->file[f].kind == BL_SURVEY_LOG;
        find_units(&draft, &survey->file[f]);
    }
    bl_output_text(output,
                   "; Draft of a trial file. Lines with \"guess\" were decided "
                   "by looking at the\n; recordings: check each. Lines with "
                   "\"write\" need what only you know.\n"
                   "; File names count from the folder of this file.\n\n"
                   "[trial]\nname = draft  ; write what was tried, and where\n"
                   "speeds = 60, 80, 100 km/h\n");
    if (survey->tables != NULL && bl_tables_count(survey->tables) > 0) {
        bl_output_text(output, "tables = ");
        for (size_t i = 0; i < bl_tables_count(survey->tables); i++) {
            bl_output_format(output, "%s%s", i == 0 ? "" : ", ",
                             bl_tables_info(survey->tables, i)->name);
        }
        bl_output_text(output, "\n");
    }
    write_units(&draft);
    size_t log = 0;
    for (size_t f = 0; f < survey->files; f++) {
        const struct bl_survey_file *file = &survey->file[f];
        log += file->kind == BL_SURVEY_LOG;
        for (size_t c = 0; c < file->columns; c++) {
            write_channel(&draft, log, file, &file->column[c]);
        }
    }
    write_recordings(&draft);
}
