/* SPDX-License-Identifier: MIT */
/* The pound-force per square inch that rules of the US are written in. */
#ifndef BRAKELAG_SRC_BASE_PSI_H
#define BRAKELAG_SRC_BASE_PSI_H

/* kPa; from 1 lb = 0.45359237 kg, 1 in = 0.0254 m, 9.80665 m/s2. */
#define BL_PSI_KPA 6.894757293168361

#endif
