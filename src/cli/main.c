/* SPDX-License-Identifier: MIT */
/* The table of commands, and the way from argv to one of them. */
#include "cli.h"

#include <signal.h>
#include <string.h>

static const enum option_id measure_options[] = {
    OPTION_BRIEF, OPTION_RUN,  OPTION_EACH, OPTION_BUDGET, OPTION_JSON,
    OPTION_CSV,   OPTION_PART, OPTION_LONG, OPTION_OUTPUT, OPTION_PRESSURE_UNIT,
    OPTION_QUIET, OPTION_HELP, OPTION_END};
static const enum option_id check_options[] = {
    OPTION_RUN,           OPTION_JSON, OPTION_OUTPUT, OPTION_QUIET,
    OPTION_PRESSURE_UNIT, OPTION_HELP, OPTION_END};
static const enum option_id compare_options[] = {
    OPTION_BRIEF,     OPTION_BASE,          OPTION_AGAINST, OPTION_UNITS,
    OPTION_REFERENCE, OPTION_CONFIDENCE,    OPTION_AIM,     OPTION_SAME_WITHIN,
    OPTION_WITH,      OPTION_JSON,          OPTION_CSV,     OPTION_OUTPUT,
    OPTION_QUIET,     OPTION_PRESSURE_UNIT, OPTION_HELP,    OPTION_END};
/* Of the studies that read a whole trial and have nothing of their own. */
static const enum option_id study_options[] = {
    OPTION_BRIEF,         OPTION_RUN,   OPTION_JSON, OPTION_CSV, OPTION_OUTPUT,
    OPTION_PRESSURE_UNIT, OPTION_QUIET, OPTION_HELP, OPTION_END};
static const enum option_id causes_options[] = {
    OPTION_BRIEF, OPTION_TRAITS, OPTION_HISTORY, OPTION_RUN,
    OPTION_JSON,  OPTION_CSV,    OPTION_OUTPUT,  OPTION_PRESSURE_UNIT,
    OPTION_QUIET, OPTION_HELP,   OPTION_END};
static const enum option_id reach_options[] = {
    OPTION_BRIEF,  OPTION_EXPECTED,      OPTION_RUN,   OPTION_JSON, OPTION_CSV,
    OPTION_OUTPUT, OPTION_PRESSURE_UNIT, OPTION_QUIET, OPTION_HELP, OPTION_END};
static const enum option_id report_options[] = {
    OPTION_FORMAT, OPTION_BUNDLE, OPTION_HISTORY,
    OPTION_RUN,    OPTION_OUTPUT, OPTION_PRESSURE_UNIT,
    OPTION_QUIET,  OPTION_HELP,   OPTION_END};
static const enum option_id tables_options[] = {OPTION_TABLE,  OPTION_JSON,
                                                OPTION_OUTPUT, OPTION_QUIET,
                                                OPTION_HELP,   OPTION_END};
static const enum option_id explain_options[] = {
    OPTION_TRIAL, OPTION_TABLE, OPTION_JSON, OPTION_OUTPUT,
    OPTION_QUIET, OPTION_HELP,  OPTION_END};
static const enum option_id history_options[] = {
    OPTION_HISTORY, OPTION_JSON, OPTION_CSV, OPTION_OUTPUT,
    OPTION_QUIET,   OPTION_HELP, OPTION_END};
static const enum option_id help_options[] = {OPTION_MANUAL, OPTION_COMPLETION,
                                              OPTION_HELP, OPTION_END};
static const enum option_id version_options[] = {OPTION_HELP, OPTION_END};

static const enum option_id survey_options[] = {
    OPTION_JSON,   OPTION_WRITE_TRIAL, OPTION_MORE_OF,  OPTION_TIME,
    OPTION_RATE,   OPTION_MEASURED_IN, OPTION_ID_ORDER, OPTION_TABLE,
    OPTION_OUTPUT, OPTION_QUIET,       OPTION_HELP,     OPTION_END};
static const enum option_id simulate_options[] = {
    OPTION_DIRECTORY, OPTION_SEED, OPTION_QUIET, OPTION_HELP, OPTION_END};

static const struct command commands[] = {
    {"measure", "measure every unit in every application of a trial", "TRIAL",
     "Reads the trial file, loads the recordings of each run, ties their "
     "clocks and says when each unit's output (the pressure in its brake "
     "chambers) followed the command, on apply and on release. Every figure "
     "has its uncertainty. If a figure is not known, the reason is given. If "
     "one run cannot be measured, the others still are. The first line says "
     "which unit differs from the others, or that none does (not with --csv "
     "or --budget).",
     1, 1, measure_options, cmd_measure},
    {"characteristic", "read each unit's pressure curve from slow pressures",
     "TRIAL",
     "Shows output against electronic demand and against control pressure, "
     "from steady pressures and slow ramps: where the output begins, its "
     "gain, jump and hysteresis. Says which of the curves in the trial file a "
     "unit follows, or that the recordings do not show it. Also says how much "
     "of a light demand is left at the rear, what couplings lose, and whether "
     "doubled transducers agree.",
     1, 1, study_options, cmd_characteristic},
    {"check", "say whether a trial is ready, after one application", "TRIAL",
     "Checks that every channel was recorded and moved. Checks zeros, rates, "
     "the command, the demand on every link, voltage, clocks, and how exactly "
     "first air will be known. Says what to do where something is missing. "
     "The exit code is 0 if every run asked for is ready, 4 if one is not, 3 "
     "if a recording is unreadable or damaged.",
     1, 1, check_options, cmd_check},
    {"compare", "say how two conditions, units or visits differ", "TRIAL",
     "Measures all runs and compares each unit's figures between the runs of "
     "two conditions. Prints one sentence per unit and kind of application "
     "first, then every figure. The confidence is worked out from the means "
     "of the runs. With fewer than three runs of a condition, the sentences "
     "hold for these runs only, and the output says how many more runs to "
     "make. --units compares two units in the same applications, in all runs "
     "or those of --base. --with compares units with the same units in an "
     "earlier result (matched by id), as before and after a repair.",
     1, 1, compare_options, cmd_compare},
    {"reach", "show whether the demand arrives at every unit", "TRIAL",
     "Says for each coupling whether the electronic demand is there, at what "
     "intervals and with which gaps, whether it is unchanged, and how much "
     "later it comes. Shows what each unit reports about itself, trouble "
     "codes, names, error frames and the load of each bus. Gives a verdict "
     "per unit. --expected prints the identifiers that each link should show; "
     "it reads no recording.",
     1, 1, reach_options, cmd_reach},
    {"causes", "name causes for slow units, with the next check", "TRIAL",
     "The first line names the unit, what is wrong with it and where to look. "
     "Measures every run and looks for known causes: late or slow units and "
     "lines, missing or falling output, weak supply, channels that do not "
     "show what they should. Each finding has its evidence and the next "
     "check. What could not be looked for is listed, with what would be "
     "needed. Later runs are compared with earlier ones of the same "
     "condition; with --run, only the named runs are used. --traits prints "
     "what every unit does and what it is compared with.",
     1, 1, causes_options, cmd_causes},
    {"predict", "say how long air alone would take; compare measured times",
     "TRIAL",
     "Takes the command as it was recorded in unpowered runs and feeds it "
     "many times through a model of lines, valves and chambers. Each time the "
     "model's values are drawn at random from what the trial file states. "
     "Where the trial file states nothing, they are drawn from a usual range, "
     "which the output names. The results form a band of times. Says for each "
     "unit whether its measured times lie inside the band.",
     1, 1, study_options, cmd_predict},
    {"report", "write the report of a trial as one page", "TRIAL",
     "Measures the trial and writes everything into one HTML page that needs "
     "no network and prints well: drawings, traces with the points read off "
     "them, every figure, and what could not be decided. --format gives text, "
     "JSON or CSV instead; --bundle writes all of them into a folder to hand "
     "over. Without -o the report goes to standard output, which for a page "
     "must be a file or another program, not a terminal.",
     1, 1, report_options, cmd_report},
    {"history", "follow units from visit to visit, and say which drift",
     "add|list|unit|visits|remove|export [WORD...]",
     "`add FILE...` puts results (measure --json) or whole trials into one "
     "file on this machine: every figure of each unit that has an id. Adding "
     "the same result twice changes nothing; a newer result of the same "
     "recordings replaces the older one. `unit ID` says whether a figure of "
     "this unit drifts or stepped; if neither, how small a change would have "
     "been noticed. `list` and `visits [ID]` say what the file contains. "
     "`remove NUMBER...` removes visits. `export [ID]` writes every figure as "
     "CSV, for questions across many units.",
     1, -1, history_options, cmd_history},
    {"survey", "say what is in recordings", "FILE...",
     "For bus recordings, lists buses, identifiers, senders, signals that "
     "moved, and trouble codes. For logs, lists the columns, their range and "
     "what looks odd about them. Does not look for spikes, because only the "
     "trial file says what a column is; check and measure look for them. "
     "--write-trial drafts a trial file in which every guess is marked.",
     1, -1, survey_options, cmd_survey},
    {"tables", "list, show or check mapping tables",
     "[check FILE... | show TABLE [MESSAGE]]",
     "Without a word, lists the tables that come with brakelag, and how many "
     "signals each has at each level of confidence. `check` lists every "
     "mistake in a table with its line. `show` prints what a table says about "
     "all its messages, or about one.",
     0, -1, tables_options, cmd_tables},
    {"explain", "say what the bytes of a frame mean, or describe a message",
     "ID#DATA | ID DATA... | MESSAGE[.SIGNAL]",
     "ID is 8 hex digits (29 bits) or 3 (11 bits), DATA up to 64 bytes in "
     "hex. Shows the parts of the identifier, which message it is according "
     "to the tables, and each signal with its value, place, confidence and "
     "source.",
     1, -1, explain_options, cmd_explain},
    {"simulate", "make recordings whose true answers are known", "SCENARIO",
     "Writes trial.ini, truth.json and the recordings of every run into "
     "--directory, which must exist. docs/scenario-file.md explains the "
     "scenario.",
     1, 1, simulate_options, cmd_simulate},
    {"help", "show how a command is used", "[COMMAND]",
     "Without a word, lists the commands and the exit codes they end with. "
     "--manual writes the manual page of the tool or of a command.",
     0, 1, help_options, cmd_help},
    {"version", "say which version this is", "", "", 0, 0, version_options,
     cmd_version},
    {NULL, NULL, NULL, NULL, 0, 0, NULL, NULL},
};

int main(int argc, char **argv)
{
    /* A reader that went away ends like a full disk, not by dying. */
    (void)signal(SIGPIPE, SIG_IGN);
#ifdef SIGXFSZ
    /* So is a limit on the size of a file. */
    (void)signal(SIGXFSZ, SIG_IGN);
#endif
    cli_tables_beside(argc > 0 ? argv[0] : "");
    if (argc < 2) {
        cli_write_help(stderr, commands, NULL);
        return EXIT_USAGE;
    }
    const char *name = argv[1];
    if (strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0) {
        name = "help";
    } else if (strcmp(name, "--version") == 0 || strcmp(name, "-V") == 0) {
        name = "version";
    }
    const struct command *command = cli_command(commands, name);
    if (command == NULL) {
        return cli_unknown_command(commands, name);
    }
    struct arguments arguments;
    int code = arguments_read(&arguments, command, argc - 2, argv + 2);
    arguments.commands = commands;
    if (code == EXIT_DONE && has_option(&arguments, OPTION_HELP)) {
        cli_write_help(stdout, commands, command);
    } else if (code == EXIT_DONE) {
        code = command->run(&arguments);
    }
    arguments_finish(&arguments);
    return cli_worse(code, cli_flush());
}
