#include "barwright_block.h"

#include <stdio.h>
#include <string.h>

static const char *const names[BW_CHANNELS] = {"accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z"};

typedef struct {
    uint8_t *out;
    size_t room, used;
    int full;
} writer;

static void put(writer *w, const void *bytes, size_t size)
{
    if (w->full || size > w->room - w->used) {
        w->full = 1;
        return;
    }
    memcpy(w->out + w->used, bytes, size);
    w->used += size;
}

/* The head of a CBOR item: major type and size, in the fewest bytes. */
static void put_head(writer *w, unsigned major, uint64_t size)
{
    uint8_t bytes[9];
    int width = size < 24 ? 0 : size <= 0xFF ? 1 : size <= 0xFFFF ? 2 : size <= 0xFFFFFFFF ? 4 : 8;
    int i;
    bytes[0] = (uint8_t)(major << 5 | (width == 0 ? (unsigned)size : width == 1 ? 24u : width == 2 ? 25u : width == 4 ? 26u : 27u));
    for (i = 0; i < width; i++)
        bytes[1 + i] = (uint8_t)(size >> (8 * (width - 1 - i)));
    put(w, bytes, 1 + (size_t)width);
}

static void put_text(writer *w, const char *text)
{
    put_head(w, 3, strlen(text));
    put(w, text, strlen(text));
}

static void put_float(writer *w, float value)
{
    uint32_t bits;
    uint8_t bytes[4];
    memcpy(&bits, &value, 4); /* IEEE 754 */
    bytes[0] = (uint8_t)bits;
    bytes[1] = (uint8_t)(bits >> 8);
    bytes[2] = (uint8_t)(bits >> 16);
    bytes[3] = (uint8_t)(bits >> 24);
    put(w, bytes, 4);
}

size_t bw_block_cbor(uint8_t *out, size_t room, const char *boot, uint32_t seq, int64_t t0_us, uint32_t dt_us,
                     const float *const columns[BW_CHANNELS], size_t count)
{
    writer w = {out, room, 0, 0};
    size_t channel, i;
    put_head(&w, 5, 5); /* a map of five members */
    put_text(&w, "boot");
    put_text(&w, boot);
    put_text(&w, "seq");
    put_head(&w, 0, seq);
    put_text(&w, "t0_us");
    if (t0_us >= 0)
        put_head(&w, 0, (uint64_t)t0_us);
    else
        put_head(&w, 1, (uint64_t)(-1 - t0_us));
    put_text(&w, "dt_us");
    put_head(&w, 0, dt_us);
    put_text(&w, "channels");
    put_head(&w, 5, BW_CHANNELS);
    for (channel = 0; channel < BW_CHANNELS; channel++) {
        put_text(&w, names[channel]);
        put_head(&w, 6, 85); /* floats of 32 bits, little-endian */
        put_head(&w, 2, 4 * (uint64_t)count);
        for (i = 0; i < count; i++)
            put_float(&w, columns[channel][i]);
    }
    return w.full ? 0 : w.used;
}

size_t bw_block_int16(uint8_t *out, size_t room, const char *boot, uint32_t seq, int64_t t0_us, uint32_t dt_us,
                      const int16_t *samples, size_t count, double accel_scale, double gyro_scale)
{
    writer w = {out, room, 0, 0};
    char head[400];
    size_t i;
    int size = snprintf(head, sizeof head,
                        "barwright-int16 {\"boot\":\"%s\",\"seq\":%lu,\"t0_us\":%lld,\"dt_us\":%lu,\"columns\":[\"%s\",\"%s\","
                        "\"%s\",\"%s\",\"%s\",\"%s\"],\"scale\":{\"accel\":%.9g,\"gyro\":%.9g}}\n",
                        boot, (unsigned long)seq, (long long)t0_us, (unsigned long)dt_us, names[0], names[1], names[2],
                        names[3], names[4], names[5], accel_scale, gyro_scale);
    if (size < 0 || (size_t)size >= sizeof head)
        return 0;
    put(&w, head, (size_t)size);
    for (i = 0; i < count * BW_CHANNELS; i++) {
        uint16_t bits = (uint16_t)samples[i];
        uint8_t bytes[2];
        bytes[0] = (uint8_t)bits;
        bytes[1] = (uint8_t)(bits >> 8);
        put(&w, bytes, 2);
    }
    return w.full ? 0 : w.used;
}

static uint32_t slot_count(bw_slot_io read, void *context, int slot)
{
    uint8_t b[8];
    uint32_t count, check;
    if (read(context, slot, b) != 0)
        return 0;
    count = (uint32_t)b[0] | (uint32_t)b[1] << 8 | (uint32_t)b[2] << 16 | (uint32_t)b[3] << 24;
    check = (uint32_t)b[4] | (uint32_t)b[5] << 8 | (uint32_t)b[6] << 16 | (uint32_t)b[7] << 24;
    return (count ^ 0x5A5A5A5Au) == check ? count : 0;
}

uint32_t bw_next_boot(bw_slot_io read, bw_slot_io write, void *context)
{
    uint32_t first = slot_count(read, context, 0), second = slot_count(read, context, 1);
    uint32_t count = (first > second ? first : second) + 1, check = count ^ 0x5A5A5A5Au;
    int slot = first == count - 1 ? 1 : 0, i;
    uint8_t b[8];
    for (i = 0; i < 4; i++) {
        b[i] = (uint8_t)(count >> (8 * i));
        b[4 + i] = (uint8_t)(check >> (8 * i));
    }
    return write(context, slot, b) == 0 ? count : 0;
}

uint64_t bw_clock_us(bw_clock *clock, uint32_t ticks)
{
    clock->now += (uint32_t)(ticks - clock->last);
    clock->last = ticks;
    return clock->now;
}

uint32_t bw_pause_ms(uint32_t before, uint32_t random)
{
    uint32_t most = before < 250 ? 500 : before > 15000 ? 30000 : 2 * before;
    return most / 2 + random % (most / 2);
}

int bw_may_come_again(int status)
{
    return !(status >= 200 && status < 300) && status != 400 && status != 413 && status != 415 && status != 422;
}
