"""The light of one zone as alternating lit and dark phases, and what each plate does in them.

No plan does anything in the light of a zone while somebody there needs the dark. So every plan divides what is done
in a zone's light and darkness into phases that alternate, and how many plates do what in which phase says how long each
phase lasts at least.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from server.core.planning.bounds import shortest_chain
from server.core.planning.problem import Light
from server.core.planning.work import Job, Work


@dataclass(frozen=True)
class Spell:
    """Steps ``first`` to ``last`` of a pass, without a wait between them, in one light of the zone."""

    first: int
    last: int
    light: Light


@dataclass(frozen=True)
class Bottleneck:
    """Part of a pass at places that take ``capacity`` plates at once, with the seconds before, there and after."""

    before_s: int
    seconds: int
    after_s: int
    capacity: int

    def seconds_for(self, plates: int) -> int:
        """Return the fewest seconds from the first of so many plates to the end of the last."""
        return self.before_s + self.seconds * -(-plates // self.capacity) + self.after_s


@dataclass(frozen=True)
class Kept:
    """A place taken from the spell ``first`` to the spell ``last`` of a pass."""

    kinds: frozenset[int]
    first: int
    last: int


@dataclass(frozen=True)
class Plates:
    """``count`` passes that nothing tells apart, one for each group of a family, and their spells in the zone."""

    job: Job
    family: int
    count: int
    spells: tuple[Spell, ...]
    kept: tuple[Kept, ...]

    @property
    def pattern(self) -> object:
        """Passes of one pattern visit the same places in the same light, if not for the same seconds."""
        return self.spells, tuple(stay.kinds for stay in self.job.stays), tuple(self.job.stay_of)

    @property
    def lengths(self) -> tuple[int, ...]:
        """The fewest seconds of each step."""
        return tuple(map(self.job.shortest, range(len(self.job.steps))))

    @property
    def whole_s(self) -> int:
        """The fewest seconds of a whole pass."""
        return sum(self.lengths)

    def most_at_once(self, work: Work, spell: int) -> int:
        """Return how many can do a spell in one phase: those who keep their place into the next one fill it."""
        rooms = [
            sum(work.kinds[kind].capacity for kind in kept.kinds)
            for kept in self.kept
            if kept.first <= spell <= kept.last
            and len({one.light for one in self.spells[kept.first : kept.last + 1]}) > 1
        ]
        return min(rooms, default=len(work.jobs))

    def seconds(self, first: int, last: int) -> int:
        """Return the fewest seconds from the first step to the last."""
        return shortest_chain(self.job, first, last)


def zones_in_both_lights(work: Work) -> list[str]:
    """Return the zones in which some steps certainly need light and others certainly darkness."""
    seen: dict[str, set[Light]] = defaultdict(set)
    for job in work.jobs:
        for step, one in enumerate(job.steps):
            zone = _zone(work, job, step)
            if zone is not None and one.light != "any":
                seen[zone].add(one.light)
    return sorted(zone for zone, lights in seen.items() if len(lights) > 1)


def plates_in(work: Work, zone: str) -> list[Plates]:
    """Return the passes of every family of groups that do something in the zone's light or darkness."""
    found: list[Plates] = []
    for number, family in enumerate(work.families):
        for pass_no in range(1, work.problem.groups[family[0]].passes + 1):
            job = work.passes[family[0], pass_no]
            spells = tuple(_spells(work, zone, job))
            if spells:
                found.append(Plates(job, number, len(family), spells, tuple(_kept(job, spells))))
    return found


def way_in_s(plates: Sequence[Plates], light: Light) -> int:
    """Return the fewest seconds from the opening to the second phase, if that has the given light.

    Whoever begins it has not been in that light before.
    """
    return min(
        (
            one.seconds(0, spell.first - 1)
            for one in plates
            for number, spell in enumerate(one.spells)
            if spell.light == light and all(before.light != light for before in one.spells[:number])
        ),
        default=0,
    )


def way_out_s(plates: Sequence[Plates], light: Light) -> int:
    """Return the fewest seconds from the last phase but one to the finish, if that phase has the given light.

    Whoever ends it is never in that light again.
    """
    return min(
        (
            one.seconds(spell.last + 1, len(one.job.steps) - 1)
            for one in plates
            for number, spell in enumerate(one.spells)
            if spell.light == light and all(after.light != light for after in one.spells[number + 1 :])
        ),
        default=0,
    )


def bottlenecks(work: Work, alike: Sequence[Plates], first: int, last: int) -> list[Bottleneck]:
    """Return what limits plates of one pattern from their step ``first`` to their step ``last``.

    Where passes differ in their seconds the least of each holds for all. Places that limit no more than others do are
    left out.
    """
    found: set[Bottleneck] = set()
    for stay in alike[0].job.stays:
        begin, end = max(stay.first, first), min(stay.last, last)
        if begin <= end:
            found.add(
                Bottleneck(
                    min(plates.seconds(first, begin - 1) for plates in alike),
                    min(plates.seconds(begin, end) for plates in alike),
                    min(plates.seconds(end + 1, last) for plates in alike),
                    sum(work.kinds[kind].capacity for kind in stay.kinds),
                )
            )
    return sorted(
        (one for one in found if not any(_limits_less(one, other) for other in found if other != one)),
        key=lambda one: (one.capacity, one.before_s, one.seconds),
    )


def _limits_less(one: Bottleneck, other: Bottleneck) -> bool:
    """Tell whether the other limits as much or more for any number of plates; of two alike the later place is kept."""
    mine = (one.seconds, -one.capacity, one.seconds_for(1))
    theirs = (other.seconds, -other.capacity, other.seconds_for(1))
    if mine == theirs:
        return one.before_s < other.before_s
    return all(least <= most for least, most in zip(mine, theirs, strict=True))


def _zone(work: Work, job: Job, step: int) -> str | None:
    """Return the light zone a step is certainly in."""
    zones = {work.kinds[kind].light_zone for kind in job.kinds_of(step)}
    return zones.pop() if len(zones) == 1 else None


def _spells(work: Work, zone: str, job: Job) -> Iterator[Spell]:
    spell: Spell | None = None
    for step, one in enumerate(job.steps):
        if one.light == "any" or _zone(work, job, step) != zone:
            continue
        joined = spell is not None and spell.last == step - 1 and job.steps[step - 1].max_wait_s == 0
        if spell is not None and joined and spell.light == one.light:
            spell = Spell(spell.first, step, spell.light)
        else:
            if spell is not None:
                yield spell
            spell = Spell(step, step, one.light)
    if spell is not None:
        yield spell


def _kept(job: Job, spells: Sequence[Spell]) -> Iterator[Kept]:
    for stay in job.stays:
        inside = [
            number
            for number, spell in enumerate(spells)
            if spell.first <= stay.last and stay.first <= spell.last
        ]
        if len(inside) > 1:
            yield Kept(frozenset(stay.kinds), inside[0], inside[-1])
