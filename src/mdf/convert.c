/* SPDX-License-Identifier: MIT */
/*
 * From the number in a record to the physical one: as it is, linear, rational,
 * and tables from numbers to texts. Other conversions are refused by name.
 */
#include "mdf/block.h"

#include "base/alloc.h"
#include "base/limits.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

/* As the standard numbers them. */
enum {
    CC_AS_IS = 0,
    CC_LINEAR = 1,
    CC_RATIONAL = 2,
    CC_TEXTS = 7,
    CC_UNIT = 1,
    CC_LINKS = 4,      /* in front of the references */
    CC_DATA_BYTES = 24 /* in front of the values */
};

static const char *const names[] = {
    "as it is",
    "linear",
    "rational",
    "by a formula",
    "by a table with interpolation",
    "by a table without interpolation",
    "by a table of ranges",
    "from values to texts",
    "from ranges to texts",
    "from texts to values",
    "from texts to texts",
    "by a table of bits",
};

struct cc {
    struct bl_mdf_block block;
    uint8_t type;
    uint16_t references, values;
};

static double to_double(const uint8_t *data)
{
    const uint64_t bits = bl_mdf_u64(data);
    double value;
    memcpy(&value, &bits, sizeof(value));
    return value;
}

static enum bl_status refuse(struct bl_mdf *mdf, unsigned type,
                             struct bl_mdf_channel *channel,
                             struct bl_error *error)
{
    char name[80];
    channel->used = false;
    return bl_note(mdf->notes, "conversion-not-read", -1, -1,
                   "channel '%s': a conversion %s (type %u) is not read; the "
                   "channel is left out",
                   bl_plain_line(channel->name, name, sizeof(name)),
                   type < sizeof(names) / sizeof(names[0])
                       ? names[type]
                       : "that is not known",
                   type) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

static enum bl_status read_head(struct bl_mdf *mdf, uint64_t at, struct cc *cc,
                                struct bl_error *error)
{
    uint8_t head[CC_DATA_BYTES];
    enum bl_status status = bl_mdf_block(mdf, at, "CC", &cc->block, error);
    if (status == BL_OK) {
        status = bl_mdf_data(mdf, &cc->block, head, sizeof(head), error);
    }
    if (status != BL_OK) {
        return status;
    }
    cc->type = head[0];
    cc->references = bl_mdf_u16(head + 4);
    cc->values = bl_mdf_u16(head + 6);
    if (cc->block.data_bytes < CC_DATA_BYTES + 8 * (uint64_t)cc->values ||
        cc->block.links < CC_LINKS + (uint64_t)cc->references) {
        return bl_fail_offset(error, BL_FORMAT, bl_bytes_name(mdf->source),
                              (int64_t)at,
                              "a conversion says %u values and %u links, and "
                              "has room for fewer",
                              (unsigned)cc->values, (unsigned)cc->references);
    }
    return BL_OK;
}

static enum bl_status read_values(struct bl_mdf *mdf, const struct cc *cc,
                                  double *value, size_t count,
                                  struct bl_error *error)
{
    for (size_t i = 0; i < count; i++) {
        uint8_t bytes[8];
        const enum bl_status status =
            bl_mdf_read(mdf, cc->block.data + CC_DATA_BYTES + 8 * i, bytes,
                        sizeof(bytes), error);
        if (status != BL_OK) {
            return status;
        }
        value[i] = to_double(bytes);
    }
    return BL_OK;
}

/* Those that are a rule of their own. *known false: it has no rule. */
static enum bl_status read_rule(struct bl_mdf *mdf, const struct cc *cc,
                                struct bl_mdf_conversion *conversion,
                                bool *known, struct bl_error *error)
{
    const size_t needed = cc->type == CC_AS_IS    ? 0
                          : cc->type == CC_LINEAR ? 2
                                                  : 6;
    *known = cc->type <= CC_RATIONAL;
    if (!*known || needed == 0) {
        return BL_OK;
    }
    if (cc->values < needed) {
        return bl_fail_offset(error, BL_FORMAT, bl_bytes_name(mdf->source),
                              (int64_t)cc->block.at,
                              "expected %zu values in a conversion %s, found "
                              "%u",
                              needed, names[cc->type], (unsigned)cc->values);
    }
    conversion->rule = cc->type == CC_LINEAR ? BL_MDF_LINEAR : BL_MDF_RATIONAL;
    return read_values(mdf, cc, conversion->p, needed, error);
}

/* What holds for values that are in no row of a table: the last reference. A
   text, or none: then all are states. */
static enum bl_status read_rest(struct bl_mdf *mdf, const struct cc *cc,
                                struct bl_mdf_channel *channel,
                                struct bl_error *error)
{
    uint64_t link = 0;
    struct bl_mdf_block block;
    enum bl_status status = BL_OK;
    channel->conversion.texts_only = true;
    if (cc->references > cc->values) {
        status = bl_mdf_link(mdf, &cc->block, CC_LINKS + (uint64_t)cc->values,
                             &link, error);
    }
    if (status != BL_OK || link == 0) {
        return status;
    }
    status = bl_mdf_block(mdf, link, NULL, &block, error);
    if (status != BL_OK || strcmp(block.id, "##CC") != 0) {
        return status;
    }
    struct cc rest;
    bool known = false;
    channel->conversion.texts_only = false;
    status = read_head(mdf, link, &rest, error);
    if (status == BL_OK) {
        status = read_rule(mdf, &rest, &channel->conversion, &known, error);
    }
    return status == BL_OK && !known ? refuse(mdf, rest.type, channel, error)
                                     : status;
}

static enum bl_status read_texts(struct bl_mdf *mdf, const struct cc *cc,
                                 struct bl_mdf_channel *channel,
                                 struct bl_error *error)
{
    struct bl_mdf_conversion *conversion = &channel->conversion;
    if (cc->values > BL_LIMIT_MDF_TEXTS) {
        return bl_fail_offset(error, BL_FORMAT, bl_bytes_name(mdf->source),
                              (int64_t)cc->block.at,
                              "expected at most %u rows in a table of texts, "
                              "found %u",
                              BL_LIMIT_MDF_TEXTS, (unsigned)cc->values);
    }
    conversion->text_at = bl_alloc(cc->values, sizeof(*conversion->text_at));
    if (conversion->text_at == NULL) {
        return bl_fail_memory(error);
    }
    conversion->texts = cc->values;
    const enum bl_status status =
        read_values(mdf, cc, conversion->text_at, cc->values, error);
    return status == BL_OK ? read_rest(mdf, cc, channel, error) : status;
}

enum bl_status bl_mdf_conversion_read(struct bl_mdf *mdf, uint64_t at,
                                      struct bl_mdf_channel *channel,
                                      struct bl_error *error)
{
    struct cc cc;
    bool known = false;
    if (at == 0) {
        return BL_OK;
    }
    enum bl_status status = read_head(mdf, at, &cc, error);
    if (status == BL_OK && channel->unit[0] == '\0') {
        bl_free(channel->unit);
        status = bl_mdf_text_or_none(mdf, cc.block.link[CC_UNIT],
                                     &channel->unit, error);
    }
    if (status == BL_OK) {
        status = read_rule(mdf, &cc, &channel->conversion, &known, error);
    }
    if (status != BL_OK || known) {
        return status;
    }
    return cc.type == CC_TEXTS ? read_texts(mdf, &cc, channel, error)
                               : refuse(mdf, cc.type, channel, error);
}

uint64_t bl_mdf_raw_slowly(const struct bl_mdf_field *field,
                           const uint8_t *record)
{
    const uint8_t *data = record + field->byte;
    uint64_t value = 0;
    uint8_t above = 0; /* of nine bytes, the highest */
    if (field->big) {
        for (size_t i = 0; i < field->bytes; i++) {
            above = (uint8_t)(value >> 56);
            value = value << 8 | data[i];
        }
    } else {
        const size_t low = field->bytes < 8 ? field->bytes : 8;
        value = bl_mdf_low_first(data, low);
        above = field->bytes > 8 ? data[8] : 0;
    }
    value >>= field->shift;
    if (field->bytes > 8 && field->shift > 0) {
        value |= (uint64_t)above << (64 - field->shift);
    }
    return value & field->mask;
}

static double number_of(const struct bl_mdf_field *field, const uint8_t *record)
{
    const uint64_t raw = bl_mdf_raw(field, record);
    if (field->type == BL_MDF_FLOAT && field->bits == 32) {
        const uint32_t bits = (uint32_t)raw;
        float value;
        memcpy(&value, &bits, sizeof(value));
        return (double)value;
    }
    if (field->type == BL_MDF_FLOAT) {
        double value;
        memcpy(&value, &raw, sizeof(value));
        return value;
    }
    if (field->type == BL_MDF_SIGNED) {
        const unsigned free = 64 - field->bits;
        const uint64_t sign = UINT64_C(1) << 63;
        const uint64_t high = raw << free;
        return (high & sign) != 0 ? -(double)((~high >> free) + 1)
                                  : (double)raw;
    }
    return (double)raw;
}

static double apply(const struct bl_mdf_conversion *conversion, double x)
{
    const double *p = conversion->p;
    switch (conversion->rule) {
    case BL_MDF_AS_IS:
        break;
    case BL_MDF_LINEAR:
        return p[0] + p[1] * x;
    case BL_MDF_RATIONAL:
        return (p[0] * x * x + p[1] * x + p[2]) /
               (p[3] * x * x + p[4] * x + p[5]);
    }
    return x;
}

double bl_mdf_value(const struct bl_mdf_channel *channel, const uint8_t *record,
                    uint64_t number, bool *text)
{
    const struct bl_mdf_conversion *conversion = &channel->conversion;
    const double x = channel->field.bytes == 0
                         ? (double)number
                         : number_of(&channel->field, record);
    *text = false;
    if (conversion->texts > 0 && !conversion->texts_only) {
        for (size_t i = 0; i < conversion->texts; i++) {
            if (conversion->text_at[i] == x) {
                *text = true;
                return NAN;
            }
        }
    }
    return apply(conversion, x);
}

/* Seconds to ns, in range; one sum of the start and it cannot overflow. */
static bool to_ns(double seconds, int64_t *ns)
{
    const double most = (double)BL_LIMIT_TIME_NS / 2;
    const double value = seconds * 1e9;
    if (!(value <= most && value >= -most)) {
        return false;
    }
    *ns = (int64_t)(value + (value < 0 ? -0.5 : 0.5));
    return true;
}

uint64_t bl_mdf_whole_ns(const struct bl_mdf_channel *time)
{
    const struct bl_mdf_conversion *conversion = &time->conversion;
    const double step = conversion->p[1] * 1e9;
    const double whole = floor(step + 0.5);
    return time->field.bytes == 0 || time->field.type != BL_MDF_UNSIGNED ||
                   conversion->rule != BL_MDF_LINEAR || conversion->p[0] != 0 ||
                   conversion->texts > 0 || !(whole >= 1 && whole <= 1e9) ||
                   fabs(step - whole) > 1e-9 * whole
               ? 0
               : (uint64_t)whole;
}

/* Counted in whole ns: a product of doubles would round what counts from 1970.
 */
static bool counted_ns(const struct bl_mdf_channel *time, const uint8_t *record,
                       int64_t *ns)
{
    const uint64_t raw = bl_mdf_raw(&time->field, record);
    if (raw > (uint64_t)(BL_LIMIT_TIME_NS / 2) / time->whole_ns) {
        return false;
    }
    *ns = (int64_t)(raw * time->whole_ns);
    return true;
}

bool bl_mdf_time(const struct bl_mdf *mdf, const struct bl_mdf_record *record,
                 int64_t *time_ns)
{
    const struct bl_mdf_group *group = &mdf->group[record->group];
    const struct bl_mdf_channel *time = &mdf->channel[group->time];
    bool text;
    if (bl_mdf_invalid(group, time, record->data)) {
        return false;
    }
    if (time->whole_ns > 0
            ? !counted_ns(time, record->data, time_ns)
            : !to_ns(bl_mdf_value(time, record->data, record->number, &text),
                     time_ns)) {
        return false;
    }
    *time_ns += mdf->start_ns;
    return *time_ns <= BL_LIMIT_TIME_NS && *time_ns >= -BL_LIMIT_TIME_NS;
}

int64_t bl_mdf_time_step(const struct bl_mdf *mdf,
                         const struct bl_mdf_group *group)
{
    const struct bl_mdf_channel *time = &mdf->channel[group->time];
    const double step = time->conversion.rule == BL_MDF_LINEAR
                            ? fabs(time->conversion.p[1]) * 1e9
                            : 1e9;
    if (time->field.bytes == 0 || time->field.type == BL_MDF_FLOAT ||
        time->conversion.rule == BL_MDF_RATIONAL) {
        return 0; /* as fine as numbers are */
    }
    return step < 1 ? 1 : step > 1e15 ? 0 : (int64_t)(step + 0.5);
}
