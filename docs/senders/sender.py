"""A sender of blocks for MicroPython (ESP32 class; also runs on its unix port). Copy it, fill in the last lines.

What it promises: a block is numbered once and keeps its number (boot, seq) until the service has acknowledged it, over
lost networks, services that are away and power cuts. Sending one again is always safe.
"""

import os
import random
import socket
import struct
import time
from array import array

NAMES = ("accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z")
GIVEN_UP = (400, 413, 415, 422)  # the block itself is wrong and will never be taken; any other no may pass
TICKS = 1 << 30  # time.ticks_us() begins again here on most boards; ticks_diff knows
LONGEST_PAUSE_MS = 30_000


def boot_name(folder, device):
    """A name for this start of the device, never given before: a counter in flash, in two slots written in turns.

    A power cut in the middle of writing spoils one slot; the other still holds the count before, and no block has
    carried the new one yet.
    """
    counts = [_read_slot(f"{folder}/boot.{slot}") for slot in (0, 1)]
    last = max(counts)
    slot = 1 if counts[0] == last else 0
    with open(f"{folder}/boot.{slot}", "wb") as file:
        file.write(struct.pack("<II", last + 1, (last + 1) ^ 0x5A5A5A5A))
    return f"{device}.{last + 1}"


def _read_slot(path):
    try:
        with open(path, "rb") as file:
            count, check = struct.unpack("<II", file.read(8))
    except (OSError, ValueError):
        return 0
    return count if count ^ 0x5A5A5A5A == check else 0


class Clock:
    """Microseconds since this start, never falling, where ticks_us() begins again every 18 minutes or so."""

    def __init__(self, ticks=None):
        self._ticks = ticks or time.ticks_us
        self._last = self._ticks()
        self._now = 0

    def now_us(self):
        """Ask at least every few minutes."""
        ticks = self._ticks()
        self._now += (ticks - self._last) % TICKS if ticks < self._last else ticks - self._last
        self._last = ticks
        return self._now


def block_bytes(boot, seq, t0_us, dt_us, columns):
    """One block as CBOR (RFC 8949); columns as typed arrays of 32-bit floats, little-endian (RFC 8746, tag 85)."""
    out = bytearray(b"\xa5")  # a map of five members
    for name, value in (("boot", boot), ("seq", seq), ("t0_us", t0_us), ("dt_us", dt_us)):
        out += _text(name) + (_text(value) if isinstance(value, str) else _head(0, value))
    out += _text("channels") + _head(5, len(columns))
    for name, values in columns:
        out += _text(name) + b"\xd8\x55" + _head(2, 4 * len(values))
        out += bytes(values)
    return bytes(out)


def _head(major, size):
    for extra, most, form in ((24, 1 << 8, ">BB"), (25, 1 << 16, ">BH"), (26, 1 << 32, ">BI"), (27, 1 << 64, ">BQ")):
        if size < 24:
            return bytes([major << 5 | size])
        if size < most:
            return struct.pack(form, major << 5 | extra, size)
    raise ValueError("too large")


def _text(text):
    raw = text.encode()
    return _head(3, len(raw)) + raw


class Sender:
    """Collects samples into blocks and sends them; what the network does not take goes to flash, bounded in files.

    path: /v1/streams/{id}/blocks, or /v1/devices/{id}/blocks for a device that knows nothing of sets.
    dt_us: from sample to sample. count: samples in a block; a quarter of a second keeps results live.
    """

    def __init__(self, host, port, key, path, folder, device, dt_us, count=50, most_files=400):
        self._address = (host, port)
        self._head = f"POST {path} HTTP/1.1\r\nHost: {host}\r\nAuthorization: Bearer {key}\r\n"
        self._folder = folder
        self.boot = boot_name(folder, device)
        self.seq = 0
        self._dt_us, self._count, self._most_files = dt_us, count, most_files
        self._columns = [array("f") for _ in NAMES]
        self._t0_us = 0
        self._fresh = []  # (name, bytes) in memory, the oldest first
        self._socket = None
        self._pause_ms, self._try_at = 0, None
        self.lost = 0  # blocks given up because the flash was full
        self.refused = []  # (name, status): the service will never take these
        self.status = None  # of the last answer; 401, 403 and 404 stay until key or path are put right
        for name in os.listdir(folder):
            if name.endswith(".part"):
                os.remove(f"{folder}/{name}")  # half written when the power went

    def add(self, t_us, values):
        """One sample of six values, measured at t_us of the device's clock."""
        if not self._columns[0]:
            self._t0_us = t_us
        for column, value in zip(self._columns, values):  # noqa: B905 - MicroPython knows no strict
            column.append(value)
        if len(self._columns[0]) >= self._count:
            self._cut()

    def gap(self):
        """Samples were missed: what follows is not dt_us after the last one, so the block ends here."""
        if self._columns[0]:
            self._cut()

    def _cut(self):
        body = block_bytes(self.boot, self.seq, self._t0_us, self._dt_us, list(zip(NAMES, self._columns)))  # noqa: B905
        self._fresh.append((f"{self.boot}-{self.seq:07d}", body))
        self.seq += 1
        self._columns = [array("f") for _ in NAMES]
        while len(self._fresh) > 8:  # memory is small
            self._keep(*self._fresh.pop(0))

    def keep_all(self):
        """Everything not yet acknowledged to flash: before sleeping, or when the supply drops."""
        while self._fresh:
            self._keep(*self._fresh.pop(0))

    def _keep(self, name, body):
        if len(self._kept()) >= self._most_files:
            self.lost += 1
            return
        with open(f"{self._folder}/{name}.part", "wb") as file:
            file.write(body)
        os.rename(f"{self._folder}/{name}.part", f"{self._folder}/{name}.blk")  # whole, or not there

    def _kept(self):
        return sorted(name for name in os.listdir(self._folder) if name.endswith(".blk"))

    def waiting(self):
        """How many blocks are not acknowledged yet."""
        return len(self._fresh) + len(self._kept())

    def poll(self, most=4):
        """Sends a few blocks, those in flash first; returns at once while it pauses after a failure. Never raises."""
        if self._try_at is not None and time.ticks_diff(self._try_at, time.ticks_ms()) > 0:
            return
        for _ in range(most):
            kept = self._kept()
            if kept:
                with open(f"{self._folder}/{kept[0]}", "rb") as file:
                    name, body = kept[0][:-4], file.read()
            elif self._fresh:
                name, body = self._fresh[0]
            else:
                return
            status = self._post(body)
            self.status = status
            if status is None or (status >= 300 and status not in GIVEN_UP):
                self._pause_ms = min(max(500, self._pause_ms * 2), LONGEST_PAUSE_MS)
                pause_ms = self._pause_ms // 2 + random.getrandbits(16) % (self._pause_ms // 2)  # spread over a hall
                self._try_at = time.ticks_add(time.ticks_ms(), pause_ms)
                return
            self._pause_ms, self._try_at = 0, None
            if status >= 300:
                self.refused.append((name, status))
            if kept:
                os.remove(f"{self._folder}/{kept[0]}")
            else:
                self._fresh.pop(0)

    def _post(self, body):
        """The status of the answer, None when there was none. The connection is kept open between blocks."""
        head = f"{self._head}Content-Type: application/cbor\r\nContent-Length: {len(body)}\r\n\r\n"
        for fresh in (False, True):
            try:
                if self._socket is None or fresh:
                    self._hang_up()
                    self._socket = socket.socket()
                    self._socket.settimeout(10)
                    self._socket.connect(socket.getaddrinfo(*self._address)[0][-1])
                    fresh = True
                self._write(head.encode())
                self._write(body)
                return self._answer()
            except (OSError, ValueError, IndexError):
                self._hang_up()
                if fresh:
                    return None
        return None

    def _write(self, data):
        view = memoryview(data)
        while len(view):
            view = view[self._socket.send(view) :]

    def _answer(self):
        got = b""
        while b"\r\n\r\n" not in got:
            piece = self._socket.recv(512)
            if not piece:
                raise OSError("hung up")
            got += piece
        head, _, rest = got.partition(b"\r\n\r\n")
        lines = head.lower().split(b"\r\n")
        length = 0
        for line in lines[1:]:
            if line.startswith(b"content-length:"):
                length = int(line.split(b":")[1])
        while len(rest) < length:
            piece = self._socket.recv(512)
            if not piece:
                raise OSError("hung up")
            rest += piece
        if b"connection: close" in lines:
            self._hang_up()
        return int(lines[0].split()[1])

    def _hang_up(self):
        if self._socket is not None:
            self._socket.close()
        self._socket = None


def run(sender, clock, read_sample, until=None):
    """Measures and sends for ever. read_sample() waits for the sensor's data-ready and returns six values, or None when
    it missed some. Best is to call it from the sensor's own FIFO: the sensor's clock is more even than this loop.
    """
    while until is None or not until():
        values = read_sample()
        if values is None:
            sender.gap()
            continue
        sender.add(clock.now_us(), values)
        if not sender._columns[0]:  # a block was just cut
            sender.poll()


# sender = Sender("192.168.4.2", 8400, "bw_...", "/v1/devices/dev_.../blocks", "/blocks", "bar3", dt_us=5000)
# run(sender, Clock(), read_sample)
