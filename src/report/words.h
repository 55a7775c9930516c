/* SPDX-License-Identifier: MIT */
/* Closed lists of names with what they mean, by name: the result holds names,
   people read meanings. */
#ifndef BRAKELAG_SRC_REPORT_WORDS_H
#define BRAKELAG_SRC_REPORT_WORDS_H

/* Both by index; NULL past the last. */
struct bl_words {
    const char *(*name)(int index);
    const char *(*meaning)(int index);
};

extern const struct bl_words bl_words_figures, bl_words_titles, bl_words_labels,
    bl_words_reasons, bl_words_flags, bl_words_limits, bl_words_predict,
    bl_words_curves, bl_words_reach, bl_words_components;

/* What a reader is shown for a code of the result. */
struct bl_coded {
    const char *code, *words;
};
/* Of a table whose last entry has no code; that entry's words stand for every
   other code, and the code itself where it has none. */
const char *bl_coded_words(const struct bl_coded *table, const char *code);

/* What a person must know before a yard test and after it, by index; NULL past
   the last. README and docs/guide.md say the same. */
const char *bl_words_caution(int index);

/* The meaning of a name; the name itself where the list does not have it. */
const char *bl_words_of(const struct bl_words *words, const char *name);

#endif
