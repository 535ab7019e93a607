"""Quantities as people write them, and as the program keeps them.

Volumes are kept as whole microlitres, masses as whole milligrams and durations as whole seconds, so that sums are exact.
"""

import re
from collections.abc import Mapping
from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation
from fractions import Fraction

MICROLITRES = {"ul": 1, "µl": 1, "μl": 1, "ml": 1_000, "cl": 10_000, "dl": 100_000, "l": 1_000_000}
# Two thousand litres: over any teaching lab, and a database column holds it.
LARGEST_VOLUME_UL = 2_000_000_000

MILLIGRAMS = {"mg": 1, "g": 1_000, "kg": 1_000_000}
# Two tonnes: over any teaching lab, and a database column holds it.
LARGEST_MASS_MG = 2_000_000_000

SECONDS = {
    "s": 1,
    "min": 60,
    "h": 3_600,
    "hour": 3_600,
    "hours": 3_600,
    "day": 86_400,
    "days": 86_400,
    "weeks": 604_800,
}
# Twenty years: over the life of any solution, and a database column holds it.
LONGEST_LIFE_S = 631_152_000

_QUANTITY = re.compile(r"([+-]?[0-9]+(?:[.,][0-9]+)?)\s*([a-zA-Zµμ]*)")
_TIME = re.compile(r"([0-9]{1,9}(?:[.,][0-9]{1,6})?)\s*([a-z]+)\s*")


def _number(text: str) -> Decimal:
    try:
        return Decimal(text.replace(",", "."))
    except InvalidOperation:
        message = f"“{text}” is not a number."
        raise ValueError(message) from None


def volume_ul(text: str, *, unit: str = "ml") -> int:
    """Microlitres from text such as `250 mL`, `0.25 L` or `250` (then in `unit`).

    A comma counts as the decimal mark when at most two digits or more than three follow it; `1,500` could mean one and a half or fifteen
    hundred and is asked back. Raises ValueError with a sentence for a person.
    """
    return _quantity(text, MICROLITRES, unit, "volume", "250 mL or 0.25 L", "mL or L", LARGEST_VOLUME_UL)


def mass_mg(text: str, *, unit: str = "g") -> int:
    """Milligrams from text such as `4 g`, `250 mg` or `4` (then in `unit`), read like a volume.

    Raises ValueError with a sentence for a person.
    """
    return _quantity(text, MILLIGRAMS, unit, "mass", "4 g or 250 mg", "mg, g or kg", LARGEST_MASS_MG)


def life_s(text: str) -> int:
    """Seconds from a life as people write it, such as `6 h`, `1 h 30 min` or `90 days`. Raises ValueError with a sentence for a person."""
    typed = text.strip().lower()
    found = _TIME.findall(typed)
    if not found or _TIME.sub("", typed) or any(unit not in SECONDS for _amount, unit in found):
        message = f"“{text.strip()}” is no life. Please write it with its unit, such as 6 h or 90 days."
        raise ValueError(message)
    seconds = round(sum(_number(amount) * SECONDS[unit] for amount, unit in found))
    if not 0 < seconds <= LONGEST_LIFE_S:
        message = "A solution keeps longer than nothing and at most 20 years. Please check the life."
        raise ValueError(message)
    return seconds


def life_words(seconds: int) -> str:
    """A life in words: whole days from two days on, `90 days`; otherwise as any duration, `6 h`."""
    days, rest = divmod(seconds, SECONDS["day"])
    return f"{days} days" if days > 1 and not rest else duration_words(seconds)


def _quantity(
    text: str, units: Mapping[str, int], unit: str, kind: str, examples: str, offered: str, largest: int
) -> int:
    match = _QUANTITY.fullmatch(text.strip())
    if match is None:
        message = f"“{text.strip()}” is not a {kind}. Please write it like {examples}."
        raise ValueError(message)
    digits, named = match.groups()
    if re.fullmatch(r"[+-]?[0-9]{1,3},[0-9]{3}", digits):
        message = f"“{digits}” could mean two things. Please write it without a comma."
        raise ValueError(message)
    size = units.get((named or unit).lower())
    if size is None:
        message = f"“{named}” is not a unit of {kind}. Please use {offered}."
        raise ValueError(message)
    exact = _number(digits) * size
    if exact < 0:
        message = f"A {kind} can't be less than nothing."
        raise ValueError(message)
    if exact > largest:
        message = "That is more than any lab holds. Please check the unit."
        raise ValueError(message)
    return int(exact.quantize(Decimal(1), rounding=ROUND_HALF_EVEN))


def mass_words(mass: int) -> str:
    """A mass in words: kilograms with up to three decimals from one kilogram, grams with up to three below."""
    if abs(mass) >= MILLIGRAMS["kg"]:
        return f"{_short(Decimal(mass) / MILLIGRAMS['kg'], 3)} kg"
    return f"{_short(Decimal(mass) / MILLIGRAMS['g'], 3)} g"


def volume_words(volume: int) -> str:
    """A volume in words: litres with up to three decimals from one litre, millilitres with up to one below."""
    if abs(volume) >= MICROLITRES["l"]:
        return f"{_short(Decimal(volume) / MICROLITRES['l'], 3)} L"
    return f"{_short(Decimal(volume) / MICROLITRES['ml'], 1)} mL"


def _short(value: Decimal, places: int) -> str:
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text.replace("-", "−")


def plates_words(plates: int) -> str:
    return "1 plate" if plates == 1 else f"{plates} plates"


def area_words(area_mm2: int) -> str:
    """An area in square centimetres with up to one decimal: `483.8 cm²`."""
    return f"{_short(Decimal(area_mm2) / 100, 1)} cm²"


def size_words(width_um: int, height_um: int) -> str:
    """Two sides in millimetres, as fine as they are known: `63.5 × 63.5 mm`."""
    sides = (f"{(Decimal(side) / 1000).normalize():f}" for side in (width_um, height_um))
    return f"{' × '.join(sides)} mm"


def celsius_words(decicelsius: int) -> str:
    """A temperature in words, from tenths of a degree: `20 °C`, `37.5 °C`."""
    return f"{_short(Decimal(decicelsius) / 10, 1)} °C"


def ph_words(ph_hundredths: int) -> str:
    """A pH in words: `pH 12.5`."""
    return f"pH {_short(Decimal(ph_hundredths) / 100, 2)}"


def duration_words(seconds: int) -> str:
    """A duration in words: `45 s`, `8 min`, `8 min 30 s`, `1 h 20 min`."""
    sign = "−" if seconds < 0 else ""
    minutes, rest = divmod(abs(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    words = [f"{hours} h"] * bool(hours) + [f"{minutes} min"] * bool(minutes) + [f"{rest} s"] * bool(rest)
    return sign + " ".join(words or ["0 s"])


def clock_words(seconds: int) -> str:
    """Minutes and seconds for tables: `48:20`, from an hour on `1:02:05`."""
    minutes, rest = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def plain(number: Fraction) -> str:
    """Return a number whose decimals end, in full and without a power of ten.

    >>> plain(Fraction(45, 8))
    '5.625'
    """
    return f"{(Decimal(number.numerator) / number.denominator).normalize():f}"


def digits(number: Fraction, *, most: int = 4) -> str:
    """Return a number to so many digits; four are finer than a teaching lab measures.

    >>> digits(Fraction(1000, 3))
    '333.3'
    """
    exact = Decimal(number.numerator) / number.denominator
    return plain(Fraction(Decimal(f"{exact:.{most}g}")))


def near_volume_words(volume_ul: Fraction) -> str:
    """Return a computed volume to four digits: litres from one litre on, millilitres below."""
    if volume_ul >= MICROLITRES["l"]:
        return f"{digits(volume_ul / MICROLITRES['l'])} L"
    return f"{digits(volume_ul / MICROLITRES['ml'])} mL"
