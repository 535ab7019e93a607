"""Molar masses from formulas, and what one hydrate of a salt stands for of another."""

import re
from decimal import Decimal
from fractions import Fraction

# IUPAC's abridged standard atomic weights (2021), in g/mol, of the elements that processing chemistry is made of.
ATOMIC_WEIGHTS = {
    "H": Decimal("1.008"),
    "B": Decimal("10.81"),
    "C": Decimal("12.011"),
    "N": Decimal("14.007"),
    "O": Decimal("15.999"),
    "F": Decimal("18.998"),
    "Na": Decimal("22.990"),
    "Mg": Decimal("24.305"),
    "Al": Decimal("26.982"),
    "Si": Decimal("28.085"),
    "P": Decimal("30.974"),
    "S": Decimal("32.06"),
    "Cl": Decimal("35.45"),
    "K": Decimal("39.098"),
    "Ca": Decimal("40.078"),
    "Cr": Decimal("51.996"),
    "Mn": Decimal("54.938"),
    "Fe": Decimal("55.845"),
    "Co": Decimal("58.933"),
    "Cu": Decimal("63.546"),
    "Zn": Decimal("65.38"),
    "Br": Decimal("79.904"),
    "Ag": Decimal("107.87"),
    "I": Decimal("126.90"),
}
WATER = "H2O"
LONGEST_FORMULA = 80
DEEPEST_BRACKETS = 4

_SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_TOKEN = re.compile(r"([A-Z][a-z]?)([0-9]{0,3})|(\()|\)([0-9]{0,3})")
_PART = re.compile(r"([0-9]{0,2})(.+)")


def plain_formula(text: str) -> str:
    """Return a formula with ordinary digits, a middle dot before water and no spaces.

    >>> plain_formula("Na₂CO₃ . 10 H₂O")
    'Na2CO3·10H2O'
    """
    return re.sub(r"\s+", "", text.translate(_SUBSCRIPTS)).replace(".", "·").replace("*", "·")


def molar_mass(formula: str) -> Decimal:
    """Return the molar mass in g/mol. Raises ValueError with a sentence for a person.

    >>> molar_mass("Na2CO3·10H2O")
    Decimal('286.138')
    """
    plain = plain_formula(formula)
    if not plain or len(plain) > LONGEST_FORMULA:
        message = "Please write a formula such as Na2CO3 or CuSO4·5H2O."
        raise ValueError(message)
    total = Decimal(0)
    for part in plain.split("·"):
        times = _PART.fullmatch(part)
        if times is None:
            message = f"“{formula}” has an empty part. Please write it like CuSO4·5H2O."
            raise ValueError(message)
        total += int(times[1] or 1) * _mass_of(times[2], formula)
    if not total:
        message = f"“{formula}” has no atom in it. Please write it like CuSO4·5H2O."
        raise ValueError(message)
    return total


def _mass_of(part: str, formula: str) -> Decimal:
    """Return the mass of one part between dots, adding up brackets from the inside out."""
    sums, position = [Decimal(0)], 0
    while position < len(part):
        token = _TOKEN.match(part, position)
        if token is None or (token[0] == "(" and len(sums) > DEEPEST_BRACKETS):
            message = f"“{formula}” can't be read at “{part[position:]}”. Please write it like CuSO4·5H2O."
            raise ValueError(message)
        position = token.end()
        if token[3]:
            sums.append(Decimal(0))
        elif token[1]:
            if token[1] not in ATOMIC_WEIGHTS:
                message = f"“{token[1]}” in “{formula}” is no element of this list. Check capitals, such as Na and not NA."
                raise ValueError(message)
            sums[-1] += ATOMIC_WEIGHTS[token[1]] * int(token[2] or 1)
        else:
            inside = sums.pop()
            if not sums:
                message = f"“{formula}” closes a bracket that was never opened."
                raise ValueError(message)
            sums[-1] += inside * int(token[4] or 1)
    if len(sums) > 1:
        message = f"“{formula}” opens a bracket that is never closed."
        raise ValueError(message)
    return sums[0]


def without_water(formula: str) -> str:
    """Return the formula of the salt without its water of crystallisation.

    >>> without_water("CuSO4·5H2O")
    'CuSO4'
    """
    parts = plain_formula(formula).split("·")
    return "·".join([parts[0], *(part for part in parts[1:] if not re.fullmatch(rf"[0-9]*{WATER}", part))])


def hydrate_factor(*, called_for: str, on_the_shelf: str) -> Fraction:
    """Return how many grams of the form on the shelf hold as much salt as one gram of the form called for.

    Both are formulas of the same salt with or without its water; the factor is the ratio of their molar masses. Raises ValueError
    with a sentence for a person when they are not the same salt.

    >>> float(round(hydrate_factor(called_for="Na2CO3", on_the_shelf="Na2CO3·H2O"), 4))
    1.17
    """
    if without_water(called_for) != without_water(on_the_shelf):
        message = f"{on_the_shelf} is not another form of {called_for}: without water they differ. Choose the same salt."
        raise ValueError(message)
    return Fraction(molar_mass(on_the_shelf)) / Fraction(molar_mass(called_for))
