/* SPDX-License-Identifier: MIT */
/* The table of options, and what a command line gave for them. */
#include "options.h"

#include <stdlib.h>

static const struct option_spec specs[OPTIONS] = {
#define X(id, letter, name, value, choices, help)                              \
    {letter, name, value, choices, help},
    OPTION_LIST(X)
#undef X
};

const struct option_spec *option_spec(enum option_id id)
{
    return &specs[id];
}

void arguments_finish(struct arguments *arguments)
{
    for (size_t i = 0; i < OPTIONS; i++) {
        free(arguments->option[i].item);
    }
    free(arguments->word);
}

bool has_option(const struct arguments *arguments, enum option_id id)
{
    return arguments->option[id].count > 0;
}

const char *option_text(const struct arguments *arguments, enum option_id id,
                        const char *otherwise)
{
    const struct option_values *values = &arguments->option[id];
    return values->count == 0 ? otherwise : values->item[values->count - 1];
}
