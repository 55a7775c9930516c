/* SPDX-License-Identifier: MIT */
/* Files of the survey room to each other. */
#ifndef BRAKELAG_SRC_SURVEY_INTERNAL_H
#define BRAKELAG_SRC_SURVEY_INTERNAL_H

#include "brakelag/survey.h"

/* A longer step forward is a pause of the recorder or a wrong clock: it is
   counted, and no silence, interval or rate spans it. As order.h has it. */
#define BL_SURVEY_JUMP_NS INT64_C(3600000000000)

/* Fill a file from its source. Damage inside is kept in the file; only NOMEM
   and what prevented any reading is returned. */
enum bl_status bl_survey_read_bus(struct bl_survey_file *file,
                                  const struct bl_tables *tables,
                                  struct bl_bytes *source,
                                  const struct bl_bus_options *options,
                                  struct bl_error *error);
enum bl_status bl_survey_read_log(struct bl_survey_file *file,
                                  struct bl_bytes *source,
                                  const struct bl_log_options *options,
                                  const char *pressure_unit,
                                  struct bl_error *error);
/* Keep a failure with the file; NOMEM is handed on, all else is BL_OK. */
enum bl_status bl_survey_keep(struct bl_survey_file *file,
                              enum bl_status status,
                              const struct bl_error *failure,
                              struct bl_error *error);
/* Times that are reckoned with; whatever lies outside is counted only. */
bool bl_survey_reckoned(int64_t time_ns);
enum bl_status bl_survey_note_times(struct bl_survey_file *file, uint64_t count,
                                    const char *what);
/* From one stamp to another, s; stamps may lie at both ends of 64 bits. */
double bl_survey_span_s(int64_t from_ns, int64_t to_ns);
/* Text of a recording without control characters, cut to fit. */
const char *bl_survey_clean(const char *text, char *copy, size_t size);
/* Quantity, unit and oddities of a column from its figures; `pressure_unit` as
   stated for columns without one, or NULL. */
void bl_survey_judge(struct bl_survey_column *column,
                     const char *pressure_unit);

/* Senders, claims, transport and trouble codes. Frames are extended ones with
   data, of a bus below BL_BUS_MAX. */
struct bl_survey_talk;
enum bl_status bl_survey_talk_create(struct bl_survey_talk **out,
                                     struct bl_survey_file *file,
                                     const struct bl_tables *tables,
                                     struct bl_error *error);
/* The first frame of an identifier: its sender is entered. *listen: frames of
   it say something, from this one on, and are to be fed. */
enum bl_status bl_survey_talk_meet(struct bl_survey_talk *talk,
                                   const struct bl_frame *frame, bool *listen,
                                   struct bl_error *error);
enum bl_status bl_survey_talk_feed(struct bl_survey_talk *talk,
                                   const struct bl_frame *frame,
                                   struct bl_error *error);
/* Frames of an identifier that was met, as its sender's. */
void bl_survey_talk_count(struct bl_survey_talk *talk, uint16_t bus,
                          uint32_t id, uint64_t frames);
/* The last classic frame so far. */
void bl_survey_talk_until(struct bl_survey_talk *talk, int64_t time_ns);
void bl_survey_talk_finish(struct bl_survey_talk *talk);
void bl_survey_talk_destroy(struct bl_survey_talk *talk);

/* What frames add to the identifiers of a file, and through them to `talk`. */
struct bl_survey_ids; /* index of identifiers while reading */
enum bl_status bl_survey_ids_create(struct bl_survey_ids **out,
                                    struct bl_survey_file *file,
                                    const struct bl_tables *tables,
                                    struct bl_survey_talk *talk,
                                    struct bl_error *error);
enum bl_status bl_survey_ids_feed(struct bl_survey_ids *ids,
                                  const struct bl_frame *frame, size_t count,
                                  struct bl_error *error);
/* Medians, the order by bus and identifier, and frames of senders. Errors:
 * NOMEM.
 */
enum bl_status bl_survey_ids_finish(struct bl_survey_ids *ids);
/* Resolution of the stamps, as soon as it is known. */
void bl_survey_ids_resolution(struct bl_survey_ids *ids, int64_t resolution_ns);
/* After finishing, and with what the reader found in file->times: places where
   all identifiers leave their pace. Errors: NOMEM. */
enum bl_status bl_survey_ids_times(struct bl_survey_ids *ids);
void bl_survey_ids_destroy(struct bl_survey_ids *ids);

#endif
