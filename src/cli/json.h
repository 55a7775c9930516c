/* SPDX-License-Identifier: MIT */
/* A small writer of JSON for commands whose result is no bl_result. */
#ifndef BRAKELAG_SRC_CLI_JSON_H
#define BRAKELAG_SRC_CLI_JSON_H

#include "cli.h"

struct json {
    struct bl_output *output;
    bool comma; /* something stands before in this object or array */
};

/* `key` NULL inside arrays and at the top. `bracket` is '{' or '['. */
void json_open(struct json *json, const char *key, char bracket);
void json_close(struct json *json, char bracket);
/* NULL text and numbers that are not finite are null. */
void json_text(struct json *json, const char *key, const char *text);
void json_number(struct json *json, const char *key, double value);
void json_count(struct json *json, const char *key, unsigned long long value);
void json_bool(struct json *json, const char *key, bool value);

#endif
