/* SPDX-License-Identifier: MIT */
/* What the sentences of the answer share; inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_ANSWER_ANSWER_H
#define BRAKELAG_SRC_STUDY_ANSWER_ANSWER_H

#include "base/strbuf.h"
#include "brakelag/answer.h"

struct bl_answering {
    const struct bl_answer_input *input;
    struct bl_answer_sentences *into;
    bool failed;  /* out of memory */
    size_t *told; /* light.c: by unit, applications without a response that
                     stand beside the verdict; NULL: none */
};

enum { BL_ANSWER_UNIT = BL_UNIT_CALLED };

/* A new sentence that says `text`, whose memory is taken; NULL: out of memory,
   which the other functions here take. */
struct bl_answer_sentence *bl_answer_say(struct bl_answering *a,
                                         enum bl_answer_topic topic,
                                         struct bl_strbuf *text);
void bl_answer_evidence(struct bl_answer_sentence *sentence, const char *label,
                        double value, double u, const char *unit);
/* "bin trailer C" */
const char *bl_answer_unit(const struct bl_answering *a, size_t unit,
                           char text[BL_ANSWER_UNIT]);
/* "full steps" */
void bl_answer_kind(struct bl_strbuf *text, enum bl_application_kind kind,
                    enum bl_application_shape shape);
/* "1 run", "2 runs" */
void bl_answer_count(struct bl_strbuf *text, size_t count, const char *one);
/* ", " or " and " before item `index` of `count`. */
const char *bl_answer_between(size_t index, size_t count);
const char *bl_answer_condition(const struct bl_answering *a, size_t run);
/* The run was made to compare measuring chains only. */
bool bl_answer_is_reference(const struct bl_answering *a, size_t run);
/* Walks the conditions, those with power first, reference runs left out: the
   first run of the next one. *place begins at 0. */
bool bl_answer_next_condition(const struct bl_answering *a, size_t *place,
                              size_t *run);
/* Walks kinds and shapes from the hardest on, steps before ramps. */
bool bl_answer_next_kind(size_t *place, enum bl_application_kind *kind,
                         enum bl_application_shape *shape);
/* bl_trial.units entries of `size` bytes, at least one; NULL: out of memory,
   which is kept. */
void *bl_answer_per_unit(struct bl_answering *a, size_t size);

/* odd.c: what is wrong, or how small a fault would have been seen */
void bl_answer_odd(struct bl_answering *a);
/* " Look at ..": the first of several steps. */
void bl_answer_first_check(struct bl_strbuf *text, const char *check);
/* sound.c; `undecided`: what may be a fault; NULL: there is none. */
void bl_answer_sound(struct bl_answering *a, const struct bl_findings *findings,
                     const struct bl_finding *undecided);
/* light.c: who does not brake at light applications by air */
void bl_answer_light(struct bl_answering *a);
/* last.c */
void bl_answer_last(struct bl_answering *a);
/* unread.c */
void bl_answer_unread(struct bl_answering *a);
/* reached.c; `untold`: runs of which nothing is known are named too */
void bl_answer_reached(struct bl_answering *a, bool untold);
/* compared.c, predicted.c, curves.c */
void bl_answer_compared(struct bl_answering *a);
/* `refused`: conditions in which no unit could be predicted are named too */
void bl_answer_predicted(struct bl_answering *a, bool refused);
void bl_answer_curves(struct bl_answering *a);

#endif
