/* SPDX-License-Identifier: MIT */
/*
 * The chain of units, solved over all recordings at once: who sends the demand
 * to whom, and who answers whom. A link whose pair of addresses stands on
 * other links too belongs to a unit of its own; ISO 11992-2 hands addresses
 * out rearwards, falling from 0xC8 in steps of 8, which orders what nothing
 * else does.
 */
#include "survey/draft.h"

#include <stdio.h>
#include <string.h>

#include "base/alloc.h"
#include "base/array.h"

enum {
    EDGES_MOST = 4096,
    COMMERCIAL_TOWING = 0x20, /* ISO 11992-2: the commercial towing vehicle */
    TOWED_FIRST = 0xC8,       /* ISO 11992-2: towed units from the front, */
    TOWED_LAST = 0xA8,        /* five of them, in steps of 8 */
    TOWED_STEP = 8
};

struct edge {
    const char *bus;
    size_t run;
    uint8_t front, rear; /* BL_ADDRESS_GLOBAL: to or from anybody */
    bool demand;
    int64_t first_change_ns;
};

struct solving {
    struct bl_chain *chain;
    struct edge *edge;
    size_t edges, room;
};

static bool has_role(const struct bl_survey_id *id, enum bl_role role,
                     int64_t *first_change_ns)
{
    for (size_t i = 0; i < id->signals; i++) {
        if (id->signal[i].signal->role == role) {
            *first_change_ns = id->signal[i].changes > 0
                                   ? id->signal[i].first_change_ns
                                   : INT64_MAX;
            return true;
        }
    }
    return false;
}

/* What an identifier says about the order of two units. */
static bool edge_from(const struct bl_survey_id *id, struct edge *edge)
{
    const struct bl_id parts = bl_id_split(id->id);
    if (!id->extended || id->messages == 0) {
        return false;
    }
    const uint8_t to = parts.pdu1 && parts.destination < BL_ADDRESS_NULL
                           ? parts.destination
                           : BL_ADDRESS_GLOBAL;
    const enum bl_sender sender = id->message[0]->sender;
    edge->first_change_ns = INT64_MAX;
    edge->demand = has_role(id, BL_ROLE_SERVICE_DEMAND, &edge->first_change_ns);
    edge->front = parts.source;
    edge->rear = to;
    if (sender == BL_SENDER_TOWED) {
        edge->front = to;
        edge->rear = parts.source;
        return true;
    }
    /* A towing message to anybody, as time and date, may come from any node. */
    return edge->demand ||
           (sender == BL_SENDER_TOWING && to != BL_ADDRESS_GLOBAL);
}

static bool add_edge(struct solving *solving, const struct edge *edge)
{
    for (size_t i = 0; i < solving->edges; i++) {
        struct edge *known = &solving->edge[i];
        if (known->front == edge->front && known->rear == edge->rear &&
            known->run == edge->run && strcmp(known->bus, edge->bus) == 0) {
            known->demand = known->demand || edge->demand;
            if (edge->first_change_ns < known->first_change_ns) {
                known->first_change_ns = edge->first_change_ns;
            }
            return true;
        }
    }
    if (solving->edges == EDGES_MOST) {
        return true; /* far beyond any train: the first ones decide */
    }
    if (!bl_grow(&solving->edge, &solving->room, solving->edges + 1,
                 sizeof(*solving->edge), EDGES_MOST)) {
        return false;
    }
    solving->edge[solving->edges++] = *edge;
    return true;
}

static bool collect(struct solving *solving, const struct bl_survey *survey,
                    const struct bl_draft_runs *runs)
{
    for (size_t f = 0; f < survey->files; f++) {
        const struct bl_survey_file *file = &survey->file[f];
        for (size_t i = 0; i < file->ids; i++) {
            struct edge edge = {
                .bus = bl_draft_bus(survey, runs, f, file->id[i].bus),
                .run = runs->run_of_file[f]};
            if (edge_from(&file->id[i], &edge) && !add_edge(solving, &edge)) {
                return false;
            }
        }
    }
    return true;
}

static bool is_towed(const struct solving *solving, uint8_t address)
{
    for (size_t i = 0; i < solving->edges; i++) {
        if (solving->edge[i].rear == address) {
            return true;
        }
    }
    return false;
}

/* A place behind the towing vehicle, by ISO 11992-2. */
static bool towed_place(uint8_t address)
{
    return address <= TOWED_FIRST && address >= TOWED_LAST &&
           address % TOWED_STEP == 0;
}

/* The towing vehicle: at the front of others and behind none; of several the
   address that ISO 11992-2 gives it, else the one with most units behind. */
static void find_front(struct solving *solving)
{
    struct bl_chain *chain = solving->chain;
    size_t most = 0;
    for (size_t i = 0; i < solving->edges; i++) {
        const uint8_t address = solving->edge[i].front;
        if (address >= BL_ADDRESS_NULL || towed_place(address) ||
            is_towed(solving, address)) {
            continue;
        }
        size_t behind = 0;
        for (size_t j = 0; j < solving->edges; j++) {
            behind += solving->edge[j].front == address;
        }
        behind += address == COMMERCIAL_TOWING ? EDGES_MOST : 0;
        if (behind > most) {
            most = behind;
            chain->has_front = true;
            chain->front = address;
        }
    }
}

/* Is the link's only towed address also the only one of another link? */
static bool repeated(const struct solving *solving, const struct edge *edge)
{
    bool again = false;
    for (size_t i = 0; i < solving->edges; i++) {
        const struct edge *other = &solving->edge[i];
        const bool here = strcmp(other->bus, edge->bus) == 0;
        if (other->run != edge->run || other->rear >= BL_ADDRESS_NULL) {
            continue;
        }
        if (here && other->rear != edge->rear) {
            return false; /* a bus of several units, tapped twice */
        }
        again = again || (!here && other->rear == edge->rear &&
                          other->front == edge->front);
    }
    return again;
}

static struct bl_chain_unit *unit_at(struct bl_chain *chain, uint8_t address,
                                     const char *bus)
{
    for (size_t i = 0; i < chain->units; i++) {
        struct bl_chain_unit *unit = &chain->unit[i];
        if (unit->address == address &&
            (bus == NULL || !unit->repeated || strcmp(unit->bus, bus) == 0)) {
            return unit;
        }
    }
    return NULL;
}

static void add_unit(struct bl_chain *chain, const struct bl_chain_unit *unit)
{
    if (chain->units < BL_DRAFT_UNITS) {
        chain->unit[chain->units++] = *unit;
    } else {
        chain->left_out++;
    }
}

static void add_towed(struct solving *solving)
{
    for (size_t i = 0; i < solving->edges; i++) {
        const struct edge *edge = &solving->edge[i];
        if (edge->rear >= BL_ADDRESS_NULL) {
            continue;
        }
        struct bl_chain_unit *known =
            unit_at(solving->chain, edge->rear, edge->bus);
        if (known == NULL) {
            const struct bl_chain_unit unit = {
                .has_address = true,
                .address = edge->rear,
                .bus = edge->bus,
                .repeated = repeated(solving, edge),
                .first_change_ns = edge->first_change_ns};
            add_unit(solving->chain, &unit);
        } else if (edge->first_change_ns < known->first_change_ns) {
            known->first_change_ns = edge->first_change_ns;
        }
    }
}

/* Who sends the demand and is neither at the front nor towed: a unit whose
   front link nobody recorded, where somebody hears only from it; else a
   stranger. */
static void add_senders(struct solving *solving)
{
    struct bl_chain *chain = solving->chain;
    for (size_t i = 0; i < solving->edges; i++) {
        const struct edge *edge = &solving->edge[i];
        if (!edge->demand || edge->front >= BL_ADDRESS_NULL ||
            edge->front == chain->front || is_towed(solving, edge->front) ||
            memchr(chain->stranger, edge->front, chain->strangers) != NULL ||
            unit_at(chain, edge->front, NULL) != NULL) {
            continue;
        }
        bool only = edge->rear < BL_ADDRESS_NULL;
        for (size_t j = 0; j < solving->edges; j++) {
            only = only && (solving->edge[j].rear != edge->rear ||
                            !solving->edge[j].demand ||
                            solving->edge[j].front == edge->front);
        }
        if (only) {
            const struct bl_chain_unit unit = {.has_address = true,
                                               .address = edge->front,
                                               .bus = "",
                                               .first_change_ns = INT64_MAX};
            add_unit(chain, &unit);
        } else if (chain->strangers < BL_DRAFT_UNITS) {
            chain->stranger[chain->strangers++] = edge->front;
        }
    }
}

/* Depths grow until nothing changes; a circle ends with the number of units. */
static void find_depths(struct solving *solving)
{
    struct bl_chain *chain = solving->chain;
    for (size_t i = 0; i < chain->units; i++) {
        chain->unit[i].depth = 1;
    }
    for (size_t round = 0; round < chain->units; round++) {
        for (size_t i = 0; i < solving->edges; i++) {
            const struct edge *edge = &solving->edge[i];
            struct bl_chain_unit *unit =
                edge->rear < BL_ADDRESS_NULL
                    ? unit_at(chain, edge->rear, edge->bus)
                    : NULL;
            const struct bl_chain_unit *front =
                unit_at(chain, edge->front, NULL);
            if (unit != NULL && front != NULL && !front->repeated &&
                front != unit && unit->depth <= front->depth &&
                front->depth < BL_DRAFT_UNITS) {
                unit->depth = front->depth + 1;
                (void)snprintf(unit->why, sizeof(unit->why),
                               "0x%02X is in front of it", edge->front);
            }
        }
    }
}

/* Numbers in names count as numbers: can2 before can10. */
static int natural(const char *a, const char *b)
{
    while (*a != '\0' && *b != '\0') {
        const size_t digits_a = strspn(a, "0123456789");
        const size_t digits_b = strspn(b, "0123456789");
        if (digits_a > 0 && digits_b > 0 && digits_a != digits_b) {
            return digits_a < digits_b ? -1 : 1;
        }
        if (*a != *b) {
            return (unsigned char)*a < (unsigned char)*b ? -1 : 1;
        }
        a++;
        b++;
    }
    return (*a != '\0') - (*b != '\0');
}

/* Is `a` in front of `b`? */
static bool before(const struct bl_chain_unit *a, const struct bl_chain_unit *b)
{
    if (a->depth != b->depth) {
        return a->depth < b->depth;
    }
    if (a->address != b->address) {
        return a->address > b->address;
    }
    if (a->first_change_ns != b->first_change_ns) {
        return a->first_change_ns < b->first_change_ns;
    }
    return natural(a->bus, b->bus) < 0;
}

static void set_why(struct bl_chain_unit *unit,
                    const struct bl_chain_unit *front)
{
    const char *why = "addresses fall rearwards";
    if (unit->why[0] != '\0') {
        return;
    }
    if (front == NULL) {
        why = "no other towed unit was seen in front of it";
    } else if (unit->repeated && front->repeated) {
        const bool later = unit->first_change_ns != INT64_MAX &&
                           unit->first_change_ns > front->first_change_ns;
        why = later ? "its demand moves later than that of the link before"
                    : "the names of the links; all show the same address";
    }
    (void)snprintf(unit->why, sizeof(unit->why), "%s", why);
}

static void sort_units(struct bl_chain *chain)
{
    for (size_t i = 1; i < chain->units; i++) {
        const struct bl_chain_unit unit = chain->unit[i];
        size_t at = i;
        for (; at > 0 && before(&unit, &chain->unit[at - 1]); at--) {
            chain->unit[at] = chain->unit[at - 1];
        }
        chain->unit[at] = unit;
    }
    for (size_t i = 0; i < chain->units; i++) {
        set_why(&chain->unit[i], i == 0 ? NULL : &chain->unit[i - 1]);
    }
}

enum bl_status bl_chain_find(const struct bl_survey *survey,
                             const struct bl_draft_runs *runs,
                             struct bl_chain *out)
{
    struct solving solving = {.chain = out};
    memset(out, 0, sizeof(*out));
    out->front = BL_ADDRESS_NULL;
    const bool enough = collect(&solving, survey, runs);
    if (enough) {
        find_front(&solving);
        add_towed(&solving);
        add_senders(&solving);
        find_depths(&solving);
        sort_units(out);
    }
    bl_free(solving.edge);
    return enough ? BL_OK : BL_NOMEM;
}
