/* SPDX-License-Identifier: MIT */
/*
 * Malformed and hostile captures that made other readers fail (openly
 * licensed): each ends in one clear line, or in a note with its count. What
 * the sanitizers say is part of the test.
 */
#include "recordings.h"

#include <dirent.h>

static void check_hostile(const char *folder, const char *name)
{
    char path[8192];
    snprintf(path, sizeof(path), "%s/%s", folder, name);
    struct recording r = read_file(path, NULL);
    const bool failed = r.open_status != BL_OK || r.status != BL_OK;
    if (failed) {
        print_message("%s: %s: %s\n", name, bl_status_name(r.error.status),
                      r.error.message);
        assert_true(r.error.message[0] != '\0');
        assert_null(strchr(r.error.message, '\n'));
        assert_string_equal(r.error.source, path);
    } else {
        if (r.info->notes.count == 0) {
            fail_msg("%s: neither an error nor a note", name);
        }
        for (size_t i = 0; i < r.info->notes.count; i++) {
            const struct bl_note *note = &r.info->notes.item[i];
            print_message("%s: note %s (%llu): %s\n", name, note->code,
                          (unsigned long long)note->count, note->text);
            assert_true(note->count > 0);
        }
    }
    struct bl_stored stored;
    assert_int_equal(bl_bytes_drain(r.source, &stored, NULL), BL_OK);
    assert_int_equal(strlen(stored.sha256), 64);
    close_recording(&r);
}

static void every_hostile_capture_is_met_calmly(void **state)
{
    (void)state;
    char folder[4096];
    char path[4096];
    shared_data("hostile-captures/LICENSE.txt", path, sizeof(path));
    test_path("BL_SHARED_DATA", "hostile-captures", folder, sizeof(folder));
    DIR *list = opendir(folder);
    assert_non_null(list);
    size_t count = 0;
    const struct dirent *entry;
    while ((entry = readdir(list)) != NULL) {
        if (entry->d_name[0] != '.' &&
            strncmp(entry->d_name, "LICENSE", 7) != 0) {
            check_hostile(folder, entry->d_name);
            count++;
        }
    }
    closedir(list);
    assert_true(count >= 50);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_hostile_capture_is_met_calmly),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
