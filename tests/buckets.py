"""An S3-compatible store in a process of its own, started once for all the tests of a session."""

from __future__ import annotations

import os
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager

REGION = {"AWS_ACCESS_KEY_ID": "test", "AWS_SECRET_ACCESS_KEY": "test", "AWS_REGION": "us-east-1"}
_SERVER = """
import sys
from moto.server import ThreadedMotoServer
server = ThreadedMotoServer("127.0.0.1", 0, verbose=False)
server.start()
print(server.get_host_and_port()[1], flush=True)
sys.stdin.read()
server.stop()
"""


@contextmanager
def object_store() -> Iterator[str]:
    """Its address. It ends with the block, or with the process that started it."""
    process = subprocess.Popen(
        [sys.executable, "-c", _SERVER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        yield f"http://127.0.0.1:{int(process.stdout.readline())}"
    finally:
        process.stdin.close()
        process.wait(timeout=10)


def make_bucket(address: str, name: str) -> None:
    """A new bucket."""
    request = urllib.request.Request(f"{address}/{name}", method="PUT", data=b"")
    for _ in range(50):
        try:
            urllib.request.urlopen(request, timeout=10).close()
        except urllib.error.URLError:  # it is only just starting
            time.sleep(0.1)
        else:
            return
    raise AssertionError("the object store does not answer")


def environment_of(address: str) -> dict[str, str]:
    """What a process needs to find it."""
    return {**os.environ, **REGION, "AWS_ENDPOINT_URL": address}
