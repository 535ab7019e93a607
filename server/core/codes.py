"""Codes that people read aloud and type with gloves on."""

import hashlib
from collections.abc import Callable

# Without 0/O, 1/I/L, 5/S, 2/Z, 8/B and U/V, which are mistaken for each other on a wall screen.
ALPHABET = "ACDEFGHJKMNPQRTWXY34679"


def class_code(choose: Callable[[str], str], *, length: int = 6) -> str:
    """A code of `length` letters, each picked by `choose` from the alphabet: 23⁶ ≈ 148 million codes."""
    return "".join(choose(ALPHABET) for _ in range(length))


def as_typed(text: str) -> str:
    """A code as the program keeps it: capital letters and figures, without blanks, dashes and whatever else crept in."""
    return "".join(filter(str.isalnum, text.upper()))


def hashed(secret: str) -> str:
    """What is kept of a random code or token: its SHA-256, which only who holds the code can match."""
    return hashlib.sha256(secret.encode()).hexdigest()
