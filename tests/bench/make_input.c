/* SPDX-License-Identifier: MIT */
/*
 * Writes the files that the benchmark reads: a train that brakes a few times
 * in a long drive, as bus recording (pcap, pcapng, text, MDF 4) and as analog
 * log. Nothing of the library is used, so that its writers cannot flatter its
 * readers.
 *     make_input KIND TICKS APPLICATIONS FILE
 * KIND is pcap, pcapng, text, mdf, decoded or csv; a tick is 10 ms: 17 frames,
 * or 5 rows. `decoded` is a pcap of eight identifiers that the tables know,
 * with values that change in every frame: the worst that a trailer link can be.
 */
#include <inttypes.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FRAMES = 17, ROWS = 5, UNITS = 4, CHANNELS = 8, FILLERS = 13 };
enum { MDF_RECORD = 23 };
#define START_S INT64_C(1717200000)
static const double hold_kpa = 450, quiet_s = 6;

struct input {
    FILE *file;
    long ticks, applications;
    uint64_t random;
};

static uint64_t next_random(struct input *in)
{
    in->random ^= in->random << 13;
    in->random ^= in->random >> 7;
    in->random ^= in->random << 17;
    return in->random;
}

/* Treadle pressure at t seconds: ramps of 0.2 s and 0.3 s, 1.5 s held. */
static double demand(const struct input *in, double t)
{
    if (t < quiet_s || in->applications == 0) {
        return 0;
    }
    const double length = (double)in->ticks * 0.01 - quiet_s;
    const double every = length / (double)in->applications;
    const double into =
        (t - quiet_s) - every * (double)(long)((t - quiet_s) / every);
    if (into < 0.2) {
        return hold_kpa * into / 0.2;
    }
    if (into < 1.7) {
        return hold_kpa;
    }
    return into < 2.0 ? hold_kpa * (2.0 - into) / 0.3 : 0;
}

static void put32(uint8_t *to, uint32_t value)
{
    for (int i = 0; i < 4; i++) {
        to[i] = (uint8_t)(value >> 8 * i);
    }
}

static void write_all(struct input *in, const void *data, size_t size)
{
    if (fwrite(data, 1, size, in->file) != size) {
        perror("make_input");
        exit(1);
    }
}

/* Frame `slot` of a tick: demand and answer, one slow message in turn, and
   traffic that no brake trial looks at. */
static uint32_t make_frame(struct input *in, long tick, int slot, double kpa,
                           uint8_t data[8])
{
    static const uint32_t slow[10] = {
        0x18FEC920, 0x18FEC4C8, 0x18FEC6C8, 0x18F0010B, 0x18FEF100,
        0x18FEBF0B, 0x18FEF200, 0x18FEEE00, 0x18FEF5C8, 0x18FEE000};
    memset(data, 0xFF, 8);
    if (slot == 0) {
        const uint32_t raw = (uint32_t)(kpa / 0.01953125);
        data[1] = kpa > 0 ? 0xFD : 0xFC;
        data[2] = (uint8_t)raw;
        data[3] = (uint8_t)(raw >> 8);
        return 0x0C02C820;
    }
    if (slot == 1) {
        data[0] = kpa > 20 ? 0xDF : 0xCF;
        data[2] = data[3] = 0;
        return 0x0C0320C8;
    }
    if (slot == 2) {
        const long turn = tick % 10;
        if (turn == 3) {
            data[0] = kpa > 0 ? 0x7F : 0x3F;
            data[1] = (uint8_t)(kpa / 4);
        } else if (turn == 4) {
            data[1] = data[2] = 0;
            data[3] = kpa > 0 ? 0xDF : 0xCF;
        }
        return slow[turn];
    }
    if (slot == 3) {
        put32(data + 2, (uint32_t)(next_random(in) % 16000));
        return 0x0CF00400;
    }
    const uint64_t noise = next_random(in);
    memcpy(data, &noise, 8);
    return 0x18FF1000 + (uint32_t)(slot - 4) * 0x100 + 0x21;
}

/* Any value that a signal can have: 0xFB and above mean that there is none. */
static uint32_t make_known_frame(struct input *in, int slot, uint8_t data[8])
{
    static const uint32_t known[8] = {0x0C02C820, 0x0C0320C8, 0x18F0010B,
                                      0x18FEF100, 0x18FEBF0B, 0x0CF00400,
                                      0x18FEC4C8, 0x18FEC6C8};
    const uint64_t noise = next_random(in);
    for (int i = 0; i < 8; i++) {
        data[i] = (uint8_t)((noise >> 8 * i & 255) * 0xFA / 255);
    }
    return known[slot % 8];
}

static char hex_digit(unsigned value)
{
    return "0123456789ABCDEF"[value & 15];
}

static void write_text(struct input *in, int64_t us, uint32_t id,
                       const uint8_t data[8])
{
    char line[64];
    int at = snprintf(line, sizeof(line), "(%" PRId64 ".%06d) can0 %08X#",
                      us / 1000000, (int)(us % 1000000), id);
    for (int i = 0; i < 8; i++) {
        line[at++] = hex_digit(data[i] >> 4);
        line[at++] = hex_digit(data[i]);
    }
    line[at++] = '\n';
    write_all(in, line, (size_t)at);
}

static void make_socketcan(uint8_t to[16], uint32_t id, const uint8_t data[8])
{
    const uint32_t flagged = id | 0x80000000u;
    for (int i = 0; i < 4; i++) {
        to[i] = (uint8_t)(flagged >> (24 - 8 * i));
    }
    to[4] = 8;
    memset(to + 5, 0, 3);
    memcpy(to + 8, data, 8);
}

static void write_pcap(struct input *in, int64_t us, const uint8_t packet[16])
{
    uint8_t header[16];
    put32(header, (uint32_t)(us / 1000000));
    put32(header + 4, (uint32_t)(us % 1000000));
    put32(header + 8, 16);
    put32(header + 12, 16);
    write_all(in, header, sizeof(header));
    write_all(in, packet, 16);
}

static void write_pcapng(struct input *in, int64_t us, const uint8_t packet[16])
{
    uint8_t block[48];
    put32(block, 6);
    put32(block + 4, sizeof(block));
    put32(block + 8, 0);
    put32(block + 12, (uint32_t)(us >> 32));
    put32(block + 16, (uint32_t)us);
    put32(block + 20, 16);
    put32(block + 24, 16);
    memcpy(block + 28, packet, 16);
    put32(block + 44, sizeof(block));
    write_all(in, block, sizeof(block));
}

/* A measurement file in MDF 4 (layout from memory of the standard): one group
   of data frames, records of 23 bytes behind each other. */
struct blocks {
    uint8_t bytes[4096];
    size_t used;
};

static void put64(uint8_t *to, uint64_t value)
{
    put32(to, (uint32_t)value);
    put32(to + 4, (uint32_t)(value >> 32));
}

static uint64_t add_block(struct blocks *b, const char *id,
                          const uint64_t *link, size_t links, const void *data,
                          size_t size)
{
    b->used = (b->used + 7) / 8 * 8;
    uint8_t *at = b->bytes + b->used;
    const uint64_t place = b->used;
    memcpy(at, "##", 2);
    memcpy(at + 2, id, 2);
    put64(at + 8, 24 + 8 * links + size);
    put64(at + 16, links);
    for (size_t i = 0; i < links; i++) {
        put64(at + 24 + 8 * i, link[i]);
    }
    memcpy(at + 24 + 8 * links, data, size);
    b->used += 24 + 8 * links + size;
    return place;
}

static uint64_t add_channel(struct blocks *b, uint64_t next, const char *name,
                            unsigned type, unsigned bit, unsigned bits)
{
    uint8_t data[72] = {0};
    const bool time = bit == 0;
    const uint64_t text = add_block(b, "TX", NULL, 0, name, strlen(name) + 1);
    const uint64_t link[8] = {next, 0, text};
    data[0] = time ? 2 : 0; /* master, of time */
    data[1] = time;
    data[2] = (uint8_t)type;
    data[3] = (uint8_t)(bit % 8);
    put32(data + 4, bit / 8);
    put32(data + 8, bits);
    return add_block(b, "CN", link, 8, data, sizeof(data));
}

static void write_mdf_header(struct input *in)
{
    enum { UNSIGNED = 0, FLOAT = 4, BYTES = 10 };
    static struct blocks b;
    uint8_t head[32] = {0};
    uint8_t group[32] = {0};
    const uint64_t records = (uint64_t)in->ticks * FRAMES;
    memcpy(b.bytes, "MDF     4.10    bench   ", 24);
    b.bytes[28] = 410 & 255;
    b.bytes[29] = 410 >> 8;
    b.used = 64;
    uint64_t link[8] = {0};
    put64(head, (uint64_t)START_S * 1000000000);
    const uint64_t top = add_block(&b, "HD", link, 6, head, sizeof(head));
    uint64_t next = 0;
    next = add_channel(&b, next, "CAN_DataFrame.DataBytes", BYTES, 120, 64);
    next = add_channel(&b, next, "CAN_DataFrame.DataLength", UNSIGNED, 112, 8);
    next = add_channel(&b, next, "CAN_DataFrame.DLC", UNSIGNED, 104, 8);
    next = add_channel(&b, next, "CAN_DataFrame.BusChannel", UNSIGNED, 96, 8);
    next = add_channel(&b, next, "CAN_DataFrame.IDE", UNSIGNED, 95, 1);
    next = add_channel(&b, next, "CAN_DataFrame.ID", UNSIGNED, 64, 29);
    next = add_channel(&b, next, "Timestamp", FLOAT, 0, 64);
    put64(group + 8, records);
    group[16] = 6; /* bus events, as they came */
    put32(group + 24, MDF_RECORD);
    const uint64_t groups[6] = {0, next};
    next = add_block(&b, "CG", groups, 6, group, sizeof(group));
    const uint64_t set[4] = {0, next, (b.used + 7) / 8 * 8 + 64};
    put64(b.bytes + top + 24, add_block(&b, "DG", set, 4, "\0\0\0\0\0\0\0", 8));
    const size_t data = add_block(&b, "DT", NULL, 0, "", 0);
    put64(b.bytes + data + 8, 24 + records * MDF_RECORD);
    write_all(in, b.bytes, b.used);
}

static void write_mdf(struct input *in, int64_t us, uint32_t id,
                      const uint8_t data[8])
{
    uint8_t record[MDF_RECORD];
    const double s = (double)(us - START_S * 1000000) * 1e-6;
    memcpy(record, &s, 8); /* as the machine has it: little-endian */
    put32(record + 8, id | 0x80000000u);
    record[12] = 0;
    record[13] = record[14] = 8;
    memcpy(record + 15, data, 8);
    write_all(in, record, sizeof(record));
}

static void write_header(struct input *in, const char *kind)
{
    if (strcmp(kind, "pcap") == 0) {
        uint8_t header[24] = {0xD4, 0xC3, 0xB2, 0xA1, 2, 0, 4, 0};
        put32(header + 16, 262144);
        put32(header + 20, 227);
        write_all(in, header, sizeof(header));
    } else if (strcmp(kind, "pcapng") == 0) {
        uint8_t section[28] = {0x0A, 0x0D, 0x0D, 0x0A, 28};
        put32(section + 8, 0x1A2B3C4D);
        section[12] = 1;
        memset(section + 16, 0xFF, 8);
        section[24] = 28;
        write_all(in, section, sizeof(section));
        /* Interface block with the name can0 (option 2). */
        uint8_t interface[32] = {1, 0, 0, 0, 32, 0, 0, 0, 227};
        put32(interface + 12, 262144);
        static const uint8_t name[8] = {2, 0, 4, 0, 'c', 'a', 'n', '0'};
        memcpy(interface + 16, name, sizeof(name));
        interface[28] = 32;
        write_all(in, interface, sizeof(interface));
    } else if (strcmp(kind, "mdf") == 0) {
        write_mdf_header(in);
    }
}

static void write_frames(struct input *in, const char *kind)
{
    const bool known = strcmp(kind, "decoded") == 0;
    write_header(in, known ? "pcap" : kind);
    for (long tick = 0; tick < in->ticks; tick++) {
        const double kpa = demand(in, (double)tick * 0.01);
        for (int slot = 0; slot < FRAMES; slot++) {
            const int64_t us = START_S * 1000000 + tick * 10000 + slot * 580 +
                               (int64_t)(next_random(in) % 40);
            uint8_t data[8];
            const uint32_t id = known ? make_known_frame(in, slot, data)
                                      : make_frame(in, tick, slot, kpa, data);
            uint8_t packet[16];
            make_socketcan(packet, id, data);
            if (strcmp(kind, "text") == 0) {
                write_text(in, us, id, data);
            } else if (known || strcmp(kind, "pcap") == 0) {
                write_pcap(in, us, packet);
            } else if (strcmp(kind, "mdf") == 0) {
                write_mdf(in, us, id, data);
            } else {
                write_pcapng(in, us, packet);
            }
        }
    }
}

/* Two decimals, by hand: printf would take longer than all the rest. */
static int put_fixed(char *to, double value)
{
    long hundredths = (long)(value * 100 + (value < 0 ? -0.5 : 0.5));
    int at = 0;
    if (hundredths < 0) {
        to[at++] = '-';
        hundredths = -hundredths;
    }
    char digit[24];
    int count = 0;
    do {
        digit[count++] = (char)('0' + hundredths % 10);
        hundredths /= 10;
    } while (hundredths > 0 || count < 3);
    while (count > 0) {
        to[at++] = digit[--count];
        if (count == 2) {
            to[at++] = '.';
        }
    }
    return at;
}

static void write_rows(struct input *in)
{
    /* treadle, then control and output of each unit (unit 0: output only) */
    static const double delay_s[CHANNELS] = {0,    0.02, 0.05, 0.09,
                                             0.10, 0.15, 0.16, 0.22};
    static const double lag_s[CHANNELS] = {0.001, 0.05, 0.03, 0.06,
                                           0.03,  0.06, 0.03, 0.07};
    double kpa[CHANNELS] = {0};
    (void)fprintf(in->file, "time [s],treadle [kPa],output_0 [kPa],"
                            "control_1 [kPa],output_1 [kPa],control_2 [kPa],"
                            "output_2 [kPa],control_3 [kPa],"
                            "output_3 [kPa]\n");
    for (long row = 0; row < in->ticks * ROWS; row++) {
        const double t = (double)row * 0.002;
        char line[160];
        int at = snprintf(line, sizeof(line), "%ld.%06ld", row / 500,
                          row % 500 * 2000);
        for (int c = 0; c < CHANNELS; c++) {
            const double aim = demand(in, t - delay_s[c]);
            kpa[c] +=
                (aim - kpa[c]) * (lag_s[c] > 0.002 ? 0.002 / lag_s[c] : 1);
            const uint64_t r = next_random(in);
            const double noise =
                (double)((r & 255) + (r >> 8 & 255) + (r >> 16 & 255)) / 255 -
                1.5;
            line[at++] = ',';
            at += put_fixed(line + at, 100 + kpa[c] + noise / 2);
        }
        line[at++] = '\n';
        write_all(in, line, (size_t)at);
    }
}

int main(int count, char **word)
{
    if (count != 5) {
        (void)fprintf(stderr,
                      "usage: make_input KIND TICKS APPLICATIONS FILE\n");
        return 2;
    }
    struct input in = {.file = fopen(word[4], "wb"),
                       .ticks = strtol(word[2], NULL, 10),
                       .applications = strtol(word[3], NULL, 10),
                       .random = UINT64_C(0x2545F4914F6CDD1D)};
    if (in.file == NULL) {
        perror(word[4]);
        return 1;
    }
    if (strcmp(word[1], "csv") == 0) {
        write_rows(&in);
    } else {
        write_frames(&in, word[1]);
    }
    if (fclose(in.file) != 0) {
        perror(word[4]);
        return 1;
    }
    return 0;
}
