/* SPDX-License-Identifier: MIT */
/*
 * The same traffic in every layout that a terminal or a spreadsheet shows it
 * in, written here from a published recording, reads as that recording does;
 * and a published file without times as it stands.
 */
#include "recordings.h"

#include <inttypes.h>
#include <stdarg.h>
#include <time.h>

struct text {
    char *at;
    size_t length, room;
};

static void put(struct text *text, const char *format, ...)
{
    if (text->room - text->length < 512) {
        text->room = 2 * text->room + 4096;
        text->at = realloc(text->at, text->room);
        assert_non_null(text->at);
    }
    va_list list;
    va_start(list, format);
    const int put = vsnprintf(text->at + text->length,
                              text->room - text->length, format, list);
    va_end(list);
    assert_true(put >= 0 && put < 512);
    text->length += (size_t)put;
}

enum stamp { SINCE_1970, SINCE_START, SINCE_BEFORE, DATE, NO_STAMP };

static void put_stamp(struct text *text, enum stamp stamp, int64_t time_ns,
                      int64_t first_ns, int64_t before_ns)
{
    const int64_t us = (stamp == SINCE_START    ? time_ns - first_ns
                        : stamp == SINCE_BEFORE ? time_ns - before_ns
                                                : time_ns) /
                       1000;
    if (stamp == DATE) {
        const time_t whole = (time_t)(us / 1000000);
        struct tm parts;
        char date[40];
        gmtime_r(&whole, &parts);
        strftime(date, sizeof(date), "%Y-%m-%d %H:%M:%S", &parts);
        put(text, "(%s.%06d)", date, (int)(us % 1000000));
    } else if (stamp != NO_STAMP) {
        put(text, "(%03" PRId64 ".%06d)", us / 1000000, (int)(us % 1000000));
    }
}

static bool is_extended(const struct bl_frame *frame)
{
    return (frame->flags & BL_FRAME_EXTENDED) != 0;
}

static int id_digits(const struct bl_frame *frame)
{
    return is_extended(frame) ? 8 : 3;
}

static void put_bytes(struct text *text, const struct bl_frame *frame,
                      const char *between, const char *before)
{
    for (unsigned i = 0; i < frame->length; i++) {
        put(text, "%s%s%02X", i == 0 ? "" : between, before, frame->data[i]);
    }
}

static void check_read(const char *what, const struct text *text,
                       const struct recording *wanted, int64_t shift_ns,
                       const char *format)
{
    struct recording r = read_memory(text->at, text->length, NULL);
    if (r.open_status != BL_OK || r.status != BL_OK ||
        r.frames != wanted->frames) {
        fail_msg("%s: %s, %s, %zu frames: %s", what,
                 bl_status_name(r.open_status), bl_status_name(r.status),
                 r.frames, r.error.message);
    }
    assert_string_equal(r.info->format, format);
    for (size_t i = 0; i < r.frames; i++) {
        struct bl_frame frame = wanted->frame[i];
        frame.time_ns = r.info->untimed ? (int64_t)i : frame.time_ns - shift_ns;
        if (!same_frame(&r.frame[i], &frame)) {
            fail_msg("%s: frame %zu differs", what, i);
        }
        assert_string_equal(r.info->bus[r.frame[i].bus].name,
                            wanted->info->bus[wanted->frame[i].bus].name);
    }
    close_recording(&r);
}

static struct recording release(void)
{
    char path[4096];
    struct recording r = read_file(
        shared_data("truck-brake-release/release.log", path, sizeof(path)),
        NULL);
    assert_int_equal(r.frames, 4648);
    return r;
}

static void terminal_layouts_read_alike(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        enum stamp stamp;
        bool together;
        const char *format;
    } layouts[] = {
        {"since 1970", SINCE_1970, false, "terminal"},
        {"since the start", SINCE_START, false, "terminal"},
        {"since the line before", SINCE_BEFORE, false, "terminal"},
        {"dates", DATE, false, "terminal"},
        {"without stamps", NO_STAMP, false, "terminal"},
        {"since the line before, #", SINCE_BEFORE, true, "textlog"},
        {"without stamps, #", NO_STAMP, true, "terminal"},
    };
    struct recording wanted = release();
    for (size_t k = 0; k < COUNT_OF(layouts); k++) {
        struct text text = {0};
        const int64_t first_ns = wanted.frame[0].time_ns;
        int64_t before_ns = first_ns;
        put(&text, "# typed off a terminal\n");
        for (size_t i = 0; i < wanted.frames; i++) {
            const struct bl_frame *f = &wanted.frame[i];
            put_stamp(&text, layouts[k].stamp, f->time_ns, first_ns, before_ns);
            put(&text,
                layouts[k].together ? " %s %0*X#" : "  %s  %0*X   [%u]  ",
                wanted.info->bus[f->bus].name, id_digits(f), (unsigned)f->id,
                (unsigned)f->length);
            put_bytes(&text, f, layouts[k].together ? "" : " ", "");
            put(&text, "\n");
            before_ns = f->time_ns;
        }
        const bool from_0 =
            layouts[k].stamp == SINCE_START || layouts[k].stamp == SINCE_BEFORE;
        check_read(layouts[k].what, &text, &wanted, from_0 ? first_ns : 0,
                   layouts[k].format);
        free(text.at);
    }
    close_recording(&wanted);
}

enum shape { CSV, SEMICOLON, TAB, DECIMAL, SPREAD, NO_TIME, SHAPES };

static void put_head(struct text *text, enum shape shape)
{
    static const char *const heads[SHAPES] = {
        "Written by a recorder\nTime (s),Channel,ID,Dir,DLC,Data\n",
        "Zeit;Bus;ID (hex);DLC;D0;D1;D2;D3;D4;D5;D6;D7\r\n",
        "timestamp_us\tinterface\tarbitration_id\tis_extended\tdata\n",
        "Time [ms];Channel;Identifier;Length;B1;B2;B3;B4;B5;B6;B7;B8\n",
        "bus,type,time_ns,can id,data\n",
        "bus,\"id\",\"data\"\n"};
    put(text, "%s", heads[shape]);
}

static void put_row(struct text *text, enum shape shape,
                    const struct bl_frame *f, const char *bus, int64_t time_ns)
{
    const int64_t us = time_ns / 1000;
    const char *comma = "";
    switch (shape) {
    case CSV:
        put(text, "%" PRId64 ".%06d,%s,0x%X,Rx,%u,", us / 1000000,
            (int)(us % 1000000), bus, (unsigned)f->id, (unsigned)f->length);
        put_bytes(text, f, " ", "");
        put(text, "\n");
        break;
    case SEMICOLON:
        put(text, "%" PRId64 ",%06d;%s;%0*X;%u;", us / 1000000,
            (int)(us % 1000000), bus, id_digits(f), (unsigned)f->id,
            (unsigned)f->length);
        put_bytes(text, f, ";", "");
        put(text, "\r\n");
        break;
    case TAB:
        put(text, "%" PRId64 "\t%s\t%x\t%s\t", us, bus, (unsigned)f->id,
            is_extended(f) ? "True" : "False");
        put_bytes(text, f, "", "");
        put(text, "\n");
        break;
    case DECIMAL:
        put(text, "%" PRId64 ".%03d;%s;%u;%u", us / 1000, (int)(us % 1000), bus,
            (unsigned)f->id, (unsigned)f->length);
        for (unsigned i = 0; i < f->length; i++) {
            put(text, ";%u", (unsigned)f->data[i]);
        }
        put(text, "\n");
        break;
    case SPREAD:
        put(text, "%s,%s,%" PRId64 ",%08xh", bus,
            is_extended(f) ? "Extended" : "Standard", time_ns, (unsigned)f->id);
        comma = ",";
        put(text, "%s", comma);
        put_bytes(text, f, comma, "0x");
        put(text, "\n");
        break;
    case NO_TIME:
    case SHAPES:
        put(text, "\"%s\",\"%X%s\",\"", bus, (unsigned)f->id,
            is_extended(f) ? "x" : "");
        put_bytes(text, f, "-", "");
        put(text, "\"\n");
        break;
    }
}

static void tables_read_alike(void **state)
{
    (void)state;
    struct recording wanted = release();
    for (int shape = 0; shape < SHAPES; shape++) {
        struct text text = {0};
        char what[40];
        const int64_t first_ns = shape == SPREAD ? 0 : wanted.frame[0].time_ns;
        put_head(&text, (enum shape)shape);
        for (size_t i = 0; i < wanted.frames; i++) {
            const struct bl_frame *f = &wanted.frame[i];
            put_row(&text, (enum shape)shape, f, wanted.info->bus[f->bus].name,
                    f->time_ns - first_ns);
        }
        snprintf(what, sizeof(what), "table of shape %d", shape);
        check_read(what, &text, &wanted, first_ns, "table");
        free(text.at);
    }
    close_recording(&wanted);
}

/* Counted by hand: 403 lines, the first of which is a comment. */
static void a_published_file_without_times(void **state)
{
    (void)state;
    char path[4096];
    struct recording r =
        read_file(shared_data("terminal-text/network2000_terminal.txt", path,
                              sizeof(path)),
                  NULL);
    assert_int_equal(r.status, BL_OK);
    assert_int_equal(r.frames, 402);
    assert_true(r.info->untimed);
    assert_int_equal(notes_of(&r, "no-times"), 1);
    assert_int_equal(notes_of(&r, "comment-lines"), 1);
    assert_int_equal(r.frame[0].id, 0x09F8027F);
    assert_int_equal(r.frame[0].flags, BL_FRAME_EXTENDED);
    assert_memory_equal(r.frame[0].data, "\x00\xFC\xFF\xFF\x00\x00\xFF\xFF", 8);
    assert_int_equal(r.frame[3].id, 0x0DF11380);
    assert_string_equal(r.info->bus[0].name, "can0");
    close_recording(&r);
}

/* What else such a line can hold; layouts from memory. */
static void every_notation_of_a_terminal(void **state)
{
    (void)state;
    static const char text[] =
        "(1.0)  can0  123   [3]  11 22 33                  '.\"3'\n"
        "(2.0)  can0  123   [0]  remote request\n"
        "(3.0)  can0  TX B E  00000123  [12]  00 01 02 03 04 05 06 07 08 09 0A "
        "0B\n"
        "(4.0)  can0  20000004   [8]  00 04 00 00 00 00 00 00   ERRORFRAME\n"
        "(5.0)  can0  <0x18FEF100> [2] 0a 0b\n"
        "(6.0)  can0  RX - -  123  [08]  01 02 03 04 05 06 07 08\n";
    struct recording r = read_memory(text, strlen(text), NULL);
    assert_int_equal(r.status, BL_OK);
    assert_int_equal(r.frames, 6);
    assert_int_equal(r.info->notes.count, 0);
    static const struct {
        uint32_t id;
        uint8_t kind, flags, length;
    } wanted[] = {{0x123, BL_FRAME_CLASSIC, 0, 3},
                  {0x123, BL_FRAME_REMOTE, 0, 0},
                  {0x123, BL_FRAME_FD,
                   BL_FRAME_EXTENDED | BL_FRAME_OUTGOING |
                       BL_FRAME_BIT_RATE_SWITCH | BL_FRAME_ERROR_STATE,
                   12},
                  {4, BL_FRAME_ERROR, 0, 8},
                  {0x18FEF100, BL_FRAME_CLASSIC, BL_FRAME_EXTENDED, 2},
                  {0x123, BL_FRAME_FD, 0, 8}};
    for (size_t i = 0; i < COUNT_OF(wanted); i++) {
        assert_int_equal(r.frame[i].id, wanted[i].id);
        assert_int_equal(r.frame[i].kind, wanted[i].kind);
        assert_int_equal(r.frame[i].flags, wanted[i].flags);
        assert_int_equal(r.frame[i].length, wanted[i].length);
        assert_int_equal(r.frame[i].time_ns, (int64_t)(i + 1) * 1000000000);
    }
    close_recording(&r);
}

/* Analog logs that look a little like frames stay what they are. */
static void what_is_no_table_of_frames(void **state)
{
    (void)state;
    static const char *const logs[] = {
        "time,pressure,id,data\n0.0,1.5,1,2.25\n0.1,1.5,2,2.75\n",
        "time;B1;B2;B3;B4\n0.1;10;12;11;11\n0.2;10;12;11;12\n",
        "id,name,data\n1,abc,none\n2,abc,none\n",
        "Time,Channel 1,Channel 2\n0.1,12,34\n0.2,12,35\n"};
    for (size_t i = 0; i < COUNT_OF(logs); i++) {
        struct bl_bytes *source;
        assert_int_equal(bl_bytes_open_memory(&source, "log", logs[i],
                                              strlen(logs[i]), NULL),
                         BL_OK);
        if (bl_bus_recognised(source)) {
            fail_msg("taken for frames: %s", logs[i]);
        }
        bl_bytes_close(source);
    }
}

/* Times without a unit: the one in which a bus could have carried the rows. */
static void the_unit_of_times_is_judged_by_the_rate(void **state)
{
    (void)state;
    static const struct {
        const char *step;
        int64_t step_ns;
    } cases[] = {{"10", 10000000}, {"10000", 10000000}, {"10000000", 10000000}};
    for (size_t k = 0; k < COUNT_OF(cases); k++) {
        struct text text = {0};
        put(&text, "time,id,dlc,data\n");
        for (long i = 0; i < 50; i++) {
            put(&text, "%ld,0x123,1,FF\n", i * strtol(cases[k].step, NULL, 10));
        }
        struct recording r = read_memory(text.at, text.length, NULL);
        assert_int_equal(r.frames, 50);
        assert_int_equal(notes_of(&r, "time-unit-guessed"), 1);
        assert_int_equal(r.frame[1].time_ns, cases[k].step_ns);
        close_recording(&r);
        free(text.at);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(terminal_layouts_read_alike),
        cmocka_unit_test(tables_read_alike),
        cmocka_unit_test(a_published_file_without_times),
        cmocka_unit_test(every_notation_of_a_terminal),
        cmocka_unit_test(what_is_no_table_of_frames),
        cmocka_unit_test(the_unit_of_times_is_judged_by_the_rate),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
