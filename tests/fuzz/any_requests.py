"""Requests made from the OpenAPI document, many of them, against a service in this process: part of `make fuzz`."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import warnings

import stand_in
from barwright.app import create_app
from barwright.settings import Settings
from barwright.storage.migrate import migrate
from conftest import Service, TestClient
from contract.any_request import AnyRequests, labels


def main() -> int:
    """Every operation in turn. 1 when an answer was none that the document declares, or a mistake of the service."""
    parser = argparse.ArgumentParser(prog="python -m fuzz.any_requests")
    parser.add_argument("--each", type=int, default=200, help="requests to each operation, good and spoiled")
    each = parser.parse_args().each
    warnings.simplefilter("ignore")
    found, began = [], time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings.from_env({"BARWRIGHT_RATES": "requests=0,blocks=0"}, folder)
        migrate(settings.database_url)
        app = create_app(settings, analyse=stand_in.outcome_of)
        with TestClient(app, raise_server_exceptions=False) as client:
            service = Service(client, settings, app.state.parts)
            client.headers.update(service.new_key())
            requests = AnyRequests(service, always_the_same=False)
            for label in labels():
                try:
                    requests.examples(label, each)
                except Exception as error:  # of schemathesis, hypothesis or our own: all of them are findings
                    found.append(label)
                    print(f"{label}: {error}", file=sys.stderr, flush=True)
    seconds = time.monotonic() - began
    print(f"{requests.sent} requests to {len(labels())} operations in {seconds:.0f} s, {len(found)} with findings")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
