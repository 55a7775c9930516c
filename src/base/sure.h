/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_BASE_SURE_H
#define BRAKELAG_SRC_BASE_SURE_H

/* What lies further off than so many standard uncertainties is no chance: the
   rule by which findings fire (docs/methods/causes.md). Of normal errors one in
   16,000 is beyond; a trial asks some hundred such questions (own choice). */
static const double BL_SURE_U = 4;

#endif
