"""The mix plan of a day: how often developer is mixed, when, how much, and when its charges are changed.

Instants are UTC, durations seconds, areas square millimetres, volumes microlitres. The figures of two worked days stand in the tests.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from server.core.units import duration_words
from server.core.working_solution import end_of_life

_NUMBERS = (
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
_MINUTE, _HOUR = 60, 3600


@dataclass(frozen=True)
class PlateInTray:
    """A plate that goes through the developer in `tray`, with its area in square millimetres."""

    tray: str
    area_mm2: int


@dataclass(frozen=True)
class DevelopedRound:
    """Plates that follow each other through the developer with no time between them to change a charge.

    `rotation_id` says whose they are, 0 for the day's tests. A mix for them must be made ready for `ready_by`; the first of them enters
    the developer at `first_in_at`, the last leaves it at `last_out_at`.
    """

    rotation_id: int
    name: str
    ready_by: datetime
    first_in_at: datetime
    last_out_at: datetime
    plates: tuple[PlateInTray, ...]


@dataclass(frozen=True)
class PlannedCharge:
    """What stands in a tray from one change to the next: so many charges together, nearly always one, for so many plates."""

    tray: str
    first_in_at: datetime
    last_out_at: datetime
    plates: int
    charges: int


@dataclass(frozen=True)
class StandingCharge:
    """A charge of developer that serves `room_mm2`; where it is gone since `gone_at`, only rotations that had begun by then."""

    room_mm2: int
    gone_at: datetime | None = None


@dataclass(frozen=True)
class Standing:
    """Developer that is there already: from `ready_at` to `ends_at` its charges serve."""

    key: int
    ready_at: datetime
    ends_at: datetime
    charges: tuple[StandingCharge, ...]


@dataclass(frozen=True)
class Served:
    """The rounds that one developer serves, and when it is poured for them. `margin_s` is how long after the last plate it still lives."""

    rounds: tuple[DevelopedRound, ...]
    charges: tuple[PlannedCharge, ...]
    margin_s: int

    @property
    def plates(self) -> int:
        return sum(len(one.plates) for one in self.rounds)

    @property
    def charge_count(self) -> int:
        return sum(charge.charges for charge in self.charges)

    @property
    def last_round(self) -> DevelopedRound:
        return max(self.rounds, key=lambda one: one.last_out_at)


@dataclass(frozen=True)
class StandingUse(Served):
    """The rounds that developer which is there already serves."""

    standing: Standing


@dataclass(frozen=True)
class Mix(Served):
    """One mixing for the rounds it serves; with `margin_s` below zero it does not live for them."""

    mixed_at: datetime
    ends_at: datetime
    volume_ul: int


@dataclass(frozen=True)
class MixPlan:
    """The fewest mixes for what the developer that is there does not serve.

    `too_long` are rounds that outlast any mix and are in none. `one_fewer` is the mix that would die first if one mix fewer were made, in
    the division that spares it longest; None where one mix or none is made.
    """

    mixes: tuple[Mix, ...]
    standing: tuple[StandingUse, ...]
    too_long: tuple[DevelopedRound, ...]
    one_fewer: Mix | None


@dataclass(frozen=True)
class DeveloperRules:
    """What a mix can do: it lives `life_s` from mixing and is mixed `lead_s` before it is needed, and every round may come
    `late_start_s` late; a charge of `charge_ul` serves `charge_area_mm2` of plates.
    """

    life_s: int
    lead_s: int
    late_start_s: int
    charge_ul: int
    charge_area_mm2: int


def plates_served(rounds: Sequence[DevelopedRound]) -> tuple[tuple[str, int], ...]:
    """Return the name of each rotation of the rounds with its plates, in the order of the rounds."""
    counted: dict[tuple[int, str], int] = {}
    for one in rounds:
        counted[one.rotation_id, one.name] = counted.get((one.rotation_id, one.name), 0) + len(one.plates)
    return tuple((name, plates) for (_rotation_id, name), plates in counted.items())


def _shares(one: DevelopedRound, tray: str, charge_area_mm2: int) -> list[list[int]]:
    """The areas of a round in a tray, together where a charge serves them all, else plate by plate."""
    areas = [plate.area_mm2 for plate in one.plates if plate.tray == tray]
    return [areas] if 0 < sum(areas) <= charge_area_mm2 else [[area] for area in areas]


def plan_charges(rounds: Sequence[DevelopedRound], *, charge_area_mm2: int) -> tuple[PlannedCharge, ...]:
    """Return the charges that the rounds use up, in the order in which they are poured, each tray for itself.

    A round shares a charge, and the charge is changed before a round that it can not serve whole. Only a round that no charge serves is
    changed for between its plates, and a plate that no charge serves takes several at once. Where the order of the rounds is given, no
    other changing needs fewer charges: a charge that is kept as long as it serves reaches at least as far as any other would.
    """
    charges: list[PlannedCharge] = []
    for tray in sorted({plate.tray for one in rounds for plate in one.plates}):
        room, in_tray = 0, len(charges)
        for one in rounds:
            for share in _shares(one, tray, charge_area_mm2):
                needed = sum(share)
                if len(charges) > in_tray and needed <= room:
                    last = charges[-1]
                    charges[-1] = PlannedCharge(
                        tray,
                        last.first_in_at,
                        max(last.last_out_at, one.last_out_at),
                        last.plates + len(share),
                        last.charges,
                    )
                    room -= needed
                else:
                    many = max(1, -(-needed // charge_area_mm2))
                    charges.append(PlannedCharge(tray, one.first_in_at, one.last_out_at, len(share), many))
                    room = many * charge_area_mm2 - needed
    return tuple(sorted(charges, key=lambda charge: (charge.first_in_at, charge.tray)))


def _mix(rounds: Sequence[DevelopedRound], rules: DeveloperRules) -> Mix:
    mixed_at = min(one.ready_by for one in rounds) - timedelta(seconds=rules.lead_s)
    ends_at = end_of_life(mixed_at=mixed_at, life_s=rules.life_s)
    charges = plan_charges(rounds, charge_area_mm2=rules.charge_area_mm2)
    margin_s = int((ends_at - max(one.last_out_at for one in rounds)).total_seconds())
    volume_ul = rules.charge_ul * sum(charge.charges for charge in charges)
    return Mix(tuple(rounds), charges, margin_s, mixed_at, ends_at, volume_ul)


def plan_mixes(
    rounds: Sequence[DevelopedRound], rules: DeveloperRules, standing: Sequence[Standing] = ()
) -> MixPlan:
    """Divide a day's rounds into the fewest mixes, after the developer that is there has served what it can.

    A mix is made `lead_s` before the first round it serves, no earlier, and the last plate of each of its rounds leaves the developer
    within `life_s` of the mixing, even when the round comes `late_start_s` late. What is there already serves whole rotations in the
    order of the clock.

    No division at all has fewer mixes, whether its mixes serve rounds that follow each other or not. Proof: put the rounds in the order of
    `ready_by`. In any division, give each round to the last mix that is made in time for it. The mix it had was in time, so the new one is
    no older, and the round stays inside a life; and as the last mix in time never moves back along that order, each mix now serves rounds
    that follow each other. So some division into consecutive parts has no more mixes, and of those every one is weighed here: first the
    number of mixes, then how few classes change over to another mix midway, then the number of charges, then the shortest margin.
    """
    ordered = sorted(rounds, key=lambda one: (one.ready_by, one.last_out_at, one.rotation_id))
    uses, left = _use_standing(ordered, rules, standing)
    too_long = tuple(one for one in left if _mix([one], rules).margin_s < rules.late_start_s)
    lasting = [one for one in left if one not in too_long]

    def cost(start: int, mix: Mix) -> tuple[int, ...]:
        before = {one.rotation_id for one in lasting[:start]}
        changed = sum(
            1 for rotation_id in {one.rotation_id for one in lasting[start:]} if rotation_id in before
        )
        return 1, changed, mix.charge_count

    best: list[tuple[tuple[int, ...], int, tuple[Mix, ...]]] = [((0, 0, 0), rules.life_s, ())]
    for end in range(1, len(lasting) + 1):
        ways = []
        for start in reversed(range(end)):
            last = _mix(lasting[start:end], rules)
            if last.margin_s < rules.late_start_s:
                # A part that begins still earlier is mixed no later.
                break
            spent, margin_s, mixes = best[start]
            total = tuple(a + b for a, b in zip(spent, cost(start, last), strict=True))
            ways.append((total, min(margin_s, last.margin_s), (*mixes, last)))
        best.append(min(ways, key=lambda way: (way[0], -way[1], [mix.mixed_at for mix in way[2]])))
    mixes = best[-1][2]
    return MixPlan(mixes, uses, too_long, _one_fewer(lasting, rules, len(mixes) - 1))


def _one_fewer(rounds: Sequence[DevelopedRound], rules: DeveloperRules, parts: int) -> Mix | None:
    """The mix with the shortest margin in the division into so many parts whose shortest margin is longest."""
    if parts < 1:
        return None
    # For each number of parts that the first rounds are divided into: the shortest margin, and the part that has it.
    best: list[dict[int, tuple[int, int, int]]] = [{}]
    for end in range(1, len(rounds) + 1):
        reached: dict[int, tuple[int, int, int]] = {}
        last_out_at = rounds[end - 1].last_out_at
        for start in reversed(range(end)):
            last_out_at = max(last_out_at, rounds[start].last_out_at)
            busy_s = int((last_out_at - rounds[start].ready_by).total_seconds())
            mine = (rules.life_s - rules.lead_s - busy_s, start, end)
            ways = (
                [(1, mine)]
                if start == 0
                else [(n + 1, min(way, mine)) for n, way in best[start].items() if n < parts]
            )
            for number, way in ways:
                reached[number] = max(way, reached.get(number, way))
        best.append(reached)
    _margin_s, start, end = best[-1][parts]
    return _mix(rounds[start:end], rules)


def _use_standing(
    ordered: Sequence[DevelopedRound], rules: DeveloperRules, standing: Sequence[Standing]
) -> tuple[tuple[StandingUse, ...], list[DevelopedRound]]:
    """What is there, the first to end first, serves each rotation that it can serve whole; and the rounds that it leaves.

    The tests come first and are a rotation of their own.
    """
    served: dict[int, list[DevelopedRound]] = {}
    in_first = sorted(standing, key=lambda one: (one.ends_at, one.key))
    by_rotation: dict[int, list[DevelopedRound]] = {}
    for one in ordered:
        by_rotation.setdefault(one.rotation_id, []).append(one)
    for mine in by_rotation.values():
        for there in in_first:
            wanted = [*served.get(there.key, ()), *mine]
            if _alive_for(there, mine, rules) and _has_room_for(there, wanted, rules):
                served[there.key] = wanted
                break
    taken = {id(one) for many in served.values() for one in many}
    uses = tuple(
        StandingUse(
            tuple(served[there.key]),
            plan_charges(served[there.key], charge_area_mm2=rules.charge_area_mm2),
            min(int((there.ends_at - one.last_out_at).total_seconds()) for one in served[there.key]),
            there,
        )
        for there in in_first
        if there.key in served
    )
    return uses, [one for one in ordered if id(one) not in taken]


def _alive_for(there: Standing, rounds: Sequence[DevelopedRound], rules: DeveloperRules) -> bool:
    late = timedelta(seconds=rules.late_start_s)
    return all(
        there.ready_at <= one.first_in_at and one.last_out_at + late <= there.ends_at for one in rounds
    )


def _has_room_for(there: Standing, rounds: Sequence[DevelopedRound], rules: DeveloperRules) -> bool:
    """Whether its charges serve every round, each kept in its tray as long as it serves."""
    begun: dict[int, datetime] = {}
    for one in rounds:
        begun[one.rotation_id] = min(one.ready_by, begun.get(one.rotation_id, one.ready_by))
    unused = list(there.charges)
    for tray in sorted({plate.tray for one in rounds for plate in one.plates}):
        poured = StandingCharge(0)
        for one in rounds:
            for share in _shares(one, tray, rules.charge_area_mm2):
                needed = sum(share)
                while needed > poured.room_mm2 or _is_gone(poured, begun[one.rotation_id]):
                    following = next(
                        (charge for charge in unused if not _is_gone(charge, begun[one.rotation_id])), None
                    )
                    if following is None:
                        return False
                    unused.remove(following)
                    poured = following
                poured = replace(poured, room_mm2=poured.room_mm2 - needed)
    return True


def _is_gone(charge: StandingCharge, begun_at: datetime) -> bool:
    return charge.gone_at is not None and charge.gone_at < begun_at


def margin_words(margin_s: int) -> str:
    """Return how far before the end of its life the last plate leaves a mix, and which late start loses that.

    >>> margin_words(330)
    '5.5 min before the end of its life, lost by a six-minute late start'
    >>> margin_words(-120)
    '2 min after the end of its life'
    """
    if margin_s < 0:
        return f"{_minutes(-margin_s)} after the end of its life"
    words = f"{_minutes(margin_s)} before the end of its life"
    if margin_s >= _HOUR:
        return words
    late = margin_s // _MINUTE + 1
    number = _NUMBERS[late] if late < len(_NUMBERS) else str(late)
    article = "an" if late in {8, 11, 18} else "a"
    return f"{words}, lost by {article} {number}-minute late start"


def _minutes(seconds: int) -> str:
    """Below an hour in minutes with a decimal where they come out even, as people say them; else in hours, minutes and seconds."""
    tenths, rest = divmod(seconds, 6)
    if seconds >= _HOUR or rest or not seconds:
        return duration_words(seconds)
    return f"{tenths // 10} min" if tenths % 10 == 0 else f"{tenths / 10} min"


@dataclass(frozen=True)
class Stay:
    """A plate of `area_mm2` in a developer tray."""

    tray: str
    starts_at: datetime
    ends_at: datetime
    area_mm2: int


def rounds_of_class(
    rotation_id: int, name: str, *, starts_at: datetime, stays: Sequence[Stay], change_s: int
) -> list[DevelopedRound]:
    """Group the stays of a class, which begins at `starts_at`, into rounds with at least `change_s` between them to change a charge.

    The developer of the first round is to be ready when the class begins, that of any other when its first plate comes.
    """
    groups: list[list[Stay]] = []
    free_at = starts_at
    for stay in sorted(stays, key=lambda one: (one.starts_at, one.ends_at)):
        if groups and stay.starts_at < free_at + timedelta(seconds=change_s):
            groups[-1].append(stay)
        else:
            groups.append([stay])
        free_at = max(free_at, stay.ends_at)
    return [
        DevelopedRound(
            rotation_id,
            name,
            group[0].starts_at if index else min(starts_at, group[0].starts_at),
            group[0].starts_at,
            max(stay.ends_at for stay in group),
            tuple(PlateInTray(stay.tray, stay.area_mm2) for stay in group),
        )
        for index, group in enumerate(groups)
    ]
