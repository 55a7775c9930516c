/* SPDX-License-Identifier: MIT */
/*
 * Options of the tool: one table drives parsing, usage, --help and the manual
 * page. Long names only, except -o, -q and -h; `--name VALUE` and
 * `--name=VALUE` are the same; `--` ends the options.
 */
#ifndef BRAKELAG_SRC_CLI_OPTIONS_H
#define BRAKELAG_SRC_CLI_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>

/* X(ENUM, letter, "name", "VALUE" or NULL, "choices" or NULL, "help").
   Choices are words parted by '|'. */
#define OPTION_LIST(X)                                                         \
    X(JSON, 0, "json", NULL, NULL, "write the result as JSON")                 \
    X(CSV, 0, "csv", NULL, NULL, "write the result as CSV for a spreadsheet")  \
    X(PART, 0, "part", "PART", "figures|limits|dynamics",                      \
      "with --csv: which part of the result (default figures)")                \
    X(LONG, 0, "long", NULL, NULL,                                             \
      "with --csv: one row per figure, with everything that statistics "       \
      "need")                                                                  \
    X(OUTPUT, 'o', "output", "FILE", NULL,                                     \
      "write the result to FILE (complete, or not at all)")                    \
    X(PRESSURE_UNIT, 0, "pressure-unit", "UNIT", "kPa|bar|psi",                \
      "unit of pressures in text (default kPa)")                               \
    X(QUIET, 'q', "quiet", NULL, NULL,                                         \
      "print errors only, no notes or warnings")                               \
    X(TABLE, 0, "table", "FILE", NULL,                                         \
      "use this mapping table too; may be repeated")                           \
    X(TRIAL, 0, "trial", "FILE", NULL,                                         \
      "take tables and addresses from this trial file")                        \
    X(RUN, 0, "run", "NAME", NULL,                                             \
      "use only this run of the trial; may be repeated")                       \
    X(BASE, 0, "base", "CONDITION", NULL,                                      \
      "the condition to compare with (default unpowered)")                     \
    X(AGAINST, 0, "against", "CONDITION", NULL,                                \
      "the condition that is compared (default powered)")                      \
    X(WITH, 0, "with", "FILE", NULL,                                           \
      "an earlier result (JSON): compare its units with the same units in "    \
      "this trial, for example before and after a repair")                     \
    X(UNITS, 0, "units", "UNIT,UNIT", NULL,                                    \
      "compare two units in the same applications, such as A.2,B.2")           \
    X(REFERENCE, 0, "reference", "WHAT", NULL,                                 \
      "what to subtract as the difference between the measuring chains: a "    \
      "condition whose runs have all transducers at one tee, or a time "       \
      "such as '81 ms +- 5 ms'")                                               \
    X(BUDGET, 0, "budget", "FIGURE", NULL,                                     \
      "show what the uncertainty of a figure is made of: "                     \
      "FIGURE[@UNIT[@APPLICATION]], such as apply_75@2@1")                     \
    X(EACH, 0, "each", NULL, NULL,                                             \
      "print every application in the text; without it, if there are more "    \
      "than six, only the medians and what stood out")                         \
    X(BRIEF, 0, "brief", NULL, NULL, "print only the answer")                  \
    X(TRAITS, 0, "traits", NULL, NULL,                                         \
      "print what every unit does, and what it is compared with")              \
    X(CONFIDENCE, 0, "confidence", "PERCENT", NULL,                            \
      "confidence of the intervals, 50 to 99.9 (default 95)")                  \
    X(AIM, 0, "aim", "TIME", NULL,                                             \
      "the +- that you want, such as 10 ms: says how many runs that takes")    \
    X(SAME_WITHIN, 0, "same-within", "TIME", NULL,                             \
      "differences below this count as the same (default 20 ms)")              \
    X(HISTORY, 0, "history", "FILE", NULL,                                     \
      "file with the history of units (without it, the command `history` "     \
      "uses brakelag/history.sqlite in the user's data folder)")               \
    X(SEED, 0, "seed", "NUMBER", NULL, "seed of the random numbers")           \
    X(DIRECTORY, 0, "directory", "FOLDER", NULL, "write files into FOLDER")    \
    X(WRITE_TRIAL, 0, "write-trial", NULL, NULL,                               \
      "draft a trial file from the recordings")                                \
    X(MORE_OF, 0, "more-of", "TRIAL", NULL,                                    \
      "draft a trial file from this one, with the recordings added as "        \
      "further runs")                                                          \
    X(ID_ORDER, 0, "id-order", "ORDER", "big|little",                          \
      "byte order of the identifiers, for captures that break the rule of "    \
      "their format")                                                          \
    X(TIME, 0, "time", "COLUMN", NULL,                                         \
      "time column of logs: its header, its number such as #1, or none")       \
    X(RATE, 0, "rate", "FREQUENCY", NULL,                                      \
      "rows per second, for logs without times, such as '200 Hz'")             \
    X(MEASURED_IN, 0, "measured-in", "UNIT", NULL,                             \
      "unit of the pressures, for logs that state none, such as bar")          \
    X(EXPECTED, 0, "expected", NULL, NULL,                                     \
      "print every identifier that each link should show")                     \
    X(FORMAT, 0, "format", "FORM", "page|text|json|csv",                       \
      "form of the report (default page: one HTML file)")                      \
    X(BUNDLE, 0, "bundle", "FOLDER", NULL,                                     \
      "write page, text, JSON, CSV, trial file, tables and a list of hashes "  \
      "into FOLDER")                                                           \
    X(MANUAL, 0, "manual", NULL, NULL, "write the manual page (roff)")         \
    X(COMPLETION, 0, "completion", "SHELL", "bash|zsh",                        \
      "write the file that lets this shell complete command lines")            \
    X(HELP, 'h', "help", NULL, NULL, "show how the command is used")

enum option_id {
#define X(id, letter, name, value, choices, help) OPTION_##id,
    OPTION_LIST(X)
#undef X
        OPTIONS,
    OPTION_END = OPTIONS
};

struct option_spec {
    char letter;
    const char *name, *value, *choices, *help;
};
const struct option_spec *option_spec(enum option_id id);

/* Every value given for an option, in order; the last one counts where only
   one is asked for. A flag counts in `count`, its values are "". */
struct option_values {
    const char **item;
    size_t count;
};

struct command;

struct arguments {
    const struct command *command;
    const struct command *commands; /* all of them, ended by name NULL */
    struct option_values option[OPTIONS];
    const char **word; /* what is no option, in order */
    size_t words;
};

/*
 * Read argv[0..argc) for `command`. On misuse says so and returns an exit
 * code other than 0. Values point into argv. Free with arguments_finish, also
 * after a failure.
 */
int arguments_read(struct arguments *arguments, const struct command *command,
                   int argc, char **argv);
void arguments_finish(struct arguments *arguments);

bool has_option(const struct arguments *arguments, enum option_id id);
/* The last value, or `otherwise`. */
const char *option_text(const struct arguments *arguments, enum option_id id,
                        const char *otherwise);

#endif
