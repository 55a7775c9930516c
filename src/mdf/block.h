/* SPDX-License-Identifier: MIT */
/* Blocks of the file as they lie: header, links, data. Inside the room only. */
#ifndef BRAKELAG_SRC_MDF_BLOCK_H
#define BRAKELAG_SRC_MDF_BLOCK_H

#include "mdf/mdf.h"

enum { BL_MDF_HEADER = 24, BL_MDF_LINKS_KEPT = 8 };

struct bl_mdf_block {
    char id[5]; /* "##HD" */
    uint64_t at, length, links;
    uint64_t link[BL_MDF_LINKS_KEPT]; /* the first ones; 0: there is none */
    uint64_t data;                    /* place behind the links */
    uint64_t data_bytes;
};

/* Exactly `size` bytes. Errors: TRUNCATED (the file ends before), IO. */
enum bl_status bl_mdf_read(struct bl_mdf *mdf, uint64_t at, void *buffer,
                           size_t size, struct bl_error *error);

/*
 * Header and first links of the block at `at`. `id`: what it must be ("DG");
 * NULL: anything. Errors: FORMAT (no such block, its lengths contradict each
 * other or the file), TRUNCATED, IO.
 */
enum bl_status bl_mdf_block(struct bl_mdf *mdf, uint64_t at, const char *id,
                            struct bl_mdf_block *block, struct bl_error *error);
/* The first `size` bytes of its data; what the block is too short for is
   zero. */
enum bl_status bl_mdf_data(struct bl_mdf *mdf, const struct bl_mdf_block *block,
                           void *buffer, size_t size, struct bl_error *error);
/* Link number `index`, also beyond the kept ones; 0: there is none. */
enum bl_status bl_mdf_link(struct bl_mdf *mdf, const struct bl_mdf_block *block,
                           uint64_t index, uint64_t *link,
                           struct bl_error *error);

/* Text of a TX block, or what stands between <TX> and </TX> of an MD block, as
   UTF-8; "" for link 0. *out is the caller's. */
enum bl_status bl_mdf_text(struct bl_mdf *mdf, uint64_t at, char **out,
                           struct bl_error *error);

/* A text that is damaged counts as absent. */
enum bl_status bl_mdf_text_or_none(struct bl_mdf *mdf, uint64_t at, char **out,
                                   struct bl_error *error);

/* group.c: what it holds, from its channels; notes of what is left out. Errors:
   NOMEM. */
enum bl_status bl_mdf_group_judge(struct bl_mdf *mdf,
                                  struct bl_mdf_group *group,
                                  struct bl_error *error);

/* Something is damaged and left out: counted, and the first sentence kept.
   Returns OK, or NOMEM, LIMIT and IO as they are. */
enum bl_status bl_mdf_damaged(struct bl_mdf *mdf, enum bl_status status,
                              const struct bl_error *why,
                              struct bl_error *error);

/* Does a chain of links come back to where it was? Brent's way: a mark that is
   set anew at steps 1, 2, 4, 8 .. is met again soon after the loop began. */
struct bl_mdf_chain {
    uint64_t mark, steps, until;
};
bool bl_mdf_chain_loops(struct bl_mdf_chain *chain, uint64_t at);

/* pieces.c: the data blocks behind `data`; lists of lists are one. */
enum bl_status bl_mdf_pieces_find(struct bl_mdf_pieces *pieces,
                                  struct bl_mdf *mdf, uint64_t data,
                                  const char *id, struct bl_error *error);

/* channel.c: one CN block to a channel. False in *take: it is no channel of its
   own, or was refused. */
enum bl_status bl_mdf_channel_read(struct bl_mdf *mdf,
                                   const struct bl_mdf_block *block,
                                   const struct bl_mdf_group *group,
                                   struct bl_mdf_channel *channel,
                                   struct bl_error *error);
void bl_mdf_channel_finish(struct bl_mdf_channel *channel);
/* convert.c: of the CC block at `at`; 0: as it is. */
enum bl_status bl_mdf_conversion_read(struct bl_mdf *mdf, uint64_t at,
                                      struct bl_mdf_channel *channel,
                                      struct bl_error *error);

/* How many whole ns a count of this channel is; 0: not so. */
uint64_t bl_mdf_whole_ns(const struct bl_mdf_channel *time);

/* Numbers of blocks. */
static inline uint64_t bl_mdf_u64(const uint8_t *data)
{
    return bl_mdf_low_first(data, 8);
}
static inline uint32_t bl_mdf_u32(const uint8_t *data)
{
    return (uint32_t)bl_mdf_low_first(data, 4);
}
static inline uint16_t bl_mdf_u16(const uint8_t *data)
{
    return (uint16_t)bl_mdf_low_first(data, 2);
}

#endif
