"""What may happen when one waste meets another, and the most gas that a litre of it can give off.

No answer here ever permits anything: wastes of two streams either are known to react, or nobody knows. Only the same stream may join
itself. Strengths are grams per litre, gas is litres per litre at 20 °C and one atmosphere; the arithmetic is exact.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from itertools import combinations, permutations, product

from server.core.molar_mass import molar_mass
from server.core.reactivity_chart import (
    CARBONATE_RULE,
    CHART,
    CHART_SOURCE,
    CODE_WORDS,
    OWN_RULES,
    SULFITE_RULE,
    WIDER,
    WORDS,
    Code,
    Group,
    OwnRule,
    Standing,
)
from server.core.units import digits

# R · 293.15 K ÷ 101.325 kPa for an ideal gas at 20 °C and one atmosphere.
LITRES_PER_MOLE = Fraction("24.055")

_GROUPS, _CODES = tuple(Group), tuple(Code)


@dataclass(frozen=True)
class Dissolved:
    """A salt in a waste, by its formula as weighed, hydrate included."""

    formula: str
    grams_per_litre: Fraction


@dataclass(frozen=True)
class Waste:
    """What a stream holds, as far as anybody said. `stream` tells one from another; no groups means that nobody said."""

    stream: str
    groups: frozenset[Group]
    dissolved: tuple[Dissolved, ...] = ()


@dataclass(frozen=True)
class _Salt:
    """Molecules of gas that one formula unit gives off, and the protons that each of them takes."""

    gases: int
    protons_a_gas: int


@dataclass(frozen=True)
class _Gas:
    """A gas, the salts without their water that it comes from, and how much of it may be in a workplace's air."""

    name: str
    formula: str
    salts: Mapping[str, _Salt]
    limit_ppm: int | None


# Protons that acids give to a sulfite or a carbonate; what isn't here counts as not known.
_PROTONS: Mapping[str, int] = {
    "NaHSO4": 1,
    "KHSO4": 1,
    "H2SO4": 2,
    "HCl": 1,
    "HNO3": 1,
    "CH3COOH": 1,
    "C2H4O2": 1,
    "C6H8O7": 3,
}


_GAS_OF: Mapping[OwnRule, _Gas] = {
    SULFITE_RULE: _Gas(
        "sulfur dioxide",
        "SO2",
        {
            "Na2SO3": _Salt(1, 2),
            "K2SO3": _Salt(1, 2),
            "NaHSO3": _Salt(1, 1),
            "KHSO3": _Salt(1, 1),
            "Na2S2O5": _Salt(2, 1),
            "K2S2O5": _Salt(2, 1),
            "Na2S2O3": _Salt(1, 2),
            "(NH4)2S2O3": _Salt(1, 2),
        },
        5,
    ),
    CARBONATE_RULE: _Gas(
        "carbon dioxide",
        "CO2",
        {
            "Na2CO3": _Salt(1, 2),
            "K2CO3": _Salt(1, 2),
            "NaHCO3": _Salt(1, 1),
            "KHCO3": _Salt(1, 1),
        },
        None,
    ),
}


@dataclass(frozen=True)
class GasBound:
    """The most gas that a litre of a waste can give off when enough acid meets it; with less acid it is less.

    `acid_moles_per_litre` is the acid (moles of protons) that it takes, `acid_met_per_litre` the acid of known formula in a litre of what
    it meets, nought where none is known. `limit_ppm` is what a workplace's air may hold of a poison (United States, from memory); None for
    a gas that is dangerous by its pressure.
    `from_words` says what it was computed from.
    """

    name: str
    moles_per_litre: Fraction
    grams_per_litre: Fraction
    acid_moles_per_litre: Fraction
    limit_ppm: int | None
    from_words: str
    acid_met_per_litre: Fraction = Fraction()

    @property
    def litres_per_litre(self) -> Fraction:
        return self.moles_per_litre * LITRES_PER_MOLE

    def limited_to(self, *, acid_moles_per_litre: Fraction) -> Fraction:
        """Litres of gas per litre of waste when only so many moles of protons meet each litre."""
        share = min(Fraction(1), acid_moles_per_litre / self.acid_moles_per_litre)
        return self.litres_per_litre * share

    @property
    def with_equal_volumes(self) -> Fraction:
        """Litres of gas per litre of waste that the known acid in a litre of the other frees."""
        return self.limited_to(acid_moles_per_litre=self.acid_met_per_litre)

    def ppm_in(self, *, waste_ul: int, room_litres: int) -> Fraction:
        """Parts per million of a still room's air, by volume, when so much waste gives off all it can."""
        return self.litres_per_litre * waste_ul / room_litres


def gas_bound(rule: OwnRule, dissolved: Sequence[Dissolved]) -> GasBound | None:
    """Return the most gas that a litre of solution can give off by a rule; None where no salt of it has a known strength.

    >>> bound = gas_bound(SULFITE_RULE, [Dissolved("Na2SO3", Fraction(5))])
    >>> bound is not None and round(float(bound.litres_per_litre), 3)
    0.954
    """
    gas = _GAS_OF.get(rule)
    moles = acid = Fraction()
    parts = []
    for one in dissolved:
        salt = None if gas is None else gas.salts.get(one.formula.split("·")[0])
        if salt is None or one.grams_per_litre <= 0:
            continue
        given = one.grams_per_litre / Fraction(molar_mass(one.formula)) * salt.gases
        moles += given
        acid += given * salt.protons_a_gas
        times = "" if salt.gases == 1 else f" × {salt.gases}"
        parts.append(
            f"{digits(one.grams_per_litre)} g/L of {one.formula} ÷ {molar_mass(one.formula)} g/mol{times}"
        )
    if gas is None or not moles:
        return None
    grams = moles * Fraction(molar_mass(gas.formula))
    return GasBound(
        gas.name,
        moles,
        grams,
        acid,
        gas.limit_ppm,
        f"{' + '.join(parts)}, × {digits(LITRES_PER_MOLE, most=5)} L/mol at 20 °C",
    )


@dataclass(frozen=True)
class Hazard:
    """What two groups may do together, from the gravest code on; `first` comes before `second` in the chart."""

    first: Group
    second: Group
    codes: tuple[Code, ...]
    reason: str
    source: str
    standing: Standing
    gas: GasBound | None = None

    @property
    def words(self) -> str:
        """The codes in words: `fire, heat`."""
        return code_words(self.codes)

    @property
    def sentence(self) -> str:
        figure = (
            "" if self.gas is None else f", at most {digits(self.gas.litres_per_litre)} L from each litre"
        )
        return f"{self.reason}{figure} ({self.source})"


class Outcome(StrEnum):
    """All that can be said of two wastes; none of it says that they may be mixed."""

    SAME = "the same stream"
    REACTS = "keep apart"
    NOT_IN_CHART = "not in the chart; not known to be harmless"


@dataclass(frozen=True)
class Meeting:
    """What is known of two wastes that meet; `blanks` are the pairs of groups that the chart says nothing about.

    `are_alike` where both hold one and the same group, and nothing else is known of either.
    """

    outcome: Outcome
    hazards: tuple[Hazard, ...] = ()
    blanks: tuple[tuple[Group, Group], ...] = ()
    are_alike: bool = False

    @property
    def is_refused(self) -> bool:
        """Whether they must not meet: all but a stream and itself."""
        return self.outcome is not Outcome.SAME

    @property
    def codes(self) -> tuple[Code, ...]:
        """Every code of every hazard once, the gravest first."""
        return _by_gravity({code for hazard in self.hazards for code in hazard.codes})

    @property
    def words(self) -> str:
        """The hazard within a sentence: `fire, toxic gas, heat`, or that nobody knows."""
        return code_words(self.codes) if self.hazards else str(self.outcome)

    @property
    def reason(self) -> str:
        """The gravest hazard with its source, or why there is none to name."""
        if self.hazards:
            known = " from memory" if self.hazards[0].standing is Standing.MEMORY else ""
            return f"{self.hazards[0].sentence}{known}"
        if self.blanks:
            return f"the chart says nothing of them ({CHART_SOURCE}), and a blank is no evidence"
        if self.are_alike:
            return "all that is said of either is that it holds the same, and that is no evidence"
        return "nobody has said what both of them hold"

    @property
    def sentence(self) -> str:
        """What happens when they meet, and why, as a sentence."""
        if self.outcome is Outcome.SAME:
            return "They are the same stream."
        if self.outcome is Outcome.REACTS:
            return f"Together they can bring {self.words}. The gravest: {self.reason}."
        return f"What they do together is {self.outcome}: {self.reason}."

    @property
    def keeping(self) -> str:
        """How their containers stand beside each other."""
        if self.outcome is Outcome.SAME:
            return "one tray underneath will do"
        if self.outcome is Outcome.REACTS:
            return "stand apart, a tray of its own under each"
        return "stand apart until your waste office says otherwise"


def meet(first: Waste, second: Waste) -> Meeting:
    """Return what may happen when two wastes meet; the same whichever is named first.

    >>> developer = Waste("developer", frozenset({Group.CAUSTICS}))
    >>> meet(developer, Waste("bleach", frozenset({Group.MINERAL_ACIDS}))).words
    'heat'
    >>> meet(developer, Waste("toner", frozenset({Group.SULFIDES}))).words
    'not in the chart; not known to be harmless'
    """
    if first.stream == second.stream:
        return Meeting(Outcome.SAME)
    found: set[Hazard] = set()
    blanks: set[tuple[Group, Group]] = set()
    for one, other in product(first.groups, second.groups):
        hazards = _hazards_of(one, other, (first, second))
        found.update(hazards)
        if not hazards and one != other:
            blanks.add(_in_order(one, other))
    outcome = Outcome.REACTS if found else Outcome.NOT_IN_CHART
    are_alike = not found and not blanks and bool(first.groups and second.groups)
    return Meeting(outcome, _gravest_first(found), tuple(sorted(blanks, key=_places)), are_alike)


def groups_of(dissolved: Collection[Dissolved]) -> frozenset[Group]:
    """Return the groups of our own that salts of known formula belong to.

    >>> sorted(groups_of([Dissolved("Na2CO3·H2O", Fraction(41))]))
    [<Group.CARBONATES: 'carbonates'>]
    """
    return frozenset(
        group for rule in _GAS_OF if gas_bound(rule, tuple(dissolved)) is not None for group in rule.first
    )


def hazards_within(groups: Collection[Group]) -> tuple[Hazard, ...]:
    """Return what the groups of one stream may do with each other: a reason to ask whether they are one stream."""
    found = {
        hazard for one, other in combinations(sorted(groups), 2) for hazard in _hazards_of(one, other, ())
    }
    return _gravest_first(found)


def code_words(codes: Sequence[Code]) -> str:
    return ", ".join(CODE_WORDS[code] for code in _by_gravity(codes))


def _with_wider(group: Group) -> tuple[Group, ...]:
    return (group, WIDER[group]) if group in WIDER else (group,)


def _hazards_of(one: Group, other: Group, wastes: Sequence[Waste]) -> list[Hazard]:
    """What two groups do, and what the wider groups that they belong to do."""
    hazards = []
    for pair in product(_with_wider(one), _with_wider(other)):
        first, second = _in_order(*pair)
        entry = CHART.get(frozenset(pair))
        if entry is not None:
            where = f", here {entry.here}" if entry.here else ""
            reason = f"{WORDS[first].name} and {WORDS[second].name}{where}"
            codes = _by_gravity(entry.codes)
            hazards.append(Hazard(first, second, codes, reason, CHART_SOURCE, entry.standing))
        for rule in OWN_RULES:
            if frozenset(pair) in rule.pairs:
                codes, gas = _by_gravity(rule.codes), _most_gas(rule, wastes)
                hazards.append(Hazard(first, second, codes, rule.reason, rule.source, Standing.OWN, gas))
    return hazards


def _most_gas(rule: OwnRule, wastes: Sequence[Waste]) -> GasBound | None:
    """The bound of the waste that gives off more, with the acid of the other."""
    bounds = [
        replace(bound, acid_met_per_litre=_acid_in(other))
        for waste, other in permutations(wastes, 2)
        if (bound := gas_bound(rule, waste.dissolved)) is not None
    ]
    return max(
        bounds,
        key=lambda bound: (bound.moles_per_litre, bound.acid_met_per_litre, bound.from_words),
        default=None,
    )


def _acid_in(waste: Waste) -> Fraction:
    """Moles of protons that the acids of known formula in a litre give."""
    return sum(
        (
            one.grams_per_litre / Fraction(molar_mass(one.formula)) * protons
            for one in waste.dissolved
            if (protons := _PROTONS.get(one.formula.split("·")[0]))
        ),
        Fraction(),
    )


def _in_order(one: Group, other: Group) -> tuple[Group, Group]:
    first, second = sorted((one, other), key=_GROUPS.index)
    return first, second


def _places(pair: tuple[Group, Group]) -> tuple[int, int]:
    return _GROUPS.index(pair[0]), _GROUPS.index(pair[1])


def _by_gravity(codes: Collection[Code]) -> tuple[Code, ...]:
    return tuple(sorted(codes, key=_CODES.index))


def _gravest_first(hazards: Collection[Hazard]) -> tuple[Hazard, ...]:
    return tuple(
        sorted(
            hazards,
            key=lambda one: (_CODES.index(one.codes[0]), *_places((one.first, one.second)), one.reason),
        )
    )
