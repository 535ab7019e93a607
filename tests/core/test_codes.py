"""Codes that people read aloud and type."""

import hashlib
import itertools

from server.core.codes import ALPHABET, as_typed, class_code, hashed


def test_a_code_has_only_letters_and_figures_that_are_not_mistaken() -> None:
    picks = itertools.cycle(ALPHABET)

    assert class_code(lambda _letters: next(picks), length=len(ALPHABET)) == ALPHABET
    assert not set(ALPHABET) & set("0O1IL5S2Z8BUV")


def test_a_code_is_read_however_it_is_typed() -> None:
    assert as_typed(" acd-efg.\x00") == "ACDEFG"


def test_what_is_kept_is_the_sha_256() -> None:
    """The test vector of FIPS 180-2, appendix B.1."""
    assert hashed("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert hashed("abc") == hashlib.sha256(b"abc").hexdigest()
