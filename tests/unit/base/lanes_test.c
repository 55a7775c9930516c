/* SPDX-License-Identifier: MIT */
/* As this machine's compiler takes base/lanes.h. */
#include "lanes_cases.h"

int main(void)
{
    return run_lanes();
}
