/* Builds blocks with docs/senders/barwright_block.c on the host and writes them, for the test to decode. */
#include "barwright_block.h"

#include <stdio.h>
#include <string.h>

static uint8_t slots[2][8];
static int torn = -1;

static int read_slot(void *context, int slot, uint8_t bytes[8])
{
    (void)context;
    memcpy(bytes, slots[slot], 8);
    return 0;
}

static int write_slot(void *context, int slot, uint8_t bytes[8])
{
    (void)context;
    memcpy(slots[slot], bytes, torn == slot ? 3 : 8);
    return torn == slot;
}

static int written(const char *folder, const char *name, const uint8_t *bytes, size_t size)
{
    char path[1000];
    FILE *file;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    file = fopen(path, "wb");
    if (file == NULL)
        return 1;
    fwrite(bytes, 1, size, file);
    return fclose(file);
}

int main(int count, char **words)
{
    static uint8_t out[8192];
    static float values[BW_CHANNELS][50];
    static int16_t counts[50 * BW_CHANNELS];
    const float *columns[BW_CHANNELS];
    bw_clock clock = {0, 0};
    uint32_t one, two, three, pause = 0;
    int i, c;
    if (count != 2)
        return 2;
    for (c = 0; c < BW_CHANNELS; c++) {
        columns[c] = values[c];
        for (i = 0; i < 50; i++) {
            values[c][i] = 0.5f * (float)i - (float)c;
            counts[i * BW_CHANNELS + c] = (int16_t)(100 * i - 3000 * c);
        }
    }
    written(words[1], "floats", out, bw_block_cbor(out, sizeof out, "7f3a.12", 70000, -2500, 2500, columns, 50));
    written(words[1], "counts", out, bw_block_int16(out, sizeof out, "7f3a.12", 70001, 5000000000LL, 2500, counts, 50, 0.0048828125, 0.00106526));
    one = bw_next_boot(read_slot, write_slot, NULL);
    two = bw_next_boot(read_slot, write_slot, NULL);
    torn = 1; /* the slot that comes next */
    three = bw_next_boot(read_slot, write_slot, NULL);
    torn = -1;
    printf("%u %u %u %u\n", one, two, three, bw_next_boot(read_slot, write_slot, NULL));
    printf("%llu", (unsigned long long)bw_clock_us(&clock, 4294967290u));
    printf(" %llu\n", (unsigned long long)bw_clock_us(&clock, 10));
    for (i = 0; i < 24; i++) {
        pause = bw_pause_ms(pause, 4000000000u - 7919u * (uint32_t)i);
        printf("%u ", pause);
    }
    printf("\n%d %d %d %d %d %d\n", bw_may_come_again(0), bw_may_come_again(200), bw_may_come_again(422), bw_may_come_again(429), bw_may_come_again(503), bw_may_come_again(401));
    printf("%u\n", (unsigned)bw_block_cbor(out, 100, "b", 0, 0, 2500, columns, 50));
    return 0;
}
