/* SPDX-License-Identifier: MIT */
#include "brakelag/brakelag.h"

#include <stdio.h>

int main(void)
{
    return printf("brakelag %s\n", bl_version()) < 0;
}
