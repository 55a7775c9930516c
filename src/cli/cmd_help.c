/* SPDX-License-Identifier: MIT */
/* help and version. */
#include "cli.h"

#include <string.h>

int cmd_help(const struct arguments *arguments)
{
    const struct command *command = NULL;
    if (arguments->words > 0) {
        command = cli_command(arguments->commands, arguments->word[0]);
        if (command == NULL) {
            return cli_unknown_command(arguments->commands, arguments->word[0]);
        }
    }
    const char *shell = option_text(arguments, OPTION_COMPLETION, "");
    if (strcmp(shell, "bash") == 0) {
        cli_write_bash(stdout, arguments->commands);
    } else if (strcmp(shell, "zsh") == 0) {
        cli_write_zsh(stdout, arguments->commands);
    } else if (has_option(arguments, OPTION_MANUAL)) {
        cli_write_manual(stdout, arguments->commands, command);
    } else {
        cli_write_help(stdout, arguments->commands, command);
    }
    return EXIT_DONE;
}

int cmd_version(const struct arguments *arguments)
{
    (void)arguments;
    printf("brakelag %s\n", bl_version());
    return EXIT_DONE;
}
