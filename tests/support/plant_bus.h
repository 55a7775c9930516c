/* SPDX-License-Identifier: MIT */
/*
 * Frames beside the plant of plant.h, as recorders write them: a timestamped
 * text recording of two links and a CSV log, with the trial file that says how
 * it was wired. Layout of the messages: UN R13 Annex 17 and the mapping tables;
 * the demand is 5/256 kPa per count in bytes 3 and 4.
 */
#ifndef BRAKELAG_TESTS_SUPPORT_PLANT_BUS_H
#define BRAKELAG_TESTS_SUPPORT_PLANT_BUS_H

#include "plant.h"

#include <unistd.h>

/* What may be wrong with a unit on the links, all zero when sound. */
struct plant_bus_fault {
    double invalid_s;    /* its demand is not available from the start of each
                            application on */
    double share;        /* it re-issues so much more of the demand */
    double cap_kpa;      /* it re-issues no more than that; 0: all */
    double late_s;       /* it re-issues later by */
    double lost;         /* share of the demand frames to it that are lost */
    double off_s;        /* it sends nothing for so long, from 20.3 s on */
    bool silent;         /* it sends nothing at all */
    bool unasked;        /* no demand is sent to it */
    int codes;           /* active trouble codes */
    double stands_kpa;   /* the demand to it stands there; 0: it moves */
    int slower;          /* it is sent so many times more slowly; 0, 1: not */
    double second_kpa;   /* address 11 asks it for so much, too; 0: not */
    int sent_to;         /* the demand to it goes to this address; 0: right */
    int park, automatic; /* applications in which the state is on */
};

struct plant_bus {
    struct plant_bus_fault unit[PLANT_UNITS];
    double gap_s; /* the recorder stops for so long, from 20.3 s on */
    bool no_demand;
    bool heavy_called; /* the message that calls for the higher threshold */
    const char *power, *data, *air, *clock; /* as the trial declares them */
};

static const int plant_address[] = {32, 200, 192};

/* 29 bits of an identifier (SAE J1939-21: priority, group, source). */
static inline unsigned plant_id(unsigned priority, unsigned group, int source)
{
    return priority << 26 | group << 8 | (unsigned)source;
}

static inline void plant_frame(FILE *to, double s, int link, unsigned id,
                               const unsigned char data[8])
{
    fprintf(to, "(%.6f) link%d %08X#", 1000 + s, link, id);
    for (int i = 0; i < 8; i++) {
        fprintf(to, "%02X", data[i]);
    }
    fprintf(to, "\n");
}

static inline bool plant_off(const struct plant_bus_fault *f, double s)
{
    return f->silent || (s >= 20.3 && s < 20.3 + f->off_s);
}

/* The demand on the link in front of unit u. */
static inline void plant_demand(FILE *to, struct plant *p,
                                const struct plant_bus *bus, int u, double s)
{
    unsigned char data[8] = {0xC0, 0xFC, 0, 0, 0, 0x7D, 0xFF, 0xFF};
    const struct plant_bus_fault *is = &bus->unit[u];
    const struct plant_bus_fault *front = &bus->unit[u - 1];
    const bool lost = plant_uniform(p) < is->lost;
    const int beat = (int)(s * 100);
    if (bus->no_demand || is->unasked || lost || plant_off(front, s) ||
        (is->slower > 1 && beat % is->slower != 0)) {
        return;
    }
    /* Each unit re-issues what it had 15 ms ago. */
    double back = 0.015 * (u - 1) + (u > 1 ? front->late_s : 0);
    back = s > back ? s - back : 0;
    const size_t row = (size_t)(back * PLANT_RATE);
    double kpa = p->pedal[1][row < p->rows[1] ? row : p->rows[1] - 1] *
                 (1 + (u > 1 ? front->share : 0));
    kpa = u > 1 && front->cap_kpa > 0 ? fmin(kpa, front->cap_kpa) : kpa;
    unsigned counts =
        (unsigned)((is->stands_kpa > 0 ? is->stands_kpa : kpa) / (5.0 / 256) +
                   0.5);
    const int application = plant_application(p, s);
    if (application > 0 && s - 4 - 10 * (application - 1) < is->invalid_s) {
        counts = 0xFFFF;
    }
    data[2] = counts & 0xFF;
    data[3] = (unsigned char)(counts >> 8);
    const int address = is->sent_to > 0 ? is->sent_to : plant_address[u];
    plant_frame(to, s, u,
                plant_id(3, 0x0200u | (unsigned)address, plant_address[u - 1]),
                data);
    if (is->second_kpa > 0) {
        counts = (unsigned)(is->second_kpa / (5.0 / 256) + 0.5);
        data[2] = counts & 0xFF;
        data[3] = (unsigned char)(counts >> 8);
        plant_frame(to, s + 0.0003, u,
                    plant_id(3, 0x0200u | (unsigned)address, 11), data);
    }
}

static inline void plant_status(FILE *to, const struct plant *p,
                                const struct plant_bus *bus, int u, double s)
{
    unsigned char data[8] = {0, 0x01, 0, 0, 0x00, 0x14, 0xFF, 0xFF};
    const struct plant_bus_fault *is = &bus->unit[u];
    const int application = plant_application(p, s);
    if (plant_off(is, s)) {
        return;
    }
    data[0] |= application > 0 && application <= is->automatic ? 0x40 : 0;
    data[2] |= application > 0 && application <= is->park ? 0x40 : 0;
    plant_frame(to, s, u, plant_id(6, 0xFEC4, plant_address[u]), data);
}

/* Active trouble codes, one frame: the first of them, or none. */
static inline void plant_troubles(FILE *to, const struct plant_bus *bus, int u,
                                  double s)
{
    unsigned char data[8] = {0, 0xFF, 0, 0, 0, 0, 0xFF, 0xFF};
    if (plant_off(&bus->unit[u], s)) {
        return;
    }
    if (bus->unit[u].codes > 0) {
        data[0] = 0x04;
        data[2] = (unsigned char)(100 + bus->unit[u].codes);
        data[4] = 0x05;
        data[5] = 1;
    }
    plant_frame(to, s, u, plant_id(6, 0xFECA, plant_address[u]), data);
}

static inline void plant_capture(FILE *to, struct plant *p,
                                 const struct plant_bus *bus)
{
    static const unsigned char towing[8] = {0xC0, 0xFF, 0x14, 0xFF,
                                            0xFF, 0xFF, 0xFF, 0xFF};
    const double end = (double)p->rows[1] / PLANT_RATE - 0.1;
    for (int k = 0; k * 0.01 < end; k++) {
        const double s = k * 0.01;
        if (s >= 20.3 && s < 20.3 + bus->gap_s) {
            continue;
        }
        for (int u = 1; u < PLANT_UNITS; u++) {
            plant_demand(to, p, bus, u, s + 0.0005 * u);
            if (k % 10 == 3 && !plant_off(&bus->unit[u - 1], s) &&
                bus->heavy_called) {
                plant_frame(to, s + 0.002, u,
                            plant_id(6, 0xFEC9, plant_address[u - 1]), towing);
            }
            if (k % 10 == 5) {
                plant_status(to, p, bus, u, s + 0.003);
            }
            if (k % 100 == 7) {
                plant_troubles(to, bus, u, s + 0.004);
            }
        }
    }
}

static const char *const plant_columns[] = {
    "pedal", "out0", "control1", "out1",   "control2",  "out2",
    "res1",  "res2", "volts1",   "volts2", "control1b", "control2b"};

static inline void plant_log(FILE *to, const struct plant *p)
{
    fprintf(to, "time");
    for (size_t c = 0; c < PLANT_CHANNELS; c++) {
        fprintf(to, ",%s", plant_columns[c]);
    }
    for (size_t i = 0; i < p->rows[1]; i++) {
        fprintf(to, "\n%.3f", 1000 + (double)i / PLANT_RATE);
        for (size_t c = 0; c < PLANT_CHANNELS; c++) {
            fprintf(to, ",%.2f", (double)p->value[1][c][i]);
        }
    }
    fprintf(to, "\n");
}

static inline void plant_trial_file(FILE *to, const struct plant *p,
                                    const struct plant_bus *bus)
{
    fprintf(to, "[trial]\nname = plant\ntables = iso11992-2, j1939-vehicle\n"
                "response_at = 20 kPa\ncontrol_line = through\n"
                "[unit 0]\nname = unit\naddress = 32\ncommand = pedal\n"
                "command_kind = treadle-pressure\ncommand_at = 20 kPa\n"
                "output = out0\n");
    for (int u = 1; u < PLANT_UNITS; u++) {
        fprintf(to,
                "[unit %d]\nname = unit\naddress = %d\nbus = link%d\n"
                "control = control%d\ncontrol_b = control%db\noutput = out%d\n"
                "reservoir = res%d\nvoltage = volts%d\n"
                "load = laden\ngain = 1.0\ncrack = 5 kPa\nthreshold = %g kPa\n",
                u, plant_address[u], u, u, u, u, u, u, p->shelf_kpa);
    }
    for (size_t c = 0; c < PLANT_CHANNELS; c++) {
        const bool volts = c == AT_VOLT1 || c == AT_VOLT2;
        fprintf(to,
                "[channel %s]\ncolumn = %s\nquantity = %s\n"
                "measured_in = %s\n",
                plant_columns[c], plant_columns[c],
                volts ? "voltage" : "pressure", volts ? "V" : "kPa");
    }
    fprintf(to,
            "[characteristic light]\nthreshold = 50 kPa\ngain = 1.0\n"
            "when = EBS11\nwithin = 5 s\n"
            "[characteristic heavy]\nthreshold = 70 kPa\ngain = 1.0\n"
            "when = EBS11, EBS12\nwithin = 5 s\n"
            "[run now]\ncondition = powered\npower = %s\ndata = %s\n"
            "control_air = %s\ncaptures = now.log\nlogs = now.csv\n"
            "clock = %s\n",
            bus->power, bus->data, bus->air, bus->clock);
}

static inline void plant_write(struct plant *p, const struct plant_bus *bus,
                               const char *folder)
{
    static const char *const names[] = {"now.log", "now.csv", "trial.ini"};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        char path[512];
        (void)snprintf(path, sizeof(path), "%s/%s", folder, names[i]);
        FILE *to = fopen(path, "w");
        assert_non_null(to);
        if (i == 0) {
            plant_capture(to, p, bus);
        } else if (i == 1) {
            plant_log(to, p);
        } else {
            plant_trial_file(to, p, bus);
        }
        assert_int_equal(fclose(to), 0);
    }
}

static inline void plant_remove(const char *folder)
{
    static const char *const names[] = {"now.log", "now.csv", "trial.ini"};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        char path[512];
        (void)snprintf(path, sizeof(path), "%s/%s", folder, names[i]);
        (void)unlink(path);
    }
    (void)rmdir(folder);
}

#endif
