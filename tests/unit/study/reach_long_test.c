/* SPDX-License-Identifier: MIT */
/* The same as reach_test.c, with 200 sound trains. */
#define BL_TEST_SEEDS 200
#include "reach_test.c"
