"""What the page of strengths shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from server.core.concentration import (
    Facts,
    Missing,
    Unit,
    alligation,
    dilute,
    grams_per_litre,
    in_unit,
    is_more_than_all,
    made_up,
    mass_in,
    share_of_mass,
    volume_holding,
)
from server.core.molar_mass import hydrate_factor, molar_mass
from server.core.recipe import MOST_PARTS, Measure, amount_words, parts_words, share_out
from server.core.units import digits, near_volume_words
from server.strengths.forms import HydrateSwap, MixtureInParts, SaidStrength, Thinning, WeighedStrength
from server.web.submitted import Form, Submitted, read

Shape = TypeVar("Shape", bound=Form)


@dataclass(frozen=True)
class Answer:
    """What a computation says, and how it comes about; both empty before it was asked. `units` is a strength in each unit."""

    sentence: str = ""
    why: str = ""
    units: Sequence[tuple[str, str]] = ()


@dataclass(frozen=True)
class StrengthsPage:
    swap_form: Submitted[HydrateSwap]
    swap: Answer
    dilution_form: Submitted[Thinning]
    dilution: Answer
    parts_form: Submitted[MixtureInParts]
    parts: Answer
    strength_form: Submitted[SaidStrength]
    strength: Answer
    weighed_form: Submitted[WeighedStrength]
    weighed: Answer
    units: Sequence[tuple[str, str]]


def strengths_page(typed: Mapping[str, str]) -> StrengthsPage:
    """The computations that were asked for in an address; each form is read only when something of it was typed."""
    swap, swapped = _swapped(_read(HydrateSwap, "swap_mass", typed))
    dilution, diluted = _diluted(_read(Thinning, "strong", typed))
    strength, said = _said(_read(SaidStrength, "strength", typed))
    parts, weighed = _read(MixtureInParts, "parts", typed), _read(WeighedStrength, "weighed", typed)
    return StrengthsPage(
        swap_form=swap,
        swap=swapped,
        dilution_form=dilution,
        dilution=diluted,
        parts_form=parts,
        parts=_in_parts(parts.clean),
        strength_form=strength,
        strength=said,
        weighed_form=weighed,
        weighed=_weighed(weighed.clean),
        units=[(unit, unit) for unit in Unit],
    )


def _read(shape: type[Shape], first: str, typed: Mapping[str, str]) -> Submitted[Shape]:
    return read(shape, typed) if first in typed else Submitted()


def _grams(mass: Fraction) -> str:
    return f"{digits(mass / 1000)} g"


def _swapped(form: Submitted[HydrateSwap]) -> tuple[Submitted[HydrateSwap], Answer]:
    asked = form.clean
    if asked is None:
        return form, Answer()
    try:
        factor = hydrate_factor(called_for=asked.called_for, on_the_shelf=asked.on_the_shelf)
    except ValueError as fault:
        return form.refused("on_the_shelf", str(fault)), Answer()
    weighed = asked.swap_mass * factor * 100 / Fraction(asked.swap_purity)
    return form, Answer(
        f"Weigh {_grams(weighed)} of {asked.on_the_shelf}.",
        f"{amount_words(asked.swap_mass, Measure.MASS)} × {molar_mass(asked.on_the_shelf)} g/mol ÷ {molar_mass(asked.called_for)} g/mol"
        f" ÷ {asked.swap_purity} %; molar masses from IUPAC's abridged standard atomic weights.",
    )


def _diluted(form: Submitted[Thinning]) -> tuple[Submitted[Thinning], Answer]:
    asked = form.clean
    if asked is None:
        return form, Answer()
    try:
        found = dilute(
            strong=asked.strong,
            taken_ul=asked.taken,
            wanted=asked.wanted,
            volume_ul=asked.diluted_volume,
            weak=asked.with_strength,
        )
    except ValueError as fault:
        return form.refused("wanted", str(fault)), Answer()
    filled = "the weaker one" if asked.with_strength else "water"
    strong, wanted, weak = (
        digits(Fraction(one)) for one in (found.strong, found.wanted, asked.with_strength)
    )
    sentence = (
        f"Take {near_volume_words(found.taken_ul)} of {strong} and make it up to {near_volume_words(found.volume_ul)} with {filled}:"
        f" that is {wanted} strong."
    )
    if found.wanted < found.strong:
        parts = alligation(strong=found.strong, wanted=found.wanted, weak=asked.with_strength)
        if max(parts) <= MOST_PARTS:
            sentence += f" In parts it is {parts_words(parts)}."
    return form, Answer(
        sentence,
        f"({strong} − {weak}) × {near_volume_words(found.taken_ul)} = ({wanted} − {weak}) × {near_volume_words(found.volume_ul)}: "
        "what is dissolved stays the same.",
    )


def _in_parts(asked: MixtureInParts | None) -> Answer:
    if asked is None:
        return Answer()
    whole = sum(asked.parts)
    volumes = [
        amount_words(share, Measure.VOLUME)
        for share in share_out(volume_ul=asked.parts_volume, parts=asked.parts)
    ]
    sentence = f"Take {', '.join(volumes[:-1])} and {volumes[-1]}."
    why = f"{parts_words(asked.parts)} are {whole} parts; each is {amount_words(asked.parts_volume, Measure.VOLUME)} ÷ {whole}."
    if asked.parts_strength is not None:
        thinned = Fraction(asked.parts_strength) * asked.parts[0] / whole
        sentence += f" The first is {digits(thinned)} strong in it."
        why += f" {asked.parts_strength} × {asked.parts[0]} ÷ {whole} = {digits(thinned)}, where the others hold none of it."
    return Answer(sentence, why)


def _said(form: Submitted[SaidStrength]) -> tuple[Submitted[SaidStrength], Answer]:
    asked = form.clean
    if asked is None:
        return form, Answer()
    facts = Facts(
        None if asked.strength_formula is None else molar_mass(asked.strength_formula),
        asked.strength_density,
        asked.pure_density,
        asked.equivalents,
    )
    grams = grams_per_litre(asked.strength, asked.unit, facts)
    if isinstance(grams, Missing):
        return form.refused("unit", grams.sentence), Answer()
    if is_more_than_all(grams, facts):
        sentence = (
            "That is more than the whole solution holds. Check the strength, its unit and the densities."
        )
        return form.refused("strength", sentence), Answer()
    if asked.strength_amount is None:
        sentence, why = f"{asked.strength} {asked.unit} are {digits(grams)} g/L.", ""
    elif asked.strength_amount[1] == Measure.VOLUME:
        volume_ul = asked.strength_amount[0]
        needed = mass_in(grams_per_litre=grams, volume_ul=volume_ul, purity=asked.strength_purity / 100)
        sentence = f"Weigh {_grams(needed)} and make it up to {amount_words(volume_ul, Measure.VOLUME)}."
        why = f"{digits(grams)} g/L × {amount_words(volume_ul, Measure.VOLUME)} ÷ {asked.strength_purity} % purity. "
    else:
        mass_mg = asked.strength_amount[0]
        held = volume_holding(grams_per_litre=grams, mass_mg=mass_mg)
        sentence = f"{near_volume_words(held)} of it hold {amount_words(mass_mg, Measure.MASS)}."
        why = f"{amount_words(mass_mg, Measure.MASS)} ÷ {digits(grams)} g/L. "
    return form, Answer(sentence, why + _how_units_follow(facts), _in_all_units(grams, facts))


def _weighed(asked: WeighedStrength | None) -> Answer:
    if asked is None:
        return Answer()
    facts = Facts(
        None if asked.weighed_formula is None else molar_mass(asked.weighed_formula), asked.weighed_density
    )
    purity, (amount, measure) = asked.weighed_purity / 100, asked.weighed_into
    mass = amount_words(asked.weighed, Measure.MASS)
    if measure == Measure.VOLUME:
        grams: Fraction | Missing = made_up(mass_mg=asked.weighed, volume_ul=amount, purity=purity)
        why = f"{mass} × {asked.weighed_purity} % ÷ {amount_words(amount, Measure.VOLUME)}. "
        sentence = f"That is {digits(Fraction(grams))} g/L." if isinstance(grams, Fraction) else ""
    else:
        share = share_of_mass(mass_mg=asked.weighed, solvent_mg=amount, purity=purity)
        grams = grams_per_litre(share * 100, Unit.WEIGHT, facts)
        why = f"{mass} × {asked.weighed_purity} % ÷ ({mass} + {amount_words(amount, Measure.MASS)}). "
        sentence = f"That is {digits(share * 100)} % by weight."
    if isinstance(grams, Missing):
        return Answer(
            sentence, why, ((Unit.WEIGHT, digits(share * 100)), ("other units", "need the density"))
        )
    return Answer(sentence, why + _how_units_follow(facts), _in_all_units(grams, facts))


def _in_all_units(grams: Fraction, facts: Facts) -> Sequence[tuple[str, str]]:
    found = [(unit, in_unit(grams, unit, facts)) for unit in Unit]
    return [(unit, one.sentence if isinstance(one, Missing) else digits(one)) for unit, one in found]


def _how_units_follow(facts: Facts) -> str:
    known = ["% w/v is g in 100 mL"]
    if facts.molar_mass is not None:
        known.append(f"mol/L is g/L ÷ {facts.molar_mass} g/mol, N that times {facts.equivalents}")
    if facts.density is not None:
        known.append(f"% w/w, ppm and ppb are shares of {facts.density} g/mL")
    if facts.pure_density is not None:
        known.append(f"% v/v is of a liquid of {facts.pure_density} g/mL")
    return f"{'; '.join(known)}."
