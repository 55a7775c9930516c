/* SPDX-License-Identifier: MIT */
#include "brakelag/status.h"

const char *bl_version(void)
{
    return BL_VERSION;
}
