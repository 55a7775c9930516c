/* SPDX-License-Identifier: MIT */
/* Reach of the demand as a tree: one entry per run, with its hops, its buses
   and what else was said on them. */
#include "report/result.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static json_t *figure(struct bl_tree *tree, const struct bl_figure *passage)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_number(tree, object, "s", passage->known ? passage->s : NAN);
    bl_tree_number(tree, object, "u_s", passage->known ? passage->u_s : NAN);
    if (!passage->known) {
        bl_tree_text(tree, object, "reason", bl_reason_name(passage->reason));
    }
    return object;
}

static json_t *interval(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_number(tree, object, "least_s", unit->least_s);
    bl_tree_number(tree, object, "median_s", unit->median_s);
    bl_tree_number(tree, object, "most_s", unit->most_s);
    bl_tree_number(tree, object, "nominal_s", unit->nominal_s);
    return object;
}

static json_t *gaps(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < unit->gaps; i++) {
        const struct bl_reach_gap *gap = &unit->gap[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_number(tree, object, "from_s", gap->from_s);
        bl_tree_number(tree, object, "length_s", gap->length_s);
        bl_tree_number(tree, object, "application",
                       gap->application > 0 ? gap->application : NAN);
        bl_tree_text(tree, object, "stopped", bl_gap_kind_name(gap->kind));
        bl_tree_bool(tree, object, "to_end", gap->to_end);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *claims(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *object = bl_tree_object(tree);
    for (size_t i = 0; i < BL_REACH_CLAIMS; i++) {
        const enum bl_reach_claim claim = (enum bl_reach_claim)i;
        json_t *one = bl_tree_object(tree);
        bl_tree_text(tree, one, "answer",
                     bl_reach_answer_name(unit->claim[i].answer));
        bl_tree_text(tree, one, "why", unit->claim[i].why);
        bl_tree_put(tree, object, bl_reach_claim_name(claim), one);
    }
    return object;
}

static json_t *counts(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < unit->counts; i++) {
        const struct bl_reach_count *counted = &unit->count[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_count(tree, object, "application",
                      (uint64_t)counted->application);
        bl_tree_count(tree, object, "frames", counted->frames);
        bl_tree_count(tree, object, "lost", counted->lost);
        bl_tree_text(tree, object, "moves",
                     counted->asked ? bl_reach_answer_name(counted->moved)
                                    : NULL);
        bl_tree_number(tree, object, "stands_at_kpa", counted->stands_kpa);
        bl_tree_number(tree, object, "delay_s", counted->delay_s);
        bl_tree_bool(tree, object, "late", counted->late);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *invalid(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_count(tree, object, "not_available", unit->not_available);
    bl_tree_count(tree, object, "error", unit->error);
    bl_tree_count(tree, object, "other", unit->other_invalid);
    bl_tree_count(tree, object, "in_applications", unit->invalid_braking);
    bl_tree_number(tree, object, "first_application",
                   unit->invalid_application > 0 ? unit->invalid_application
                                                 : NAN);
    return object;
}

static json_t *value(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_count(tree, object, "compared", unit->compared);
    bl_tree_count(tree, object, "compared_braking", unit->compared_braking);
    bl_tree_count(tree, object, "differing", unit->differing);
    bl_tree_number(tree, object, "difference_counts", unit->difference_counts);
    bl_tree_number(tree, object, "difference_kpa", unit->difference_kpa);
    bl_tree_number(tree, object, "share_of_hop_before", unit->share);
    bl_tree_number(tree, object, "got_kpa", unit->got_kpa);
    bl_tree_number(tree, object, "passed_kpa", unit->passed_kpa);
    bl_tree_number(tree, object, "capped_kpa", unit->capped_kpa);
    return object;
}

static json_t *demand(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_bool(tree, object, "present", unit->found);
    if (!unit->found) {
        return object;
    }
    bl_tree_text(tree, object, "message", unit->signal->message->name);
    bl_tree_text(tree, object, "signal", unit->signal->name);
    bl_tree_bool(tree, object, "split", unit->split);
    bl_tree_bool(tree, object, "other_address", unit->other_address);
    char id[16];
    (void)snprintf(id, sizeof(id), unit->extended ? "%08X" : "%03X",
                   (unsigned)unit->id);
    bl_tree_text(tree, object, "id", id);
    bl_tree_number(tree, object, "from_address",
                   unit->extended ? unit->source : NAN);
    bl_tree_number(tree, object, "to_address",
                   unit->extended ? unit->destination : NAN);
    bl_tree_count(tree, object, "frames", unit->frames);
    bl_tree_count(tree, object, "stored_twice", unit->twice);
    bl_tree_put(tree, object, "interval", interval(tree, unit));
    bl_tree_number(tree, object, "period_s", unit->period_s);
    bl_tree_count(tree, object, "lost", unit->lost);
    bl_tree_number(tree, object, "lost_share", unit->lost_share);
    bl_tree_put(tree, object, "gaps", gaps(tree, unit));
    bl_tree_put(tree, object, "by_application", counts(tree, unit));
    bl_tree_put(tree, object, "without_value", invalid(tree, unit));
    bl_tree_number(tree, object, "first_frame_s", unit->first_frame_s);
    bl_tree_number(tree, object, "first_valid_s", unit->first_valid_s);
    bl_tree_put(tree, object, "against_first_hop", value(tree, unit));
    bl_tree_put(tree, object, "delay", figure(tree, &unit->delay));
    bl_tree_put(tree, object, "added", figure(tree, &unit->added));
    bl_tree_number(tree, object, "worst_delay_s", unit->worst_delay_s);
    bl_tree_count(tree, object, "edges", unit->edges);
    return object;
}

static json_t *statuses(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < unit->statuses; i++) {
        const struct bl_reach_status *status = &unit->status[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_word(tree, object, "role", bl_role_name(status->signal->role),
                     (int)status->signal->role);
        bl_tree_text(tree, object, "message", status->signal->message->name);
        bl_tree_text(tree, object, "signal", status->signal->name);
        bl_tree_count(tree, object, "frames", status->frames);
        bl_tree_count(tree, object, "on", status->on);
        bl_tree_count(tree, object, "off",
                      status->frames - status->on - status->not_valid);
        bl_tree_count(tree, object, "not_valid", status->not_valid);
        bl_tree_bool(tree, object, "on_in_application",
                     status->on_in_application);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *follow(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < unit->follows_count; i++) {
        const struct bl_reach_follow *followed = &unit->follow[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_count(tree, object, "application",
                      (uint64_t)followed->application);
        bl_tree_text(tree, object, "by_lead",
                     bl_follows_name(followed->follow.by_lead));
        bl_tree_text(tree, object, "by_level",
                     bl_follows_name(followed->follow.by_level));
        bl_tree_number(tree, object, "lead_s", followed->follow.lead_s);
        bl_tree_number(tree, object, "u_lead_s", followed->follow.u_lead_s);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static void name_members(struct bl_tree *tree, json_t *object,
                         const struct bl_name *name)
{
    char raw[20];
    (void)snprintf(raw, sizeof(raw), "%016llX", (unsigned long long)name->raw);
    bl_tree_text(tree, object, "name", raw);
    bl_tree_count(tree, object, "manufacturer", name->manufacturer);
    bl_tree_count(tree, object, "function", name->function);
    bl_tree_count(tree, object, "identity", name->identity);
}

static json_t *said(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_count(tree, object, "frames", unit->status_frames);
    json_t *claimed = unit->has_name ? bl_tree_object(tree) : json_null();
    if (unit->has_name) {
        name_members(tree, claimed, &unit->name);
    }
    bl_tree_put(tree, object, "claims", claimed);
    bl_tree_put(tree, object, "status", statuses(tree, unit));
    return object;
}

static json_t *voltage(struct bl_tree *tree, const struct bl_reach_unit *unit)
{
    json_t *volts = bl_tree_object(tree);
    bl_tree_number(tree, volts, "least", unit->volts_least);
    bl_tree_number(tree, volts, "u", unit->u_volts);
    bl_tree_text(tree, volts, "unit", "V");
    bl_tree_number(tree, volts, "at_s", unit->volts_least_s);
    return volts;
}

static json_t *unit_object(struct bl_tree *tree, const struct bl_trial *trial,
                           const struct bl_reach_unit *unit)
{
    json_t *object = bl_tree_object(tree);
    bl_model_unit(tree, object, trial, unit->unit);
    bl_tree_text(tree, object, "verdict", bl_reach_verdict_name(unit->verdict));
    json_t *why = bl_tree_array(tree);
    for (size_t i = 0; i < unit->whys; i++) {
        bl_tree_append_text(tree, why, unit->why[i]);
    }
    bl_tree_put(tree, object, "why", why);
    bl_tree_put(tree, object, "claims", claims(tree, unit));
    bl_tree_text(tree, object, "bus", unit->bus);
    bl_tree_number(tree, object, "address_from_link",
                   unit->address_taken ? unit->address : NAN);
    bl_tree_bool(tree, object, "tapped", unit->tapped);
    bl_tree_put(tree, object, "demand", demand(tree, unit));
    bl_tree_text(tree, object, "follows", bl_follows_name(unit->follows));
    bl_tree_put(tree, object, "follows_by_application", follow(tree, unit));
    bl_tree_put(tree, object, "said", said(tree, unit));
    bl_tree_text(tree, object, "called_for",
                 unit->called_known ? unit->called : NULL);
    bl_tree_text(tree, object, "towing_kind", unit->towing_kind);
    bl_tree_put(tree, object, "voltage_while_braking", voltage(tree, unit));
    return object;
}

static void link_place(struct bl_tree *tree, json_t *object,
                       const struct bl_trial *trial,
                       const struct bl_run_data *data, size_t recording,
                       size_t bus)
{
    const struct bl_loaded_recording *loaded = &data->recording[recording];
    bl_tree_text(tree, object, "recording",
                 trial->recording[loaded->recording].name);
    bl_tree_text(tree, object, "bus", loaded->bus[bus]);
}

/* Everybody who sends a demand on a recorded link. */
static json_t *senders(struct bl_tree *tree, const struct bl_trial *trial,
                       const struct bl_run_data *data,
                       const struct bl_reach *reach)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < reach->senders; i++) {
        const struct bl_reach_sender *sender = &reach->sender[i];
        char label[32];
        char id[16];
        json_t *object = bl_tree_object(tree);
        bl_tree_text(
            tree, object, "recording",
            trial->recording[data->recording[sender->recording].recording]
                .name);
        bl_tree_text(tree, object, "bus", sender->bus);
        bl_tree_text(tree, object, "message", sender->signal->message->name);
        (void)snprintf(id, sizeof(id), sender->extended ? "%08X" : "%03X",
                       (unsigned)sender->id);
        bl_tree_text(tree, object, "id", id);
        bl_tree_number(tree, object, "from_address",
                       sender->extended ? sender->source : NAN);
        bl_tree_number(tree, object, "to_address",
                       sender->extended ? sender->destination : NAN);
        bl_tree_count(tree, object, "frames", sender->frames);
        bl_tree_count(tree, object, "without_value", sender->without_value);
        bl_tree_number(tree, object, "least_kpa", sender->least_kpa);
        bl_tree_number(tree, object, "most_kpa", sender->most_kpa);
        bl_tree_text(tree, object, "unit",
                     sender->unit < 0
                         ? NULL
                         : bl_trial_unit_label(&trial->unit[sender->unit],
                                               label, sizeof(label)));
        bl_tree_bool(tree, object, "second", sender->second);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *buses(struct bl_tree *tree, const struct bl_trial *trial,
                     const struct bl_run_data *data)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < data->links.buses; i++) {
        const struct bl_link_bus *bus = &data->links.bus[i];
        const bool untimed = data->recording[bus->recording].untimed;
        const double span_s =
            untimed ? NAN : (double)(bus->last_ns - bus->first_ns) * 1e-9;
        json_t *object = bl_tree_object(tree);
        link_place(tree, object, trial, data, bus->recording, bus->bus);
        bl_tree_count(tree, object, "frames", bus->frames);
        bl_tree_count(tree, object, "remote_frames", bus->remote);
        bl_tree_count(tree, object, "error_frames", bus->errors);
        json_t *classes = bl_tree_object(tree);
        for (unsigned c = 0; c < BL_ERROR_CLASSES; c++) {
            if (bus->error_class[c] > 0) {
                bl_tree_count(tree, classes, bl_error_class_name(c),
                              bus->error_class[c]);
            }
        }
        bl_tree_put(tree, object, "error_classes", classes);
        bl_tree_number(tree, object, "bits_per_s",
                       span_s > 0 ? (double)bus->bits / span_s : NAN);
        if (untimed) {
            bl_tree_number(tree, object, "busiest_bits_per_s", NAN);
        } else {
            bl_tree_count(tree, object, "busiest_bits_per_s",
                          bus->busiest_bits);
        }
        bl_tree_append(tree, array, object);
    }
    return array;
}

/* Versions 1 to 3 where the message does not tell which. */
static void readings(struct bl_tree *tree, json_t *object,
                     const struct bl_trial *trial,
                     const struct bl_trouble *code)
{
    uint32_t spn[3];
    const size_t count = bl_trouble_readings(code, spn);
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < count && count > 1; i++) {
        const struct bl_signal *named = bl_spn_signal(trial->tables, spn[i]);
        json_t *one = bl_tree_object(tree);
        bl_tree_count(tree, one, "version", i + 1);
        bl_tree_count(tree, one, "spn", spn[i]);
        bl_tree_text(tree, one, "spn_text", named == NULL ? NULL : named->name);
        bl_tree_append(tree, array, one);
    }
    bl_tree_put(tree, object, "spn_readings", array);
}

static json_t *troubles(struct bl_tree *tree, const struct bl_trial *trial,
                        const struct bl_run_data *data)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < data->links.troubles; i++) {
        const struct bl_link_trouble *trouble = &data->links.trouble[i];
        const bool method = trouble->code.method != 0;
        const struct bl_signal *named =
            method ? NULL : bl_spn_signal(trial->tables, trouble->code.spn);
        json_t *object = bl_tree_object(tree);
        link_place(tree, object, trial, data, trouble->recording, trouble->bus);
        bl_tree_count(tree, object, "address", trouble->source);
        bl_tree_put(tree, object, "spn",
                    method ? json_null() : json_integer(trouble->code.spn));
        bl_tree_text(tree, object, "spn_text",
                     named == NULL ? NULL : named->name);
        readings(tree, object, trial, &trouble->code);
        bl_tree_count(tree, object, "fmi", trouble->code.fmi);
        bl_tree_text(tree, object, "fmi_text", bl_fmi_text(trouble->code.fmi));
        bl_tree_count(tree, object, "occurrences", trouble->code.count);
        bl_tree_bool(tree, object, "conversion_method", method);
        bl_tree_bool(tree, object, "multi_packet", trouble->multi_packet);
        bl_tree_count(tree, object, "reports", trouble->reports);
        bl_tree_append(tree, array, object);
    }
    return array;
}

/* Does another NAME claim its address on the same bus? */
static bool in_conflict(const struct bl_links *links,
                        const struct bl_link_name *claim)
{
    bool other = false;
    for (size_t i = 0; i < links->names && !bl_claim_failed(claim->source);
         i++) {
        const struct bl_link_name *n = &links->name[i];
        other = other ||
                (n->recording == claim->recording && n->bus == claim->bus &&
                 n->source == claim->source && n->name.raw != claim->name.raw);
    }
    return other;
}

static json_t *names(struct bl_tree *tree, const struct bl_trial *trial,
                     const struct bl_run_data *data)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < data->links.names; i++) {
        const struct bl_link_name *claim = &data->links.name[i];
        json_t *object = bl_tree_object(tree);
        link_place(tree, object, trial, data, claim->recording, claim->bus);
        bl_tree_count(tree, object, "address", claim->source);
        name_members(tree, object, &claim->name);
        bl_tree_count(tree, object, "claims", claim->claims);
        bl_tree_bool(tree, object, "cannot_claim",
                     bl_claim_failed(claim->source));
        bl_tree_bool(tree, object, "conflict",
                     in_conflict(&data->links, claim));
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *transports(struct bl_tree *tree, const struct bl_trial *trial,
                          const struct bl_run_data *data)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < data->links.transports; i++) {
        const struct bl_link_transport *transport = &data->links.transport[i];
        json_t *object = bl_tree_object(tree);
        link_place(tree, object, trial, data, transport->recording,
                   transport->bus);
        bl_tree_count(tree, object, "address", transport->source);
        bl_tree_count(tree, object, "pgn", transport->pgn);
        bl_tree_count(tree, object, "messages", transport->messages);
        bl_tree_count(tree, object, "longest_bytes", transport->longest);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *finding(struct bl_tree *tree, const struct bl_trial *trial,
                       const struct bl_finding *found)
{
    char label[32];
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "code", bl_finding_kind(found->code)->code);
    bl_tree_text(tree, object, "unit",
                 found->unit < 0
                     ? NULL
                     : bl_trial_unit_label(&trial->unit[found->unit], label,
                                           sizeof(label)));
    bl_tree_text(tree, object, "severity", bl_severity_name(found->severity));
    bl_tree_word(tree, object, "shown",
                 found->shown == BL_SHOWN_FOUND ? "found" : "cannot-tell",
                 (int)found->shown);
    bl_tree_text(tree, object, "text", found->text);
    json_t *evidence = bl_tree_array(tree);
    for (size_t i = 0; i < found->evidences; i++) {
        json_t *one = bl_tree_object(tree);
        bl_tree_text(tree, one, "label", found->evidence[i].label);
        bl_tree_number(tree, one, "value", found->evidence[i].value);
        bl_tree_number(tree, one, "u", found->evidence[i].u);
        bl_tree_text(tree, one, "unit", found->evidence[i].unit);
        bl_tree_append(tree, evidence, one);
    }
    bl_tree_put(tree, object, "evidence", evidence);
    bl_tree_text(tree, object, "next_check", found->next_check);
    bl_tree_text(tree, object, "caution",
                 found->caution[0] == '\0' ? NULL : found->caution);
    return object;
}

enum bl_status bl_result_add_reach(struct bl_result *result,
                                   const struct bl_trial *trial,
                                   const struct bl_run_data *data,
                                   const struct bl_run_clocks *clocks,
                                   const struct bl_reach *reach,
                                   struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *all = json_object_get(result->root, "reach");
    char why[BL_REACH_TEXT];
    char shown[2 * BL_REACH_TEXT];
    if (all == NULL) {
        all = bl_tree_array(tree);
        bl_tree_put(tree, result->root, "reach", all);
    }
    if (!result->whole) {
        bl_model_recordings(tree, result->recordings, trial, data, clocks,
                            NULL);
    }
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "run", trial->run[reach->run].name);
    bl_tree_bool(tree, object, "applications_known", reach->applications_known);
    bl_tree_bool(tree, object, "declared_off", reach->declared_off);
    if (trial->expect.line > 0) {
        bl_tree_bool(tree, object, "as_expected",
                     bl_reach_expected(trial, reach, why));
        bl_tree_text(tree, object, "not_as_expected",
                     why[0] == '\0' ? NULL : why);
    }
    bl_reach_shown(trial, reach, shown);
    bl_tree_text(tree, object, "shown", shown[0] == '\0' ? NULL : shown);
    json_t *units = bl_tree_array(tree);
    for (size_t i = 0; i < reach->units; i++) {
        bl_tree_append(tree, units, unit_object(tree, trial, &reach->unit[i]));
    }
    bl_tree_put(tree, object, "units", units);
    bl_tree_put(tree, object, "senders", senders(tree, trial, data, reach));
    bl_tree_bool(tree, object, "bus_split_stated", trial->bus_split);
    bl_tree_put(tree, object, "buses", buses(tree, trial, data));
    bl_tree_put(tree, object, "trouble_codes", troubles(tree, trial, data));
    bl_tree_put(tree, object, "names", names(tree, trial, data));
    bl_tree_put(tree, object, "multi_packet", transports(tree, trial, data));
    json_t *findings = bl_tree_array(tree);
    for (size_t i = 0; i < reach->findings.count; i++) {
        bl_tree_append(tree, findings,
                       finding(tree, trial, &reach->findings.item[i]));
    }
    bl_tree_put(tree, object, "findings", findings);
    bl_tree_append(tree, all, object);
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
