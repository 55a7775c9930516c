/* SPDX-License-Identifier: MIT */
/* P_tmpdir is in POSIX.1-2008, but as an XSI extension. */
#define _XOPEN_SOURCE 700
#include "testing.h"

#include "base/alloc.h"
#include "brakelag/io.h"

#include <dirent.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[1024];

static int make_folder(void **state)
{
    (void)state;
    const char *parent = getenv("TMPDIR");
    snprintf(folder, sizeof(folder), "%s/brakelag-output-XXXXXX",
             parent == NULL ? P_tmpdir : parent);
    return mkdtemp(folder) == NULL ? -1 : 0;
}

static int remove_folder(void **state)
{
    (void)state;
    return rmdir(folder);
}

static const char *in_folder(const char *name, char *path, size_t size)
{
    snprintf(path, size, "%s/%s", folder, name);
    return path;
}

static void check_file(const char *path, const char *expected)
{
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    char text[256];
    const size_t size = fread(text, 1, sizeof(text), file);
    fclose(file);
    assert_int_equal(size, strlen(expected));
    assert_memory_equal(text, expected, size);
}

static int files_in_folder(void)
{
    DIR *list = opendir(folder);
    assert_non_null(list);
    int count = 0;
    const struct dirent *entry;
    while ((entry = readdir(list)) != NULL) {
        count +=
            strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    }
    closedir(list);
    return count;
}

static void a_file_appears_with_commit(void **state)
{
    (void)state;
    char path[4096];
    in_folder("result.txt", path, sizeof(path));
    struct bl_output *output;
    assert_int_equal(bl_output_open(&output, path, NULL), BL_OK);
    bl_output_text(output, "lag ");
    bl_output_format(output, "%d ms", 120);
    assert_int_equal(access(path, F_OK), -1);
    assert_int_equal(bl_output_commit(output, NULL), BL_OK);
    check_file(path, "lag 120 ms");
    assert_int_equal(files_in_folder(), 1);
    unlink(path);
}

static void an_older_file_stays_until_commit(void **state)
{
    (void)state;
    char path[4096];
    in_folder("old.txt", path, sizeof(path));
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    fputs("older", file);
    fclose(file);
    assert_int_equal(chmod(path, 0640), 0);
    struct bl_output *output;
    assert_int_equal(bl_output_open(&output, path, NULL), BL_OK);
    bl_output_text(output, "newer");
    bl_output_discard(output);
    check_file(path, "older");
    assert_int_equal(files_in_folder(), 1);
    assert_int_equal(bl_output_open(&output, path, NULL), BL_OK);
    bl_output_text(output, "newer");
    assert_int_equal(bl_output_commit(output, NULL), BL_OK);
    check_file(path, "newer");
    struct stat facts;
    assert_int_equal(stat(path, &facts), 0);
    assert_int_equal(facts.st_mode & 0777, 0640);
    unlink(path);
}

static void a_link_stays_a_link(void **state)
{
    (void)state;
    char path[4096];
    char link[4096];
    in_folder("target.txt", path, sizeof(path));
    in_folder("link.txt", link, sizeof(link));
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    fclose(file);
    assert_int_equal(symlink(path, link), 0);
    struct bl_output *output;
    assert_int_equal(bl_output_open(&output, link, NULL), BL_OK);
    bl_output_text(output, "through");
    assert_int_equal(bl_output_commit(output, NULL), BL_OK);
    struct stat facts;
    assert_int_equal(lstat(link, &facts), 0);
    assert_true(S_ISLNK(facts.st_mode));
    check_file(path, "through");
    unlink(link);
    unlink(path);
}

static void a_missing_folder_is_said(void **state)
{
    (void)state;
    char path[4096];
    in_folder("missing/result.txt", path, sizeof(path));
    struct bl_output *output;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_output_open(&output, path, &error), BL_IO);
    assert_null(output);
    assert_string_equal(error.source, path);
    assert_non_null(strstr(error.message, "cannot create"));
    bl_error_clear(&error);
    assert_int_equal(bl_output_open(&output, folder, &error), BL_IO);
    assert_non_null(strstr(error.message, "cannot write"));
}

static void a_full_disk_is_said(void **state)
{
    (void)state;
    if (access("/dev/full", W_OK) != 0) {
        print_message("skipped: no /dev/full\n");
        skip();
    }
    struct bl_output *output;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_output_open(&output, "/dev/full", NULL), BL_OK);
    for (int i = 0; i < 100000; i++) {
        bl_output_text(output, "more than one buffer of text");
    }
    assert_int_equal(bl_output_commit(output, &error), BL_IO);
    assert_non_null(strstr(error.message, "cannot write: No space left"));
    struct stat facts;
    assert_int_equal(stat("/dev/full", &facts), 0);
    assert_true(S_ISCHR(facts.st_mode));
}

static void standard_output_reports_a_full_disk(void **state)
{
    (void)state;
    FILE *full = fopen("/dev/full", "wb");
    if (full == NULL) {
        print_message("skipped: no /dev/full\n");
        skip();
        return;
    }
    fflush(stdout);
    const int kept = dup(STDOUT_FILENO);
    assert_true(dup2(fileno(full), STDOUT_FILENO) >= 0);
    struct bl_output *output;
    struct bl_error error;
    bl_error_clear(&error);
    const enum bl_status opened = bl_output_open(&output, "-", NULL);
    bl_output_text(output, "result");
    const enum bl_status status = bl_output_commit(output, &error);
    assert_true(dup2(kept, STDOUT_FILENO) >= 0);
    close(kept);
    fclose(full);
    assert_int_equal(opened, BL_OK);
    assert_int_equal(status, BL_IO);
    assert_string_equal(error.source, "-");
}

static void memory_holds_what_was_written(void **state)
{
    (void)state;
    struct bl_output *output;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    char wide[2000];
    memset(wide, 'w', sizeof(wide) - 1);
    wide[sizeof(wide) - 1] = '\0';
    bl_output_format(output, "<%s>", wide);
    bl_output_write(output, "\0z", 2);
    size_t size;
    const char *text = bl_output_memory(output, &size);
    assert_int_equal(size, 2001 + 2);
    assert_memory_equal(text + 1, wide, 1999);
    assert_memory_equal(text + 2000, ">\0z", 4);
    bl_output_discard(output);
    bl_output_discard(NULL);
}

static void out_of_memory_sticks(void **state)
{
    (void)state;
    struct bl_output *output;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    bl_alloc_fail_at(1);
    bl_output_text(output, "lost");
    bl_alloc_fail_at(0);
    bl_output_text(output, "not written either");
    size_t size;
    assert_null(bl_output_memory(output, &size));
    assert_int_equal(bl_output_commit(output, NULL), BL_NOMEM);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    char path[4096];
    in_folder("memory.txt", path, sizeof(path));
    bool opened = false;
    for (uint64_t n = 1; !opened; n++) {
        assert_true(n < 100);
        struct bl_output *output;
        bl_alloc_fail_at(n);
        const enum bl_status status = bl_output_open(&output, path, NULL);
        bl_alloc_fail_at(0);
        opened = status == BL_OK;
        assert_true(opened || (status == BL_NOMEM && output == NULL));
        bl_output_discard(output);
        assert_int_equal(files_in_folder(), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_appears_with_commit),
        cmocka_unit_test(an_older_file_stays_until_commit),
        cmocka_unit_test(a_link_stays_a_link),
        cmocka_unit_test(a_missing_folder_is_said),
        cmocka_unit_test(a_full_disk_is_said),
        cmocka_unit_test(standard_output_reports_a_full_disk),
        cmocka_unit_test(memory_holds_what_was_written),
        cmocka_unit_test(out_of_memory_sticks),
        cmocka_unit_test(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
