"""Runs under MicroPython: feeds the sender a known motion. Arguments: port, key, path, folder, blocks, mode.

mode `through`: send until all is acknowledged. `dark`: only measure; everything ends in flash. `cut`: the same, and the
last block is left half written, as by a power cut.
"""

import sys
import time

port, key, path, folder, blocks, mode = sys.argv[1:7]
sys.path.append(sys.argv[7])

from sender import Clock, Sender  # noqa: E402 - its folder is told above


def sample(i):
    return [i * 0.5, -i * 0.25, 9.75, i % 7, 0.125, -1.0]


sender = Sender("127.0.0.1", int(port), key, path, folder, "bar3", 5000)
for i in range(int(blocks) * 50):
    sender.add(i * 5000, sample(i))
    if mode == "through" and i % 50 == 0:
        sender.poll()
if mode != "through":
    sender.keep_all()
if mode == "cut":
    with open(folder + "/bar3.9-0000001.part", "wb") as file:
        file.write(b"half")
    with open(folder + "/boot.0", "wb") as file:
        file.write(b"\x01\x02\x03")
since = time.ticks_ms()
while (
    mode == "through" and sender.waiting() and sender.status != 404 and time.ticks_diff(time.ticks_ms(), since) < 20000
):
    sender.poll()
    time.sleep_ms(10)

wrapped = iter([(1 << 30) - 5, 20, 15 + (1 << 29)])
clock = Clock(lambda: next(wrapped))
print(
    sender.boot,
    sender.seq,
    sender.waiting(),
    sender.lost,
    sender.refused,
    sender.status,
    clock.now_us(),
    clock.now_us(),
)
