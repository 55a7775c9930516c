/* SPDX-License-Identifier: MIT */
/*
 * Multi-packet transport for a listener who hears both sides. A message is
 * delivered with the packet that completes it, whether or not the receiver
 * acknowledges it afterwards; packets may come in any order and again.
 *
 * Waits after which a session is given up: a broadcast T1 750 ms; a connection
 * T2 = T3 1250 ms, because a listener may have missed either side; after
 * "hold" T4 1050 ms. The last two get Tr 200 ms more, as the abort that ends a
 * connection is sent when the sender's own wait has run out. Source: Linux
 * net/can/j1939/transport.c for the control bytes and the extended form;
 * public stacks for the timers.
 */
#include "brakelag/j1939.h"

#include "base/alloc.h"
#include "base/limits.h"

#include <string.h>

enum {
    PGN_CM = 0xEC00,
    PGN_DT = 0xEB00,
    PGN_EXTENDED_CM = 0xC800,
    PGN_EXTENDED_DT = 0xC700,
    CONTROL_RTS = 16,
    CONTROL_CTS = 17,
    CONTROL_END = 19,
    CONTROL_EXTENDED_RTS = 20,
    CONTROL_EXTENDED_CTS = 21,
    CONTROL_EXTENDED_OFFSET = 22,
    CONTROL_EXTENDED_END = 23,
    CONTROL_BAM = 32,
    CONTROL_ABORT = 255,
    PACKET_BYTES = 7,
    SIZE_MOST = 255 * 7,
    EXTENDED_MOST = 117440505
};
#define MS INT64_C(1000000)
#define WAIT_BROADCAST (750 * MS)
#define WAIT_CONNECTION ((1250 + 200) * MS)
#define WAIT_HOLD ((1050 + 200) * MS)
/* Time stamps may be a little out of order; a jump back over this is a new
   stretch of recording. */
#define JUMP_BACK (1000 * MS)

struct session {
    int64_t first_ns, deadline_ns;
    uint32_t pgn, size, packets, missing;
    uint32_t offset, block; /* extended: packets before this block, in it */
    uint16_t bus;
    uint8_t source, destination;
    bool extended, block_known;
    uint8_t *data;
    uint8_t *seen; /* one bit per packet */
};

struct bl_transport {
    struct session *session; /* in use: the first `count` */
    size_t count, limit;
    int64_t latest_ns, next_deadline_ns;
    uint64_t lost[BL_TRANSPORT_LOSSES];
    uint8_t *delivered; /* what the last message points to */
};

enum bl_status bl_transport_create(struct bl_transport **out, size_t limit,
                                   struct bl_error *error)
{
    *out = NULL;
    struct bl_transport *transport = bl_alloc(1, sizeof(*transport));
    if (transport == NULL) {
        return bl_fail_memory(error);
    }
    transport->session =
        bl_alloc(BL_LIMIT_TRANSPORT_SESSIONS, sizeof(*transport->session));
    if (transport->session == NULL) {
        bl_free(transport);
        return bl_fail_memory(error);
    }
    transport->limit = limit;
    transport->latest_ns = INT64_MIN;
    transport->next_deadline_ns = INT64_MAX;
    *out = transport;
    return BL_OK;
}

/* Take session `index` out of the list; its memory is the caller's. */
static struct session take(struct bl_transport *transport, size_t index)
{
    const struct session taken = transport->session[index];
    transport->session[index] = transport->session[--transport->count];
    return taken;
}

static void drop(struct bl_transport *transport, size_t index,
                 enum bl_transport_loss why)
{
    struct session session = take(transport, index);
    bl_free(session.data);
    bl_free(session.seen);
    transport->lost[why]++;
}

void bl_transport_flush(struct bl_transport *transport)
{
    while (transport->count > 0) {
        drop(transport, transport->count - 1, BL_TRANSPORT_INCOMPLETE);
    }
    transport->next_deadline_ns = INT64_MAX;
    transport->latest_ns = INT64_MIN;
}

void bl_transport_destroy(struct bl_transport *transport)
{
    if (transport == NULL) {
        return;
    }
    bl_transport_flush(transport);
    bl_free(transport->session);
    bl_free(transport->delivered);
    bl_free(transport);
}

uint64_t bl_transport_lost(const struct bl_transport *transport,
                           enum bl_transport_loss why)
{
    return why < BL_TRANSPORT_LOSSES ? transport->lost[why] : 0;
}

/* a + wait without overflow at the end of time. */
static int64_t later(int64_t time_ns, int64_t wait_ns)
{
    return time_ns > INT64_MAX - wait_ns ? INT64_MAX : time_ns + wait_ns;
}

static void set_deadline(struct bl_transport *transport,
                         struct session *session, int64_t time_ns,
                         int64_t wait_ns)
{
    session->deadline_ns = later(time_ns, wait_ns);
    if (session->deadline_ns < transport->next_deadline_ns) {
        transport->next_deadline_ns = session->deadline_ns;
    }
}

static int64_t wait_for(const struct session *session)
{
    return session->destination == BL_ADDRESS_GLOBAL ? WAIT_BROADCAST
                                                     : WAIT_CONNECTION;
}

static void expire(struct bl_transport *transport, int64_t time_ns)
{
    if (transport->latest_ns != INT64_MIN &&
        later(time_ns, JUMP_BACK) < transport->latest_ns) {
        bl_transport_flush(transport);
    }
    if (time_ns > transport->latest_ns) {
        transport->latest_ns = time_ns;
    }
    if (time_ns <= transport->next_deadline_ns) {
        return;
    }
    int64_t next = INT64_MAX;
    for (size_t i = transport->count; i-- > 0;) {
        const int64_t deadline = transport->session[i].deadline_ns;
        if (time_ns > deadline) {
            drop(transport, i, BL_TRANSPORT_TIMED_OUT);
        } else if (deadline < next) {
            next = deadline;
        }
    }
    transport->next_deadline_ns = next;
}

static size_t find(const struct bl_transport *transport, uint16_t bus,
                   uint8_t source, uint8_t destination, bool extended)
{
    size_t i = 0;
    for (; i < transport->count; i++) {
        const struct session *s = &transport->session[i];
        if (s->source == source && s->destination == destination &&
            s->bus == bus && s->extended == extended) {
            break;
        }
    }
    return i;
}

/* The oldest session gives way when all places are taken. */
static void make_room(struct bl_transport *transport)
{
    if (transport->count < BL_LIMIT_TRANSPORT_SESSIONS) {
        return;
    }
    size_t oldest = 0;
    for (size_t i = 1; i < transport->count; i++) {
        if (transport->session[i].deadline_ns <
            transport->session[oldest].deadline_ns) {
            oldest = i;
        }
    }
    drop(transport, oldest, BL_TRANSPORT_REPLACED);
}

static uint32_t little(const uint8_t *data, unsigned bytes)
{
    uint32_t value = 0;
    for (unsigned i = bytes; i-- > 0;) {
        value = value << 8 | data[i];
    }
    return value;
}

struct heard {
    int64_t time_ns;
    uint16_t bus;
    struct bl_id id;
    const uint8_t *data;
    size_t length;
};

static enum bl_status announce(struct bl_transport *transport,
                               const struct heard *heard, bool extended)
{
    const uint8_t *d = heard->data;
    const uint32_t size = extended ? little(d + 1, 4) : little(d + 1, 2);
    const uint32_t packets = size / PACKET_BYTES + (size % PACKET_BYTES != 0);
    const size_t old = find(transport, heard->bus, heard->id.source,
                            heard->id.destination, extended);
    if (old < transport->count) {
        drop(transport, old, BL_TRANSPORT_REPLACED);
    }
    if (size == 0 || size > (extended ? EXTENDED_MOST : SIZE_MOST) ||
        (!extended && d[3] != packets)) {
        transport->lost[BL_TRANSPORT_MALFORMED]++;
        return BL_OK;
    }
    if (size > transport->limit) {
        transport->lost[BL_TRANSPORT_TOO_LARGE]++;
        return BL_OK;
    }
    make_room(transport);
    struct session session = {
        .first_ns = heard->time_ns,
        .pgn = little(d + 5, 3) & 0x3FFFF,
        .size = size,
        .packets = packets,
        .missing = packets,
        .bus = heard->bus,
        .source = heard->id.source,
        .destination = heard->id.destination,
        .extended = extended,
        .data = bl_alloc(size, 1),
        .seen = bl_alloc(packets / 8 + 1, 1),
    };
    if (session.data == NULL || session.seen == NULL) {
        bl_free(session.data);
        bl_free(session.seen);
        return BL_NOMEM;
    }
    struct session *placed = &transport->session[transport->count++];
    *placed = session;
    set_deadline(transport, placed, heard->time_ns, wait_for(placed));
    return BL_OK;
}

/* What the receiver says: it is the frame's source. */
static void answer(struct bl_transport *transport, const struct heard *heard,
                   bool extended)
{
    const uint8_t *d = heard->data;
    const size_t at = find(transport, heard->bus, heard->id.destination,
                           heard->id.source, extended);
    if (at == transport->count) {
        return;
    }
    struct session *session = &transport->session[at];
    if (session->pgn != (little(d + 5, 3) & 0x3FFFF)) {
        return;
    }
    if (d[0] == CONTROL_END || d[0] == CONTROL_EXTENDED_END) {
        /* Complete for the receiver, but packets were not recorded. */
        drop(transport, at, BL_TRANSPORT_INCOMPLETE);
        return;
    }
    session->block_known = false;
    set_deadline(transport, session, heard->time_ns,
                 d[1] == 0 ? WAIT_HOLD : WAIT_CONNECTION);
}

static void abort_session(struct bl_transport *transport,
                          const struct heard *heard, bool extended)
{
    const uint32_t pgn = little(heard->data + 5, 3) & 0x3FFFF;
    const uint8_t one = heard->id.source, other = heard->id.destination;
    size_t at = find(transport, heard->bus, one, other, extended);
    if (at == transport->count || transport->session[at].pgn != pgn) {
        at = find(transport, heard->bus, other, one, extended);
    }
    if (at < transport->count && transport->session[at].pgn == pgn) {
        drop(transport, at, BL_TRANSPORT_ABORTED);
    }
}

/* Extended: which packets the next ones are. */
static void set_offset(struct bl_transport *transport,
                       const struct heard *heard)
{
    const size_t at = find(transport, heard->bus, heard->id.source,
                           heard->id.destination, true);
    if (at == transport->count) {
        return;
    }
    struct session *session = &transport->session[at];
    const uint32_t block = heard->data[1];
    const uint32_t offset = little(heard->data + 2, 3);
    if (session->pgn != (little(heard->data + 5, 3) & 0x3FFFF)) {
        return;
    }
    if (offset > session->packets || block > session->packets - offset) {
        drop(transport, at, BL_TRANSPORT_MALFORMED);
        return;
    }
    session->offset = offset;
    session->block = block;
    session->block_known = true;
    set_deadline(transport, session, heard->time_ns, WAIT_CONNECTION);
}

/* Everybody cannot answer: a request to the global address is no session. */
static enum bl_status request(struct bl_transport *transport,
                              const struct heard *heard, bool extended)
{
    if (heard->id.destination == BL_ADDRESS_GLOBAL) {
        transport->lost[BL_TRANSPORT_MALFORMED]++;
        return BL_OK;
    }
    return announce(transport, heard, extended);
}

static enum bl_status control(struct bl_transport *transport,
                              const struct heard *heard, bool extended)
{
    if (heard->length < 8) {
        transport->lost[BL_TRANSPORT_MALFORMED]++;
        return BL_OK;
    }
    switch (heard->data[0]) {
    case CONTROL_ABORT:
        abort_session(transport, heard, extended);
        break;
    case CONTROL_BAM:
        /* Some units announce this way to a single address, too. */
        return extended ? BL_OK : announce(transport, heard, false);
    case CONTROL_RTS:
        return extended ? BL_OK : request(transport, heard, false);
    case CONTROL_EXTENDED_RTS:
        return extended ? request(transport, heard, true) : BL_OK;
    case CONTROL_CTS:
    case CONTROL_END:
        if (!extended) {
            answer(transport, heard, false);
        }
        break;
    case CONTROL_EXTENDED_CTS:
    case CONTROL_EXTENDED_END:
        if (extended) {
            answer(transport, heard, true);
        }
        break;
    case CONTROL_EXTENDED_OFFSET:
        if (extended) {
            set_offset(transport, heard);
        }
        break;
    default:
        transport->lost[BL_TRANSPORT_MALFORMED]++;
        break;
    }
    return BL_OK;
}

/* Store one packet; false when it cannot belong to the session. */
static bool store(struct session *session, const struct heard *heard)
{
    const uint32_t sequence = heard->length > 0 ? heard->data[0] : 0;
    if (sequence == 0) {
        return false;
    }
    uint32_t packet = sequence - 1;
    if (session->extended) {
        if (!session->block_known || sequence > session->block) {
            return false;
        }
        packet += session->offset;
    }
    if (packet >= session->packets) {
        return false;
    }
    const uint32_t start = packet * PACKET_BYTES;
    uint32_t wanted = session->size - start;
    if (wanted > PACKET_BYTES) {
        wanted = PACKET_BYTES;
    }
    if (heard->length - 1 < wanted) {
        return false;
    }
    memcpy(session->data + start, heard->data + 1, wanted);
    const uint8_t bit = (uint8_t)(1u << (packet % 8));
    if ((session->seen[packet / 8] & bit) == 0) {
        session->seen[packet / 8] |= bit;
        session->missing--;
    }
    return true;
}

static bool packet(struct bl_transport *transport, const struct heard *heard,
                   bool extended, struct bl_transport_message *message)
{
    const size_t at = find(transport, heard->bus, heard->id.source,
                           heard->id.destination, extended);
    if (at == transport->count) {
        return false; /* begun before the recording, or given up */
    }
    struct session *session = &transport->session[at];
    if (!store(session, heard)) {
        drop(transport, at, BL_TRANSPORT_MALFORMED);
        return false;
    }
    if (session->missing > 0) {
        set_deadline(transport, session, heard->time_ns, wait_for(session));
        return false;
    }
    const struct session whole = take(transport, at);
    bl_free(whole.seen);
    transport->delivered = whole.data;
    *message = (struct bl_transport_message){
        .first_ns = whole.first_ns,
        .last_ns = heard->time_ns,
        .pgn = whole.pgn,
        .source = whole.source,
        .destination = whole.destination,
        .bus = whole.bus,
        .data = whole.data,
        .size = whole.size,
    };
    return true;
}

enum bl_status bl_transport_feed(struct bl_transport *transport,
                                 const struct bl_transport_frame *frame,
                                 bool *done,
                                 struct bl_transport_message *message)
{
    const struct heard heard = {frame->time_ns, frame->bus,
                                bl_id_split(frame->id), frame->data,
                                frame->length};
    *done = false;
    bl_free(transport->delivered);
    transport->delivered = NULL;
    expire(transport, frame->time_ns);
    switch (heard.id.pgn) {
    case PGN_CM:
    case PGN_EXTENDED_CM:
        return control(transport, &heard, heard.id.pgn == PGN_EXTENDED_CM);
    case PGN_DT:
    case PGN_EXTENDED_DT:
        *done =
            packet(transport, &heard, heard.id.pgn == PGN_EXTENDED_DT, message);
        return BL_OK;
    default:
        return BL_OK;
    }
}

bool bl_transport_takes(uint32_t id)
{
    const uint32_t pgn = bl_id_split(id).pgn;
    return pgn == PGN_CM || pgn == PGN_DT || pgn == PGN_EXTENDED_CM ||
           pgn == PGN_EXTENDED_DT;
}
