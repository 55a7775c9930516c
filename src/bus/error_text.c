/* SPDX-License-Identifier: MIT */
/* Error frames in words. Bits: linux/can/error.h of the Linux UAPI. */
#include "brakelag/bus.h"

#include <stdio.h>
#include <string.h>

struct word {
    unsigned bit;
    const char *text;
};

static const struct word classes[] = {
    {0x001, "transmit time-out"},
    {0x002, "lost arbitration"},
    {0x004, "controller"},
    {0x008, "protocol violation"},
    {0x010, "transceiver"},
    {0x020, "no acknowledgement"},
    {0x040, "bus off"},
    {0x080, "bus error"},
    {0x100, "controller restarted"},
    {0x200, "error counters"},
};

static const struct word controller[] = {
    {0x01, "receive overflow"}, {0x02, "transmit overflow"},
    {0x04, "receive warning"},  {0x08, "transmit warning"},
    {0x10, "receive passive"},  {0x20, "transmit passive"},
    {0x40, "active again"},
};

static const struct word protocol[] = {
    {0x01, "single bit"},
    {0x02, "frame form"},
    {0x04, "bit stuffing"},
    {0x08, "dominant bit not sent"},
    {0x10, "recessive bit not sent"},
    {0x20, "overload"},
    {0x40, "active error announced"},
    {0x80, "while sending"},
};

#define COUNT(list) (sizeof(list) / sizeof((list)[0]))

/* Adds text behind what is there; what does not fit is left out. */
static void add(char *text, size_t size, const char *more)
{
    const size_t length = strlen(text);
    (void)snprintf(text + length, size - length, "%s", more);
}

static void add_details(char *text, size_t size, const struct word *list,
                        size_t count, unsigned bits)
{
    const char *before = " (";
    for (size_t i = 0; i < count; i++) {
        if ((bits & list[i].bit) != 0) {
            add(text, size, before);
            add(text, size, list[i].text);
            before = ", ";
        }
    }
    if (before[0] == ',') {
        add(text, size, ")");
    }
}

static void add_number(char *text, size_t size, const char *what,
                       unsigned value)
{
    char number[40];
    (void)snprintf(number, sizeof(number), what, value);
    add(text, size, number);
}

const char *bl_frame_error_text(const struct bl_frame *frame, char *text,
                                size_t size)
{
    if (size == 0) {
        return text;
    }
    text[0] = '\0';
    for (size_t i = 0; i < COUNT(classes); i++) {
        if ((frame->id & classes[i].bit) == 0) {
            continue;
        }
        add(text, size, text[0] == '\0' ? "" : ", ");
        add(text, size, classes[i].text);
        if (classes[i].bit == 0x002 && frame->data[0] != 0) {
            add_number(text, size, " in bit %u", frame->data[0]);
        } else if (classes[i].bit == 0x004) {
            add_details(text, size, controller, COUNT(controller),
                        frame->data[1]);
        } else if (classes[i].bit == 0x008) {
            add_details(text, size, protocol, COUNT(protocol), frame->data[2]);
        } else if (classes[i].bit == 0x200) {
            add_number(text, size, " sending %u", frame->data[6]);
            add_number(text, size, " receiving %u", frame->data[7]);
        }
    }
    if (text[0] == '\0') {
        add(text, size, "error of no stated class");
    }
    return text;
}
