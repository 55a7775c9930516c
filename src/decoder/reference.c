/* SPDX-License-Identifier: MIT */
/* MESSAGE.signal[@address][/bus], as a trial file writes a signal. */
#include "brakelag/decoder.h"

#include "base/number.h"

#include <stdio.h>
#include <string.h>

enum { STANDARD_ID = 0x7FF };

static const struct bl_message *message_named(const struct bl_tables *tables,
                                              const char *name, size_t length)
{
    for (size_t i = 0; i < bl_tables_messages(tables); i++) {
        const struct bl_message *message = bl_tables_message(tables, i);
        if (strlen(message->name) == length &&
            memcmp(message->name, name, length) == 0) {
            return message;
        }
    }
    return NULL;
}

static const struct bl_signal *signal_named(const struct bl_message *message,
                                            const char *name, size_t length)
{
    for (size_t i = 0; i < message->signals; i++) {
        if (strlen(message->signal[i].name) == length &&
            memcmp(message->signal[i].name, name, length) == 0) {
            return &message->signal[i];
        }
    }
    return NULL;
}

static enum bl_status parse_address(const char *text, size_t length,
                                    struct bl_signal_ref *out,
                                    struct bl_error *error)
{
    uint64_t address;
    if (!bl_unsigned_parse(text, length, &address) ||
        address >= BL_ADDRESS_NULL) {
        return bl_fail(error, BL_TRIAL, "",
                       "expected an address up to 253 after '@', found '%.*s'",
                       (int)length, text);
    }
    out->address = (int)address;
    return BL_OK;
}

/* Can a frame of this message come from there at all? */
static enum bl_status check_address(const struct bl_message *message,
                                    int address, struct bl_error *error)
{
    if (message->single_id && message->id <= STANDARD_ID) {
        return bl_fail(error, BL_TRIAL, "",
                       "message %s has an identifier of 11 bits, 0x%03X, which "
                       "carries no address: leave out '@0x%02X', and name the "
                       "bus where it is not the only one",
                       message->name, (unsigned)message->id, (unsigned)address);
    }
    if (message->single_id && (int)(message->id & 0xFF) != address) {
        return bl_fail(error, BL_TRIAL, "",
                       "message %s is identifier 0x%08X, which comes from "
                       "0x%02X, not from 0x%02X",
                       message->name, (unsigned)message->id,
                       (unsigned)(message->id & 0xFF), (unsigned)address);
    }
    if (!message->single_id && message->sender == BL_SENDER_ADDRESS &&
        message->sender_address != address) {
        return bl_fail(error, BL_TRIAL, "",
                       "by its table message %s comes from 0x%02X, not from "
                       "0x%02X",
                       message->name, (unsigned)message->sender_address,
                       (unsigned)address);
    }
    return BL_OK;
}

static enum bl_status parse_bus(const char *text, struct bl_signal_ref *out,
                                struct bl_error *error)
{
    const size_t length = strlen(text);
    if (length == 0 || length >= sizeof(out->bus)) {
        return bl_fail(error, BL_TRIAL, "",
                       "expected a bus name of 1 to %zu bytes after '/', found "
                       "'%s'",
                       sizeof(out->bus) - 1, text);
    }
    (void)snprintf(out->bus, sizeof(out->bus), "%s", text);
    return BL_OK;
}

enum bl_status bl_signal_ref_parse(const struct bl_tables *tables,
                                   const char *text, struct bl_signal_ref *out,
                                   struct bl_error *error)
{
    *out = (struct bl_signal_ref){.address = -1};
    const size_t whole = strcspn(text, "@/");
    const char *dot = memchr(text, '.', whole);
    if (dot == NULL || dot == text || dot + 1 == text + whole) {
        return bl_fail(error, BL_TRIAL, "",
                       "expected MESSAGE.signal, found '%s'", text);
    }
    const struct bl_message *message =
        message_named(tables, text, (size_t)(dot - text));
    if (message == NULL) {
        return bl_fail(error, BL_TRIAL, "",
                       "no message '%.*s' in the mapping tables",
                       (int)(dot - text), text);
    }
    out->signal =
        signal_named(message, dot + 1, (size_t)(text + whole - dot - 1));
    if (out->signal == NULL) {
        return bl_fail(error, BL_TRIAL, "", "message %s has no signal '%.*s'",
                       message->name, (int)(text + whole - dot - 1), dot + 1);
    }
    const char *rest = text + whole;
    enum bl_status status = BL_OK;
    if (*rest == '@') {
        const size_t length = strcspn(rest + 1, "/");
        status = parse_address(rest + 1, length, out, error);
        if (status == BL_OK) {
            status = check_address(message, out->address, error);
        }
        rest += 1 + length;
    }
    if (status == BL_OK && *rest == '/') {
        status = parse_bus(rest + 1, out, error);
    }
    return status;
}
