"""Hazard codes, their published statements, signal words and pictograms (GHS, as the European CLP regulation words them).

A label repeats what is known of each ingredient. Nothing here classifies a mixture, and nothing says that something is harmless.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum


class Signal(StrEnum):
    DANGER = "Danger"
    WARNING = "Warning"
    NONE = ""


class Pictogram(StrEnum):
    """The signs of the standard, from the gravest."""

    SKULL = "skull and crossbones"
    CORROSION = "corrosion"
    HEALTH = "health hazard"
    OXIDISER = "flame over circle"
    FLAME = "flame"
    EXCLAMATION = "exclamation mark"
    ENVIRONMENT = "environment"


@dataclass(frozen=True)
class Statement:
    """What a code says. `pictogram` is None where the standard has none for it."""

    words: str
    signal: Signal
    pictogram: Pictogram | None


_DANGER, _WARNING, _NONE = Signal.DANGER, Signal.WARNING, Signal.NONE

# Where a code stands for two categories with different signal words, the graver one is meant.
STATEMENTS = {
    "H224": Statement("Extremely flammable liquid and vapour.", _DANGER, Pictogram.FLAME),
    "H225": Statement("Highly flammable liquid and vapour.", _DANGER, Pictogram.FLAME),
    "H226": Statement("Flammable liquid and vapour.", _WARNING, Pictogram.FLAME),
    "H228": Statement("Flammable solid.", _DANGER, Pictogram.FLAME),
    "H271": Statement("May cause fire or explosion; strong oxidiser.", _DANGER, Pictogram.OXIDISER),
    "H272": Statement("May intensify fire; oxidiser.", _DANGER, Pictogram.OXIDISER),
    "H290": Statement("May be corrosive to metals.", _WARNING, Pictogram.CORROSION),
    "H304": Statement("May be fatal if swallowed and enters airways.", _DANGER, Pictogram.HEALTH),
    "H314": Statement("Causes severe skin burns and eye damage.", _DANGER, Pictogram.CORROSION),
    "H315": Statement("Causes skin irritation.", _WARNING, Pictogram.EXCLAMATION),
    "H317": Statement("May cause an allergic skin reaction.", _WARNING, Pictogram.EXCLAMATION),
    "H318": Statement("Causes serious eye damage.", _DANGER, Pictogram.CORROSION),
    "H319": Statement("Causes serious eye irritation.", _WARNING, Pictogram.EXCLAMATION),
    "H334": Statement(
        "May cause allergy or asthma symptoms or breathing difficulties if inhaled.",
        _DANGER,
        Pictogram.HEALTH,
    ),
    "H335": Statement("May cause respiratory irritation.", _WARNING, Pictogram.EXCLAMATION),
    "H336": Statement("May cause drowsiness or dizziness.", _WARNING, Pictogram.EXCLAMATION),
    "H340": Statement("May cause genetic defects.", _DANGER, Pictogram.HEALTH),
    "H341": Statement("Suspected of causing genetic defects.", _WARNING, Pictogram.HEALTH),
    "H350": Statement("May cause cancer.", _DANGER, Pictogram.HEALTH),
    "H350i": Statement("May cause cancer by inhalation.", _DANGER, Pictogram.HEALTH),
    "H351": Statement("Suspected of causing cancer.", _WARNING, Pictogram.HEALTH),
    "H360": Statement("May damage fertility or the unborn child.", _DANGER, Pictogram.HEALTH),
    "H360F": Statement("May damage fertility.", _DANGER, Pictogram.HEALTH),
    "H360D": Statement("May damage the unborn child.", _DANGER, Pictogram.HEALTH),
    "H360FD": Statement("May damage fertility. May damage the unborn child.", _DANGER, Pictogram.HEALTH),
    "H360Fd": Statement(
        "May damage fertility. Suspected of damaging the unborn child.", _DANGER, Pictogram.HEALTH
    ),
    "H360Df": Statement(
        "May damage the unborn child. Suspected of damaging fertility.", _DANGER, Pictogram.HEALTH
    ),
    "H361": Statement("Suspected of damaging fertility or the unborn child.", _WARNING, Pictogram.HEALTH),
    "H361f": Statement("Suspected of damaging fertility.", _WARNING, Pictogram.HEALTH),
    "H361d": Statement("Suspected of damaging the unborn child.", _WARNING, Pictogram.HEALTH),
    "H361fd": Statement(
        "Suspected of damaging fertility. Suspected of damaging the unborn child.",
        _WARNING,
        Pictogram.HEALTH,
    ),
    "H362": Statement("May cause harm to breast-fed children.", _NONE, None),
    "H370": Statement("Causes damage to organs.", _DANGER, Pictogram.HEALTH),
    "H371": Statement("May cause damage to organs.", _WARNING, Pictogram.HEALTH),
    "H372": Statement(
        "Causes damage to organs through prolonged or repeated exposure.", _DANGER, Pictogram.HEALTH
    ),
    "H373": Statement(
        "May cause damage to organs through prolonged or repeated exposure.", _WARNING, Pictogram.HEALTH
    ),
    "H400": Statement("Very toxic to aquatic life.", _WARNING, Pictogram.ENVIRONMENT),
    "H410": Statement(
        "Very toxic to aquatic life with long lasting effects.", _WARNING, Pictogram.ENVIRONMENT
    ),
    "H411": Statement("Toxic to aquatic life with long lasting effects.", _NONE, Pictogram.ENVIRONMENT),
    "H412": Statement("Harmful to aquatic life with long lasting effects.", _NONE, None),
    "H413": Statement("May cause long lasting harmful effects to aquatic life.", _NONE, None),
    "EUH031": Statement("Contact with acids liberates toxic gas.", _NONE, None),
    "EUH032": Statement("Contact with acids liberates very toxic gas.", _NONE, None),
    "EUH066": Statement("Repeated exposure may cause skin dryness or cracking.", _NONE, None),
    "EUH071": Statement("Corrosive to the respiratory tract.", _NONE, None),
}

# Poisons: how grave by the code's last figure, how by the figure before it. Codes of one gravity may be joined.
_GRAVITY = {
    "0": ("Fatal", Pictogram.SKULL),
    "1": ("Toxic", Pictogram.SKULL),
    "2": ("Harmful", Pictogram.EXCLAMATION),
}
_WAYS = {"0": "if swallowed", "1": "in contact with skin", "3": "if inhaled"}
_POISON = re.compile(r"H3([013])([012])")

# A code's own letters say more by their size (H360Fd), the H before it doesn't, and some write a blank behind that.
_CODE = re.compile(
    r"\b(?:(?:EUH|[Ee]uh)\s?[0-9]{3}[A-Z]?|[Hh]\s?[0-9]{3}(?:FD|Fd|Df|fd|F|D|f|d|i)?)\b(?:\s*\+\s*[Hh]\s?[0-9]{3}\b)*"
)

# What irritates skin or eyes, and what sensitises skin: said already by a graver pictogram beside it.
_IRRITANTS, _SKIN_SENSITISERS = frozenset({"H315", "H319"}), frozenset({"H317"})
_RESPIRATORY_SENSITISER = "H334"


@dataclass(frozen=True)
class Hazards:
    """What somebody wrote of a substance's hazards: its codes, and whatever else is in the text."""

    codes: tuple[str, ...]
    words: str


def read_hazards(text: str) -> Hazards:
    """Return the hazard codes in a text, in their order, and the rest of it.

    >>> read_hazards("H302, H317; keep dry")
    Hazards(codes=('H302', 'H317'), words='keep dry')
    """
    found = [re.sub(r"\s", "", code) for code in _CODE.findall(text)]
    codes = [
        re.sub(r"euh|h(?=[0-9])", lambda letters: letters[0].upper(), code.replace("Euh", "EUH"))
        for code in found
    ]
    unbracketed = re.sub(r"\([\s,;]*\)", ",", _CODE.sub(",", text))
    rest = re.sub(r"(?:\s*[,;/]\s*)+", ", ", unbracketed)
    return Hazards(tuple(dict.fromkeys(codes)), rest.strip(" ,.;"))


def find_statement(code: str) -> Statement | None:
    """Return what a code says, also of joined ones such as H301+H311; None where it is not known here."""
    if code in STATEMENTS:
        return STATEMENTS[code]
    poisons = [_POISON.fullmatch(one) for one in code.split("+")]
    found = [match.groups() for match in poisons if match]
    if len(found) < len(poisons) or len({gravity for _way, gravity in found}) > 1:
        return None
    word, pictogram = _GRAVITY[found[0][1]]
    ways = [_WAYS[way] for way, _gravity in found]
    joined = f"{', '.join(ways[:-1])} or {ways[-1]}" if len(ways) > 1 else ways[0]
    signal = _WARNING if pictogram == Pictogram.EXCLAMATION else _DANGER
    return Statement(f"{word} {joined}.", signal, pictogram)


def statement_words(code: str) -> str:
    """Return the line of a label: the code with its statement; a code that is not known here refers to the safety data sheet."""
    statement = find_statement(code)
    return f"{code} {statement.words}" if statement else f"{code}: see the SDS."


def signal_of(codes: Iterable[str]) -> Signal:
    """Return the gravest signal word: beside Danger no Warning stands (CLP, article 20)."""
    signals = {statement.signal for code in codes if (statement := find_statement(code))}
    return next((signal for signal in Signal if signal in signals), Signal.NONE)


def pictograms_of(codes: Iterable[str]) -> tuple[Pictogram, ...]:
    """Return the pictograms that the codes ask for, from the gravest.

    The exclamation mark is left out where a graver sign says it already (CLP, article 26): beside the skull; for irritants beside
    corrosion; for irritants and skin sensitisers beside a respiratory sensitiser's health hazard.
    """
    known = {code: found for code in codes if (found := find_statement(code))}
    signs = {statement.pictogram for statement in known.values()}
    said = set[str]()
    if Pictogram.CORROSION in signs:
        said |= _IRRITANTS
    if _RESPIRATORY_SENSITISER in known:
        said |= _IRRITANTS | _SKIN_SENSITISERS
    left = {code for code, one in known.items() if one.pictogram == Pictogram.EXCLAMATION} - said
    if Pictogram.SKULL in signs or not left:
        signs.discard(Pictogram.EXCLAMATION)
    return tuple(sign for sign in Pictogram if sign in signs)


def by_gravity(codes: Iterable[str]) -> Sequence[str]:
    """Return the codes, each once: what is dangerous first, then warnings, then what is not known here, then the rest."""

    def _gravity(code: str) -> int:
        statement = find_statement(code)
        return [_DANGER, _WARNING, None, _NONE].index(statement.signal if statement else None)

    return sorted(dict.fromkeys(codes), key=_gravity)
