from __future__ import annotations

import hashlib

import pytest

from barwright.access.sign_in import (
    check_form_token,
    check_passphrase,
    digest_of_token,
    form_token,
    hash_passphrase,
    new_token,
)


def test_a_passphrase_is_known_again_and_no_other():
    stored = hash_passphrase("chalk on the platform")
    assert check_passphrase("chalk on the platform", stored)
    assert not check_passphrase("chalk on the Platform", stored)
    assert not check_passphrase("", stored)


def test_nothing_of_the_passphrase_is_stored_and_salts_differ():
    one, other = hash_passphrase("chalk on the platform"), hash_passphrase("chalk on the platform")
    assert one != other
    assert "chalk" not in one


def test_the_hash_is_scrypt_as_the_standard_library_does_it():
    """RFC 7914 through hashlib, with the parameters that stand in the stored text."""
    kind, n, r, p, salt, wanted = hash_passphrase("four plain words here").split("$")
    again = hashlib.scrypt(
        b"four plain words here", salt=bytes.fromhex(salt), n=int(n), r=int(r), p=int(p), maxmem=2**27, dklen=32
    )
    assert (kind, again.hex()) == ("scrypt", wanted)
    assert int(n) * int(r) * 128 >= 32 * 2**20  # bytes of memory for each guess


def test_without_a_stored_passphrase_nobody_comes_in():
    assert not check_passphrase("anything at all", None)


def test_tokens_differ_and_only_their_digest_needs_keeping():
    one, other = new_token(), new_token()
    assert one.shown != other.shown
    assert one.digest == digest_of_token(one.shown) == hashlib.sha256(one.shown.encode()).hexdigest()


def test_a_form_token_belongs_to_one_session_and_looks_different_each_time():
    session, strange = new_token().shown, new_token().shown
    one, other = form_token(session), form_token(session)
    assert one != other
    assert check_form_token(session, one)
    assert check_form_token(session, other)
    assert not check_form_token(strange, one)


@pytest.mark.parametrize("damaged", ["", "x", "é", "AAAA", "A" * 86 + "==", "A" * 88])
def test_a_made_up_form_token_is_none(damaged):
    assert not check_form_token(new_token().shown, damaged)
