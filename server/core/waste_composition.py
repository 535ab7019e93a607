"""What a waste is made of, in hundredths of a percent by mass that add up to exactly one hundred percent."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

WHOLE = 10_000
WATER = "water"
MOST_LINES = 20
LONGEST_NAME = 60
# A volume of a microgram per microlitre is a gram per millilitre: so many milligrams a litre.
_MG_PER_LITRE = 1_000

_SHARE = re.compile(r"(?P<name>.*\S)\s+(?P<number>[0-9]{1,3}(?:[.,][0-9]{1,2})?)\s*%?")
_TRACES = re.compile(r"traces?\b", re.IGNORECASE)
# A range or a bound before the number: a share is one number, so that shares add up.
_RANGE = re.compile(r"(?:[-–<>≤≥~]|\bto)$")


@dataclass(frozen=True)
class Part:
    """One constituent. `hundredths` of a percent by mass; None where only traces are known to be in it."""

    name: str
    hundredths: int | None

    @property
    def words(self) -> str:
        if self.hundredths is None:
            return self.name
        return f"{self.name} {_percent(self.hundredths)} %"


@dataclass(frozen=True)
class Strong:
    """So much of a solution with so many milligrams of each constituent a litre."""

    volume_ul: int
    mg_per_litre: Mapping[str, Fraction]


def read_composition(text: str) -> tuple[Part, ...]:
    r"""Return the parts of a text with one constituent a line, such as `water 97.5 %`; a line of traces has no number.

    The shares add up to 100 %. Raises ValueError with a sentence for a person.

    >>> [part.words for part in read_composition("water 97.5 %\nsodium carbonate 2,5\ntraces of silver")]
    ['water 97.5 %', 'sodium carbonate 2.5 %', 'traces of silver']
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if len(lines) > MOST_LINES:
        message = f"Please write at most {MOST_LINES} lines; put what is alike together."
        raise ValueError(message)
    parts = tuple(_part(line) for line in lines)
    names = [part.name.casefold() for part in parts]
    twice = next((part.name for part in parts if names.count(part.name.casefold()) > 1), None)
    if twice is not None:
        message = f"“{twice}” stands here twice. Please write it once with its whole share."
        raise ValueError(message)
    total = sum(part.hundredths or 0 for part in parts)
    if parts and total != WHOLE:
        message = f"This adds up to {_percent(total)} %, not 100 %. {_difference(total)}"
        raise ValueError(message)
    return parts


def composition_text(parts: Sequence[Part]) -> str:
    """The parts as they are typed: one a line."""
    return "\n".join(part.words for part in parts)


def composition_of_mixture(solutions: Sequence[Strong], *, density_ug_per_ul: int) -> tuple[Part, ...]:
    """Return what solutions poured together are made of as mixed, the greatest shares first; all the rest is water.

    A litre weighs as much as the stream's density says. What is less than half a hundredth of a percent is traces. Nothing where the
    strengths say more than the whole. What reacted in use is not in it.
    """
    volume = sum(one.volume_ul for one in solutions)
    if not volume:
        return ()
    mass: dict[str, Fraction] = {}
    for one in solutions:
        for name, strength in one.mg_per_litre.items():
            mass[name] = mass.get(name, Fraction(0)) + strength * one.volume_ul
    whole = Fraction(volume * density_ug_per_ul * _MG_PER_LITRE, WHOLE)
    shares = {name: round(mg / whole) for name, mg in mass.items() if name.casefold() != WATER}
    water = WHOLE - sum(shares.values())
    if water < 0:
        return ()
    told = [Part(WATER, water)] if water else []
    told += [
        Part(name, share)
        for name, share in sorted(shares.items(), key=lambda one: (-one[1], one[0]))
        if share
    ]
    return (*told, *(Part(f"traces of {name}", None) for name, share in sorted(shares.items()) if not share))


def _part(line: str) -> Part:
    match = _SHARE.fullmatch(line)
    name = line if match is None else match["name"]
    if len(name) > LONGEST_NAME:
        message = f"Please use at most {LONGEST_NAME} characters for a constituent; “{name[:20]}…” is longer."
        raise ValueError(message)
    if _TRACES.match(line) and match is None:
        return Part(line, None)
    if match is None or _RANGE.search(name):
        message = (
            f"“{line}” has no share. Please write one number, such as “{WATER} 97.5 %”, or “traces of …”."
        )
        raise ValueError(message)
    hundredths = int(Decimal(match["number"].replace(",", ".")) * 100)
    if not 0 < hundredths <= WHOLE:
        message = f"The share of “{name}” must be more than nothing and at most 100 %."
        raise ValueError(message)
    return Part(name, hundredths)


def _percent(hundredths: int) -> str:
    return f"{(Decimal(hundredths) / 100).normalize():f}"


def _difference(total: int) -> str:
    if total < WHOLE:
        return f"{_percent(WHOLE - total)} % is not told of."
    return f"{_percent(total - WHOLE)} % is too much."
