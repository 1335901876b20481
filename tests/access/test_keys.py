from __future__ import annotations

import hashlib
import zlib

import pytest

from barwright.access.caller import Caller
from barwright.access.keys import PREFIX, digest_of, looks_like_a_key, new_key
from barwright.access.scopes import ALL_SCOPES, Scope, parse_scopes


def test_a_new_key_is_well_formed_and_never_the_same():
    keys = {new_key().shown for _ in range(200)}
    assert len(keys) == 200
    assert all(looks_like_a_key(key) for key in keys)


def test_only_a_digest_is_kept():
    key = new_key()
    assert key.digest == digest_of(key.shown) == hashlib.sha256(key.shown.encode()).hexdigest()
    assert key.shown not in key.digest


def test_the_last_letters_are_the_crc_32_of_the_random_part():
    shown = new_key().shown
    body, check = shown[len(PREFIX) : -6], shown[-6:]
    letters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
    assert sum(letters.index(letter) * 62 ** (5 - i) for i, letter in enumerate(check)) == zlib.crc32(body.encode())


def test_any_single_wrong_letter_is_noticed():
    shown = new_key().shown
    for place in range(len(PREFIX), len(shown)):
        other = "a" if shown[place] != "a" else "b"
        assert not looks_like_a_key(shown[:place] + other + shown[place + 1 :])


@pytest.mark.parametrize(
    "text",
    ["", "bw_", "x" * 49, PREFIX + "é" * 46, new_key().shown + "0", " " + new_key().shown],
    ids=["nothing", "prefix alone", "no prefix", "other letters", "one too many", "a blank before"],
)
def test_other_text_is_no_key(text):
    assert not looks_like_a_key(text)


def test_scopes_by_name_and_all_of_them():
    assert parse_scopes("all") == ALL_SCOPES == frozenset(Scope)
    assert parse_scopes(" streams:write, results:read ") == {Scope.STREAMS_WRITE, Scope.RESULTS_READ}


@pytest.mark.parametrize("text", ["", ",", "streams:read", "all,streams:write", "Streams:write"])
def test_a_word_that_is_no_scope_is_refused(text):
    with pytest.raises(ValueError, match="scope"):
        parse_scopes(text)


def test_a_caller_may_only_what_its_key_carries():
    caller = Caller("clb_1", "key_1", frozenset({Scope.RESULTS_READ}))
    assert caller.may(Scope.RESULTS_READ)
    assert not caller.may(Scope.STREAMS_WRITE)
