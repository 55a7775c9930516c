/* SPDX-License-Identifier: MIT */
/*
 * Files of one folder that appear together or not at all. Everything is done
 * from the folder's own descriptor, with names that hold no path, so that a
 * link planted in the folder leads nowhere. A new file takes its name with
 * link(2), which never replaces; one that may be replaced with rename(2).
 */
#include "io/output.h"

#include "base/alloc.h"
#include "base/strbuf.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { NAME_TRIES = 1000, PART_BYTES = 64 };

struct entry {
    char *name;
    char part[PART_BYTES]; /* its name until all are whole; "": has its own */
    bool replace, whole, fresh;
};

struct bl_folder {
    char *path; /* as given, for messages */
    int fd;
    struct entry *entry;
    size_t entries, room;
    unsigned parts; /* names tried so far */
};

static enum bl_status fail_at(const struct bl_folder *folder, const char *name,
                              enum bl_status status, const char *what,
                              struct bl_error *error)
{
    struct bl_strbuf path = {0};
    bl_strbuf_format(&path, "%s%s%s", folder->path, name[0] == '\0' ? "" : "/",
                     name);
    status = bl_fail(error, status, bl_strbuf_get(&path), "%s", what);
    bl_strbuf_finish(&path);
    return status;
}

static enum bl_status fail_system(const struct bl_folder *folder,
                                  const char *name, const char *what,
                                  struct bl_error *error)
{
    char text[200];
    (void)snprintf(text, sizeof(text), "cannot %s: %s", what, strerror(errno));
    return fail_at(folder, name, BL_IO, text, error);
}

enum bl_status bl_folder_open(struct bl_folder **out, const char *path,
                              struct bl_error *error)
{
    *out = NULL;
    struct bl_folder *folder = bl_alloc(1, sizeof(*folder));
    char *copy = bl_strdup(path);
    if (folder == NULL || copy == NULL) {
        bl_free(folder);
        bl_free(copy);
        return bl_fail_memory(error);
    }
    folder->path = copy;
    folder->fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (folder->fd < 0) {
        const enum bl_status status =
            fail_system(folder, "", "write into the folder", error);
        bl_folder_close(folder);
        return status;
    }
    *out = folder;
    return BL_OK;
}

/* May something take this name? */
static enum bl_status check_place(const struct bl_folder *folder,
                                  const char *name, bool replace,
                                  struct bl_error *error)
{
    struct stat facts;
    if (name[0] == '\0' || strchr(name, '/') != NULL) {
        return fail_at(folder, name, BL_ARG, "expected a name without a path",
                       error);
    }
    if (fstatat(folder->fd, name, &facts, AT_SYMLINK_NOFOLLOW) != 0) {
        return errno == ENOENT ? BL_OK
                               : fail_system(folder, name, "write", error);
    }
    if (!S_ISREG(facts.st_mode)) {
        return fail_at(folder, name, BL_ARG,
                       S_ISDIR(facts.st_mode)
                           ? "expected a file or nothing, found a folder"
                       : S_ISLNK(facts.st_mode)
                           ? "expected a file or nothing, found a link"
                           : "expected a file or nothing, found a device or "
                             "pipe",
                       error);
    }
    return replace ? BL_OK
                   : fail_at(folder, name, BL_ARG,
                             "is there already and would be replaced", error);
}

/* Create the file under a name of its own. */
static int create_part(struct bl_folder *folder, struct entry *entry)
{
    for (unsigned i = 0; i < NAME_TRIES; i++) {
        (void)snprintf(entry->part, sizeof(entry->part),
                       ".brakelag-%ld-%u.part", (long)getpid(),
                       folder->parts++);
        const int fd =
            openat(folder->fd, entry->part,
                   O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
        if (fd >= 0 || (errno != EEXIST && errno != EINTR)) {
            return fd;
        }
    }
    return -1;
}

static struct entry *grow(struct bl_folder *folder, const char *name)
{
    if (folder->entries == folder->room) {
        const size_t room = folder->room == 0 ? 16 : 2 * folder->room;
        struct entry *grown = bl_realloc(folder->entry, room, sizeof(*grown));
        if (grown == NULL) {
            return NULL;
        }
        folder->entry = grown;
        folder->room = room;
    }
    struct entry *entry = &folder->entry[folder->entries];
    memset(entry, 0, sizeof(*entry));
    entry->name = bl_strdup(name);
    if (entry->name == NULL) {
        return NULL;
    }
    folder->entries++;
    return entry;
}

enum bl_status bl_folder_add(struct bl_folder *folder, const char *name,
                             bool replace, struct bl_output **out,
                             struct bl_error *error)
{
    *out = NULL;
    enum bl_status status = check_place(folder, name, replace, error);
    if (status != BL_OK) {
        return status;
    }
    struct entry *entry = grow(folder, name);
    struct bl_strbuf path = {0};
    bl_strbuf_format(&path, "%s/%s", folder->path, name);
    if (entry == NULL || path.failed) {
        bl_strbuf_finish(&path);
        return bl_fail_memory(error);
    }
    entry->replace = replace;
    const int fd = create_part(folder, entry);
    if (fd < 0) {
        status = fail_system(folder, name, "create", error);
        entry->part[0] = '\0';
    } else {
        status = bl_output_on_file(out, fd, bl_strbuf_get(&path), error);
        if (status != BL_OK) {
            (void)close(fd);
        }
    }
    bl_strbuf_finish(&path);
    return status;
}

enum bl_status bl_folder_keep(struct bl_folder *folder,
                              struct bl_output *output, struct bl_error *error)
{
    const enum bl_status status = bl_output_commit(output, error);
    if (folder->entries > 0) {
        folder->entry[folder->entries - 1].whole = status == BL_OK;
    }
    return status;
}

/* File systems without hard links (those of memory sticks) need rename, after
   another look. */
static bool no_links(int code)
{
    return code == EPERM || code == EOPNOTSUPP || code == ENOSYS ||
           code == EMLINK;
}

static enum bl_status give_name(const struct bl_folder *folder,
                                struct entry *entry, struct bl_error *error)
{
    bool linked = false;
    if (!entry->replace) {
        linked =
            linkat(folder->fd, entry->part, folder->fd, entry->name, 0) == 0;
        if (!linked &&
            (!no_links(errno) ||
             check_place(folder, entry->name, false, error) != BL_OK)) {
            return fail_system(folder, entry->name, "give the file its name",
                               error);
        }
        entry->fresh = true;
    }
    if (linked) {
        (void)unlinkat(folder->fd, entry->part, 0);
    } else if (renameat(folder->fd, entry->part, folder->fd, entry->name) !=
               0) {
        entry->fresh = false;
        return fail_system(folder, entry->name, "give the file its name",
                           error);
    }
    entry->part[0] = '\0';
    return BL_OK;
}

enum bl_status bl_folder_commit(struct bl_folder *folder, const char *first,
                                struct bl_error *error)
{
    for (size_t i = 0; i < folder->entries; i++) {
        if (!folder->entry[i].whole) {
            return fail_at(folder, folder->entry[i].name, BL_ARG,
                           "is not whole", error);
        }
    }
    if (first != NULL && unlinkat(folder->fd, first, 0) != 0 &&
        errno != ENOENT) {
        return fail_system(folder, first, "remove", error);
    }
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < folder->entries; i++) {
        status = give_name(folder, &folder->entry[i], error);
    }
    for (size_t i = 0; status != BL_OK && i < folder->entries; i++) {
        if (folder->entry[i].fresh) {
            (void)unlinkat(folder->fd, folder->entry[i].name, 0);
        }
    }
    (void)fsync(folder->fd); /* what cannot has done all it does */
    return status;
}

void bl_folder_close(struct bl_folder *folder)
{
    if (folder == NULL) {
        return;
    }
    for (size_t i = 0; i < folder->entries; i++) {
        if (folder->entry[i].part[0] != '\0') {
            (void)unlinkat(folder->fd, folder->entry[i].part, 0);
        }
        bl_free(folder->entry[i].name);
    }
    if (folder->fd >= 0) {
        (void)close(folder->fd);
    }
    bl_free(folder->entry);
    bl_free(folder->path);
    bl_free(folder);
}
