/* SPDX-License-Identifier: MIT */
/* What the header of a table of frames calls its columns: common practice. */
#include "bus/tablenames.h"

#include <ctype.h>
#include <string.h>

enum { NAME_BYTES = 48 };

static const struct {
    enum bl_frametable_column column;
    const char *names; /* without what is no letter or digit; a blank between */
} known[] = {
    {BL_FRAMETABLE_ID,
     " id canid identifier canidentifier arbitrationid arbid msgid "
     "messageid frameid messageidentifier frameidentifier "},
    {BL_FRAMETABLE_DATA,
     " data payload databytes datafield rawdata candata framedata "
     "messagedata bytes daten "},
    {BL_FRAMETABLE_TIME,
     " time timestamp stamp datetime t seconds elapsed abstime "
     "absolutetime systemtime reltime relativetime timeoffset "
     "delta deltatime timedelta dt deltat timediff "
     "zeit zeitstempel uhrzeit tijd temps tiempo tempo "},
    {BL_FRAMETABLE_BUS, " bus channel chan chn ch interface port network "
                        "canchannel buschannel canbus link buses canport "
                        "kanal canal "},
    {BL_FRAMETABLE_DIRECTION, " dir direction rxtx txrx "},
    {BL_FRAMETABLE_LENGTH, " dlc len length datalength datalen size "
                           "bytecount datasize nbytes "},
    {BL_FRAMETABLE_TYPE, " type frametype kind format msgtype messagetype "},
    {BL_FRAMETABLE_EXTENDED, " ext extended ide isextended isextendedid "
                             "isextendedframe extendedid xtd eff "},
    {BL_FRAMETABLE_REMOTE, " rtr remote isremote isremoteframe remoteframe "},
};

/* Letters and digits of a name in lower case, the unit or base apart. */
static void take_apart(const struct bl_frametable_cell *cell,
                       char name[NAME_BYTES], char unit[NAME_BYTES])
{
    char word[NAME_BYTES];
    size_t used = 0;
    size_t length = 0;
    name[0] = unit[0] = '\0';
    for (size_t i = 0; i <= cell->length; i++) {
        const unsigned char c =
            i < cell->length ? (unsigned char)cell->text[i] : '\0';
        if (isalnum(c) && length + 1 < NAME_BYTES) {
            word[length++] = (char)tolower(c);
            continue;
        }
        word[length] = '\0';
        static const char units[] =
            " s sec ms us ns msec usec hex dec decimal ";
        char padded[NAME_BYTES + 2];
        padded[0] = ' ';
        memcpy(padded + 1, word, length);
        memcpy(padded + 1 + length, " ", 2);
        if (length > 0 && used > 0 && strstr(units, padded) != NULL) {
            memcpy(unit, word, length + 1);
        } else if (used + length < NAME_BYTES) {
            memcpy(name + used, word, length + 1);
            used += length;
        }
        length = 0;
    }
}

/* "b0", "d1", "byte 3", "data7": -1: no byte's name. */
static long byte_number(const char *name)
{
    static const char *const before[] = {"b",    "d",        "byte",
                                         "data", "databyte", "db"};
    const size_t letters = strcspn(name, "0123456789");
    const size_t digits = strspn(name + letters, "0123456789");
    if (digits == 0 || digits > 2 || name[letters + digits] != '\0') {
        return -1;
    }
    for (size_t i = 0; i < sizeof(before) / sizeof(before[0]); i++) {
        if (strlen(before[i]) == letters &&
            memcmp(before[i], name, letters) == 0) {
            long number = 0;
            for (size_t k = 0; k < digits; k++) {
                number = number * 10 + (name[letters + k] - '0');
            }
            return number;
        }
    }
    return -1;
}

static bool in_list(const char *list, const char *name)
{
    const size_t length = strlen(name);
    for (const char *at = strstr(list, name); length > 0 && at != NULL;
         at = strstr(at + 1, name)) {
        if (at[-1] == ' ' && at[length] == ' ') {
            return true;
        }
    }
    return false;
}

static enum log_form form_of_unit(const char *unit)
{
    static const struct {
        const char *names;
        enum log_form form;
    } forms[] = {{" s sec ", LOG_FORM_S},
                 {" ms msec ", LOG_FORM_MS},
                 {" us usec ", LOG_FORM_US},
                 {" ns ", LOG_FORM_NS}};
    for (size_t i = 0; i < sizeof(forms) / sizeof(forms[0]); i++) {
        if (in_list(forms[i].names, unit)) {
            return forms[i].form;
        }
    }
    return LOG_FORM_UNKNOWN;
}

static enum bl_frametable_base base_of(const char *unit)
{
    return strcmp(unit, "hex") == 0         ? BL_FRAMETABLE_HEX
           : in_list(" dec decimal ", unit) ? BL_FRAMETABLE_DECIMAL
                                            : BL_FRAMETABLE_BASE_UNKNOWN;
}

/* What the unit of a name says of its column. */
static void take_unit(struct bl_frametable_form *form,
                      enum bl_frametable_column column, const char *name,
                      const char *unit)
{
    if (column == BL_FRAMETABLE_ID) {
        form->id_base = base_of(unit);
    } else if (column == BL_FRAMETABLE_DATA) {
        form->byte_base = base_of(unit);
    } else if (column == BL_FRAMETABLE_TIME) {
        form->time_form =
            strcmp(name, "seconds") == 0 ? LOG_FORM_S : form_of_unit(unit);
        form->deltas =
            in_list(" delta deltatime timedelta dt deltat timediff ", name);
    }
}

static void take_name(struct bl_frametable_form *form, size_t column,
                      const struct bl_frametable_cell *cell)
{
    char name[NAME_BYTES];
    char unit[NAME_BYTES];
    take_apart(cell, name, unit);
    const long number = byte_number(name);
    if (number >= 0) {
        const size_t place = form->bytes;
        /* From 0 or 1 on, in order. */
        if (place < BL_FRAMETABLE_BYTES &&
            (place == 0 ? number <= 1 : column == form->byte[place - 1] + 1)) {
            form->byte[form->bytes++] = column;
        }
        return;
    }
    for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++) {
        const enum bl_frametable_column what = known[i].column;
        if (!in_list(known[i].names, name)) {
            continue;
        }
        /* The first of a kind counts, but a time before one of differences. */
        const bool sooner = what == BL_FRAMETABLE_TIME && form->deltas &&
                            form->at[what] != SIZE_MAX;
        if (form->at[what] == SIZE_MAX || sooner) {
            form->at[what] = column;
            take_unit(form, what, name, unit);
        }
        return;
    }
}

bool bl_frametable_names(struct bl_frametable_form *form,
                         const struct bl_frametable_cell *cell, size_t cells)
{
    memset(form, 0, sizeof(*form));
    for (size_t i = 0; i < BL_FRAMETABLE_COLUMNS; i++) {
        form->at[i] = SIZE_MAX;
    }
    form->last = cells - 1;
    for (size_t i = 0; i < cells; i++) {
        take_name(form, i, &cell[i]);
    }
    return cells >= 2 && form->at[BL_FRAMETABLE_ID] != SIZE_MAX &&
           (form->at[BL_FRAMETABLE_DATA] != SIZE_MAX || form->bytes >= 2);
}

bool bl_frametable_surely(const struct bl_frametable_form *form)
{
    return form->at[BL_FRAMETABLE_LENGTH] != SIZE_MAX ||
           form->at[BL_FRAMETABLE_DIRECTION] != SIZE_MAX || form->bytes >= 4;
}
