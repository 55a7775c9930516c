/* SPDX-License-Identifier: MIT */
/*
 * Real recordings (MIT) that hold no trailer demand. Outside reference: the
 * data's own notes and the counts of a separate script over the same text (79
 * lists of trouble codes of address 11 in several packets; codes 811/13,
 * 789/2, 639/5, 1045/7; NAME of address 11: manufacturer 90, function 9).
 */
#include "testing.h"

#include "brakelag/reach.h"

struct truck {
    struct bl_trial *trial;
    struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    struct bl_reach *reach;
};

static void look(struct truck *t, const char *file)
{
    char path[4096];
    char text[8192];
    struct bl_bytes *source;
    struct bl_error error;
    bl_error_clear(&error);
    memset(t, 0, sizeof(*t));
    shared_data(file, path, sizeof(path));
    (void)snprintf(text, sizeof(text),
                   "[trial]\nname = truck\n"
                   "tables = iso11992-2, j1939-brakes, j1939-vehicle\n"
                   "[unit 0]\naddress = 32\ncommand = none no trailer\n"
                   "[unit 1]\naddress = 200\n[run P]\ncaptures = %s\n",
                   path);
    assert_int_equal(
        bl_bytes_open_memory(&source, "t.ini", text, strlen(text), &error),
        BL_OK);
    assert_int_equal(bl_trial_read(&t->trial, source, "/", NULL, &error),
                     BL_OK);
    bl_bytes_close(source);
    assert_int_equal(bl_load_run(&t->data, t->trial, 0, &error), BL_OK);
    assert_int_equal(bl_clock_tie_run(&t->clocks, t->trial, t->data, &error),
                     BL_OK);
    assert_int_equal(
        bl_reach_run(&t->reach, t->trial, t->data, t->clocks, NULL, &error),
        BL_OK);
}

static void finish(struct truck *t)
{
    bl_reach_destroy(t->reach);
    bl_run_clocks_destroy(t->clocks);
    bl_run_data_destroy(t->data);
    bl_trial_destroy(t->trial);
}

/* Not present, never zero. */
static void not_present(const struct truck *t)
{
    assert_int_equal(t->reach->units, 1);
    assert_false(t->reach->unit[0].found);
    assert_true(isnan(t->reach->unit[0].median_s));
    assert_false(t->reach->unit[0].delay.known);
    assert_int_equal(t->reach->unit[0].verdict, BL_REACH_NOT_REACHED);
}

/* Codes of the controller at address 11; a count of 126 is the most there is.
 */
static bool has_code(const struct bl_links *links, uint32_t spn, uint8_t fmi,
                     unsigned count)
{
    for (size_t i = 0; i < links->troubles; i++) {
        const struct bl_link_trouble *is = &links->trouble[i];
        if (is->source == 11 && is->code.spn == spn && is->code.fmi == fmi &&
            is->code.count == count && is->multi_packet) {
            return true;
        }
    }
    return false;
}

static void bench(void **state)
{
    (void)state;
    struct truck t;
    look(&t, "truck-bench-drive/drive_211s.log.gz");
    const struct bl_links *links = &t.data->links;
    not_present(&t);
    assert_int_equal(t.data->recording[0].frames, 39740);
    assert_true(has_code(links, 811, 13, 126));
    assert_true(has_code(links, 789, 2, 126));
    assert_true(has_code(links, 790, 2, 126));
    assert_true(has_code(links, 791, 2, 126));
    assert_true(has_code(links, 792, 2, 126));
    assert_true(has_code(links, 802, 4, 126));
    assert_true(has_code(links, 639, 5, 126));
    assert_true(has_code(links, 1045, 7, 0));
    uint64_t lists = 0;
    for (size_t i = 0; i < links->transports; i++) {
        lists +=
            links->transport[i].source == 11 && links->transport[i].pgn == 65226
                ? links->transport[i].messages
                : 0;
    }
    assert_int_equal(lists, 79);
    size_t codes = 0;
    for (size_t i = 0; i < links->troubles; i++) {
        codes += links->trouble[i].source == 11;
    }
    assert_int_equal(codes, 8); /* 34 bytes: 2 of lamps, 8 codes of 4 */
    uint64_t remote = 0;
    size_t short_ids = 0;
    for (size_t i = 0; i < links->buses; i++) {
        remote += links->bus[i].remote;
    }
    for (size_t i = 0; i < links->ids; i++) {
        short_ids += !links->id[i].extended;
    }
    assert_int_equal(remote, 1);
    assert_true(short_ids > 0);
    bool named = false;
    for (size_t i = 0; i < links->names; i++) {
        named = named || (links->name[i].source == 11 &&
                          links->name[i].name.manufacturer == 90 &&
                          links->name[i].name.function == 9);
    }
    assert_true(named);
    /* The tables' rates: public layouts of the messages of this controller. */
    for (size_t i = 0; i < links->ids; i++) {
        const struct bl_link_id *l = &links->id[i];
        if (l->extended && bl_id_split(l->id).pgn == 61441 &&
            bl_id_split(l->id).source == 11) {
            assert_near(l->median_s, 0.1, 0.01);
        }
    }
    finish(&t);
}

static void in_between(void **state)
{
    (void)state;
    struct truck t;
    look(&t, "truck-short/short_4s_out_of_order.log");
    not_present(&t);
    assert_int_equal(t.data->recording[0].frames, 2645);
    /* 18FECA0B#00FF00000000FFFF: the controller has no active code. */
    for (size_t i = 0; i < t.data->links.troubles; i++) {
        assert_int_not_equal(t.data->links.trouble[i].source, 11);
    }
    finish(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bench),
        cmocka_unit_test(in_between),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
