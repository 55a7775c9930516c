/* SPDX-License-Identifier: MIT */
/* Lines and tables that fit a width: what comes out, character by character,
   and over many widths that no word is lost and no line too long. */
#include "testing.h"

#include "report/table.h"
#include "report/wrap.h"

#include <stdlib.h>
#include <string.h>

static struct bl_output *begin(void)
{
    struct bl_output *output;
    struct bl_error error;
    assert_int_equal(bl_output_open(&output, NULL, &error), BL_OK);
    return output;
}

static void expect(struct bl_output *output, const char *text)
{
    size_t size;
    assert_string_equal(bl_output_memory(output, &size), text);
    bl_output_discard(output);
}

static void long_lines_go_on_deeper(void **state)
{
    (void)state;
    struct bl_output *output = begin();
    bl_wrap_write(output,
                  "at the margin it goes on\n"
                  "  deeper it goes on by two\n"
                  "\n"
                  "  - as long\n"
                  "  averyveryverylongword a\n"
                  "to 0.182 \xC2\xB1 0.004 s\n"
                  "then it is 75 %; 3 mice\n"
                  "off by 12 ppm\n"
                  "it takes 9 kbit/s, 7 kN\n",
                  12);
    expect(output, "at the\n"
                   "margin it\n"
                   "goes on\n"
                   "  deeper it\n"
                   "    goes on\n"
                   "    by two\n"
                   "\n"
                   "  - as long\n"
                   "  averyveryverylongword\n"
                   "    a\n"
                   "to\n"
                   "0.182 \xC2\xB1 0.004 s\n"
                   "then it is\n"
                   "75 %; 3 mice\n"
                   "off by\n"
                   "12 ppm\n"
                   "it takes\n"
                   "9 kbit/s,\n"
                   "7 kN\n");
}

/* Every word of `text` once, in order; a line is longer than `columns` only
   where it is one word. */
static void check_words(const char *text, const char *made, size_t columns)
{
    while (*made != '\0') {
        const size_t length = strcspn(made, "\n");
        char line[128];
        assert_true(length < sizeof(line));
        memcpy(line, made, length);
        line[length] = '\0';
        const char *word = line + strspn(line, " ");
        assert_true(bl_text_width(line) <= columns ||
                    strchr(word, ' ') == NULL);
        for (; *word != '\0'; word++) {
            if (*word != ' ') {
                text += strspn(text, " ");
                assert_int_equal(*word, *text++);
            }
        }
        made += length + (made[length] == '\n');
    }
    assert_int_equal(text[strspn(text, " ")], '\0');
}

static void no_word_is_lost_at_any_width(void **state)
{
    (void)state;
    static const char text[] = "    \xC3\xA4 first of  two, three; a "
                               "longer-one (than) the others and 1 to 2";
    for (size_t columns = 1; columns < 90; columns++) {
        struct bl_output *output = begin();
        size_t size;
        bl_wrap_write(output, text, columns);
        check_words(text, bl_output_memory(output, &size), columns);
        bl_output_discard(output);
    }
}

/* Units with a figure, a bar, two more figures, and words. */
static void fill(struct bl_table *table)
{
    static const char *const heads[] = {"unit",    "first air", "",
                                        "to 90 %", "to 10 %",   "verdict"};
    memset(table, 0, sizeof(*table));
    table->heading = true;
    table->right[1] = table->right[3] = table->right[4] = true;
    table->starts[3] = true;
    for (size_t i = 0; i < 6; i++) {
        bl_table_cell(table, "%s", heads[i]);
    }
    bl_table_row(table);
    bl_table_cell(table, "front");
    bl_table_cell(table, "0.1");
    bl_table_cell(table, "|==");
    bl_table_cell(table, "0.2");
    bl_table_cell(table, "0.3");
    bl_table_cell(table, "sound");
    bl_table_row(table);
    bl_table_cell(table, "middle");
    bl_table_span(table, "no output is wired");
    bl_table_row(table);
    bl_table_cell(table, "rear");
    bl_table_cell(table, "12.5");
    bl_table_cell(table, "|====");
    bl_table_cell(table, "0.2");
    bl_table_cell(table, "0.3");
    bl_table_cell(table, "later than all of the others by far");
    bl_table_row(table);
}

static void a_wide_table_is_cut_into_blocks(void **state)
{
    (void)state;
    struct bl_table table;
    struct bl_output *output = begin();
    fill(&table);
    assert_true(bl_table_write(&table, output, 2, 40));
    expect(output, "          first\n"
                   "  unit      air\n"
                   "  front     0.1  |==\n"
                   "  middle  no output is wired\n"
                   "  rear     12.5  |====\n"
                   "            to    to\n"
                   "  unit    90 %  10 %  verdict\n"
                   "  front    0.2   0.3  sound\n"
                   "  rear     0.2   0.3\n"
                   "      later than all of the others by\n"
                   "      far\n");
}

/* Two columns name a row here; the last holds words for one unit only. */
static void fill_keyed(struct bl_table *table, const char *why)
{
    static const char *const heads[] = {"unit", "edge", "takes", "at most",
                                        "verdict"};
    memset(table, 0, sizeof(*table));
    table->heading = true;
    table->keys = 2;
    table->right[2] = table->right[3] = true;
    table->starts[4] = true;
    for (size_t i = 0; i < 5; i++) {
        bl_table_cell(table, "%s", heads[i]);
    }
    bl_table_row(table);
    for (size_t i = 0; i < 2; i++) {
        bl_table_cell(table, "rear");
        bl_table_cell(table, i == 0 ? "apply" : "release");
        bl_table_cell(table, "0.1");
        bl_table_cell(table, "0.2");
        bl_table_cell(table, "%s", i == 0 ? "" : why);
        bl_table_row(table);
    }
}

static void a_block_names_its_rows_by_all_their_keys(void **state)
{
    (void)state;
    struct bl_table table;
    struct bl_output *output = begin();
    fill_keyed(&table, "late-by-far");
    assert_true(bl_table_write(&table, output, 2, 32));
    expect(output, "                          at\n"
                   "  unit  edge     takes  most\n"
                   "  rear  apply      0.1   0.2\n"
                   "  rear  release    0.1   0.2\n"
                   "  unit  edge     verdict\n"
                   "  rear  apply\n"
                   "  rear  release  late-by-far\n");
}

static void a_block_without_rows_is_left_out(void **state)
{
    (void)state;
    struct bl_table table;
    struct bl_output *output = begin();
    fill_keyed(&table, "");
    assert_true(bl_table_write(&table, output, 2, 32));
    expect(output, "                          at\n"
                   "  unit  edge     takes  most\n"
                   "  rear  apply      0.1   0.2\n"
                   "  rear  release    0.1   0.2\n");
}

static void a_bar_stays_with_its_figure(void **state)
{
    (void)state;
    struct bl_table table;
    struct bl_output *output = begin();
    fill(&table);
    table.joins[2] = true;
    table.starts[3] = false;
    /* Room for the figure, not for its bar. */
    assert_true(bl_table_write(&table, output, 0, 18));
    size_t size;
    assert_non_null(strstr(bl_output_memory(output, &size), "|===="));
    for (const char *line = bl_output_memory(output, &size); *line != '\0';) {
        const size_t length = strcspn(line, "\n");
        const char *bar = memchr(line, '|', length);
        assert_true(bar == NULL || memchr(line, '.', (size_t)(bar - line)));
        line += length + (line[length] == '\n');
    }
    bl_output_discard(output);
}

static void where_there_is_room_it_is_one(void **state)
{
    (void)state;
    struct bl_table table;
    struct bl_output *output = begin();
    fill(&table);
    assert_true(bl_table_write(&table, output, 2, 100));
    expect(output, "          first           to    to\n"
                   "  unit      air         90 %  10 %  verdict\n"
                   "  front     0.1  |==     0.2   0.3  sound\n"
                   "  middle  no output is wired\n"
                   "  rear     12.5  |====   0.2   0.3  later than all of the "
                   "others by far\n");
}

static void words_without_room_stand_below(void **state)
{
    (void)state;
    struct bl_table table = {.heading = true};
    struct bl_output *output = begin();
    bl_table_cell(&table, "figure");
    bl_table_cell(&table, "verdict");
    bl_table_row(&table);
    bl_table_span(&table, "rear trailer, full step");
    bl_table_row(&table);
    bl_table_cell(&table, "first air (20 kPa)");
    bl_table_span(&table, "later than the band by far");
    bl_table_row(&table);
    assert_true(bl_table_write(&table, output, 0, 30));
    expect(output, "figure              verdict\n"
                   "rear trailer, full step\n"
                   "first air (20 kPa)\n"
                   "    later than the band by far\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(long_lines_go_on_deeper),
        cmocka_unit_test(no_word_is_lost_at_any_width),
        cmocka_unit_test(a_wide_table_is_cut_into_blocks),
        cmocka_unit_test(a_block_names_its_rows_by_all_their_keys),
        cmocka_unit_test(a_block_without_rows_is_left_out),
        cmocka_unit_test(a_bar_stays_with_its_figure),
        cmocka_unit_test(where_there_is_room_it_is_one),
        cmocka_unit_test(words_without_room_stand_below),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
