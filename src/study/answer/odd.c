/* SPDX-License-Identifier: MIT */
/*
 * The first sentence: which unit, what is wrong with it, the two numbers that
 * show it, where to look. Remarks on the measuring come behind it.
 */
#include "study/answer/answer.h"

#include "base/alloc.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

static void first_letter(struct bl_strbuf *text)
{
    if (text->text != NULL) {
        text->text[0] = (char)toupper((unsigned char)text->text[0]);
    }
}

/* What to do first: the first of several steps. */
void bl_answer_first_check(struct bl_strbuf *text, const char *check)
{
    const char *end = strpbrk(check, ".;");
    bl_strbuf_format(text, " %.*s.",
                     end == NULL ? (int)strlen(check) : (int)(end - check),
                     check);
}

static void found(struct bl_answering *a, const struct bl_finding *first,
                  size_t more)
{
    struct bl_strbuf text = {0};
    bl_strbuf_text(&text, first->text);
    if (text.length > 0 && text.text[text.length - 1] != '.') {
        bl_strbuf_char(&text, '.');
    }
    if (!first->headline || first->shown == BL_SHOWN_CANNOT_TELL) {
        bl_answer_first_check(&text, first->next_check);
    }
    if (more > 0) {
        bl_strbuf_text(&text, " Besides, there ");
        bl_strbuf_text(&text, more == 1 ? "is " : "are ");
        bl_answer_count(&text, more, "other finding");
        bl_strbuf_char(&text, '.');
    }
    first_letter(&text);
    struct bl_answer_sentence *said = bl_answer_say(a, BL_ANSWER_FOUND, &text);
    if (said != NULL) {
        said->unit = first->unit;
        said->run = first->run;
        memcpy(said->evidence, first->evidence, sizeof(said->evidence));
        said->evidences = first->evidences;
        said->evidences_dropped = first->evidences_dropped;
    }
}

static bool graver(const struct bl_finding *a, const struct bl_finding *b)
{
    return a->follows != b->follows ? b->follows : a->severity > b->severity;
}

/* A remark on a run's clocks or recordings: no answer to which unit is late.
   Where no pressure can be believed, that is the answer. */
static bool is_remark(const struct bl_finding *f)
{
    return f->unit < 0 && !f->headline &&
           bl_finding_kind(f->code)->group == BL_GROUP_MEASURING;
}

struct gravest {
    const struct bl_finding *first;
    const struct bl_finding *differ; /* it is not known which unit is odd */
    const struct bl_finding *open;   /* that cannot be told */
    const struct bl_finding *beside; /* the same, of no earlier runs */
    const struct bl_finding *run;    /* another pedal than in earlier runs */
    const struct bl_finding *remark;
    size_t count, remarks; /* found, but remarks */
};

static void look_at(struct gravest *g, const struct bl_finding *one)
{
    const bool note = one->severity == BL_SEVERITY_NOTE;
    if (one->shown == BL_SHOWN_FOUND && !note && is_remark(one)) {
        g->remark =
            g->remark == NULL || graver(one, g->remark) ? one : g->remark;
        g->remarks++;
    } else if (one->shown == BL_SHOWN_FOUND && !note) {
        g->first = g->first == NULL || graver(one, g->first) ? one : g->first;
        g->count++;
    } else if (one->shown == BL_SHOWN_CANNOT_TELL && one->headline &&
               one->code == BL_FINDING_NOT_COMPARABLE) {
        /* Earlier runs say nothing then; units beside each other still do. */
        g->run = g->run == NULL ? one : g->run;
    } else if (one->shown == BL_SHOWN_CANNOT_TELL && one->headline &&
               one->unit < 0) {
        g->differ = g->differ == NULL ? one : g->differ;
    } else if (one->shown == BL_SHOWN_CANNOT_TELL && one->unit >= 0 &&
               one->text[0] != '\0' && (one->judged == 0 || one->fired > 0) &&
               !note) {
        const bool beside =
            one->judged == 0 && (g->beside == NULL || graver(one, g->beside));
        g->open = g->open == NULL || graver(one, g->open) ? one : g->open;
        g->beside = beside ? one : g->beside;
    }
}

void bl_answer_odd(struct bl_answering *a)
{
    const struct bl_findings *all = a->input->findings;
    struct gravest g = {.first = NULL};
    for (size_t i = 0; all != NULL && i < all->count; i++) {
        look_at(&g, &all->item[i]);
    }
    if (g.first != NULL) {
        found(a, g.first, g.count - 1);
    } else if (g.differ != NULL) {
        found(a, g.differ, 0);
    } else if (all != NULL) {
        const struct bl_finding *open = g.run == NULL ? g.open : g.beside;
        bl_answer_sound(a, all, open != NULL ? open : g.run);
    }
    if (!a->failed && all != NULL) {
        bl_answer_light(a);
    }
    if (!a->failed && g.remark != NULL) {
        found(a, g.remark, g.remarks - 1);
    }
}
