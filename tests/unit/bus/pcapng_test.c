/* SPDX-License-Identifier: MIT */
/*
 * pcapng: resolutions and offsets of time, sections in both byte orders, an
 * open conformance set walked against its own descriptions, and libpcap as a
 * second reader.
 */
#include "recordings.h"

#include <dirent.h>
#include <inttypes.h>

/* pcap/pcap.h needs BSD names; only these are wanted. */
typedef struct pcap pcap_t;
pcap_t *pcap_open_offline(const char *path, char *text);
int pcap_next_ex(pcap_t *pcap, void **header, const unsigned char **data);
void pcap_close(pcap_t *pcap);
enum { PCAP_ERROR_TEXT = 256, PCAP_END = -2 };

static struct recording read_fixture(const char *name)
{
    char path[4096];
    return read_file(test_data(name, path, sizeof(path)), NULL);
}

/* Every frame was stamped 2020-01-01 00:00:00.5 UTC, by clocks of
   different units and offsets (make.py). */
static void all_resolutions_give_the_same_time(void **state)
{
    (void)state;
    struct recording r = read_fixture("bus/good-pcapng-resolutions.pcapng");
    assert_int_equal(r.status, BL_OK);
    assert_int_equal(r.frames, 7);
    assert_int_equal(r.info->buses, 7);
    assert_int_equal(r.info->resolution_ns, 1000000); /* the coarsest */
    for (size_t i = 0; i < 7; i++) {
        assert_int_equal(r.frame[i].time_ns, INT64_C(1577836800500000000));
        assert_int_equal(r.frame[i].bus, i);
    }
    assert_string_equal(r.info->bus[4].name, "binary-10");
    close_recording(&r);
}

static void sections_may_differ_in_byte_order(void **state)
{
    (void)state;
    struct recording r = read_fixture("bus/good-pcapng-two-sections.pcapng");
    assert_int_equal(r.status, BL_OK);
    assert_int_equal(r.frames, 5);
    assert_int_equal(r.info->buses, 2);
    static const char *const bus[] = {"front", "rear", "rear", "front", "rear"};
    for (size_t i = 0; i < 5; i++) {
        assert_int_equal(r.frame[i].time_ns,
                         INT64_C(1577836800000000000) + (int64_t)i * 1000);
        assert_int_equal(r.frame[i].id, 0x18FEC4C8);
        assert_int_equal(r.frame[i].flags,
                         BL_FRAME_EXTENDED | (i == 2 ? BL_FRAME_OUTGOING : 0));
        assert_string_equal(r.info->bus[r.frame[i].bus].name, bus[i]);
        assert_int_equal(r.frame[i].kind,
                         i == 4 ? BL_FRAME_FD : BL_FRAME_CLASSIC);
        assert_int_equal(r.frame[i].length, i == 4 ? 20 : 8);
    }
    close_recording(&r);
}

/* "  EPB: 3" in a description. */
static uint64_t described(const char *text, const char *block)
{
    char wanted[16];
    snprintf(wanted, sizeof(wanted), "\t%s: ", block);
    const char *found = strstr(text, wanted);
    uint64_t value = 0;
    if (found != NULL) {
        for (found += strlen(wanted); *found >= '0' && *found <= '9'; found++) {
            value = value * 10 + (uint64_t)(*found - '0');
        }
    }
    return value;
}

static void check_described(const char *folder, const char *name)
{
    char path[8192];
    snprintf(path, sizeof(path), "%s/%s", folder, name);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    static char text[65536];
    const size_t size = fread(text, 1, sizeof(text) - 1, file);
    text[size] = '\0';
    fclose(file);
    memcpy(path + strlen(path) - 4, ".pcapng", sizeof(".pcapng"));
    struct recording r = read_file(path, NULL);
    const uint64_t packets =
        described(text, "EPB") + described(text, "SPB") + described(text, "PB");
    if (r.open_status != BL_OK || r.status != BL_OK ||
        r.info->other_packets != packets ||
        notes_of(&r, "other-link-type") != described(text, "IDB") ||
        notes_of(&r, "bad-option") != 0) {
        fail_msg("%s: %" PRIu64 " packets described, %" PRIu64 " found: %s",
                 path, packets, r.info == NULL ? 0 : r.info->other_packets,
                 r.error.message);
    }
    close_recording(&r);
}

static void the_conformance_set_is_walked(void **state)
{
    (void)state;
    char folder[4096];
    char path[4096];
    shared_data("pcapng-conformance/LICENSE.txt", path, sizeof(path));
    test_path("BL_SHARED_DATA", "pcapng-conformance", folder, sizeof(folder));
    DIR *list = opendir(folder);
    assert_non_null(list);
    size_t count = 0;
    const struct dirent *entry;
    while ((entry = readdir(list)) != NULL) {
        const char *end = strrchr(entry->d_name, '.');
        if (strncmp(entry->d_name, "output_", 7) == 0 && end != NULL &&
            strcmp(end, ".txt") == 0) {
            check_described(folder, entry->d_name);
            count++;
        }
    }
    closedir(list);
    print_message("%zu files\n", count);
    assert_true(count >= 40);
}

/* Packets that libpcap finds; -1 where it refuses the file. */
static long count_by_libpcap(const char *path)
{
    char text[PCAP_ERROR_TEXT];
    pcap_t *pcap = pcap_open_offline(path, text);
    if (pcap == NULL) {
        return -1;
    }
    long count = 0;
    void *header;
    const unsigned char *data;
    int code;
    while ((code = pcap_next_ex(pcap, &header, &data)) == 1) {
        count++;
    }
    pcap_close(pcap);
    return code == PCAP_END ? count : -1;
}

static void libpcap_finds_as_many_packets(void **state)
{
    (void)state;
    static const char *const names[] = {
        "truck-brake-release/release_2if_us.pcapng",
        "cooked-canfd/single_can_bus_1_CAN.pcap",
        "pcapng-conformance/output_be__basic__test001.pcapng",
        "pcapng-conformance/output_le__basic__test001.pcapng",
        "pcapng-conformance/output_be__basic__test012.pcapng",
        "pcapng-conformance/output_le__basic__test012.pcapng",
        "hostile-captures/test010.ntar",
    };
    size_t compared = 0;
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        char path[4096];
        shared_data(names[i], path, sizeof(path));
        const long packets = count_by_libpcap(path);
        struct recording r = read_file(path, NULL);
        if (packets >= 0) {
            assert_int_equal(r.frames + r.info->other_packets, packets);
            compared++;
        }
        close_recording(&r);
    }
    assert_true(compared >= 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_resolutions_give_the_same_time),
        cmocka_unit_test(sections_may_differ_in_byte_order),
        cmocka_unit_test(the_conformance_set_is_walked),
        cmocka_unit_test(libpcap_finds_as_many_packets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
