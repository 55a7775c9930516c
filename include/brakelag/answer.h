/* SPDX-License-Identifier: MIT */
/*
 * The one answer to a trial: sentences for somebody who reads nothing else,
 * each with the figures that it rests on. Text, JSON and page draw the same
 * ones. What was not shown is not said, or said to be open.
 */
#ifndef BRAKELAG_ANSWER_H
#define BRAKELAG_ANSWER_H

#include "brakelag/causes.h"
#include "brakelag/compare.h"
#include "brakelag/findings.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

/* X(ENUM, "name in results", "what the sentence answers") */
#define BL_ANSWER_LIST(X)                                                      \
    X(FOUND, "found", "what is wrong, or how small a fault would have shown")  \
    X(UNREAD, "unread", "which runs or recordings are missing from it")        \
    X(MEASURED, "measured", "how much was measured")                           \
    X(RESPONDED, "responded", "whether every unit responded")                  \
    X(REACHED, "reached", "whether the electronic demand reached each unit")   \
    X(LAST, "last", "which unit gets its first air last")                      \
    X(CHANGED, "changed", "what differs most between two conditions")          \
    X(COMPARED, "compared", "how the units differ, kind by kind")              \
    X(PREDICTED, "predicted", "which units take longer than air alone would")  \
    X(CURVES, "curves", "where each unit opens, and what stays unbraked")

enum bl_answer_topic {
#define X(id, name, meaning) BL_ANSWER_##id,
    BL_ANSWER_LIST(X)
#undef X
        BL_ANSWER_TOPICS
};
BL_API const char *bl_answer_topic_name(enum bl_answer_topic topic);
/* Topics as bits. A study that is asked for by itself has its own answer; a
   whole trial has the first seven, and a report those of the studies too. */
enum {
    BL_ANSWER_EVERY = (1 << BL_ANSWER_TOPICS) - 1,
    BL_ANSWER_WHOLE = (1 << BL_ANSWER_COMPARED) - 1,
    BL_ANSWER_OF_REACH = 1 << BL_ANSWER_REACHED | 1 << BL_ANSWER_UNREAD,
    BL_ANSWER_OF_COMPARISON = 1 << BL_ANSWER_COMPARED | 1 << BL_ANSWER_UNREAD,
    BL_ANSWER_OF_PREDICT = 1 << BL_ANSWER_PREDICTED | 1 << BL_ANSWER_UNREAD,
    BL_ANSWER_OF_CURVES = 1 << BL_ANSWER_CURVES | 1 << BL_ANSWER_UNREAD
};

/* Pressures in `text` are in kPa. `unit` and `run` are indices in the trial;
   -1: none in particular. */
struct bl_answer_sentence {
    enum bl_answer_topic topic;
    bool first; /* stands before everything else: what is wrong, what was not
                   read, or all of a study's own answer */
    char *text;
    long unit, run;
    struct bl_evidence evidence[BL_EVIDENCE_MAX];
    size_t evidences, evidences_dropped; /* the latter did not fit */
};

struct bl_answer_sentences {
    struct bl_answer_sentence *item;
    size_t count, capacity;
};

/* What is known of the trial. `run` has one entry per run of the trial, as for
   bl_causes; `findings` and `comparison` may be NULL: not looked for. */
struct bl_answer_input {
    const struct bl_trial *trial;
    const struct bl_causes_run *run;
    const struct bl_findings *findings;
    const struct bl_comparison *comparison;
    unsigned topics; /* that are answered; 0: BL_ANSWER_WHOLE */
};

/* The sentences are its own: nothing given is kept. Errors: NOMEM. Free with
   bl_answer_destroy. */
BL_API BL_MUST_CHECK enum bl_status
bl_answer_create(struct bl_answer_sentences **out,
                 const struct bl_answer_input *input, struct bl_error *error);
BL_API void bl_answer_destroy(struct bl_answer_sentences *answer);

#endif
