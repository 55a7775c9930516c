/* SPDX-License-Identifier: MIT */
/* The comparable visits of one series as numbers: times, values less what
   recorded facts make, what is known of their covariance, and what facts that
   were not recorded could make. Inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_LIFE_FRAME_H
#define BRAKELAG_SRC_STUDY_LIFE_FRAME_H

#include "base/limits.h"
#include "brakelag/life.h"

struct bl_life_frame {
    size_t n;
    size_t value[BL_LIMIT_LIFE_VISITS]; /* index in the series */
    double year[BL_LIMIT_LIFE_VISITS];  /* since the first of them */
    double y[BL_LIMIT_LIFE_VISITS];
    double u_random[BL_LIMIT_LIFE_VISITS];
    /* Covariance of what visits share: transducers, recorded facts, a day. */
    double shared[BL_LIMIT_LIFE_VISITS][BL_LIMIT_LIFE_VISITS];
    /* Half-widths by fact and visit of what was not recorded; named
       transducers of which no error is stated by the number (from 1) of the
       first visit with them, 0 where it is not that. One more than visits: the
       next visit of control limits. */
    double any[BL_LIFE_FACTS][BL_LIMIT_LIFE_VISITS + 1];
    unsigned unstated[BL_LIMIT_LIFE_VISITS + 1];
    double coverage; /* Student's factor of a change, n - 2 and the usual
                        spread's degrees of freedom; */
    double control;  /* of control limits, n - 1 and those */
    /* Eigenvalues and vectors (columns) of `shared` and the random parts:
       the spread between visits is a multiple of the unit matrix, so one
       rotation serves every spread that is tried. */
    double lambda[BL_LIMIT_LIFE_VISITS];
    double turn[BL_LIMIT_LIFE_VISITS][BL_LIMIT_LIFE_VISITS];
};

/* Fills row->left and the frame with the visits that can be compared with the
   last one: the latest BL_LIMIT_LIFE_VISITS of them. */
void bl_life_compare(struct bl_life_frame *frame, struct bl_life_row *row,
                     const struct bl_life *life,
                     const struct bl_life_series *series);
/* The frame of some visits alone, from..to; `out` may not be `frame`. */
void bl_life_frame_part(struct bl_life_frame *out,
                        const struct bl_life_frame *frame, size_t from,
                        size_t to);
/* Sets lambda and turn. */
void bl_life_turn(struct bl_life_frame *frame);

/* What is asked of the values: a constant, and something that changes. */
enum bl_life_model { BL_LIFE_STEADY, BL_LIFE_LINE, BL_LIFE_JUMP };
struct bl_life_fit {
    enum bl_life_model model;
    size_t at;         /* JUMP: the first visit behind it */
    double variance;   /* between visits */
    double dof;        /* of it */
    double size, u;    /* of the change; STEADY: the constant itself */
    double likelihood; /* logarithm; of fits of one frame */
    double weight[BL_LIMIT_LIFE_VISITS]; /* size is their sum with y */
    double expected[BL_LIMIT_LIFE_VISITS];
};
void bl_life_fit(struct bl_life_fit *out, const struct bl_life_frame *frame,
                 enum bl_life_model model, size_t at,
                 const struct bl_life_options *options);
/* Median of the slopes between all pairs of visits, each weighted by the time
   between the two: visits of one day would otherwise outvote those of years
   (Sievers 1978). 0 where all are of one time. */
enum bl_status bl_life_slope(double *slope, const struct bl_life_frame *frame,
                             const double *adjusted, struct bl_error *error);
/* y less what the shared causes make of it, by this fit. */
void bl_life_adjust(double *adjusted, const struct bl_life_frame *frame,
                    const struct bl_life_fit *fit);
/* What was not recorded could make of a sum with these weights; `facts` gets
   the bits of those that take part. */
double bl_life_allowance(const struct bl_life_frame *frame,
                         const double *weight, unsigned *facts);
/* Variance of a sum with these weights, the spread given. */
double bl_life_variance(const struct bl_life_frame *frame, const double *weight,
                        double variance);

#endif
