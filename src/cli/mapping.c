/* SPDX-License-Identifier: MIT */
#include "mapping.h"

#include <string.h>

int add_table(struct bl_tables *tables, const char *name)
{
    struct bl_notes mistakes = {0};
    struct bl_error error;
    bl_error_clear(&error);
    int code = EXIT_DONE;
    if (bl_tables_add_named(tables, name, ".", &mistakes, &error) != BL_OK) {
        if (mistakes.count > 0) {
            cli_say_mistakes(name, &mistakes);
            code = EXIT_USAGE;
        } else {
            code = cli_fail(&error);
            /* A table steers; it is no recording. */
            code = code == EXIT_INPUT ? EXIT_USAGE : code;
        }
    }
    bl_notes_finish(&mistakes);
    return code;
}

int load_tables(struct bl_tables **out, const struct arguments *arguments)
{
    struct bl_error error;
    bl_error_clear(&error);
    *out = NULL;
    if (bl_tables_create(out, &error) != BL_OK) {
        return cli_fail(&error);
    }
    int code = EXIT_DONE;
    for (const char *const *name = bl_tables_shipped(); *name != NULL; name++) {
        code = cli_worse(code, add_table(*out, *name));
    }
    const struct option_values *more = &arguments->option[OPTION_TABLE];
    for (size_t i = 0; i < more->count; i++) {
        code = cli_worse(code, add_table(*out, more->item[i]));
    }
    if (code != EXIT_DONE) {
        bl_tables_destroy(*out);
        *out = NULL;
    }
    return code;
}

static void write_sender(struct bl_output *output,
                         const struct bl_message *message)
{
    switch (message->sender) {
    case BL_SENDER_ANY:
        return;
    case BL_SENDER_TOWING:
        bl_output_text(output, ", sent by the towing unit");
        return;
    case BL_SENDER_TOWED:
        bl_output_text(output, ", sent by the towed unit");
        return;
    case BL_SENDER_ADDRESS:
        break;
    }
    bl_output_format(output, ", sent by address 0x%02X",
                     message->sender_address);
}

void write_message_line(struct bl_output *output,
                        const struct bl_message *message)
{
    if (message->single_id) {
        bl_output_format(output, "identifier 0x%X", message->id);
    } else {
        bl_output_format(output, "PGN %u (0x%X)", message->pgn, message->pgn);
    }
    write_sender(output, message);
    if (message->direction == BL_DIRECTION_DOWN) {
        bl_output_text(output, ", rearwards");
    } else if (message->direction == BL_DIRECTION_UP) {
        bl_output_text(output, ", forwards");
    }
    if (message->period_ms > 0) {
        bl_output_format(output, ", every %g ms", message->period_ms);
    }
    bl_output_text(output, "\n");
}

const char *place_text(const struct bl_signal *signal, char *text, size_t size)
{
    const unsigned first = signal->start_bit / 8 + 1;
    const unsigned bit = signal->start_bit % 8 + 1;
    const unsigned end = signal->start_bit + signal->bits;
    if (signal->big_endian) {
        snprintf(text, size, "byte %u bit %u down, %u bits, high byte first",
                 first, bit, signal->bits);
    } else if (signal->bits == 0) {
        snprintf(text, size, "byte %u on", first);
    } else if (bit == 1 && signal->bits % 8 == 0) {
        const unsigned last = end / 8;
        snprintf(text, size, first == last ? "byte %u" : "bytes %u to %u",
                 first, last);
    } else if (end <= first * 8) {
        const unsigned last = bit + signal->bits - 1;
        snprintf(text, size,
                 bit == last ? "byte %u bit %u" : "byte %u bits %u to %u",
                 first, bit, last);
    } else {
        snprintf(text, size, "byte %u bit %u, %u bits", first, bit,
                 signal->bits);
    }
    return text;
}

static void field(struct bl_output *output, const char *name, const char *text)
{
    if (text[0] != '\0') {
        bl_output_format(output, "    %-12s %s\n", name, text);
    }
}

void write_signal(struct bl_output *output, const struct bl_signal *signal)
{
    char place[64];
    bl_output_format(output, "  %s\n", signal->name);
    field(output, "place", place_text(signal, place, sizeof(place)));
    if (signal->kind == BL_SIGNAL_NUMBER) {
        bl_output_format(output, "    %-12s %s * %.9g%s%.9g %s\n", "value",
                         signal->is_signed ? "raw, in two's complement,"
                                           : "raw",
                         signal->scale, signal->offset < 0 ? " - " : " + ",
                         signal->offset < 0 ? -signal->offset : signal->offset,
                         signal->unit);
        bl_output_format(output, "    %-12s %.9g to %.9g %s\n", "range",
                         signal->low, signal->high, signal->unit);
    }
    field(output, "states", signal->states);
    if (signal->role != BL_ROLE_NONE) {
        bl_output_format(output, "    %-12s %s: %s\n", "role",
                         bl_role_name(signal->role),
                         bl_role_meaning(signal->role));
    }
    field(output, "confidence", bl_confidence_name(signal->confidence));
    field(output, "source", signal->source);
}
