/* SPDX-License-Identifier: MIT */
/*
 * The result as one page that needs nothing else: style and scripts inside,
 * allowed by their hashes, everything else forbidden by its policy. Data stand
 * in one block of JSON; names in it can hold any text, so '<' is escaped and
 * nothing in it can end the block. The script puts text into the page as text,
 * never as markup. Without a script the text report shows.
 */
#include "report/html_budget.h"
#include "report/page/page.h"
#include "report/plain_tree.h"
#include "report/result.h"

#include <math.h>
#include <string.h>

/* Text into markup; the only place where that happens here. */
static void html_text(struct bl_output *output, const char *text, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        switch (text[i]) {
        case '<':
            bl_output_text(output, "&lt;");
            break;
        case '>':
            bl_output_text(output, "&gt;");
            break;
        case '&':
            bl_output_text(output, "&amp;");
            break;
        case '"':
            bl_output_text(output, "&quot;");
            break;
        case '\'':
            bl_output_text(output, "&#39;");
            break;
        default:
            bl_output_write(output, &text[i], 1);
            break;
        }
    }
}

/* JSON inside <script>: a '<' stands in texts only, where it may be escaped. */
static int put_json(const char *text, size_t size, void *user)
{
    size_t from = 0;
    for (size_t i = 0; i < size; i++) {
        if (text[i] == '<') {
            bl_output_write(user, text + from, i - from);
            bl_output_text(user, "\\u003c");
            from = i + 1;
        }
    }
    bl_output_write(user, text + from, size - from);
    return 0;
}

static bool data_block(struct bl_output *output, const char *id,
                       const json_t *data)
{
    bl_output_format(output, "<script type=\"application/json\" id=\"%s\">",
                     id);
    const bool done =
        json_dump_callback(data, put_json, output,
                           JSON_COMPACT |
                               JSON_REAL_PRECISION(BL_TREE_DIGITS)) == 0;
    bl_output_text(output, "</script>\n");
    return done;
}

static json_t *named(struct bl_tree *tree, const char *(*name)(int),
                     const char *(*meaning)(int))
{
    json_t *object = bl_tree_object(tree);
    for (int i = 0; name(i) != NULL; i++) {
        bl_tree_text(tree, object, name(i), meaning(i));
    }
    return object;
}

static const char *figure_name(int i)
{
    return i < BL_FIGURES ? bl_figure_name_text((enum bl_figure_name)i) : NULL;
}
static const char *figure_meaning(int i)
{
    return bl_figure_meaning((enum bl_figure_name)i);
}
static const char *figure_title(int i)
{
    return bl_figure_title((enum bl_figure_name)i);
}
static const char *reason_name(int i)
{
    return i < BL_REASONS ? bl_reason_name((enum bl_reason)i) : NULL;
}
static const char *reason_meaning(int i)
{
    return bl_reason_meaning((enum bl_reason)i);
}
static const char *flag_name(int i)
{
    const enum bl_flag flag = bl_flag_at((size_t)i);
    return flag == 0 ? NULL : bl_flag_name(flag);
}
static const char *flag_meaning(int i)
{
    return bl_flag_meaning(bl_flag_at((size_t)i));
}

/* Reasons of limits and of predictions have lists of their own. */
enum {
#define X(id, name, meaning) +1
    LIMIT_REASONS = 0 BL_LIMIT_REASON_LIST(X),
    PREDICT_REASONS = 0 BL_PREDICT_REASON_LIST(X)
#undef X
};
static const char *limit_name(int i)
{
    return i < LIMIT_REASONS ? bl_limit_reason_name((enum bl_limit_reason)i)
                             : NULL;
}
static const char *limit_meaning(int i)
{
    return bl_limit_reason_meaning((enum bl_limit_reason)i);
}
static const char *predict_name(int i)
{
    return i < PREDICT_REASONS
               ? bl_predict_reason_name((enum bl_predict_reason)i)
               : NULL;
}
static const char *predict_meaning(int i)
{
    return bl_predict_reason_meaning((enum bl_predict_reason)i);
}

/* What the script needs beside the result: meanings of names, wiring. */
static json_t *page_words(struct bl_tree *tree, const struct bl_result *result)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_put(tree, object, "figures",
                named(tree, figure_name, figure_meaning));
    bl_tree_put(tree, object, "titles", named(tree, figure_name, figure_title));
    bl_tree_put(tree, object, "reasons",
                named(tree, reason_name, reason_meaning));
    bl_tree_put(tree, object, "limit_reasons",
                named(tree, limit_name, limit_meaning));
    bl_tree_put(tree, object, "predict_reasons",
                named(tree, predict_name, predict_meaning));
    json_t *components = bl_tree_array(tree);
    for (size_t i = 0; bl_component_name(i) != NULL; i++) {
        bl_tree_append_text(tree, components, bl_component_name(i));
    }
    bl_tree_put(tree, object, "components", components);
    bl_tree_put(tree, object, "flags", named(tree, flag_name, flag_meaning));
    bl_tree_put(tree, object, "budget", bl_html_budget(tree, result));
    return object;
}

static void head(struct bl_output *output, const char *title)
{
    bl_output_text(output,
                   "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n"
                   "<meta charset=\"utf-8\">\n"
                   "<meta http-equiv=\"Content-Security-Policy\" content=\""
                   "default-src 'none'; base-uri 'none'; form-action 'none'; "
                   "style-src ");
    /* The chart library sets styles on its elements; that is allowed to
       scripts through the object model and needs no exception here. */
    bl_output_format(output, "'%s'; script-src '%s' '%s'\">\n",
                     bl_page_style.hash, bl_page_chart.hash,
                     bl_page_script.hash);
    bl_output_text(output,
                   "<meta name=\"viewport\" content=\"width=device-width, "
                   "initial-scale=1\">\n"
                   "<meta name=\"color-scheme\" content=\"light dark\">\n"
                   "<title>");
    html_text(output, title, strlen(title));
    bl_output_text(output, "</title>\n<style>");
    bl_output_write(output, bl_page_style.text, bl_page_style.size);
    bl_output_text(output, "</style>\n</head>\n<body>\n");
}

static void script(struct bl_output *output, const struct bl_page_part *part)
{
    bl_output_text(output, "<script>");
    bl_output_write(output, part->text, part->size);
    bl_output_text(output, "</script>\n");
}

static enum bl_status without_script(const struct bl_result *result,
                                     struct bl_output *output,
                                     const struct bl_unit *pressure,
                                     struct bl_error *error)
{
    struct bl_output *plain = NULL;
    enum bl_status status = bl_output_open(&plain, NULL, error);
    if (status != BL_OK) {
        return status;
    }
    status = bl_result_text(result, plain, pressure, error);
    if (status == BL_OK) {
        size_t size = 0;
        const char *text = bl_output_memory(plain, &size);
        if (text == NULL) {
            bl_output_discard(plain);
            return bl_fail_memory(error);
        }
        bl_output_text(output,
                       "<noscript><p>Scripts are off: this is the text "
                       "report. With scripts there are drawings and traces."
                       "</p><pre>");
        html_text(output, text, size);
        bl_output_text(output, "</pre></noscript>\n");
    }
    bl_output_discard(plain);
    return status;
}

enum bl_status bl_result_html(const struct bl_result *result,
                              struct bl_output *output,
                              const struct bl_unit *pressure,
                              struct bl_error *error)
{
    struct bl_tree tree = {false};
    json_t *words = page_words(&tree, result);
    bl_tree_text(&tree, words, "pressure", pressure->name);
    bl_tree_number(&tree, words, "pressure_factor", pressure->factor);
    json_t *trial = bl_plain_tree(json_object_get(result->root, "trial"));
    const char *name = bl_tree_get_text(trial, "name");
    head(output, name[0] == '\0' ? "Brake trial" : name);
    json_decref(trial);
    enum bl_status status = without_script(result, output, pressure, error);
    bl_output_text(output, "<div id=\"page\"></div>\n");
    json_t *whole = bl_html_without_parts(&tree, result->root);
    const bool done = !tree.failed && whole != NULL &&
                      data_block(output, "result", whole) &&
                      data_block(output, "traces", result->traces) &&
                      data_block(output, "words", words);
    script(output, &bl_page_chart);
    script(output, &bl_page_script);
    bl_output_text(output, "</body>\n</html>\n");
    json_decref(words);
    json_decref(whole);
    return status != BL_OK ? status : done ? BL_OK : bl_fail_memory(error);
}
