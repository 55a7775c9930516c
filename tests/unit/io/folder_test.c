/* SPDX-License-Identifier: MIT */
/* Files of one folder: all or none, nothing replaced unasked, no link followed.
   What rename(2), link(2) and openat(2) promise is POSIX.1-2008. */
/* P_tmpdir is in POSIX.1-2008, but as an XSI extension. */
#define _XOPEN_SOURCE 700
#include "testing.h"

#include "base/alloc.h"
#include "brakelag/io.h"

#include <dirent.h>
#include <sys/stat.h>
#include <unistd.h>

static char place[1024];

static int make_place(void **state)
{
    (void)state;
    const char *parent = getenv("TMPDIR");
    (void)snprintf(place, sizeof(place), "%s/brakelag-folder-XXXXXX",
                   parent == NULL ? P_tmpdir : parent);
    return mkdtemp(place) == NULL ? -1 : 0;
}

static const char *in_place(const char *name)
{
    static char path[1400]; /* the folder, and a name as long as it may be */
    (void)snprintf(path, sizeof(path), "%s/%s", place, name);
    return path;
}

/* Files there; all of them removed when `away`. */
static int count_files(bool away)
{
    DIR *list = opendir(place);
    assert_non_null(list);
    int count = 0;
    const struct dirent *entry;
    while ((entry = readdir(list)) != NULL) {
        if (strcmp(entry->d_name, ".") != 0 &&
            strcmp(entry->d_name, "..") != 0) {
            count++;
            assert_true(!away || remove(in_place(entry->d_name)) == 0);
        }
    }
    closedir(list);
    return count;
}

static int remove_place(void **state)
{
    (void)state;
    (void)count_files(true);
    return rmdir(place);
}

static void put(const char *name, const char *text)
{
    FILE *file = fopen(in_place(name), "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

static void assert_holds(const char *name, const char *expected)
{
    char text[64] = "";
    FILE *file = fopen(in_place(name), "r");
    assert_non_null(file);
    assert_int_equal(fread(text, 1, sizeof(text) - 1, file), strlen(expected));
    assert_int_equal(fclose(file), 0);
    assert_string_equal(text, expected);
}

static enum bl_status write_one(struct bl_folder *folder, const char *name,
                                bool replace, struct bl_error *error)
{
    struct bl_output *output;
    const enum bl_status status =
        bl_folder_add(folder, name, replace, &output, error);
    if (status != BL_OK) {
        return status;
    }
    bl_output_text(output, "new");
    return bl_folder_keep(folder, output, error);
}

static struct bl_folder *opened(void)
{
    struct bl_folder *folder;
    assert_int_equal(bl_folder_open(&folder, place, NULL), BL_OK);
    return folder;
}

static void all_appear_at_commit(void **state)
{
    (void)state;
    put("old", "old");
    put("list", "list");
    struct bl_folder *folder = opened();
    assert_int_equal(write_one(folder, "a", false, NULL), BL_OK);
    assert_int_equal(write_one(folder, "old", true, NULL), BL_OK);
    assert_int_not_equal(access(in_place("a"), F_OK), 0);
    assert_holds("old", "old");
    assert_int_equal(bl_folder_commit(folder, "list", NULL), BL_OK);
    bl_folder_close(folder);
    assert_holds("a", "new");
    assert_holds("old", "new");
    assert_int_not_equal(access(in_place("list"), F_OK), 0);
    assert_int_equal(count_files(true), 2);
}

static void nothing_appears_without_commit(void **state)
{
    (void)state;
    struct bl_folder *folder = opened();
    struct bl_output *output;
    assert_int_equal(write_one(folder, "a", false, NULL), BL_OK);
    assert_int_equal(bl_folder_add(folder, "b", false, &output, NULL), BL_OK);
    bl_output_discard(output);
    assert_int_equal(bl_folder_commit(folder, NULL, NULL), BL_ARG);
    bl_folder_close(folder);
    bl_folder_close(NULL);
    assert_int_equal(count_files(true), 0);
}

static void what_is_there_stays(void **state)
{
    (void)state;
    struct bl_error error;
    put("file", "old");
    assert_int_equal(symlink("file", in_place("link")), 0);
    assert_int_equal(mkdir(in_place("folder"), 0777), 0);
    struct bl_folder *folder = opened();
    static const struct {
        const char *name, *says;
        bool replace;
    } cases[] = {{"file", "is there already", false},
                 {"link", "found a link", false},
                 {"link", "found a link", true},
                 {"folder", "found a folder", true},
                 {"../file", "a name without a path", false},
                 {"", "a name without a path", false}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        bl_error_clear(&error);
        assert_int_equal(
            write_one(folder, cases[i].name, cases[i].replace, &error), BL_ARG);
        assert_non_null(strstr(error.message, cases[i].says));
    }
    /* What comes there between the look and the commit stays too. */
    assert_int_equal(write_one(folder, "first", false, NULL), BL_OK);
    assert_int_equal(write_one(folder, "late", false, NULL), BL_OK);
    put("late", "old");
    assert_int_equal(bl_folder_commit(folder, NULL, &error), BL_IO);
    bl_folder_close(folder);
    assert_holds("late", "old");
    assert_holds("file", "old");
    assert_int_equal(count_files(true), 4);
}

static void a_folder_that_is_none_is_refused(void **state)
{
    (void)state;
    struct bl_folder *folder;
    assert_int_equal(bl_folder_open(&folder, in_place("nowhere"), NULL), BL_IO);
    put("file", "old");
    assert_int_equal(bl_folder_open(&folder, in_place("file"), NULL), BL_IO);
    assert_int_equal(count_files(true), 1);
}

static enum bl_status try_all(void)
{
    struct bl_folder *folder;
    enum bl_status status = bl_folder_open(&folder, place, NULL);
    if (status == BL_OK) {
        status = write_one(folder, "a", false, NULL);
        status = status == BL_OK ? write_one(folder, "b", false, NULL) : status;
        status =
            status == BL_OK ? bl_folder_commit(folder, NULL, NULL) : status;
        bl_folder_close(folder);
    }
    return status;
}

static void any_allocation_may_fail(void **state)
{
    (void)state;
    unsigned refused = 0;
    enum bl_status status = BL_NOMEM;
    for (uint64_t at = 1; status != BL_OK && at < 100; at++) {
        bl_alloc_fail_at(at);
        status = try_all();
        bl_alloc_fail_at(0);
        if (status != BL_OK) {
            assert_int_equal(status, BL_NOMEM);
            assert_int_equal(count_files(false), 0);
            refused++;
        }
    }
    assert_true(refused > 5);
    assert_int_equal(status, BL_OK);
    assert_int_equal(count_files(true), 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_appear_at_commit),
        cmocka_unit_test(nothing_appears_without_commit),
        cmocka_unit_test(what_is_there_stays),
        cmocka_unit_test(a_folder_that_is_none_is_refused),
        cmocka_unit_test(any_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, make_place, remove_place);
}
