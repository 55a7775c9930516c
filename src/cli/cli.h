/* SPDX-License-Identifier: MIT */
/*
 * What every command shares: its entry in the table, how it reads its words,
 * how it says what went wrong, and which exit code that is.
 * Results go to standard output (or -o), messages to standard error.
 */
#ifndef BRAKELAG_SRC_CLI_CLI_H
#define BRAKELAG_SRC_CLI_CLI_H

#include "options.h"

#include "brakelag/brakelag.h"

#include <stdio.h>

/* Exit codes; an interface (the manual page says them). */
enum cli_exit {
    EXIT_DONE = 0,
    EXIT_VERDICT = 1, /* an [expect] or [limit] failed or was not shown */
    EXIT_USAGE = 2,   /* usage, trial file or another file that steers */
    EXIT_INPUT = 3,   /* a recording is unreadable or damaged inside */
    EXIT_NO_DATA = 4, /* not enough data to answer */
    EXIT_SYSTEM = 5   /* memory, disk, a closed pipe */
};

/* The code that counts when a command met both: 2, 5, 3, 4, 1, 0. */
int cli_worse(int a, int b);
/* Exit code of a failure while reading input. */
int cli_exit_code(enum bl_status status);

/*
 * A command. `words` describes what follows the options ("TRIAL",
 * "[FILE]..."), `least` and `most` bound their number. `option` lists what it
 * takes, ended by OPTION_END; `text` tells in a few lines what it does.
 */
struct command {
    const char *name, *summary, *words, *text;
    int least, most;
    const enum option_id *option;
    int (*run)(const struct arguments *arguments);
};

/* The one of that name; NULL. `commands`: all in the order of the help, ended
   by name NULL. */
const struct command *cli_command(const struct command *commands,
                                  const char *name);

int cmd_characteristic(const struct arguments *arguments);
int cmd_check(const struct arguments *arguments);
int cmd_compare(const struct arguments *arguments);
int cmd_causes(const struct arguments *arguments);
int cmd_explain(const struct arguments *arguments);
int cmd_help(const struct arguments *arguments);
int cmd_history(const struct arguments *arguments);
int cmd_measure(const struct arguments *arguments);
int cmd_predict(const struct arguments *arguments);
int cmd_reach(const struct arguments *arguments);
int cmd_report(const struct arguments *arguments);
int cmd_simulate(const struct arguments *arguments);
int cmd_survey(const struct arguments *arguments);
int cmd_tables(const struct arguments *arguments);
int cmd_version(const struct arguments *arguments);

/* One line to standard error: "brakelag: ..." */
void cli_say(const char *format, ...) BL_PRINTF(1, 2);
/* Say an error; returns its exit code. */
int cli_fail(const struct bl_error *error);
/* Say, once, that memory ran out; returns EXIT_SYSTEM. */
int cli_no_memory(void);
/* Say a usage error and point to the help; returns EXIT_USAGE. */
int cli_misuse(const struct command *command, const char *format, ...)
    BL_PRINTF(2, 3);
/* Say notes, unless --quiet: "NAME: text (12 times)". */
void cli_say_notes(const struct arguments *arguments, const char *name,
                   const struct bl_notes *notes);
/* The note that is a mistake in the trial file: EXIT_USAGE, said in any case.
 */
extern const char *const cli_column_missing;
/* Say mistakes: "FILE:LINE: text", each on its line, --quiet or not. */
void cli_say_mistakes(const char *file, const struct bl_notes *mistakes);

/* Where results go: -o FILE, else standard output. cli_close commits and
   returns the exit code that counts in the end. */
int cli_open(struct bl_output **out, const struct arguments *arguments);
/* Is what --output, or a file of --bundle, would replace this input? Says so;
   returns EXIT_USAGE, or EXIT_DONE. */
int cli_spare(const char *input, const struct arguments *arguments);
/* The same for all that a trial names. */
int cli_spare_trial(const struct bl_trial *trial,
                    const struct arguments *arguments);
int cli_close(struct bl_output *output, int code);
/* The same, but where `status` says that writing failed: nothing appears. */
int cli_close_written(struct bl_output *output, enum bl_status status,
                      const struct bl_error *error, int code);
/* Between the two, interrupts wait while the output is a file. For files that
   are written by other means: */
void cli_hold_signals(void);
void cli_let_signals(void);
/* Write a result in the form and to the place that the options say. */
int cli_write_result(const struct bl_result *result,
                     const struct arguments *arguments, int code);

/* The same, in this form. */
int cli_write_form(const struct bl_result *result, enum bl_result_form form,
                   const struct arguments *arguments, int code);
/* Everything about a trial into the folder of --bundle, which is made if it is
   missing, with a list of hashes. */
int cli_write_bundle(const struct bl_result *result,
                     const struct bl_trial *trial,
                     const struct arguments *arguments, int code);

/* How far long work is, on standard error where that is a terminal. */
void cli_progress(const struct arguments *arguments, size_t done, size_t all,
                  const char *what);
/* Away with it: at the end, and before a message. */
void cli_progress_end(void);
/* Columns of a line of text: 80, more where a wider terminal shows it. */
size_t cli_columns(const struct arguments *arguments);

/* Not installed: the mapping tables in a folder beside the program. */
void cli_tables_beside(const char *program);

/* Read the trial file, saying every mistake and (unless --quiet) every oddity.
   Not EXIT_DONE: *out is NULL. */
int cli_read_trial(struct bl_trial **out, const char *path,
                   const struct arguments *arguments);
/* Is what was given for a trial file plainly a folder; a recording or a result?
   Says so in one line, with the command that makes a trial file of recordings;
   returns EXIT_USAGE, or EXIT_DONE: it may be one. Takes nothing of the source.
 */
int cli_refuse_folder(const char *path);
int cli_refuse_other(const char *path, struct bl_bytes *source);

/* What a command asks of a trial. */
enum cli_needs {
    CLI_NEEDS_APPLICATIONS, /* a run without one is EXIT_NO_DATA */
    CLI_NEEDS_READY,        /* the same, and the command says what is missing */
    CLI_NEEDS_RAMPS,        /* said, but no failure */
    CLI_NEEDS_FRAMES        /* not needed */
};
struct cli_task {
    unsigned parts; /* of enum bl_assess_part */
    enum cli_needs needs;
    const struct bl_compare_options *compare;
    unsigned topics; /* of the answer (answer.h); 0: the whole trial's */
    const char *budget;
    /* What else is to be said of one run, and its exit code; may be NULL. */
    int (*judge)(const struct arguments *arguments,
                 const struct bl_assessment *so_far, size_t run);
};
/* Assess the runs that --run names, or all. Says failures, damage and notes of
   each; returns the exit code. *out is NULL where nothing can be written; free
   it with bl_assessment_destroy. */
int cli_assess(struct bl_assessment **out, const struct bl_trial *trial,
               const struct cli_task *task, const struct arguments *arguments);
/* Write it in the form and to the place that the options say. */
int cli_write_assessed(const struct bl_assessment *assessment,
                       const struct bl_report_options *options,
                       const struct arguments *arguments, int code);
/* Open the history that --history or the user's data folder has; says why not.
   Close it with bl_history_close. */
int cli_open_history(struct bl_history **out, enum bl_history_mode mode,
                     const struct arguments *arguments);
/* With --history: earlier visits of the trial's units, for causes. Close with
   the same call and NULL. */
struct cli_visits {
    const struct arguments *arguments;
    struct bl_history_visits *found;
    int code; /* why there are none, which was said */
};
enum bl_status cli_visits_find(const struct bl_visits **out, void *user,
                               const struct bl_assessment *so_far,
                               struct bl_error *error);
/* With --history: the trial's units over their earlier visits, put into the
   result. Not EXIT_DONE: why was said, and nothing is to be written. */
int cli_beside_history(struct bl_result *into,
                       const struct bl_assessment *found,
                       const struct arguments *arguments);
/* Is there an answer? Else EXIT_NO_DATA. */
typedef bool (*cli_task_answered)(const struct bl_assessment *assessment);
/* A whole command: read the trial, assess it, write the parts `only`. */
int cli_run_task(const struct cli_task *task, unsigned only,
                 cli_task_answered answered, const struct arguments *arguments);

/* What the tool is for, and what its exit codes mean (ended by NULL). */
extern const char cli_about[];
struct cli_exit_meaning {
    int code;
    const char *meaning;
};
extern const struct cli_exit_meaning cli_exits[];
/* A command line that shows the command at work on the shipped trial; NULL:
   there is none. */
const char *cli_example(const char *command);
/* "-o, --output FILE", the letter or its blanks first. */
void cli_option_words(const struct option_spec *spec, char *text, size_t size);

/* Usage of one command, or of the tool (NULL). */
void cli_write_help(FILE *file, const struct command *commands,
                    const struct command *command);
/* Manual page of one command, or of the tool (roff, man macros). */
void cli_write_manual(FILE *file, const struct command *commands,
                      const struct command *command);
/* Completion for two shells. */
void cli_write_bash(FILE *file, const struct command *commands);
void cli_write_zsh(FILE *file, const struct command *commands);
/* Say that there is no such command, and which may have been meant. */
int cli_unknown_command(const struct command *commands, const char *name);
/* Flush standard output; says so and returns EXIT_SYSTEM when it fails. */
int cli_flush(void);

#endif
