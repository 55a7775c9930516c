/* SPDX-License-Identifier: MIT */
#include "report/plain_tree.h"

#include "base/plain.h"

static json_t *plain_text(const char *text)
{
    struct bl_strbuf made = {0};
    bl_plain_add(&made, text);
    json_t *string =
        made.failed ? NULL : json_stringn(bl_strbuf_get(&made), made.length);
    bl_strbuf_finish(&made);
    return string;
}

static bool all_plain(const json_t *value)
{
    const char *key;
    json_t *member;
    size_t index;
    if (json_is_string(value)) {
        return bl_plain_is(json_string_value(value));
    }
    json_object_foreach((json_t *)value, key, member)
    {
        if (!all_plain(member)) {
            return false;
        }
    }
    json_array_foreach(value, index, member)
    {
        if (!all_plain(member)) {
            return false;
        }
    }
    return true;
}

json_t *bl_plain_tree(json_t *root)
{
    const char *key;
    json_t *member;
    size_t index;
    if (root == NULL || all_plain(root)) {
        return json_incref(root);
    }
    if (json_is_string(root)) {
        return plain_text(json_string_value(root));
    }
    json_t *copy = json_is_object(root) ? json_object() : json_array();
    bool done = copy != NULL;
    json_object_foreach(root, key, member)
    {
        done =
            done && json_object_set_new(copy, key, bl_plain_tree(member)) == 0;
    }
    json_array_foreach(root, index, member)
    {
        done = done && json_array_append_new(copy, bl_plain_tree(member)) == 0;
    }
    if (!done) {
        json_decref(copy);
        return NULL;
    }
    return copy;
}
