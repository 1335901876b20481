/* Blocks of samples for a Barwright service, built into a buffer. C99; needs no heap, no files, no clock.
 *
 * A block keeps its (boot, seq) until the service has acknowledged it: then sending it again is always safe. */
#ifndef BARWRIGHT_BLOCK_H
#define BARWRIGHT_BLOCK_H

#include <stddef.h>
#include <stdint.h>

#define BW_CHANNELS 6 /* accel_x, accel_y, accel_z, gyro_x, gyro_y, gyro_z */

/* One block as CBOR (RFC 8949), columns as typed arrays of 32-bit floats (RFC 8746, tag 85), in the units the stream
 * declared. columns[i] holds `count` values of channel i. Send it as application/cbor.
 * Returns the bytes written, or 0 when `room` is too small. */
size_t bw_block_cbor(uint8_t *out, size_t room, const char *boot, uint32_t seq, int64_t t0_us, uint32_t dt_us,
                     const float *const columns[BW_CHANNELS], size_t count);

/* The same from a sensor's registers: `count` samples of six int16 each, one after the other, and what one count is.
 * Send it as application/vnd.barwright.int16. The scales are in the units the stream declared. */
size_t bw_block_int16(uint8_t *out, size_t room, const char *boot, uint32_t seq, int64_t t0_us, uint32_t dt_us,
                      const int16_t *samples, size_t count, double accel_scale, double gyro_scale);

/* A number for this start of the device that was never given before: a counter in two slots of flash, written in turns.
 * read and write move 8 bytes of slot 0 or 1 and return 0 when that worked. A power cut while writing spoils one slot
 * only. Returns 0 when neither slot can be written: then do not send. */
typedef int (*bw_slot_io)(void *context, int slot, uint8_t bytes[8]);
uint32_t bw_next_boot(bw_slot_io read, bw_slot_io write, void *context);

/* Microseconds since this start in 64 bits, from a counter of 32 bits that begins again after 71 minutes. Begin with
 * both 0 and ask at least once in an hour. */
typedef struct {
    uint32_t last;
    uint64_t now;
} bw_clock;
uint64_t bw_clock_us(bw_clock *clock, uint32_t ticks);

/* Milliseconds to wait before the next try, from those waited before it: twice as long, from half a second to half a
 * minute, less up to a half at random so that a hall full of devices does not come at once. */
uint32_t bw_pause_ms(uint32_t before, uint32_t random);

/* Whether a block may be taken later, by the status of the answer (0: there was none). 2xx: drop it, it is stored. */
int bw_may_come_again(int status);

#endif
