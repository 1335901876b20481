"""bridge: blocks that come over MQTT, handed to a service."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import unquote, urlsplit

from barwright.commands.asked import BAD_USE, Trouble
from barwright.log_lines import write_log

if TYPE_CHECKING:
    from barwright.commands.asked import Commands
    from barwright.mqtt.bridge import BrokerAddress

KEY = "BARWRIGHT_KEY"
_PORTS = {"mqtt": 1883, "mqtts": 8883}


def add_to(commands: Commands) -> None:
    """The options."""
    bridge = commands.add_parser("bridge", help="take blocks from an MQTT broker and hand them to a service")
    bridge.add_argument("--broker", required=True, metavar="URL", help="mqtt://[user@]host[:port], or mqtts://")
    bridge.add_argument("--service", default="http://127.0.0.1:8400", metavar="URL")
    bridge.add_argument("--key-file", metavar="FILE", help=f"holds the club's key (default: ${KEY})")
    bridge.add_argument("--password-file", metavar="FILE", help="holds the password at the broker")
    bridge.add_argument("--topic", default="barwright/v1", metavar="ROOT", help="first levels of all topics")
    bridge.add_argument("--mqtt", choices=("auto", "5", "3.1.1"), default="auto", help="the protocol's version")
    bridge.set_defaults(run=_bridge)


def _bridge(told: argparse.Namespace) -> None:
    import asyncio
    import contextlib
    import logging
    import signal

    try:
        from barwright.mqtt.bridge import Bridge
        from barwright.mqtt.topics import checked_root
    except ImportError as error:
        raise Trouble(f"the bridge needs the extra `mqtt`: pip install 'barwright[mqtt]' ({error})") from error
    address = address_of(told.broker, told.mqtt, _secret(told.password_file))
    key = _secret(told.key_file) or os.environ.get(KEY) or ""
    if not key:
        raise Trouble(f"a key is needed: set {KEY}, or give --key-file", BAD_USE)
    try:
        root = checked_root(told.topic)
    except ValueError as error:
        raise Trouble(f"--topic: {error}", BAD_USE) from error
    write_log("text")
    logging.getLogger("httpx").setLevel(logging.WARNING)

    async def until_stopped() -> None:
        task = asyncio.create_task(Bridge(address, told.service, key, root).run())
        for number in (signal.SIGTERM, signal.SIGINT):
            asyncio.get_running_loop().add_signal_handler(number, task.cancel)
        with contextlib.suppress(asyncio.CancelledError):
            await task

    asyncio.run(until_stopped())


def address_of(url: str, version: str, password: str | None) -> BrokerAddress:
    """The broker a URL names. Raises Trouble."""
    from barwright.mqtt.bridge import BrokerAddress

    try:
        split = urlsplit(url)
        port = split.port
    except ValueError as error:
        raise Trouble(f"--broker is {url!r}: {error}", BAD_USE) from error
    if split.scheme not in _PORTS or not split.hostname or split.path not in ("", "/"):
        raise Trouble(f"--broker is {url!r}; write for example mqtt://broker.example:1883 or mqtts://", BAD_USE)
    if split.password is not None:
        raise Trouble("--broker must not hold the password, which others can see there; use --password-file", BAD_USE)
    user = None if split.username is None else unquote(split.username)
    wanted = {"5": 5, "3.1.1": 3}.get(version)
    return BrokerAddress(split.hostname, port or _PORTS[split.scheme], split.scheme == "mqtts", user, password, wanted)


def _secret(file: str | None) -> str | None:
    if file is None:
        return None
    try:
        return Path(file).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise Trouble(f"{file} cannot be read: {error}") from error
