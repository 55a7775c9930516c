/* SPDX-License-Identifier: MIT */
/*
 * Recordings with bytes overwritten or lost in the middle: every frame whose
 * bytes are whole is delivered, before and behind, and the first one behind
 * says that something is missing. Classic pcap has no mark to find the next
 * record by and ends at the damage (docs of libpcap: a savefile is a plain
 * sequence).
 */
#include "damage.h"

enum { HEAD = 12 };

static void overwrite(struct file *file, size_t from, size_t size, int byte)
{
    mark(file, from, size);
    memset(file->data + from, byte, size);
}

static void lose(struct file *file, size_t from, size_t size)
{
    mark(file, from, size);
    memmove(file->data + from, file->data + from + size,
            file->size - from - size);
    file->size -= size;
}

static void check_frames(const struct recording *r, const struct file *file)
{
    assert_int_equal(r->frames, FRAMES - file->hit);
    for (size_t i = 0; i < r->frames; i++) {
        const bool behind = i >= file->first_hit;
        struct bl_frame wanted = frame_of(behind ? i + file->hit : i);
        if (i == file->first_hit) {
            wanted.flags |= BL_FRAME_AFTER_DAMAGE;
        }
        const struct bl_frame *is = &r->frame[i];
        assert_int_equal(is->time_ns, wanted.time_ns);
        assert_int_equal(is->id, wanted.id);
        assert_int_equal(is->bus, wanted.bus);
        assert_int_equal(is->flags, wanted.flags);
        assert_memory_equal(is->data, wanted.data, sizeof(wanted.data));
    }
    assert_int_equal(r->info->after_damage,
                     file->first_hit + file->hit == FRAMES);
}

static void check_pcapng(struct file *file)
{
    struct recording r = read_memory(file->data, file->size, NULL);
    assert_int_equal(r.open_status, BL_OK);
    assert_int_equal(r.status, BL_FORMAT);
    assert_true(r.error.offset > 0);
    check_frames(&r, file);
    if (file->first_hit + file->hit < FRAMES) {
        assert_int_equal(notes_of(&r, "read-on"), 1);
    }
    close_recording(&r);
    free(file->data);
}

/* Heads of blocks overwritten with zeros, ones and noise-like bytes, from a few
   bytes to many blocks. */
static void pcapng_is_read_behind_overwritten_bytes(void **state)
{
    (void)state;
    static const int bytes[] = {0, 0xFF, 0x5A};
    for (size_t k = 0; k < COUNT_OF(bytes); k++) {
        for (size_t size = 8; size < 9000; size = size * 3 + 1) {
            struct file file = make("pcapng", k == 1);
            overwrite(&file, file.at[100], size, bytes[k]);
            check_pcapng(&file);
        }
    }
}

/* Lost bytes put everything behind them at odd places. */
static void pcapng_is_read_behind_lost_bytes(void **state)
{
    (void)state;
    for (size_t size = 1; size < 4000; size = size * 2 + 1) {
        struct file file = make("pcapng", size % 2 == 0);
        lose(&file, file.at[200] + HEAD, size);
        check_pcapng(&file);
    }
}

/* The last block: its length is damaged; and the last but one. */
static void pcapng_with_damage_at_its_end(void **state)
{
    (void)state;
    for (size_t from = FRAMES - 2; from < FRAMES; from++) {
        struct file file = make("pcapng", false);
        overwrite(&file, file.at[from], 8, 0x5A);
        check_pcapng(&file);
    }
}

/* A length that reaches over the end of the file is damage where whole blocks
   stand inside it, and a cut last block where none does. */
static void pcapng_length_over_the_end(void **state)
{
    (void)state;
    struct file file = make("pcapng", false);
    mark(&file, file.at[300] + 4, 1);
    const uint8_t length[] = {0, 0, 2, 0};
    memcpy(file.data + file.at[300] + 4, length, sizeof(length));
    check_pcapng(&file);
}

/* A type that nobody has defined: skipped by its length, counted. */
static void pcapng_block_of_unknown_type(void **state)
{
    (void)state;
    struct file file = make("pcapng", false);
    mark(&file, file.at[300], 1);
    file.data[file.at[300]] = 0x46;
    struct recording r = read_memory(file.data, file.size, NULL);
    assert_int_equal(r.status, BL_OK);
    assert_int_equal(notes_of(&r, "unknown-block"), 1);
    check_frames(&r, &file);
    close_recording(&r);
    free(file.data);
}

/* An interface may be lost with the damage: frames would go to the wrong
   bus. */
static void pcapng_is_not_read_behind_a_damaged_interface(void **state)
{
    (void)state;
    struct file file = make("pcapng", false);
    const size_t first = number(file.data + 4, false);
    memset(file.data + first + 4, 0xFF, 4);
    struct recording r = read_memory(file.data, file.size, NULL);
    assert_int_equal(r.status, BL_FORMAT);
    assert_int_equal(r.frames, 0);
    close_recording(&r);
    /* Its type is damaged too; the second interface then has no sure number. */
    memset(file.data + first, 0xFF, 8);
    r = read_memory(file.data, file.size, NULL);
    assert_int_equal(r.status, BL_FORMAT);
    assert_int_equal(r.frames, 0);
    close_recording(&r);
    free(file.data);
}

static void text_is_read_behind_damaged_lines(void **state)
{
    (void)state;
    for (size_t size = 1; size < 4000; size = size * 3 + 1) {
        struct file file = make("textlog", false);
        overwrite(&file, file.at[50] + 1, size, 0x01);
        struct recording r = read_memory(file.data, file.size, NULL);
        assert_int_equal(r.status, BL_OK);
        check_frames(&r, &file);
        close_recording(&r);
        free(file.data);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pcapng_is_read_behind_overwritten_bytes),
        cmocka_unit_test(pcapng_is_read_behind_lost_bytes),
        cmocka_unit_test(pcapng_with_damage_at_its_end),
        cmocka_unit_test(pcapng_length_over_the_end),
        cmocka_unit_test(pcapng_block_of_unknown_type),
        cmocka_unit_test(pcapng_is_not_read_behind_a_damaged_interface),
        cmocka_unit_test(text_is_read_behind_damaged_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
