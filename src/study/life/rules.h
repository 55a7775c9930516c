/* SPDX-License-Identifier: MIT */
/*
 * Numbers that decide in the life of a unit; docs/methods/life.md. What a
 * recorded fact does to a time is known as a range only: between nothing and
 * all of it. Half of it is taken off, and the range's 1 / sqrt 12 stays as
 * uncertainty that all visits share (GUM 4.3.7). Of a fact that was not
 * recorded, all of it may be in the change.
 */
#ifndef BRAKELAG_SRC_STUDY_LIFE_RULES_H
#define BRAKELAG_SRC_STUDY_LIFE_RULES_H

#define BL_LIFE_DAYS_A_YEAR 365.25
/* What would be noticed is noticed nine times in ten (own choice). */
#define BL_LIFE_NOTICED 0.90
/* Where a change as large as the figure itself could pass unnoticed, "no
   change shown" would assure of nothing. A figure near 0 may change by five
   times what counts as a change (own choices). */
#define BL_LIFE_POWER_SHARE 1.0
#define BL_LIFE_POWER_LEAST 5.0
/* Visits of one day show how well a figure repeats, not how it changes with
   time. */
#define BL_LIFE_SPAN_ONE_DAY 1.0
/* What visits of one day are off by together (own choice: as much as visits
   usually differ by). */
#define BL_LIFE_DAY_S 0.012
/* Visits of one month share weather and the state of the air: no drift per
   year is given for less (own choice). */
#define BL_LIFE_SPAN_LEAST_DAYS 30.0

/* Pressures and temperatures are gauge and Celsius; shares are of the absolute
   value. A chamber filled to a given pressure through a throttle takes a time
   that goes with 1 / supply; one filled to the supply's own pressure, the same
   time whatever that is (choked flow: docs/methods/physics.md). */
#define BL_LIFE_ATMOSPHERE_KPA 101.325
#define BL_LIFE_ZERO_C 273.15
/* A unit in front passes the demand on within two sending intervals of 10 ms
   (docs/methods/reach.md); by air it adds up to 0.3 s, as long trains show
   (own choice: 1.5 s at the fifth unit). */
#define BL_LIFE_FRONT_DATA_S 0.020
#define BL_LIFE_FRONT_AIR_S 0.300

/* Half-widths of what was not recorded (own choices): supply between cut-in
   and cut-out of a governor (common practice: 650 and 850 kPa), a yard between
   winter and summer, two units more or fewer in front, pedals that take 0.1 to
   0.2 s to the floor, a transducer with 5 m of hose. */
#define BL_LIFE_ANY_SUPPLY_KPA 100.0
#define BL_LIFE_USUAL_SUPPLY_KPA 750.0
#define BL_LIFE_ANY_TEMPERATURE_K 20.0
#define BL_LIFE_USUAL_TEMPERATURE_C 15.0
#define BL_LIFE_ANY_IN_FRONT 2.0
#define BL_LIFE_ANY_RISE_S 0.050
#define BL_LIFE_ANY_TRANSDUCER_S 0.020

/* More is a mistake, not a measurement (own choices); seconds and kPa alike. */
#define BL_LIFE_MOST 1e4
#define BL_LIFE_MOST_DAYS 1e7
#define BL_LIFE_MOST_KPA 2e4
#define BL_LIFE_MOST_C 200.0
#define BL_LIFE_MOST_UNITS 100.0

/* Shewhart's limits: 3 standard deviations of the normal distribution, two-
   sided probability 0.0027 (ISO 7870-2, from memory). */
#define BL_LIFE_CONTROL_P 0.0026997960632601866

#endif
