/* SPDX-License-Identifier: MIT */
/*
 * Every limit, with its reason. A limit is tested before the allocation that
 * it guards, and its message says tried against allowed.
 */
#ifndef BRAKELAG_SRC_BASE_LIMITS_H
#define BRAKELAG_SRC_BASE_LIMITS_H

#include <stdint.h>

/* Lines: a transposed log holds a whole channel in one row. */
#define BL_LIMIT_LINE_BYTES (1u << 20)
/* Channels of one log: the widest yard recorders have some hundred. */
#define BL_LIMIT_LOG_COLUMNS 10000u
/* Rows of a log that are remembered, to find those that are in it again. */
#define BL_LIMIT_LOG_REMEMBERED (1u << 22)
/* Cells of one transposed row: bounded by the line above. */
#define BL_LIMIT_LOG_ROW_CELLS (1u << 20)
/* Rows of a mapping table, and of its text cells. */
#define BL_LIMIT_TABLE_ROWS 20000u
#define BL_LIMIT_CELL_BYTES 4096u
/* Multi-packet messages that are kept: 1785 is the most without ETP. */
#define BL_LIMIT_TRANSPORT_BYTES 65536u
#define BL_LIMIT_TRANSPORT_SESSIONS 1024u
/* pcapng: options and non-packet blocks are skipped, not stored; a packet
   block over this is damage (a frame has at most 72 bytes). */
#define BL_LIMIT_PCAPNG_BLOCK (16u << 20)
/* Section headers and interfaces are seen whole, for their options. */
#define BL_LIMIT_PCAPNG_META (1u << 20)
#define BL_LIMIT_INTERFACES 65536u
/* How far behind a damaged block the next whole one is looked for. */
#define BL_LIMIT_PCAPNG_RESYNC (1u << 20)
/* Bytes of a file that is read at any place but comes packed or through a
   pipe: they are held in memory. */
#define BL_LIMIT_HELD_BYTES (1u << 30)
/* MDF: channel groups of a file; links of one block (a list of data blocks has
   the most); data blocks of one list; text; one record; one packed data block
   (recorders pack 4 MiB); and the data held at a time, of all groups. */
#define BL_LIMIT_MDF_GROUPS 4096u
#define BL_LIMIT_MDF_LINKS 65536u
#define BL_LIMIT_MDF_PIECES (1u << 22)
#define BL_LIMIT_MDF_TEXT 65536u
#define BL_LIMIT_MDF_RECORD (1u << 20)
#define BL_LIMIT_MDF_PACKED (64u << 20)
#define BL_LIMIT_MDF_HELD (1u << 30)
/* A damaged data block: a gap in the data of at most so many bytes. */
#define BL_LIMIT_MDF_GAP (1u << 30)
/* Values of one table from numbers to texts. */
#define BL_LIMIT_MDF_TEXTS 4096u
/* Damaged places of one recording that are told apart. */
#define BL_LIMIT_DAMAGES 4096u
/* Sorting window of late stamps. */
#define BL_LIMIT_SORT_FRAMES 65536u
/* Trial file. */
#define BL_LIMIT_TRIAL_LINES 100000u
#define BL_LIMIT_TRIAL_ITEMS 4096u
#define BL_LIMIT_TRIAL_LABELS 32u /* names of labels, over all units */
/* Notes: one per code, so this only meets a defect. */
#define BL_LIMIT_NOTES 1000000u
/* Times that are reckoned with: 146 years either side of 0, so that neither a
   sum nor a difference of two overflows. */
#define BL_LIMIT_TIME_NS (INT64_MAX / 2 - INT64_C(100000000000))
/* Series in memory. A log of more bytes of samples is kept only around
   activity, the rest of it as so many blocks. */
#define BL_LIMIT_LOG_WHOLE (16u << 20)
#define BL_LIMIT_QUIET_BLOCKS 65536u
#define BL_LIMIT_SAMPLES (1u << 30)
#define BL_LIMIT_SEGMENTS (1u << 28)
#define BL_LIMIT_APPLICATIONS 100000u
/* Findings of one trial: a code per unit and run is far below. */
#define BL_LIMIT_FINDINGS 20000u
/* Cells of a simulated air line: 1 km at a step of 1 ms needs 3,300. */
#define BL_LIMIT_LINE_CELLS 65536u
/* Steps of one simulated run: over an hour at 0.5 ms. */
#define BL_LIMIT_SIMULATED_STEPS 8000000u
#define BL_LIMIT_SIMULATED_FRAMES 20000000u
/* Prediction: steps of one modelled application times units, and modelled
   applications of one kind and shape of a run. */
#define BL_LIMIT_PREDICT_STEPS (1u << 24)
#define BL_LIMIT_PREDICT_APPLICATIONS 6u
/* Identifiers that survey keeps apart. */
#define BL_LIMIT_IDENTIFIERS 65536u
/* Gaps kept of one identifier, silences of one run; trouble codes, claims and
   transports of one run. */
#define BL_LIMIT_LINK_GAPS 4096u
#define BL_LIMIT_LINK_TALK 4096u
/* Statistics: values of one set; values where all pairs are formed (their
   number is squared); events that a clock tie pairs. */
#define BL_LIMIT_STATS_VALUES (1u << 24)
#define BL_LIMIT_STATS_PAIRWISE 2000u
#define BL_LIMIT_CLOCK_EVENTS 1000u
/* Life of a unit: visits known of it, series, and visits of a series that are
   looked at together (thirty years at two a year; cubic in time). */
#define BL_LIMIT_LIFE_KNOWN 100000u
#define BL_LIMIT_LIFE_SERIES 10000u
#define BL_LIMIT_LIFE_VISITS 60u
/* A result as JSON: the demo's seven runs have 2 MB in 70,000 values, so that
   is 200 times as many; memory for it stays below 2 GiB. Signs that part
   values are counted before any value is made. */
#define BL_LIMIT_RESULT_BYTES (512u << 20)
#define BL_LIMIT_RESULT_VALUES (1u << 24)
/* Rows of a history that are listed, and figures of one unit. */
#define BL_LIMIT_HISTORY_ROWS (1u << 24)

#endif
