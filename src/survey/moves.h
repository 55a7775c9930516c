/* SPDX-License-Identifier: MIT */
/* What the signals of one identifier did: frames, changes, least and most. */
#ifndef BRAKELAG_SRC_SURVEY_MOVES_H
#define BRAKELAG_SRC_SURVEY_MOVES_H

#include "brakelag/survey.h"

struct bl_survey_move;
struct bl_survey_moves {
    struct bl_survey_move *move; /* one per signal of the identifier */
    size_t signals;
    uint64_t frames;
    uint64_t data;   /* of the last frame, where it had up to eight bytes */
    uint64_t repeat; /* frames as the last one that `move` does not know of */
    uint8_t length;  /* of the last frame */
};

/* The signals with a role of the messages of `id` are entered there. Errors:
   NOMEM. */
enum bl_status bl_survey_moves_start(struct bl_survey_moves *moves,
                                     struct bl_survey_id *id,
                                     struct bl_error *error);
/* With signals > 0. */
void bl_survey_moves_feed(struct bl_survey_moves *moves,
                          const struct bl_frame *frame);
/* After the last frame: to id->signal. */
void bl_survey_moves_end(struct bl_survey_moves *moves,
                         struct bl_survey_id *id);
void bl_survey_moves_finish(struct bl_survey_moves *moves);

#endif
