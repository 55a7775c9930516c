/* SPDX-License-Identifier: MIT */
/*
 * pcapng blocks that give no frames. Is one of them a packet, an interface or a
 * section whose type or length is damaged? Then frames are missing, or would be
 * given to the wrong bus, without a word.
 */
#include "bus/pcapng.h"

#include <inttypes.h>

enum { SIMPLE_HEADER = 12 };

/* A wrong length can end where a length stands again: recorders write blocks of
   one size. */
enum bl_status bl_ng_hold_nothing(const struct bl_ng_reader *reader,
                                  const struct bl_ng_block *block,
                                  struct bl_error *error)
{
    return bl_ng_holds_packets(reader, block->data, block->seen)
               ? bl_fail_offset(error, BL_FORMAT,
                                bl_bytes_name(reader->context->source),
                                block->place + 4,
                                "whole packets stand inside a block of %" PRIu64
                                " bytes and type %" PRIu32 ": it is damaged",
                                block->size, block->type)
               : BL_OK;
}

/* Simple packets have no stamp: a CAN frame there is of no use here. */
enum bl_status bl_ng_read_simple(struct bl_ng_reader *reader,
                                 const struct bl_ng_block *block,
                                 struct bl_error *error)
{
    struct bl_bus_info *info = &reader->context->info;
    if (block->size < SIMPLE_HEADER + 4) {
        return bl_fail_offset(error, BL_FORMAT,
                              bl_bytes_name(reader->context->source),
                              block->place + 4,
                              "expected a simple packet block of 16 bytes or "
                              "more, found %" PRIu64,
                              block->size);
    }
    /* Or an interface whose type is damaged: its link type and the room for its
       options are no length and the bytes of a packet. */
    const uint64_t length = bl_ng_32(reader, block->data + 8);
    if (block->size != SIMPLE_HEADER + 4 + (length + 3) / 4 * 4 &&
        bl_ng_likeness(reader, block->data, block->seen) ==
            BL_NG_LIKE_INTERFACE) {
        reader->read_on = true;
        info->after_damage = true;
    }
    if (reader->interfaces == 0) {
        return bl_note(&info->notes, "unknown-interface", -1, block->place,
                       "a simple packet stands before any interface; "
                       "excluded");
    }
    if (!reader->interface[0].can) {
        info->other_packets++;
        return BL_OK;
    }
    return bl_note(&info->notes, "no-stamp", -1, block->place,
                   "a simple packet block carries no time; excluded");
}

/* Blocks that are not read. Of a type that nobody has defined, or with the
   inside of another kind: perhaps one whose type is damaged. If that described
   an interface, those behind it have other numbers. */
enum bl_status bl_ng_read_other(struct bl_ng_reader *reader,
                                const struct bl_ng_block *block,
                                struct bl_error *error)
{
    enum { DEFINED = 0xB, CUSTOM = 0xBAD, CUSTOM_NOT_COPIED = 0x40000BAD };
    const bool local = (block->type & 0x80000000u) != 0;
    const bool registered = block->type >= 0x100 && block->type <= 0x2FF;
    const enum bl_status status = bl_ng_hold_nothing(reader, block, error);
    if (status != BL_OK) {
        return status;
    }
    const enum bl_ng_likeness like =
        block->seen < block->size
            ? BL_NG_LIKE_NONE
            : bl_ng_likeness(reader, block->data, (size_t)block->size);
    if (like == BL_NG_LIKE_SECTION) {
        reader->section_lost = true;
        return bl_fail_offset(error, BL_FORMAT,
                              bl_bytes_name(reader->context->source),
                              block->place,
                              "a block of type %" PRIu32 " is a section header "
                              "inside: its type is damaged",
                              block->type);
    }
    reader->read_on = reader->read_on || like == BL_NG_LIKE_INTERFACE;
    if (like == BL_NG_LIKE_NONE &&
        (local || registered || (block->type > 0 && block->type <= DEFINED) ||
         block->type == CUSTOM || block->type == CUSTOM_NOT_COPIED)) {
        return BL_OK;
    }
    reader->context->info.after_damage = true;
    struct bl_notes *notes = &reader->context->info.notes;
    return like == BL_NG_LIKE_NONE
               ? bl_note(notes, "unknown-block", -1, block->place,
                         "a block is of the unknown type %" PRIu32 "; skipped",
                         block->type)
               : bl_note(notes, "unknown-block", -1, block->place,
                         "a block of type %" PRIu32 " is %s inside: its type "
                         "may be damaged; skipped",
                         block->type,
                         like == BL_NG_LIKE_PACKET ? "a packet"
                                                   : "an interface");
}
