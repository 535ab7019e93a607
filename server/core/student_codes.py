"""What students are called where everybody can read it: the section's short name, the group and a letter."""

import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping
from itertools import count
from string import ascii_lowercase

LONGEST = 6
_LETTERS = 3
_DIGITS = 2


def short_name(name: str, taken: Collection[str]) -> str:
    """A short name for a section that is not `taken`: letters and figures, at most six.

    The first letters of its name and the first number in it; where that is taken, a number counted up. Capitals do not tell
    two short names apart.

    >>> [short_name("Tuesday morning", ()), short_name("Tuesday 9:00", ()), short_name("Tuesday evening", ("Tue", "tue2"))]
    ['Tue', 'Tue9', 'Tue3']
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    word = "".join(re.findall(r"[A-Za-z]+", plain)[:1])[:_LETTERS].capitalize() or "Sec"
    number = "".join(re.findall(r"[0-9]+", plain)[:1])[:_DIGITS]
    known = {one.casefold() for one in taken}
    return next(one for one in _proposals(word, number) if one.casefold() not in known)


def _proposals(word: str, number: str) -> Iterator[str]:
    yield word + number
    for counted in count(2):
        figures = str(counted)
        yield word[: LONGEST - len(figures)] + figures


def student_code(section: str, group: str, letter: str) -> str:
    """A student's code, such as `Tue2-G4-b`."""
    return f"{section}-{group}-{letter}"


def letter_of(code: str) -> str:
    """The letter of a code: enough beside the group's name."""
    return code.rpartition("-")[2]


def free_letter(taken: Collection[str]) -> str:
    """The first letter that nobody of the group has; empty where all are taken."""
    return next((letter for letter in ascii_lowercase if letter not in taken), "")


def names_in(text: str, names: Collection[str]) -> frozenset[str]:
    """Those of the names that stand in the text as they are, between words, whatever their capitals.

    >>> sorted(names_in("ada quist and Bo Lindgren", ("Ada Quist", "Bo Lind")))
    ['Ada Quist']
    """
    folded = text.casefold()
    return frozenset(
        name
        for name in names
        if name.casefold() in folded and re.search(_between_words(name.casefold()), folded)
    )


def with_codes(text: str, codes: Mapping[str, str]) -> str:
    """The text with a code in place of each name, by name; the longer name first where one begins another.

    >>> with_codes("Ada Quist's plate", {"Ada Quist": "Tue2-G4-b"})
    "Tue2-G4-b's plate"
    """
    for name in sorted(codes, key=len, reverse=True):
        code = codes[name].replace("\\", r"\\")
        text = re.sub(_between_words(name), code, text, flags=re.IGNORECASE)
    return text


def _between_words(name: str) -> str:
    return rf"(?<!\w){re.escape(name)}(?!\w)"
