/* SPDX-License-Identifier: MIT */
/*
 * Any bytes as a trial file. A trial that is read is walked through; mistakes
 * have a line or say why not, and the first of them is the error. Input that
 * names a file as mapping table is left out: the target stays in memory but
 * for the shipped tables.
 */
#include "brakelag/trial.h"

#include <stdlib.h>
#include <string.h>

static int names_a_file(const char *text, size_t size)
{
    for (size_t i = 0; i + 4 <= size; i++) {
        if (memcmp(text + i, "able", 4) == 0) {
            for (size_t k = i; k < size && text[k] != '\n' && text[k] != '\r';
                 k++) {
                if (text[k] == '/' || text[k] == '.') {
                    return 1;
                }
            }
        }
    }
    return 0;
}

static void check_trial(const struct bl_trial *trial)
{
    char label[16];
    for (size_t i = 0; i < trial->units; i++) {
        const struct bl_trial_unit *unit = &trial->unit[i];
        if (bl_trial_unit_index(trial, unit->combination, unit->number) !=
                (long)i ||
            bl_trial_unit_label(unit, label, sizeof(label))[0] == '\0') {
            abort();
        }
    }
    for (size_t i = 0; i < trial->recordings; i++) {
        if (trial->recording[i].run >= trial->runs ||
            trial->recording[i].files == 0) {
            abort();
        }
        (void)bl_trial_log_for(trial, &trial->recording[i]);
        for (size_t k = 0; k < trial->channels; k++) {
            (void)bl_trial_channel_in(&trial->channel[k], &trial->recording[i]);
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0 || names_a_file((const char *)data, size)) {
        return 0;
    }
    char *copy = malloc(size);
    struct bl_bytes *source = NULL;
    struct bl_trial *trial = NULL;
    struct bl_notes mistakes = {0};
    struct bl_error error;
    bl_error_clear(&error);
    if (copy == NULL) {
        return 0;
    }
    memcpy(copy, data, size);
    if (bl_bytes_open_memory(&source, "trial.ini", copy, size, &error) ==
        BL_OK) {
        const enum bl_status status =
            bl_trial_read(&trial, source, NULL, &mistakes, &error);
        if ((status == BL_OK) != (trial != NULL) ||
            (status == BL_TRIAL) != (mistakes.count > 0)) {
            abort();
        }
        if (trial != NULL) {
            check_trial(trial);
        } else if (status == BL_TRIAL &&
                   error.line != mistakes.item[0].first_line) {
            abort();
        }
    }
    bl_trial_destroy(trial);
    bl_notes_finish(&mistakes);
    bl_bytes_close(source);
    free(copy);
    return 0;
}
