/* SPDX-License-Identifier: MIT */
/* As a machine without wide registers takes base/lanes.h. */
#undef __SSE2__
#include "lanes_cases.h"

int main(void)
{
    return run_lanes();
}
