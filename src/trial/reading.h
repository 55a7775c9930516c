/* SPDX-License-Identifier: MIT */
/*
 * Inside of the trial room: a trial file while it is being read. First all
 * lines become sections and entries (document.c), then every entry is parsed
 * as its key in the key table says (keys.c), then the whole is checked
 * against itself (checks_*.c). Mistakes are collected, never the last word.
 */
#ifndef BRAKELAG_SRC_TRIAL_READING_H
#define BRAKELAG_SRC_TRIAL_READING_H

#include "brakelag/trial.h"
#include "brakelag/words.h"

enum section_kind {
    SECTION_TRIAL,
    SECTION_UNIT,
    SECTION_CHANNEL,
    SECTION_RECORDING,
    SECTION_RUN,
    SECTION_CHARACTERISTIC,
    SECTION_LIMIT,
    SECTION_LOG,
    SECTION_EXPECT,
    SECTION_RECORD,
    SECTION_KINDS,
    SECTION_UNKNOWN = SECTION_KINDS
};

struct trial_entry {
    char *key, *value;
    int line;
};

struct trial_section {
    char *heading;          /* as written, without brackets */
    enum section_kind kind; /* UNKNOWN: a mistake that was reported */
    const char *name;       /* within heading; "" for sections without */
    int line;
    struct trial_entry *entry;
    size_t entries, capacity;
};

struct reading {
    struct bl_trial *trial;
    const char *source; /* name, for messages */
    struct trial_section *section;
    size_t sections, section_capacity;
    struct bl_notes found; /* mistakes in the order in which they were met */
    uint64_t unlisted;     /* mistakes beyond the bound on the list */
    enum bl_status status; /* what stopped the reading, not a mistake */
    struct bl_error *error;
    size_t recording_capacity;
    bool tables_failed; /* signals cannot be judged then */
    bool binary;        /* no text at all: one mistake says so */
    bool passing;       /* sections over the limit are passed over */
};

/* One row of the key table. `set` parses the entry into the object of its
   section and reports its own mistakes. */
struct trial_key;
typedef void (*key_setter)(struct reading *r, void *object,
                           const struct trial_key *key,
                           const struct trial_entry *entry);
struct trial_key {
    enum section_kind section;
    const char *key;
    key_setter set;
    size_t offset; /* of the field, for the general setters */
    enum bl_quantity quantity;
    double scale;        /* field = canonical * scale */
    double low, high;    /* allowed, in the canonical unit */
    const char *example; /* a right value; of choices all, parted by '|' */
    const char *meaning;
    bool needed;
    bool labelled; /* key.LABEL is allowed too */
};

/* keys.c */
const struct trial_key *bl_trial_key_at(size_t index);
const struct trial_key *bl_trial_key_find(enum section_kind section,
                                          const char *key);
const char *bl_trial_section_word(enum section_kind kind);
bool bl_trial_section_named(enum section_kind kind);

/* mistakes.c: each appends one mistake; text is cut where it is too long. */
void bl_trial_mistake(struct reading *r, const char *code, int line,
                      const char *format, ...) BL_PRINTF(4, 5);
/* "expected EXPECTED, found 'FOUND'HINT" */
void bl_trial_wrong(struct reading *r, int line, const char *expected,
                    const char *found, const char *hint);
void bl_trial_no_memory(struct reading *r);
/* A note about something harmless, of its own. */
void bl_trial_remark(struct reading *r, const char *code, int line,
                     const char *format, ...) BL_PRINTF(4, 5);
/* Hand the mistakes over in order of lines; the status of the reading. */
enum bl_status bl_trial_settle(struct reading *r, struct bl_notes *mistakes);

/* `text`, or NULL when so many mistakes have been found that the search for
   near words would cost more than it helps. */
const char *bl_trial_hintable(const struct reading *r, const char *text);
enum { HINT_MAX = 96, QUOTE_MAX = 64 };
/* " (did you mean 'x'?)" or "". */
const char *bl_trial_nearest_hint(const struct bl_nearest *nearest,
                                  char text[HINT_MAX]);
/* `text` cut to a length fit for a message, at a character's border. */
const char *bl_trial_quote(const char *text, char out[QUOTE_MAX]);

/* text.c */
char *bl_trial_trim(char *text);
/* Parts of `text` between signs `between`, trimmed, as one block of pointers
   into *copy; both are freed by the caller, also on failure. An empty part is
   a mistake. Returns how many, 0 after a mistake. */
size_t bl_trial_split(struct reading *r, const struct trial_entry *entry,
                      char between, char **copy, char ***part);
/* A copy of text into the pointer at `field`, freeing what was there. */
void bl_trial_keep(struct reading *r, void *field, const char *text);
/* One more pair of a list, whose size is bounded by that of its section. */
bool bl_trial_add_pair(struct reading *r, struct bl_trial_pair **list,
                       size_t *count, const char *key,
                       const struct trial_entry *entry);
/* Position of `word` in "one|two|three"; -1. */
int bl_trial_word(const char *words, const char *word);
bool bl_trial_matches(const char *pattern, const char *name);

/* quantity.c */
struct measure {
    double number;
    const struct bl_measurement_unit *unit;
};
/* "20 kPa"; false without a message. `text` may be any length. */
bool bl_trial_measure_parse(const char *text, struct measure *out);
double bl_trial_canonical(const struct measure *measure);
double bl_trial_difference(const struct measure *measure);
/* One value of a quantity, canonical; mistakes are reported. */
bool bl_trial_quantity(struct reading *r, int line, const char *text,
                       enum bl_quantity quantity, const char *example,
                       double *out);
/* The hint for a wrong unit in `text`. */
const char *bl_trial_unit_hint(const char *text, enum bl_quantity quantity,
                               char hint[HINT_MAX]);
/* "a pressure with its unit such as '20 kPa'". */
const char *bl_trial_quantity_words(enum bl_quantity quantity,
                                    const char *example, char text[128]);

/* values.c: general setters */
void bl_trial_set_text(struct reading *r, void *object,
                       const struct trial_key *key,
                       const struct trial_entry *entry);
void bl_trial_set_quantity(struct reading *r, void *object,
                           const struct trial_key *key,
                           const struct trial_entry *entry);
void bl_trial_set_choice(struct reading *r, void *object,
                         const struct trial_key *key,
                         const struct trial_entry *entry);
void bl_trial_set_row(struct reading *r, void *object,
                      const struct trial_key *key,
                      const struct trial_entry *entry);
void bl_trial_set_option(struct reading *r, void *object,
                         const struct trial_key *key,
                         const struct trial_entry *entry);

/* Setters of one key each: trial_keys.c, unit_keys.c, channel_keys.c,
   run_keys.c, clock_key.c, identity_keys.c, other_keys.c */
#define SETTER(name)                                                           \
    void bl_trial_set_##name(struct reading *r, void *object,                  \
                             const struct trial_key *key,                      \
                             const struct trial_entry *entry)
SETTER(quantities);
SETTER(tables);
SETTER(address);
SETTER(input);
SETTER(output);
SETTER(command);
SETTER(command_at);
SETTER(chambers);
SETTER(gain);
SETTER(characteristic_gain);
SETTER(load);
SETTER(quantity_name);
SETTER(measured_in);
SETTER(scale);
SETTER(zero);
SETTER(accuracy);
SETTER(own_quantity);
SETTER(u_gain);
SETTER(range);
SETTER(on_when);
SETTER(on_level);
SETTER(files);
SETTER(run_files);
SETTER(run_of);
SETTER(recording_kind);
SETTER(exclude);
SETTER(run_clock);
SETTER(recording_clock);
SETTER(when);
SETTER(record);
SETTER(record_date);
SETTER(record_place);
SETTER(record_supply);
SETTER(id);
SETTER(label);
SETTER(figure);
SETTER(limit_unit);
SETTER(reach);
SETTER(bus_split);
SETTER(date);
SETTER(timezone);

/* document.c */
void bl_trial_read_document(struct reading *r, struct bl_bytes *source);
void bl_trial_free_document(struct reading *r);

/* sections.c */
void bl_trial_name_sections(struct reading *r);
void bl_trial_fill(struct reading *r);
const struct trial_entry *bl_trial_entry(const struct trial_section *section,
                                         const char *key);
/* The section that an object came from, by kind and line; NULL. */
const struct trial_section *
bl_trial_section_at(const struct reading *r, enum section_kind kind, int line);
bool bl_trial_unit_name(const char *text, char *combination, int *number);

/* trial_keys.c */
bool bl_trial_load_table(struct reading *r, int line, const char *name);
void bl_trial_load_shipped(struct reading *r, int line);
/* unit_keys.c: a signal reference; mistakes are reported. */
bool bl_trial_signal(struct reading *r, const struct trial_entry *entry,
                     const char *text, struct bl_signal_ref *out);
/* channel_keys.c: scale and zero, when all keys of the channel are known */
void bl_trial_finish_channel(struct reading *r, struct bl_trial_channel *c,
                             const struct trial_section *section);
/* run_keys.c */
struct bl_trial_recording *bl_trial_add_recording(struct reading *r, int line);
char *bl_trial_join(const struct bl_trial *trial, const char *path);
/* Does the name of the first file tell capture from log? */
bool bl_trial_kind_told(const struct bl_trial_recording *recording);
bool bl_trial_recording_is(const struct bl_trial_recording *recording,
                           const char *pattern);
/* clock_key.c */
void bl_trial_clock_init(struct bl_trial_clock *clock);

/* checks_*.c */
void bl_trial_check_units(struct reading *r);
void bl_trial_check_channels(struct reading *r);
void bl_trial_check_runs(struct reading *r);
void bl_trial_check_clocks(struct reading *r);
void bl_trial_check_others(struct reading *r);

/* trial.c: index of a channel by name; -1. */
long bl_trial_channel_index(const struct bl_trial *trial, const char *name);
/* keys.c */
/* Every section and key that a trial file may have, by index, with its
   meaning; false past the last. The key "*" stands for any. */
bool bl_trial_keys(size_t index, const char **section, const char **key,
                   const char **meaning);

#endif
