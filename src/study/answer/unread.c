/* SPDX-License-Identifier: MIT */
/* Which runs were not measured and which recordings could not be read: what is
   said of the others must not be taken for them. */
#include "study/answer/answer.h"

#include <math.h>

/* How a recording of a kind failed, in words. */
struct lack {
    enum bl_recording_kind kind;
    bool in_part; /* what came before the damage is used */
    const char *begins, *ends;
};

static const struct lack lacks[] = {
    {BL_RECORDING_CAPTURE, false, "Not read: the bus recording of run",
     "What it holds of the electronic demand is not known."},
    {BL_RECORDING_CAPTURE, true, "Read in part only: the bus recording of run",
     "What else it holds is not known."},
    {BL_RECORDING_LOG, false, "Not read: the log of run",
     "What it holds of the pressures is not known."},
    {BL_RECORDING_LOG, true, "Read in part only: the log of run",
     "What else it holds is not known."},
};

/* The first recording of a run that failed so; NULL: none. */
static const struct bl_loaded_recording *
lacking(const struct bl_answering *a, size_t run, const struct lack *lack)
{
    const struct bl_run_data *data = a->input->run[run].data;
    const bool measured = a->input->run[run].lag != NULL;
    for (size_t i = 0; measured && data != NULL && i < data->recordings; i++) {
        const struct bl_loaded_recording *one = &data->recording[i];
        if (one->status != BL_OK && one->kind == lack->kind &&
            (one->frames > 0 || one->rows > 0) == lack->in_part) {
            return one;
        }
    }
    return NULL;
}

static bool is_named(const struct bl_answering *a, size_t run,
                     const struct lack *lack)
{
    return lack == NULL ? a->input->run[run].lag == NULL
                        : lacking(a, run, lack) != NULL;
}

/* "s P1, P2 and P3"; 0: of none. */
static size_t name_runs(const struct bl_answering *a, struct bl_strbuf *text,
                        const struct lack *lack)
{
    const struct bl_trial *trial = a->input->trial;
    size_t count = 0;
    size_t n = 0;
    for (size_t r = 0; r < trial->runs; r++) {
        count += is_named(a, r, lack);
    }
    bl_strbuf_text(text, count == 1 ? " " : "s ");
    for (size_t r = 0; r < trial->runs; r++) {
        if (is_named(a, r, lack)) {
            bl_strbuf_text(text, bl_answer_between(n++, count));
            bl_strbuf_text(text, trial->run[r].name);
        }
    }
    return count;
}

/* The sentence stands before everything else, behind what was found. */
static void say(struct bl_answering *a, struct bl_strbuf *text, size_t count)
{
    if (count == 0) {
        bl_strbuf_finish(text);
        return;
    }
    struct bl_answer_sentence *said = bl_answer_say(a, BL_ANSWER_UNREAD, text);
    if (said != NULL) {
        said->first = true;
    }
    bl_answer_evidence(said, "runs", (double)count, NAN, "");
}

static void recordings(struct bl_answering *a, const struct lack *lack)
{
    struct bl_strbuf text = {0};
    bl_strbuf_text(&text, lack->begins);
    const size_t count = name_runs(a, &text, lack);
    for (size_t r = 0; r < a->input->trial->runs; r++) {
        const struct bl_loaded_recording *first = lacking(a, r, lack);
        if (first != NULL) {
            bl_strbuf_format(&text, " (%s). %s", first->failure, lack->ends);
            break;
        }
    }
    say(a, &text, count);
}

void bl_answer_unread(struct bl_answering *a)
{
    struct bl_strbuf text = {0};
    bl_strbuf_text(&text, "Not measured: run");
    const size_t count = name_runs(a, &text, NULL);
    bl_strbuf_text(&text, ".");
    say(a, &text, count);
    for (size_t i = 0; !a->failed && i < sizeof(lacks) / sizeof(lacks[0]);
         i++) {
        recordings(a, &lacks[i]);
    }
}
