/* SPDX-License-Identifier: MIT */
/* explain: one frame taken apart by the mapping tables, or one message or
   signal as its table describes it. */
#include "mapping.h"

#include <string.h>

enum { MATCHES = 16, ADDRESSES = 254, CODES = 16 };

static int hex_digit(char c)
{
    if (c >= '0' && c <= '9') {
        return c - '0';
    }
    if (c >= 'a' && c <= 'f') {
        return c - 'a' + 10;
    }
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

/* Identifier of 3 digits (11 bits) or 8 (29 bits); false: it is not one. */
static bool read_id(const char *text, size_t length, struct bl_explained *frame)
{
    if (length > 2 && text[0] == '0' && (text[1] == 'x' || text[1] == 'X')) {
        text += 2;
        length -= 2;
    }
    if (length != 3 && length != 8) {
        return false;
    }
    frame->id = 0;
    for (size_t i = 0; i < length; i++) {
        const int digit = hex_digit(text[i]);
        if (digit < 0) {
            return false;
        }
        frame->id = frame->id << 4 | (uint32_t)digit;
    }
    frame->extended = length == 8;
    return frame->id < (frame->extended ? 0x20000000u : 0x800u);
}

/* Pairs of hex digits; blanks, points and dashes between pairs are fine. */
static bool read_data(const char *text, struct bl_explained *frame)
{
    for (; *text != '\0'; text++) {
        if (strchr(" .-:", *text) != NULL) {
            continue;
        }
        const int high = hex_digit(text[0]);
        const int low = high < 0 ? -1 : hex_digit(text[1]);
        if (low < 0 || frame->size == sizeof(frame->data)) {
            return false;
        }
        frame->data[frame->size++] = (uint8_t)(high << 4 | low);
        text++;
    }
    return true;
}

/* ID#DATA, ID##FDATA (F: a flag digit) or ID#R, as a text log writes it. */
static bool read_frame(const char *word, struct bl_explained *frame)
{
    const char *mark = strchr(word, '#');
    if (!read_id(word, (size_t)(mark - word), frame)) {
        return false;
    }
    const char *data = mark + 1;
    if (*data == '#') {
        return hex_digit(data[1]) >= 0 && read_data(data + 2, frame);
    }
    if (*data == 'R' || *data == 'r') {
        frame->remote = true;
        return true;
    }
    return read_data(data, frame);
}

static void write_identifier(struct bl_output *output,
                             const struct bl_explained *frame)
{
    if (!frame->extended) {
        bl_output_format(output, "identifier %03X, 11 bits\n", frame->id);
        return;
    }
    const struct bl_id id = bl_id_split(frame->id);
    bl_output_format(output, "identifier %08X, 29 bits\n", frame->id);
    bl_output_format(output, "  %-13s %u\n", "priority", id.priority);
    bl_output_format(output, "  %-13s %u (0x%04X)\n", "PGN", id.pgn, id.pgn);
    bl_output_format(output, "  %-13s %u (0x%02X)%s\n", "source", id.source,
                     id.source,
                     bl_claim_failed(id.source) ? ", no address" : "");
    if (id.destination == BL_ADDRESS_GLOBAL) {
        bl_output_format(output, "  %-13s all\n", "destination");
    } else {
        bl_output_format(output, "  %-13s %u (0x%02X)\n", "destination",
                         id.destination, id.destination);
    }
}

static void write_payload(struct bl_output *output,
                          const struct bl_explained *frame)
{
    if (frame->remote) {
        bl_output_text(output, "  asks for data (remote frame)\n");
        return;
    }
    bl_output_format(output, "  %-13s %zu bytes", "data", frame->size);
    for (size_t i = 0; i < frame->size; i++) {
        bl_output_format(output, " %02X", frame->data[i]);
    }
    bl_output_text(output, "\n");
}

static void number_text(const struct bl_signal *signal,
                        const struct bl_value *value, char *text, size_t size)
{
    char outside[80] = "";
    if (!value->in_range) {
        snprintf(outside, sizeof(outside), ", outside %.9g to %.9g",
                 signal->low, signal->high);
    }
    snprintf(text, size, "%.9g%s%.32s%s", value->value,
             signal->unit[0] == '\0' ? "" : " ", signal->unit, outside);
}

static void value_text(const struct bl_signal *signal,
                       const struct bl_explained *frame, char *text,
                       size_t size)
{
    char words[128];
    const struct bl_value value =
        bl_signal_decode(signal, frame->data, frame->size);
    const char *state =
        signal->kind == BL_SIGNAL_STATE && value.state != BL_VALUE_ABSENT
            ? bl_signal_state_text(signal, value.raw, words, sizeof(words))
            : NULL;
    if (state != NULL) {
        snprintf(text, size, "%s (%llu)", state, (unsigned long long)value.raw);
    } else if (signal->kind == BL_SIGNAL_TEXT) {
        snprintf(text, size, "text");
    } else if (value.state == BL_VALUE_VALID) {
        number_text(signal, &value, text, size);
    } else {
        snprintf(text, size, "%s", bl_value_state_name(value.state));
    }
}

static void write_value(struct bl_output *output,
                        const struct bl_signal *signal,
                        const struct bl_explained *frame)
{
    char value[192];
    char place[64];
    value_text(signal, frame, value, sizeof(value));
    bl_output_format(output, "  %-30s %-24s %-18s %-13s %s\n", signal->name,
                     value, place_text(signal, place, sizeof(place)),
                     bl_confidence_name(signal->confidence), signal->source);
}

/* What a signal of such a role holds, taken apart. */
static void write_role(struct bl_output *output, const struct bl_signal *signal,
                       const struct bl_explained *frame)
{
    struct bl_trouble code[CODES];
    char spn[BL_TROUBLE_TEXT];
    size_t count = 0;
    if (signal->role == BL_ROLE_ADDRESS_CLAIM && frame->extended &&
        bl_claim_failed(bl_id_split(frame->id).source)) {
        bl_output_text(output, "    cannot claim an address\n");
    }
    if (signal->role != BL_ROLE_TROUBLE_CODES ||
        bl_trouble_read(frame->data, frame->size, code, CODES, &count) !=
            BL_OK) {
        return;
    }
    for (size_t i = 0; i < count && i < CODES; i++) {
        bl_output_format(output, "    %s FMI %u (%s), counted %u times\n",
                         bl_trouble_spn_text(&code[i], spn, sizeof(spn)),
                         (unsigned)code[i].fmi, bl_fmi_text(code[i].fmi),
                         (unsigned)code[i].count);
    }
    if (count == 0) {
        bl_output_text(output, "    no trouble code\n");
    }
}

static void write_frame(struct bl_output *output,
                        const struct bl_explained *frame,
                        const struct bl_message *const *found, size_t count)
{
    write_identifier(output, frame);
    write_payload(output, frame);
    for (size_t i = 0; i < count; i++) {
        bl_output_format(output, "%s (table %s), ", found[i]->name,
                         found[i]->table);
        write_message_line(output, found[i]);
        for (size_t k = 0; !frame->remote && k < found[i]->signals; k++) {
            write_value(output, &found[i]->signal[k], frame);
            write_role(output, &found[i]->signal[k], frame);
        }
    }
    if (count > 1) {
        bl_output_text(output, "more than one message fits: the sender's place "
                               "in the combination decides\n");
    }
    if (count == 0) {
        bl_output_text(output, "no mapping table knows this message\n");
    }
}

static int explain_frame(const struct arguments *arguments,
                         const struct bl_tables *tables,
                         const struct bl_addresses *units,
                         const struct bl_explained *frame)
{
    const struct bl_message *found[MATCHES];
    struct bl_output *output = NULL;
    const size_t count = bl_tables_match(tables, frame->id, frame->extended,
                                         units, found, MATCHES);
    const int code = cli_open(&output, arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    if (has_option(arguments, OPTION_JSON)) {
        struct bl_error error;
        bl_error_clear(&error);
        const enum bl_status status =
            bl_report_explain_json(output, frame, found, count, NULL, &error);
        return cli_close_written(output, status, &error,
                                 count == 0 ? EXIT_NO_DATA : EXIT_DONE);
    }
    bl_output_plain(output);
    write_frame(output, frame, found, count);
    return cli_close(output, count == 0 ? EXIT_NO_DATA : EXIT_DONE);
}

/* MESSAGE or MESSAGE.signal. */
static int explain_named(const struct arguments *arguments,
                         const struct bl_tables *tables, const char *word)
{
    struct bl_signal_ref ref = {0};
    struct bl_error error;
    bl_error_clear(&error);
    const struct bl_message *message = bl_tables_message_named(tables, word);
    if (message == NULL) {
        if (bl_signal_ref_parse(tables, word, &ref, &error) != BL_OK) {
            (void)cli_fail(&error);
            cli_say("`brakelag tables show TABLE` lists the messages of a "
                    "table; a frame is written as 18FEC4C8#00FF00FF00FF00FF");
            return EXIT_USAGE;
        }
        message = ref.signal->message;
    }
    struct bl_output *output = NULL;
    const int code = cli_open(&output, arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    if (has_option(arguments, OPTION_JSON)) {
        const enum bl_status status = bl_report_explain_json(
            output, NULL, &message, 1, ref.signal, &error);
        return cli_close_written(output, status, &error, EXIT_DONE);
    }
    bl_output_plain(output);
    bl_output_format(output, "%s (table %s), ", message->name, message->table);
    write_message_line(output, message);
    for (size_t i = 0; i < message->signals; i++) {
        if (ref.signal == NULL || ref.signal == &message->signal[i]) {
            write_signal(output, &message->signal[i]);
        }
    }
    return cli_close(output, EXIT_DONE);
}

static int explain(const struct arguments *arguments,
                   const struct bl_tables *tables,
                   const struct bl_addresses *units)
{
    const struct command *self = arguments->command;
    const char *word = arguments->word[0];
    struct bl_explained frame = {0};
    const bool is_frame = arguments->words > 1 || strchr(word, '#') != NULL;
    if (arguments->words > 1) {
        if (!read_id(word, strlen(word), &frame)) {
            return cli_misuse(self,
                              "expected an identifier of 3 or 8 hex digits, "
                              "found '%s'",
                              word);
        }
        for (size_t i = 1; i < arguments->words; i++) {
            if (!read_data(arguments->word[i], &frame)) {
                return cli_misuse(self,
                                  "expected up to 64 bytes in hex, found '%s'",
                                  arguments->word[i]);
            }
        }
    } else if (is_frame && !read_frame(word, &frame)) {
        return cli_misuse(self,
                          "expected ID#DATA in hex (3 or 8 digits, up to 64 "
                          "bytes), found '%s'",
                          word);
    }
    return is_frame ? explain_frame(arguments, tables, units, &frame)
                    : explain_named(arguments, tables, word);
}

int cmd_explain(const struct arguments *arguments)
{
    uint8_t address[ADDRESSES];
    struct bl_addresses units = {address, 0};
    struct bl_trial *trial = NULL;
    struct bl_tables *tables = NULL;
    const char *path = option_text(arguments, OPTION_TRIAL, NULL);
    if (path == NULL) {
        int code = load_tables(&tables, arguments);
        if (code == EXIT_DONE) {
            code = explain(arguments, tables, NULL);
        }
        bl_tables_destroy(tables);
        return code;
    }
    int code = cli_read_trial(&trial, path, arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    const struct option_values *more = &arguments->option[OPTION_TABLE];
    for (size_t i = 0; i < more->count; i++) {
        code = cli_worse(code, add_table(trial->tables, more->item[i]));
    }
    for (size_t i = 0; i < trial->units && units.count < ADDRESSES; i++) {
        if (trial->unit[i].address >= 0) {
            address[units.count++] = (uint8_t)trial->unit[i].address;
        }
    }
    if (code == EXIT_DONE) {
        code =
            explain(arguments, trial->tables, units.count > 0 ? &units : NULL);
    }
    bl_trial_destroy(trial);
    return code;
}
