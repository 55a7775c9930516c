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
#include "report/words.h"

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

/* JSON inside <script>: a '<' is in texts only, where it may be escaped. */
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

static json_t *named(struct bl_tree *tree, const struct bl_words *words)
{
    json_t *object = bl_tree_object(tree);
    for (int i = 0; words->name(i) != NULL; i++) {
        bl_tree_text(tree, object, words->name(i), words->meaning(i));
    }
    return object;
}

/* The list of figures, as the page orders and marks them. */
static json_t *figure_list(struct bl_tree *tree)
{
    json_t *array = bl_tree_array(tree);
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *entry = bl_figure_entry(i);
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, "name", entry->name);
        bl_tree_text(tree, object, "side",
                     entry->side == BL_SIDE_APPLY     ? "apply"
                     : entry->side == BL_SIDE_RELEASE ? "release"
                                                      : "neither");
        bl_tree_number(tree, object, "share", entry->share);
        bl_tree_bool(tree, object, "at_response",
                     entry->at == BL_AT_RESPONSE_AT);
        bl_tree_bool(tree, object, "of_unit", bl_figure_of_unit(i));
        bl_tree_append(tree, array, object);
    }
    return array;
}

/* What the script needs beside the result: meanings of names, wiring. */
static json_t *page_words(struct bl_tree *tree, const struct bl_result *result)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_put(tree, object, "figures", named(tree, &bl_words_figures));
    bl_tree_put(tree, object, "titles", named(tree, &bl_words_titles));
    bl_tree_put(tree, object, "labels", named(tree, &bl_words_labels));
    bl_tree_put(tree, object, "list", figure_list(tree));
    bl_tree_text(tree, object, "filled", bl_figure_name_text(BL_FIGURE_FILLED));
    bl_tree_put(tree, object, "reasons", named(tree, &bl_words_reasons));
    bl_tree_put(tree, object, "limit_reasons", named(tree, &bl_words_limits));
    bl_tree_put(tree, object, "predict_reasons",
                named(tree, &bl_words_predict));
    json_t *components = bl_tree_array(tree);
    for (size_t i = 0; bl_component_name(i) != NULL; i++) {
        bl_tree_append_text(tree, components, bl_component_name(i));
    }
    bl_tree_put(tree, object, "components", components);
    json_t *cautions = bl_tree_array(tree);
    for (int i = 0; bl_words_caution(i) != NULL; i++) {
        bl_tree_append_text(tree, cautions, bl_words_caution(i));
    }
    bl_tree_put(tree, object, "cautions", cautions);
    bl_tree_put(tree, object, "flags", named(tree, &bl_words_flags));
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
                                     const struct bl_measurement_unit *pressure,
                                     struct bl_error *error)
{
    struct bl_output *plain = NULL;
    enum bl_status status = bl_output_open(&plain, NULL, error);
    if (status != BL_OK) {
        return status;
    }
    const struct bl_result_options options = {.form = BL_RESULT_TEXT,
                                              .pressure = pressure};
    status = bl_result_text(result, plain, &options, error);
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
                              const struct bl_measurement_unit *pressure,
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
