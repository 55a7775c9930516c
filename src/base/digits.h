/* SPDX-License-Identifier: MIT */
/*
 * Eight characters at a time: how many of them are digits, and the number that
 * these make. Arithmetic on one 64-bit word whose lowest byte is the first
 * character, whatever the byte order of the machine.
 */
#ifndef BRAKELAG_SRC_BASE_DIGITS_H
#define BRAKELAG_SRC_BASE_DIGITS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#ifdef __SSE2__
#include <emmintrin.h>
#endif

/* Readers that use bl_digits_word keep so many bytes behind their text. */
enum { BL_DIGITS_SLACK = 8 };

/* The eight bytes at `text`, less '0' each (as exclusive or: a digit becomes
   its value, nothing else becomes 0 to 9). */
static inline uint64_t bl_digits_word(const char *text)
{
    const unsigned char *b = (const unsigned char *)text;
    /* Compilers make one load of this. */
    const uint64_t word = (uint64_t)b[0] | (uint64_t)b[1] << 8 |
                          (uint64_t)b[2] << 16 | (uint64_t)b[3] << 24 |
                          (uint64_t)b[4] << 32 | (uint64_t)b[5] << 40 |
                          (uint64_t)b[6] << 48 | (uint64_t)b[7] << 56;
    return word ^ UINT64_C(0x3030303030303030);
}

/* The top bit of every byte that is no digit. */
static inline uint64_t bl_digits_others(uint64_t word)
{
    const uint64_t low = UINT64_C(0x7F7F7F7F7F7F7F7F);
    return (((word & low) + UINT64_C(0x7676767676767676)) | word) & ~low;
}

/* One bit for each of the 64 bytes at `text` that is no digit, the lowest for
   the first. */
static inline uint64_t bl_digits_marks(const char *text)
{
    uint64_t marks = 0;
    for (int i = 0; i < 64; i += 8) {
        const uint64_t others = bl_digits_others(bl_digits_word(text + i));
        /* Bit 8 k moves to 56 + k; no two products meet in one place. */
        const uint64_t bits = (others >> 7) * UINT64_C(0x0102040810204080);
        marks |= bits >> 56 << i;
    }
    return marks;
}

/* The number of the lowest bit that is set; bits is not 0. */
static inline unsigned bl_digits_lowest(uint64_t bits)
{
#if defined(__GNUC__)
    return (unsigned)__builtin_ctzll(bits); /* one instruction */
#else
    /* Every six bits of the constant are different ones. */
    static const unsigned char place[] = {
        0,  1,  2,  53, 3,  7,  54, 27, 4,  38, 41, 8,  34, 55, 48, 28,
        62, 5,  39, 46, 44, 42, 22, 9,  24, 35, 59, 56, 49, 18, 29, 11,
        63, 52, 6,  26, 37, 40, 33, 47, 61, 45, 43, 21, 23, 58, 17, 10,
        51, 25, 36, 32, 60, 20, 57, 16, 50, 31, 19, 15, 30, 14, 13, 12};
    return place[(bits & (~bits + 1)) * UINT64_C(0x022FDD63CC95386D) >> 58];
#endif
}

/* Number of the lowest byte whose top bit is set; mask is not 0. */
static inline size_t bl_digits_first(uint64_t mask)
{
    /* A single bit at 8 k moves byte 7 - k of the constant to the top: k. */
    const uint64_t bit = (mask & (~mask + 1)) >> 7;
    return (size_t)(bit * UINT64_C(0x0001020304050607) >> 56);
}

/* The value of the first `count` (1 to 8) bytes, all of them digits. */
static inline uint64_t bl_digits_value(uint64_t word, size_t count)
{
    /* Zeros come in from the left; then neighbours are joined: pairs, fours,
       all eight. */
    uint64_t v = word << 8 * (8 - count);
    v = v * 10 + (v >> 8);
    v = ((v & UINT64_C(0x000000FF000000FF)) * UINT64_C(0x000F424000000064) +
         (v >> 16 & UINT64_C(0x000000FF000000FF)) *
             UINT64_C(0x0000271000000001)) >>
        32;
    return v;
}

/*
 * "123.45": digits at `at` up to a decimal sign at `point`, more of them up to
 * `stop`, at most 8; point equals stop where there is no sign.
 *
 * The sign is taken out from between the digits. They stay at the front, as if
 * zeros followed to make eight; the power of ten that divides counts these too.
 * Both are exact doubles, so the quotient is the double that is nearest.
 */
static inline double bl_digits_decimal(const char *at, size_t point,
                                       size_t stop)
{
    static const uint64_t first[] = {0,
                                     UINT64_C(0xFF),
                                     UINT64_C(0xFFFF),
                                     UINT64_C(0xFFFFFF),
                                     UINT64_C(0xFFFFFFFF),
                                     UINT64_C(0xFFFFFFFFFF),
                                     UINT64_C(0xFFFFFFFFFFFF),
                                     UINT64_C(0xFFFFFFFFFFFFFF),
                                     UINT64_MAX};
    static const double behind[] = {1e8, 1e7, 1e6, 1e5, 1e4, 1e3, 1e2, 1e1, 1};
    const uint64_t word = bl_digits_word(at) & first[stop];
    const uint64_t digits = (word & first[point]) | (word >> 8 & ~first[point]);
    return (double)(int64_t)bl_digits_value(digits, BL_DIGITS_SLACK) /
           behind[point];
}

/* Digits from `at` on, at most sixteen, onto *sum; where they end. Three words
   must be readable. */
static inline const char *bl_digits_run(const char *at, uint64_t *sum)
{
    static const uint64_t ten_to[] = {
        1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000};
    for (int turn = 0; turn < 2; turn++) {
        const uint64_t word = bl_digits_word(at);
        const uint64_t others = bl_digits_others(word);
        const size_t count =
            others == 0 ? BL_DIGITS_SLACK : bl_digits_first(others);
        if (count == 0) {
            break;
        }
        *sum = *sum * ten_to[count] + bl_digits_value(word, count);
        at += count;
        if (others != 0) {
            break;
        }
    }
    return at;
}

/*
 * Eight hex digits at `text` as the four bytes that they write, the first in
 * the lowest byte of *bytes. False: some are not digits.
 */
static inline bool bl_digits_hex_words(const char *text, uint32_t *bytes)
{
    const uint64_t low = UINT64_C(0x7F7F7F7F7F7F7F7F);
    const uint64_t ones = UINT64_C(0x0101010101010101);
    const uint64_t less = bl_digits_word(text);
    const uint64_t word = less ^ ones * 0x30;
    /* 'a' to 'f' and 'A' to 'F' become 1 to 6, in bytes below 0x80. */
    const uint64_t letter = (word | ones * 0x20) ^ ones * 0x60;
    const uint64_t is_letter = ((letter & low) + ones * 0x7F) &
                               ~((letter & low) + ones * 0x79) & ~letter;
    if ((bl_digits_others(less) & ~(is_letter & ~low)) != 0) {
        return false;
    }
    const uint64_t nibble = (word & ones * 0x0F) + (word >> 6 & ones) * 9;
    uint64_t v = (nibble << 4 | nibble >> 8) & UINT64_C(0x00FF00FF00FF00FF);
    v = (v | v >> 8) & UINT64_C(0x0000FFFF0000FFFF);
    *bytes = (uint32_t)(v | v >> 16);
    return true;
}

/* As bl_digits_hex_words, and sixteen digits as eight bytes. With the vectors
   that every x86-64 has, it takes a third of the time. */
#ifdef __SSE2__
/* Characters to nibbles; the low bits of the result tell which are digits. */
static inline unsigned bl_digits_nibbles(__m128i text, __m128i *nibbles)
{
    const __m128i digit = _mm_sub_epi8(text, _mm_set1_epi8('0'));
    const __m128i letter = _mm_sub_epi8(_mm_or_si128(text, _mm_set1_epi8(0x20)),
                                        _mm_set1_epi8('a'));
    const __m128i is_digit =
        _mm_cmpeq_epi8(_mm_min_epu8(digit, _mm_set1_epi8(9)), digit);
    const __m128i is_letter =
        _mm_cmpeq_epi8(_mm_min_epu8(letter, _mm_set1_epi8(5)), letter);
    const __m128i ten = _mm_add_epi8(letter, _mm_set1_epi8(10));
    *nibbles = _mm_or_si128(_mm_and_si128(is_digit, digit),
                            _mm_andnot_si128(is_digit, ten));
    return (unsigned)_mm_movemask_epi8(_mm_or_si128(is_digit, is_letter));
}

/* Two nibbles to a byte each; into the low half. */
static inline __m128i bl_digits_join(__m128i nibbles)
{
    const __m128i both =
        _mm_or_si128(_mm_slli_epi16(nibbles, 4), _mm_srli_epi16(nibbles, 8));
    const __m128i low = _mm_and_si128(both, _mm_set1_epi16(0xFF));
    return _mm_packus_epi16(low, low);
}

static inline bool bl_digits_hex(const char *text, uint32_t *bytes)
{
    __m128i nibbles;
    const unsigned valid = bl_digits_nibbles(
        _mm_loadl_epi64((const __m128i *)(const void *)text), &nibbles);
    *bytes = (uint32_t)_mm_cvtsi128_si32(bl_digits_join(nibbles));
    return (valid & 0xFF) == 0xFF;
}

static inline bool bl_digits_hex_eight(const char *text, uint8_t bytes[8])
{
    __m128i nibbles;
    const unsigned valid = bl_digits_nibbles(
        _mm_loadu_si128((const __m128i *)(const void *)text), &nibbles);
    _mm_storel_epi64((__m128i *)(void *)bytes, bl_digits_join(nibbles));
    return valid == 0xFFFF;
}
#else
static inline bool bl_digits_hex(const char *text, uint32_t *bytes)
{
    return bl_digits_hex_words(text, bytes);
}

static inline bool bl_digits_hex_eight(const char *text, uint8_t bytes[8])
{
    uint32_t half[2];
    if (!bl_digits_hex_words(text, &half[0]) ||
        !bl_digits_hex_words(text + 8, &half[1])) {
        return false;
    }
    for (int i = 0; i < 8; i++) {
        bytes[i] = (uint8_t)(half[i / 4] >> 8 * (i % 4));
    }
    return true;
}
#endif

#endif
