/* SPDX-License-Identifier: MIT */
/*
 * Which bus signals are turned into series: those that the trial names, and
 * those whose role some analysis looks for. The rest of the traffic is only
 * counted.
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

static const enum bl_role looked_for[] = {
    BL_ROLE_SERVICE_DEMAND,         BL_ROLE_PEDAL_POSITION,
    BL_ROLE_BRAKE_SWITCH,           BL_ROLE_BRAKE_ACTIVE,
    BL_ROLE_AUTOMATIC_BRAKING,      BL_ROLE_ABS_ACTIVE,
    BL_ROLE_SUPPLY_SUFFICIENT,      BL_ROLE_ELECTRIC_SUPPLY_SUFFICIENT,
    BL_ROLE_CONTROL_LINE_PRESENT,   BL_ROLE_CIRCUITS,
    BL_ROLE_LINE_BRAKING_SUPPORTED, BL_ROLE_PARK_BRAKE,
    BL_ROLE_SPRING_BRAKE_ENGAGED,   BL_ROLE_SUPPLY_LINE_REQUEST,
    BL_ROLE_STOP_LAMP_REQUEST,      BL_ROLE_WARNING_RED,
    BL_ROLE_WARNING_AMBER,
};

struct list {
    const struct bl_signal **item;
    size_t count, capacity;
    bool failed;
};

static void add(struct list *list, const struct bl_signal *signal)
{
    for (size_t i = 0; i < list->count; i++) {
        if (list->item[i] == signal) {
            return;
        }
    }
    if (!bl_grow(&list->item, &list->capacity, list->count + 1,
                 sizeof(*list->item), BL_LIMIT_TABLE_ROWS)) {
        list->failed = true;
        return;
    }
    list->item[list->count++] = signal;
}

static void add_input(struct list *list, const struct bl_trial_input *input)
{
    if (input->kind == BL_INPUT_SIGNAL && input->signal.signal != NULL) {
        add(list, input->signal.signal);
    }
}

static void add_unit(struct list *list, const struct bl_trial_unit *unit)
{
    add_input(list, &unit->command);
    add_input(list, &unit->control);
    add_input(list, &unit->control_b);
    add_input(list, &unit->control_out);
    add_input(list, &unit->reservoir);
    add_input(list, &unit->voltage);
    for (size_t i = 0; i < unit->outputs; i++) {
        add_input(list, &unit->output[i]);
    }
}

static void add_clock(struct list *list, const struct bl_trial_clock *clock)
{
    if (clock->kind == BL_CLOCK_SYNC && clock->signal_ref.signal != NULL) {
        add(list, clock->signal_ref.signal);
    }
}

static void add_role(struct list *list, const struct bl_tables *tables,
                     enum bl_role role)
{
    const size_t count = bl_tables_by_role(tables, role, NULL, 0);
    if (count == 0) {
        return;
    }
    const struct bl_signal **found = bl_alloc(count, sizeof(*found));
    if (found == NULL) {
        list->failed = true;
        return;
    }
    (void)bl_tables_by_role(tables, role, found, count);
    for (size_t i = 0; i < count; i++) {
        add(list, found[i]);
    }
    bl_free(found);
}

enum bl_status bl_wanted_signals(const struct bl_trial *trial,
                                 const struct bl_signal ***out, size_t *count,
                                 struct bl_error *error)
{
    struct list list = {0};
    for (size_t i = 0; i < trial->units; i++) {
        add_unit(&list, &trial->unit[i]);
    }
    for (size_t i = 0; i < trial->runs; i++) {
        add_clock(&list, &trial->run[i].clock);
    }
    for (size_t i = 0; i < trial->recordings; i++) {
        add_clock(&list, &trial->recording[i].clock);
    }
    if (trial->tables != NULL) {
        for (size_t i = 0; i < sizeof(looked_for) / sizeof(looked_for[0]);
             i++) {
            add_role(&list, trial->tables, looked_for[i]);
        }
    }
    if (list.failed) {
        bl_free(list.item);
        return bl_fail_memory(error);
    }
    *out = list.item;
    *count = list.count;
    return BL_OK;
}
