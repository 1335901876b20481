"""Keys, the audit trail and the list of analyses through the client, on the real service."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

import stand_in
from barwright_client import Client, NotSignedIn, RetryPolicy
from sdk.test_both_clients import ABOUT, SAMPLES


def test_a_key_from_making_to_revoking(start_service) -> None:
    service = start_service(stand_in.outcome_of)
    client = service.client()
    ends = datetime.now(UTC) + timedelta(days=30)
    made = client.make_key("reader", ["results:read"], expires_at=ends)
    assert made.key is not None
    assert made.key not in repr(made)
    (listed,) = [one for one in client.keys() if one.id == made.id]  # noqa: SIM118 - a call
    assert (listed.label, listed.scopes, listed.expires_at, listed.key) == ("reader", ("results:read",), ends, None)
    new = client.replace_key(made.id, overlap_hours=1)
    client.revoke_key(new.id)
    deeds = list(client.audit(subject=new.id))
    assert [one.what for one in deeds] == ["key.revoked", "key.replaced"]
    assert deeds[1].details["in_place_of"] == made.id
    assert {one.what for one in client.audit(what="key.made")} == {"key.made"}


def test_a_mistyped_key_is_told_as_such_with_the_id_of_the_request(start_service) -> None:
    service = start_service(stand_in.outcome_of)
    client = Client("http://testserver", "bw_mistyped", http=service.http, retry=RetryPolicy(most_tries=1))
    with pytest.raises(NotSignedIn) as refused:
        list(client.keys())
    assert refused.value.problem.code == "key-mistyped"
    assert refused.value.problem.more["request_id"] == refused.value.request_id


def test_analyses_are_listed(start_service) -> None:
    service = start_service(stand_in.outcome_of)
    client = service.client()
    done = client.record(SAMPLES, **ABOUT, units={"position": "m"})
    (run,) = client.analyses()
    assert (run.set_id, run.outcome, run.reason_code) == (done.id, "unusable", done.reason_code)  # three samples
    assert list(client.analyses(outcome="failed")) == list(client.analyses(at_least_s=100)) == []
