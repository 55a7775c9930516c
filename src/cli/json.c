/* SPDX-License-Identifier: MIT */
#include "json.h"

#include <math.h>

static void quoted(struct bl_output *output, const char *text)
{
    bl_output_text(output, "\"");
    for (; *text != '\0'; text++) {
        const unsigned char c = (unsigned char)*text;
        if (c == '"' || c == '\\') {
            bl_output_format(output, "\\%c", c);
        } else if (c < 0x20 || c == 0x7F) {
            bl_output_format(output, "\\u%04X", c);
        } else {
            bl_output_write(output, text, 1);
        }
    }
    bl_output_text(output, "\"");
}

static void before(struct json *json, const char *key)
{
    bl_output_text(json->output, json->comma ? ",\n" : "\n");
    json->comma = true;
    if (key != NULL) {
        quoted(json->output, key);
        bl_output_text(json->output, ": ");
    }
}

void json_open(struct json *json, const char *key, char bracket)
{
    before(json, key);
    bl_output_write(json->output, &bracket, 1);
    json->comma = false;
}

void json_close(struct json *json, char bracket)
{
    bl_output_text(json->output, "\n");
    bl_output_write(json->output, &bracket, 1);
    json->comma = true;
}

void json_text(struct json *json, const char *key, const char *text)
{
    before(json, key);
    if (text == NULL) {
        bl_output_text(json->output, "null");
    } else {
        quoted(json->output, text);
    }
}

void json_number(struct json *json, const char *key, double value)
{
    before(json, key);
    if (isfinite(value)) {
        bl_output_format(json->output, "%.12g", value);
    } else {
        bl_output_text(json->output, "null");
    }
}

void json_count(struct json *json, const char *key, unsigned long long value)
{
    before(json, key);
    bl_output_format(json->output, "%llu", value);
}

void json_bool(struct json *json, const char *key, bool value)
{
    before(json, key);
    bl_output_text(json->output, value ? "true" : "false");
}
