/* SPDX-License-Identifier: MIT */
/*
 * The loops that the benchmark compares with: the least that a program can do
 * with such a file.
 *     reference pcap FILE   libpcap with its own stdio; sums the identifiers
 *     reference gzip FILE   gzread to the end
 */
#define _DEFAULT_SOURCE
#include <inttypes.h>
#include <pcap/pcap.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <zlib.h>

enum { GZIP_BYTES = 128 * 1024 };

static int sum_ids(const char *path)
{
    char text[PCAP_ERRBUF_SIZE];
    pcap_t *pcap = pcap_open_offline(path, text);
    if (pcap == NULL) {
        (void)fprintf(stderr, "%s\n", text);
        return 1;
    }
    uint64_t sum = 0;
    uint64_t frames = 0;
    struct pcap_pkthdr *header;
    const unsigned char *data;
    while (pcap_next_ex(pcap, &header, &data) == 1) {
        if (header->caplen >= 4) {
            sum += (uint32_t)data[0] << 24 | (uint32_t)data[1] << 16 |
                   (uint32_t)data[2] << 8 | data[3];
        }
        frames++;
    }
    pcap_close(pcap);
    (void)printf("%" PRIu64 " %" PRIu64 "\n", frames, sum);
    return 0;
}

static int inflate_all(const char *path)
{
    static unsigned char buffer[GZIP_BYTES];
    gzFile file = gzopen(path, "rb");
    if (file == NULL || gzbuffer(file, GZIP_BYTES) != 0) {
        perror(path);
        return 1;
    }
    uint64_t bytes = 0;
    int got;
    while ((got = gzread(file, buffer, sizeof(buffer))) > 0) {
        bytes += (uint64_t)got;
    }
    const int code = gzclose(file);
    (void)printf("%" PRIu64 "\n", bytes);
    return got == 0 && code == Z_OK ? 0 : 1;
}

int main(int count, char **word)
{
    if (count == 3 && strcmp(word[1], "pcap") == 0) {
        return sum_ids(word[2]);
    }
    if (count == 3 && strcmp(word[1], "gzip") == 0) {
        return inflate_all(word[2]);
    }
    (void)fprintf(stderr, "usage: reference pcap|gzip FILE\n");
    return 2;
}
