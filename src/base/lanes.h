/* SPDX-License-Identifier: MIT */
/*
 * Four floats, or two doubles, in one operation, where the processor has it:
 * SSE2, which every 64-bit x86 does. Elsewhere the same operations one after
 * the other, with the same results. Compilers leave loops for a least or a
 * greatest alone, because they may not know that no value is missing.
 */
#ifndef BRAKELAG_SRC_BASE_LANES_H
#define BRAKELAG_SRC_BASE_LANES_H

#include <math.h>
#include <stddef.h>

enum { BL_LANES = 4, BL_PAIR = 2 };

#if defined(__SSE2__)

#include <emmintrin.h>

struct bl_lanes {
    __m128 v;
};
struct bl_pair {
    __m128d v;
};

static inline struct bl_lanes bl_lanes_load(const float *from)
{
    return (struct bl_lanes){_mm_loadu_ps(from)};
}
static inline void bl_lanes_store(float *to, struct bl_lanes a)
{
    _mm_storeu_ps(to, a.v);
}
static inline struct bl_lanes bl_lanes_all(float value)
{
    return (struct bl_lanes){_mm_set1_ps(value)};
}
static inline struct bl_lanes bl_lanes_add(struct bl_lanes a, struct bl_lanes b)
{
    return (struct bl_lanes){_mm_add_ps(a.v, b.v)};
}
static inline struct bl_lanes bl_lanes_subtract(struct bl_lanes a,
                                                struct bl_lanes b)
{
    return (struct bl_lanes){_mm_sub_ps(a.v, b.v)};
}
static inline struct bl_lanes bl_lanes_times(struct bl_lanes a,
                                             struct bl_lanes b)
{
    return (struct bl_lanes){_mm_mul_ps(a.v, b.v)};
}
/* a < b ? a : b, so that a missing `a` changes nothing. */
static inline struct bl_lanes bl_lanes_min(struct bl_lanes a, struct bl_lanes b)
{
    return (struct bl_lanes){_mm_min_ps(a.v, b.v)};
}
static inline struct bl_lanes bl_lanes_max(struct bl_lanes a, struct bl_lanes b)
{
    return (struct bl_lanes){_mm_max_ps(a.v, b.v)};
}
static inline struct bl_lanes bl_lanes_size(struct bl_lanes a)
{
    return (struct bl_lanes){_mm_andnot_ps(_mm_set1_ps(-0.0f), a.v)};
}
/* a > 0 ? yes : no. */
static inline struct bl_lanes
bl_lanes_positive(struct bl_lanes a, struct bl_lanes yes, struct bl_lanes no)
{
    const __m128 mask = _mm_cmpgt_ps(a.v, _mm_setzero_ps());
    return (struct bl_lanes){
        _mm_or_ps(_mm_and_ps(mask, yes.v), _mm_andnot_ps(mask, no.v))};
}

static inline struct bl_pair bl_pair_load(const double *from)
{
    return (struct bl_pair){_mm_loadu_pd(from)};
}
static inline void bl_pair_store(double *to, struct bl_pair a)
{
    _mm_storeu_pd(to, a.v);
}
/* Both, rounded to single precision. */
static inline void bl_pair_store_float(float *to, struct bl_pair a)
{
    _mm_storel_pi((__m64 *)(void *)to, _mm_cvtpd_ps(a.v));
}
static inline struct bl_pair bl_pair_all(double value)
{
    return (struct bl_pair){_mm_set1_pd(value)};
}
static inline struct bl_pair bl_pair_add(struct bl_pair a, struct bl_pair b)
{
    return (struct bl_pair){_mm_add_pd(a.v, b.v)};
}
static inline struct bl_pair bl_pair_subtract(struct bl_pair a,
                                              struct bl_pair b)
{
    return (struct bl_pair){_mm_sub_pd(a.v, b.v)};
}
static inline struct bl_pair bl_pair_times(struct bl_pair a, struct bl_pair b)
{
    return (struct bl_pair){_mm_mul_pd(a.v, b.v)};
}
static inline struct bl_pair bl_pair_min(struct bl_pair a, struct bl_pair b)
{
    return (struct bl_pair){_mm_min_pd(a.v, b.v)};
}
static inline struct bl_pair bl_pair_max(struct bl_pair a, struct bl_pair b)
{
    return (struct bl_pair){_mm_max_pd(a.v, b.v)};
}
static inline struct bl_pair bl_pair_size(struct bl_pair a)
{
    return (struct bl_pair){_mm_andnot_pd(_mm_set1_pd(-0.0), a.v)};
}
static inline struct bl_pair
bl_pair_positive(struct bl_pair a, struct bl_pair yes, struct bl_pair no)
{
    const __m128d mask = _mm_cmpgt_pd(a.v, _mm_setzero_pd());
    return (struct bl_pair){
        _mm_or_pd(_mm_and_pd(mask, yes.v), _mm_andnot_pd(mask, no.v))};
}

#else

struct bl_lanes {
    float v[BL_LANES];
};
struct bl_pair {
    double v[BL_PAIR];
};

/* For every lane `i` of the result `r`. */
#define BL_LANES_EACH(each)                                                    \
    struct bl_lanes r;                                                         \
    for (size_t i = 0; i < BL_LANES; i++) {                                    \
        r.v[i] = (each);                                                       \
    }                                                                          \
    return r
#define BL_PAIR_EACH(each)                                                     \
    struct bl_pair r;                                                          \
    for (size_t i = 0; i < BL_PAIR; i++) {                                     \
        r.v[i] = (each);                                                       \
    }                                                                          \
    return r

static inline struct bl_lanes bl_lanes_load(const float *from)
{
    BL_LANES_EACH(from[i]);
}
static inline void bl_lanes_store(float *to, struct bl_lanes a)
{
    for (size_t i = 0; i < BL_LANES; i++) {
        to[i] = a.v[i];
    }
}
static inline struct bl_lanes bl_lanes_all(float value)
{
    BL_LANES_EACH(value);
}
static inline struct bl_lanes bl_lanes_add(struct bl_lanes a, struct bl_lanes b)
{
    BL_LANES_EACH(a.v[i] + b.v[i]);
}
static inline struct bl_lanes bl_lanes_subtract(struct bl_lanes a,
                                                struct bl_lanes b)
{
    BL_LANES_EACH(a.v[i] - b.v[i]);
}
static inline struct bl_lanes bl_lanes_times(struct bl_lanes a,
                                             struct bl_lanes b)
{
    BL_LANES_EACH(a.v[i] * b.v[i]);
}
static inline struct bl_lanes bl_lanes_min(struct bl_lanes a, struct bl_lanes b)
{
    BL_LANES_EACH(a.v[i] < b.v[i] ? a.v[i] : b.v[i]);
}
static inline struct bl_lanes bl_lanes_max(struct bl_lanes a, struct bl_lanes b)
{
    BL_LANES_EACH(a.v[i] > b.v[i] ? a.v[i] : b.v[i]);
}
static inline struct bl_lanes bl_lanes_size(struct bl_lanes a)
{
    BL_LANES_EACH(fabsf(a.v[i]));
}
static inline struct bl_lanes
bl_lanes_positive(struct bl_lanes a, struct bl_lanes yes, struct bl_lanes no)
{
    BL_LANES_EACH(a.v[i] > 0 ? yes.v[i] : no.v[i]);
}

static inline struct bl_pair bl_pair_load(const double *from)
{
    BL_PAIR_EACH(from[i]);
}
static inline void bl_pair_store(double *to, struct bl_pair a)
{
    for (size_t i = 0; i < BL_PAIR; i++) {
        to[i] = a.v[i];
    }
}
static inline void bl_pair_store_float(float *to, struct bl_pair a)
{
    for (size_t i = 0; i < BL_PAIR; i++) {
        to[i] = (float)a.v[i];
    }
}
static inline struct bl_pair bl_pair_all(double value)
{
    BL_PAIR_EACH(value);
}
static inline struct bl_pair bl_pair_add(struct bl_pair a, struct bl_pair b)
{
    BL_PAIR_EACH(a.v[i] + b.v[i]);
}
static inline struct bl_pair bl_pair_subtract(struct bl_pair a,
                                              struct bl_pair b)
{
    BL_PAIR_EACH(a.v[i] - b.v[i]);
}
static inline struct bl_pair bl_pair_times(struct bl_pair a, struct bl_pair b)
{
    BL_PAIR_EACH(a.v[i] * b.v[i]);
}
static inline struct bl_pair bl_pair_min(struct bl_pair a, struct bl_pair b)
{
    BL_PAIR_EACH(a.v[i] < b.v[i] ? a.v[i] : b.v[i]);
}
static inline struct bl_pair bl_pair_max(struct bl_pair a, struct bl_pair b)
{
    BL_PAIR_EACH(a.v[i] > b.v[i] ? a.v[i] : b.v[i]);
}
static inline struct bl_pair bl_pair_size(struct bl_pair a)
{
    BL_PAIR_EACH(fabs(a.v[i]));
}
static inline struct bl_pair
bl_pair_positive(struct bl_pair a, struct bl_pair yes, struct bl_pair no)
{
    BL_PAIR_EACH(a.v[i] > 0 ? yes.v[i] : no.v[i]);
}

#endif

#endif
