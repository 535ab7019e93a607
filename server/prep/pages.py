"""What the prep pages show: a day's needs as lines to tick, in the order of the clock."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from itertools import groupby
from math import ceil, floor

from server.chemistry.models import Batch
from server.chemistry.queries import find_key, get_usual_quantities
from server.core.mix_plan import Mix, PlannedCharge, Served, StandingUse, margin_words, plates_served
from server.core.moments import clock_at, day_at, day_words, exact_clock_at, moment_words
from server.core.plate_box import Keeping
from server.core.prep_sheet import LineKind, Who, day_before_at, seconds_after_midnight, when_at_work
from server.core.provision import Made, Provided, all_made, all_short
from server.core.rinse_history import rinse_words
from server.core.shelf import held_words
from server.core.units import MICROLITRES, duration_words, plates_words, volume_words
from server.data.session import LabSession
from server.people.access import Signed
from server.plates.models import PlateBox
from server.plates.queries import light_words
from server.prep.forms import PrepSettings
from server.prep.queries import (
    DayNeeds,
    StreamNeed,
    find_day_needs,
    get_prep_times,
    list_assignments,
    list_coming_days,
    list_ticks,
)
from server.web.submitted import Submitted

_MINUTE = 60


@dataclass(frozen=True)
class Door:
    """Where a thing is done: the words of a link and its address."""

    words: str
    address: str


@dataclass(frozen=True)
class PrepLine:
    """One thing to do; `reasons` are the inputs and the formula behind it. What is `settled` was done elsewhere and takes no tick."""

    key: str
    kind: LineKind
    at: datetime
    words: str
    reasons: Sequence[str]
    doors: Sequence[Door] = ()
    clock: str = ""
    who: str = ""
    done: str = ""
    settled: bool = False


@dataclass(frozen=True)
class LinesOfDay:
    """Lines under the day on which they are done; no heading where that is the day of the sheet and no other stands before it."""

    heading: str
    lines: Sequence[PrepLine]


@dataclass(frozen=True)
class Shortage:
    """What is short, as a sentence, and what to do about it."""

    sentence: str
    doors: Sequence[Door]


@dataclass(frozen=True)
class SheetRotation:
    rotation_id: int
    clock: str
    name: str
    plates: str


@dataclass(frozen=True)
class PrepPage:
    """The sheet of one day."""

    day: date
    day_words: str
    is_today: bool
    is_past: bool
    rotations: Sequence[SheetRotation]
    shortages: Sequence[Shortage]
    days: Sequence[LinesOfDay]
    done: int
    line_count: int
    mix_plan: Sequence[str]
    days_before: str
    assumed: bool
    other_days: Sequence[tuple[date, str]]

    @property
    def lines(self) -> Sequence[PrepLine]:
        return [line for one in self.days for line in one.lines]


def _joined(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _charges(number: int) -> str:
    return "1 charge" if number == 1 else f"{number} charges"


def _plates_reason(needs: DayNeeds) -> str:
    planned = "; ".join(
        f"{plates_words(rotation.plates)} for {rotation.name}"
        + (f" and {rotation.repeats} more in rounds kept for repeats" if rotation.repeats else "")
        for rotation in needs.rotations
    )
    tests = (
        f"; {plates_words(needs.test_plates)} for tests, {needs.usual.test_plates_per_station} for each of "
        f"{', '.join(place.name for place in needs.stations)}"
    )
    return f"{plates_words(needs.plates)} in all: {planned}{tests if needs.test_plates else ''}."


def _work_reason(needs: DayNeeds) -> str:
    opens, before = (
        f"{seconds_after_midnight(seconds):%H:%M}"
        for seconds in (needs.times.opens_s, needs.times.day_before_s)
    )
    return (
        f"What is to be done before work begins at {opens} is done at {before} on the working day before."
        f"{_assumed(needs)}"
    )


def _assumed(needs: DayNeeds) -> str:
    return " Assumed until the lab sets its own times." if needs.times.assumed else ""


def _take_out_lines(needs: DayNeeds, zone: str) -> Iterator[PrepLine]:
    times = needs.times
    if needs.plates:
        yield PrepLine(
            "objects",
            LineKind.TAKE_OUT,
            _at_work(needs, needs.starts_at - timedelta(seconds=times.equalise_s), zone),
            "Put the objects beside the stations, to take on the room's temperature",
            (
                f"They settle for {duration_words(times.equalise_s)} before the first class; a warm object creeps.{_assumed(needs)}",
                _work_reason(needs),
            ),
        )
    for box in needs.flagged_boxes:
        yield PrepLine(
            f"fog-test-{box.id}",
            LineKind.TAKE_OUT,
            _at_work(needs, needs.first_plate_at, zone),
            f"Make a fog test of plate box “{box.name}”: {_light(box, needs, zone)}",
            (
                (
                    f"Its {plates_words(box.plates_left)} are not counted for the day until a test comes out clear; "
                    "the test plates' developer serves it."
                ),
            ),
            (Door("Fog test", f"/stock/plate-boxes/{box.id}#fog-test"),),
        )
    opened = clock_at(needs.first_plate_at, zone)
    for pick in needs.picks.picks:
        box = needs.boxes[pick.box_id]
        expires = (
            "has no expiry date" if box.expires_on is None else f"expires on {day_words(box.expires_on)}"
        )
        yield PrepLine(
            f"plates-{box.id}",
            LineKind.TAKE_OUT,
            _at_work(needs, needs.first_plate_at - timedelta(seconds=box.warm_up_s), zone),
            f"{_box_words(box)}, closed: {plates_words(pick.plates)} of it are used",
            (
                _plates_reason(needs),
                f"The box that expires first is used first; this one {expires}.",
                (
                    f"It is opened at {opened} and warms up for {duration_words(box.warm_up_s)} before, "
                    "so that no water settles on cold glass."
                    if box.warm_up_s
                    else f"It is opened at {opened}; nothing says that it has to warm up."
                ),
                _work_reason(needs),
            ),
            (Door("Box", f"/stock/plate-boxes/{box.id}"),),
        )


def _box_words(box: PlateBox) -> str:
    if Keeping(box.kept) is Keeping.ROOM:
        return f"Set plate box “{box.name}” ready"
    return f"Take plate box “{box.name}” out of the cold"


def _light(box: PlateBox, needs: DayNeeds, zone: str) -> str:
    """The minute, with its day where that is not the sheet's."""
    assert box.light_at is not None
    return light_words(box.light_at, needs.starts_at, zone)


def _at_work(needs: DayNeeds, at: datetime, zone: str) -> datetime:
    return when_at_work(at, zone=zone, opens_s=needs.times.opens_s, day_before_s=needs.times.day_before_s)


def _amounts(provided: Sequence[Provided], share: Fraction) -> str:
    """A share of what is called for, as it is measured: of what stands on the shelf where one thing gives it all."""
    return _joined(
        [
            f"{held_words(round(one.draws[0].amount * share), one.draws[0].measure)} of {one.name}"
            if len(one.draws) == 1 and one.made is None and not one.short
            else f"{held_words(round(one.needed * share), one.measure)} of {one.name}"
            for one in provided
        ]
    )


def _sources(provided: Sequence[Provided]) -> Iterator[str]:
    """Where each component comes from on this day, in words."""
    for one in provided:
        found = [f"{held_words(draw.amount, draw.measure)} of {draw.name}" for draw in one.draws]
        if one.made is not None:
            found.append(f"{volume_words(one.made.volume_ul)} mixed the working day before")
        if one.short:
            found.append(f"{held_words(ceil(one.short), one.measure)} missing")
        yield f"{one.name[0].upper()}{one.name[1:]} for the whole day: {_joined(found)}."


def _mixing_door(recipe: str, volume_ul: int) -> Door:
    millilitres = -(-volume_ul // MICROLITRES["ml"])
    return Door("Mix it here", f"/chemistry/mix?recipe={recipe}&volume={millilitres}")


def _made_lines(session: LabSession, needs: DayNeeds, zone: str) -> Iterator[PrepLine]:
    """Stock solutions that run short, and bleach by a recipe, are mixed the working day before: they keep."""
    day = day_at(needs.starts_at, zone)
    at = day_before_at(day, zone=zone, day_before_s=needs.times.day_before_s)
    wanted = [(made, "") for made in (*all_made(needs.developer_from), *all_made(needs.bleach_from))]
    if needs.bleach.edition is not None and needs.bleach_to_mix_ul:
        wanted.append((Made(needs.bleach.name, needs.bleach_to_mix_ul, tuple(needs.bleach_from)), "bleach"))
    taken: Counter[str] = Counter()
    for made, key in wanted:
        # By its recipe: what is mixed leaves the sheet, and its tick must not fall to another.
        recipe = key or find_key(session, made.name)
        taken[recipe] += 1
        yield PrepLine(
            f"make-{recipe}-{made.volume_ul // 1000}" + (f"-{taken[recipe]}" if taken[recipe] > 1 else ""),
            LineKind.WEIGH,
            at,
            f"Weigh {_amounts(made.parts, Fraction(1))}, mix {volume_words(made.volume_ul)} of {made.name} and label it",
            (
                f"{volume_words(needs.bleach_there_ul)} of it are mixed and live long enough."
                if key
                else "What is there of it does not reach for the day.",
                *_sources(made.parts),
            ),
            (_mixing_door(recipe, made.volume_ul),),
        )


def _key(mix: Mix) -> str:
    """What the lines of a mix are called by; no two mixes of a day are made at one moment."""
    return f"{mix.mixed_at:%H%M}-{mix.volume_ul // 1000}"


def _mix_lines(needs: DayNeeds, mix: Mix, zone: str) -> Iterator[PrepLine]:
    key = _key(mix)
    volume = volume_words(mix.volume_ul)
    mixed_ul = sum(one.volume_ul for one in needs.mixes.mixes)
    recipe = _amounts(needs.developer_from, Fraction(mix.volume_ul, mixed_ul))
    stood_at = mix.mixed_at + timedelta(seconds=needs.developer.stand_s)
    measured = duration_words(needs.times.measure_s)
    yield PrepLine(
        f"weigh-{key}",
        LineKind.WEIGH,
        _at_work(needs, mix.mixed_at - timedelta(seconds=needs.times.measure_s), zone),
        f"Measure out {recipe}, apart, at the room's temperature",
        (
            *_sources(needs.developer_from),
            f"Measuring out takes {measured} before the mixing at {clock_at(mix.mixed_at, zone)}.{_assumed(needs)}",
        ),
    )
    yield PrepLine(
        f"mix-{key}",
        LineKind.MIX,
        mix.mixed_at,
        f"Mix {volume} of working developer, {recipe}; it makes {_charges(mix.charge_count)} of "
        f"{volume_words(needs.usual.developer_charge_ul)}",
        (*_why_mix(needs, mix, zone), *_why_so_many(needs, zone)),
        (_mixing_door("developer", mix.volume_ul),),
    )
    yield from _ready_lines(
        needs, key, volume, mixed_at=mix.mixed_at, ends_at=mix.ends_at, stood_at=stood_at, zone=zone
    )
    yield from _pour_lines(needs, mix.charges, stood_at, key, zone)


def _ready_lines(
    needs: DayNeeds,
    key: str,
    what: str,
    *,
    mixed_at: datetime,
    ends_at: datetime,
    stood_at: datetime,
    zone: str,
    batch: Batch | None = None,
) -> Iterator[PrepLine]:
    """Between mixing and pouring: its label, and its check; for a `batch` with the doors to its own."""
    yield PrepLine(
        f"label-{key}",
        LineKind.LABEL,
        mixed_at,
        f"Label the {what}: batch, mixed {clock_at(mixed_at, zone)}, end of life {clock_at(ends_at, zone)}",
        ("A batch has its label before it stands anywhere; the trays get theirs when it is poured.",),
        (Door("Labels", "/labels" if batch is None else f"/labels/batches/{batch.id}"),),
    )
    yield PrepLine(
        f"bath-{key}",
        LineKind.BATH_CHECK,
        stood_at,
        f"Read temperature and pH of the {what} after it has stood, and write them down",
        (
            (
                f"It stands {duration_words(int((stood_at - mixed_at).total_seconds()))} after mixing: "
                f"{'by its recipe' if needs.developer.edition else 'a teacher of the trade lets fresh developer stand 5 min and more'}."
            ),
            "A reading out of the lab's own range means: do not pour it.",
        ),
        () if batch is None else (Door(f"Batch {batch.number}", f"/chemistry/batches/{batch.id}"),),
    )


def _why_mix(needs: DayNeeds, mix: Mix, zone: str) -> Iterator[str]:
    serves = "; ".join(f"{name} ({plates_words(plates)})" for name, plates in plates_served(mix.rounds))
    yield f"It serves {serves}."
    yield (
        f"Area of its {plates_words(mix.plates)} in the order of use, {needs.usual.plates_per_charge} plates of the usual size per "
        f"charge, each round in one charge: {_charges(mix.charge_count)}, poured for "
        f"{_joined([clock_at(charge.first_in_at, zone) for charge in mix.charges])}."
    )
    yield (
        f"It lives {duration_words(needs.rules.life_s)} from mixing, to {clock_at(mix.ends_at, zone)}; the last plate leaves it at "
        f"{exact_clock_at(mix.last_round.last_out_at, zone)}, {margin_words(mix.margin_s)}."
    )
    yield (
        f"It is mixed {duration_words(needs.rules.lead_s)} before it is needed, a class may start "
        f"{duration_words(needs.rules.late_start_s)} late, and a charge is changed between two rounds in "
        f"{duration_words(needs.usual.change_s)}.{_assumed(needs)}"
    )


def _why_so_many(needs: DayNeeds, zone: str) -> Iterator[str]:
    fails = needs.mixes.one_fewer
    if fails is not None:
        serves = "; ".join(name for name, _plates in plates_served(fails.rounds))
        yield (
            f"With one mix fewer, at the best, one would serve {serves}: mixed at {clock_at(fails.mixed_at, zone)} it lives to "
            f"{clock_at(fails.ends_at, zone)}, and the last plate leaves it at {exact_clock_at(fails.last_round.last_out_at, zone)}, "
            f"{margin_words(fails.margin_s)}. No other division of the day does better."
        )


def _pour_lines(
    needs: DayNeeds, charges: Sequence[PlannedCharge], stood_at: datetime, key: str, zone: str
) -> Iterator[PrepLine]:
    """The first charge of each tray is poured when the mix has stood, the next ones in time for their round."""
    begun: set[str] = set()
    for number, charge in enumerate(charges, start=1):
        volume = volume_words(charge.charges * needs.usual.developer_charge_ul)
        first = charge.tray not in begun
        begun.add(charge.tray)
        at = stood_at if first else charge.first_in_at - timedelta(seconds=needs.usual.change_s)
        what = (
            f"Pour {volume} into {charge.tray}" if first else f"Change the charge in {charge.tray}: {volume}"
        )
        yield PrepLine(
            f"pour-{key}-{number}",
            LineKind.POUR,
            at,
            f"{what}, for {plates_words(charge.plates)} until {exact_clock_at(charge.last_out_at, zone)}; label the tray",
            (
                "A charge stays in its tray as long as it serves the next round whole.",
                f"Changing takes {duration_words(needs.usual.change_s)}.{_assumed(needs)}",
            ),
            (Door("Trays", "/charges"),),
        )


def _standing_lines(needs: DayNeeds, use: StandingUse, zone: str) -> Iterator[PrepLine]:
    batch = needs.batches[use.standing.key]
    serves = "; ".join(f"{name} ({plates_words(plates)})" for name, plates in plates_served(use.rounds))
    is_of_the_day = day_at(batch.mixed_at, zone) == day_at(needs.starts_at, zone)
    mixed = clock_at(batch.mixed_at, zone) if is_of_the_day else moment_words(batch.mixed_at, zone)
    yield PrepLine(
        f"batch-{batch.number}",
        LineKind.MIX,
        batch.mixed_at,
        f"Batch {batch.number}, {volume_words(batch.volume_ul)} of working developer, is mixed and serves {serves}",
        (
            (
                f"It lives to {clock_at(use.standing.ends_at, zone)}; the last plate leaves it at "
                f"{exact_clock_at(use.last_round.last_out_at, zone)}, {margin_words(use.margin_s)}."
            ),
            "What stands mixed serves every class that it can serve whole, before anything is mixed anew.",
        ),
        (Door(f"Batch {batch.number}", f"/chemistry/batches/{batch.id}"),),
        done=f"{batch.mixed_by}, {mixed}",
        settled=True,
    )
    key = f"batch-{batch.number}"
    if is_of_the_day:
        yield from _ready_lines(
            needs,
            key,
            f"{volume_words(batch.volume_ul)} of batch {batch.number}",
            mixed_at=batch.mixed_at,
            ends_at=use.standing.ends_at,
            stood_at=batch.ready_at,
            zone=zone,
            batch=batch,
        )
    yield from _pour_lines(needs, use.charges, use.standing.ready_at, key, zone)


def _room_of(need: StreamNeed) -> int:
    return 0 if need.fill is None else need.fill.start.room_ul


def _lay_out_lines(needs: DayNeeds, zone: str) -> Iterator[PrepLine]:
    at = _at_work(needs, needs.starts_at - timedelta(seconds=needs.times.lay_out_lead_s), zone)
    usual = needs.usual
    bleach = volume_words(needs.bleach_charges * usual.bleach_charge_ul)
    when = f"Laying out begins {duration_words(needs.times.lay_out_lead_s)} before the first class.{_assumed(needs)}"
    for need in needs.streams:
        if need.fill is not None and need.needed_ul:
            yield PrepLine(
                f"waste-{need.source.replace(' ', '-')}",
                LineKind.LAY_OUT,
                at,
                f"Set out the containers of “{need.stream}”: {volume_words(need.needed_ul)} come in",
                (
                    (
                        f"The containers of this stream that take more have room for {volume_words(_room_of(need))} up to their fill lines, "
                        "as the day began."
                    ),
                    when,
                ),
                (Door("Waste", "/waste"),),
            )
    if needs.plates:
        there = (
            f" {volume_words(needs.bleach_there_ul)} of it are mixed and live long enough."
            if needs.bleach_there_ul
            else ""
        )
        yield PrepLine(
            "bleach",
            LineKind.LAY_OUT,
            at,
            f"Have {bleach} of bleach ready: {_charges(needs.bleach_charges)} of "
            f"{volume_words(usual.bleach_charge_ul)}",
            (
                (
                    f"The area of {needs.plates} plates ÷ that of {usual.plates_per_charge} plates of the usual size per charge, "
                    f"rounded up.{there}"
                ),
                when,
            ),
            (Door("Chemistry", "/chemistry"),),
        )
        yield PrepLine(
            "bleach-pour",
            LineKind.POUR,
            at,
            f"Pour {volume_words(usual.bleach_charge_ul)} of bleach into its tray in each tray line and label the tray",
            (
                f"{_charges(needs.bleach_charges)} of it last the day; change one when Trays says that it is used up.",
                when,
            ),
            (Door("Trays", "/charges"), Door("Labels", "/labels")),
        )
        yield PrepLine(
            "rinse",
            LineKind.LAY_OUT,
            at,
            f"Have {volume_words(needs.rinse_ul)} of rinse water ready",
            (
                (
                    f"{needs.plates} plates × {volume_words(needs.rinse.mean_ul)} of rinse per plate, "
                    "the tests and each rotation to the nearest mL."
                ),
                *rinse_words(needs.rinse),
                when,
            ),
        )


def _laser_lines(needs: DayNeeds, zone: str) -> Iterator[PrepLine]:
    """Lasers go on so that they are steady when the first plate is exposed; then each station is read and set."""
    by_time = sorted(needs.stations, key=lambda place: (-place.laser_warm_up_s, place.id))
    for warm_up_s, places in groupby(by_time, key=lambda place: place.laser_warm_up_s):
        at = _at_work(needs, needs.first_plate_at - timedelta(seconds=warm_up_s), zone)
        names = _joined([place.name for place in places])
        yield PrepLine(
            f"lasers-{warm_up_s}",
            LineKind.LASERS,
            at,
            f"Switch the lasers of {names} on, shutters closed",
            (
                (
                    f"They warm up for {duration_words(warm_up_s)} before the first plate at {clock_at(needs.first_plate_at, zone)}; "
                    "the time stands with the station, 15 min is assumed until the lab sets its own."
                ),
                "Teachers wait about 15 min for a helium-neon laser, 5 for a diode-pumped one, 2 for a bare diode.",
            ),
            (Door("Stations", "/stations"),),
        )
    for place in needs.stations:
        yield PrepLine(
            f"station-{place.id}",
            LineKind.LASERS,
            needs.first_plate_at,
            f"Read the meter at {place.name}, then set it: settle {duration_words(place.settle_s or 0)}, "
            f"expose {duration_words(place.exposure_s or 0)}",
            (
                (
                    "The station's own times, from Stations. A meter reading written down under Exposure gives a new exposure time."
                ),
                "The laser is warm by then.",
            ),
            (Door("Exposure", "/exposures"),),
        )


def _room_lines(needs: DayNeeds, zone: str) -> Iterator[PrepLine]:
    at = _at_work(needs, needs.starts_at - timedelta(seconds=needs.times.lay_out_lead_s), zone)
    dark_at = _at_work(needs, needs.first_plate_at - timedelta(seconds=needs.times.dark_s), zone)
    dark = duration_words(needs.times.dark_s)
    door = (Door("Write it down under Safety", "/safety"),)
    yield PrepLine(
        "eyewash",
        LineKind.ROOM_CHECK,
        at,
        "Let the eyewash run until it is clear, and walk the way to it",
        (
            "Common practice is to run it every week at least, and before baths are poured; the local rule comes first.",
        ),
        door,
    )
    yield PrepLine(
        "dark-room",
        LineKind.ROOM_CHECK,
        dark_at,
        f"Sit in the dark for {dark} and look for leaks of light",
        (
            f"Eyes need {dark} and more; if you then see across the room, it is too light for plates.{_assumed(needs)}",
        ),
        door,
    )
    yield PrepLine(
        "safelight",
        LineKind.ROOM_CHECK,
        dark_at,
        "Look at the safelight: the colour the plates do not see, facing away, below reading level",
        ("Common practice; a fog test of the very lamp decides.",),
        door,
    )


def _after_lines(needs: DayNeeds, zone: str) -> Iterator[PrepLine]:
    ends_of = {rotation.rotation_id: rotation.ends_at for rotation in needs.rotations}
    over_at = max(ends_of.values())
    served: list[tuple[str, Served]] = [
        *((f"batch-{needs.batches[use.standing.key].number}", use) for use in needs.mixes.standing),
        *((_key(mix), mix) for mix in needs.mixes.mixes),
    ]
    for key, use in served:
        last = use.last_round
        volume = volume_words(use.charge_count * needs.usual.developer_charge_ul)
        yield PrepLine(
            f"spent-{key}",
            LineKind.AFTER_CLASS,
            max(ends_of.get(last.rotation_id, over_at), last.last_out_at),
            f"Pour the spent developer, {volume}, into its waste container and write the pour down",
            (
                f"The last plate leaves it at {exact_clock_at(last.last_out_at, zone)}. Measure what you pour; this is what was mixed.",
            ),
            (Door("Pour into waste", "/waste/pour"),),
        )
    everyday = (
        (
            "spent-rinse",
            "Pour the day's rinse into its waste container and write the pour down",
            Door("Pour into waste", "/waste/pour"),
        ),
        (
            "after-bleach",
            "Bottle the bleach that still lives, closed and labelled; the rest is waste",
            Door("Chemistry", "/chemistry"),
        ),
        ("after-waste", "Close the waste containers and look at their labels", Door("Waste", "/waste")),
        ("after-lights", "Lasers, safelights and dryer off, taps closed", None),
        (
            "after-count",
            "Count the plates in the boxes that were open, and write down what is lost or broken",
            Door("Stock", "/stock"),
        ),
    )
    for key, words, door in everyday:
        yield PrepLine(
            key,
            LineKind.AFTER_CLASS,
            over_at,
            words,
            ("Common practice at the end of a day in the lab.",),
            () if door is None else (door,),
        )


def _stock_lines(needs: DayNeeds, zone: str) -> Iterator[PrepLine]:
    """The bottles and batches that the day's mixes are drawn from, each by its name."""
    drawn = [
        f"{held_words(draw.amount, draw.measure)} of {one.name} ({draw.name})"
        for one in (*needs.developer_from, *needs.bleach_from)
        for draw in one.draws
    ]
    if drawn:
        yield PrepLine(
            "take-stock",
            LineKind.TAKE_OUT,
            _at_work(needs, needs.starts_at - timedelta(seconds=needs.times.lay_out_lead_s), zone),
            f"Take out what is mixed from: {_joined(drawn)}",
            ("What expires first is drawn first; mixing it is where the draw is written down.",),
            (Door("Stock", "/stock"),),
        )


def _lines(session: LabSession, needs: DayNeeds, zone: str) -> Iterator[PrepLine]:
    """Every line; those of one moment stay in the order in which they are done."""
    yield from _made_lines(session, needs, zone)
    yield from _take_out_lines(needs, zone)
    yield from _stock_lines(needs, zone)
    yield from _room_lines(needs, zone)
    yield from _lay_out_lines(needs, zone)
    yield from _laser_lines(needs, zone)
    for use in needs.mixes.standing:
        yield from _standing_lines(needs, use, zone)
    for mix in needs.mixes.mixes:
        yield from _mix_lines(needs, mix, zone)
    yield from _after_lines(needs, zone)


def _days(session: LabSession, day: date, needs: DayNeeds, zone: str) -> Sequence[LinesOfDay]:
    ticks, assignments = list_ticks(session, day), list_assignments(session)
    lines = [
        replace(
            line,
            clock=clock_at(line.at, zone),
            who=assignments[line.kind],
            done=line.done
            or (
                f"{ticks[line.key].ticked_by}, {clock_at(ticks[line.key].ticked_at, zone)}"
                if line.key in ticks
                else ""
            ),
        )
        for line in sorted(_lines(session, needs, zone), key=lambda line: line.at)
    ]
    found = []
    for on, of_day in groupby(lines, key=lambda line: day_at(line.at, zone)):
        heading = day_words(on) if on == day else f"{day_words(on)}, the working day before"
        found.append(LinesOfDay(heading, tuple(of_day)))
    return found if len(found) > 1 else [replace(one, heading="") for one in found]


def shortages_of(needs: DayNeeds, zone: str) -> Sequence[Shortage]:
    """What is missing for the day, each in a sentence, and where something can be done about it."""
    return [
        *_plate_shortages(needs, zone),
        *_stock_shortages(needs),
        *_life_shortages(needs, zone),
        *_waste_shortages(needs),
    ]


def _plate_shortages(needs: DayNeeds, zone: str) -> Iterator[Shortage]:
    if needs.picks.short:
        expired = (
            f" Another {plates_words(needs.picks.expired)} are past their day." if needs.picks.expired else ""
        )
        lit = "".join(
            f" {plates_words(box.plates_left)} of “{box.name}” wait for a fog test ({_light(box, needs, zone)})."
            for box in needs.flagged_boxes
        )
        yield Shortage(
            f"{plates_words(needs.picks.short)} of {needs.plates} are missing.{expired}{lit} "
            "Take in a plate box, or plan fewer plates.",
            (Door("Take in a plate box", "/stock"), Door("Rotations", "/rotations")),
        )


def _stock_shortages(needs: DayNeeds) -> Iterator[Shortage]:
    for one in (*all_short(needs.developer_from), *all_short(needs.bleach_from)):
        there = max(0, floor(one.needed - one.short))
        into = "" if one.into in {needs.developer.name, needs.bleach.name} else f" for {one.into}"
        yield Shortage(
            f"{one.name[0].upper()}{one.name[1:]}{into}: {held_words(ceil(one.needed), one.measure)} are needed and "
            f"{held_words(there, one.measure)} are there that may be used that day. Take in a kit with {one.name}, or write down under "
            "Recipes how it is mixed.",
            (Door("Take in a kit", "/stock/kits"), Door("Recipes", "/recipes")),
        )


def _life_shortages(needs: DayNeeds, zone: str) -> Iterator[Shortage]:
    change = duration_words(needs.usual.change_s)
    for one in needs.mixes.too_long:
        yield Shortage(
            f"{one.name} outlasts the developer: mixed {duration_words(needs.rules.lead_s)} before {clock_at(one.ready_by, zone)}, "
            f"it is dead before the last plate leaves it at {clock_at(one.last_out_at, zone)}, and until then there are never "
            f"{change} in which a charge could be changed. Plan a break, or plan it shorter.",
            (Door("Open the rotation", f"/rotations/{one.rotation_id}"),),
        )


def _waste_shortages(needs: DayNeeds) -> Iterator[Shortage]:
    for need in needs.streams:
        if need.needed_ul and need.fill is None:
            yield Shortage(
                f"No waste stream takes {need.source}, {volume_words(need.needed_ul)} come. Set one up.",
                (Door("Set up a stream", "/waste"),),
            )
        elif need.fill is not None and need.fill.first_over is not None and need.fill.first_over.addition:
            yield Shortage(
                f"“{need.stream}” has room for {volume_words(_room_of(need))} and {volume_words(need.needed_ul)} come: "
                f"it is over its fill line during {need.fill.first_over.addition.name}. "
                "Open another container, or have it picked up before.",
                (Door("Open a container", "/waste"), Door("Book a pickup", "/waste/pickups")),
            )


def _mix_plan(needs: DayNeeds, zone: str) -> Sequence[str]:
    """The plan in sentences: each mix with its margin, and why no fewer will do."""
    found = [
        f"Batch {needs.batches[use.standing.key].number} serves {plates_words(use.plates)}: {margin_words(use.margin_s)}."
        for use in needs.mixes.standing
    ]
    found += [
        f"{volume_words(mix.volume_ul)} at {clock_at(mix.mixed_at, zone)} for {plates_words(mix.plates)}: {margin_words(mix.margin_s)}."
        for mix in needs.mixes.mixes
    ]
    return [*found, *_why_so_many(needs, zone)]


def prep_page(session: LabSession, day: date, signed: Signed, now: datetime) -> PrepPage:
    zone, today = signed.time_zone, day_at(now, signed.time_zone)
    needs = find_day_needs(session, day, zone=zone, today=today)
    days = [] if needs is None else _days(session, day, needs, zone)
    lines = [line for one in days for line in one.lines]
    return PrepPage(
        day=day,
        day_words=day_words(day),
        is_today=day == today,
        is_past=day < today,
        rotations=[]
        if needs is None
        else [
            SheetRotation(
                one.rotation_id,
                f"{clock_at(one.starts_at, zone)} to {clock_at(one.ends_at, zone)}",
                one.name,
                plates_words(one.most_plates),
            )
            for one in needs.rotations
        ],
        # What is missing on a day that is over helps nobody, and stock has moved on since.
        shortages=[] if needs is None or day < today else shortages_of(needs, zone),
        days=days,
        done=sum(1 for line in lines if line.done),
        line_count=len(lines),
        mix_plan=[] if needs is None else _mix_plan(needs, zone),
        days_before=""
        if needs is None or not needs.days_before
        else _joined([day_words(one) for one in needs.days_before]),
        assumed=needs is not None and (needs.usual.assumed or needs.times.assumed),
        other_days=[
            (other, day_words(other)) for other in list_coming_days(session, now, zone) if other != day
        ],
    )


def next_sheet(session: LabSession, signed: Signed, now: datetime) -> PrepPage:
    """The sheet of the next day with a published rotation; today's, empty, where there is none."""
    coming = list_coming_days(session, now, signed.time_zone)
    return prep_page(session, coming[0] if coming else day_at(now, signed.time_zone), signed, now)


@dataclass(frozen=True)
class TimeField:
    """A time of the sheet as it is typed, in minutes or on the clock, and where the assumed figure is from."""

    name: str
    label: str
    value: str
    hint: str


@dataclass(frozen=True)
class PrepSettingsPage:
    assumed: bool
    times: Sequence[TimeField]
    assignments: Sequence[tuple[str, str, str]]
    whos: Sequence[tuple[str, str]]
    form: Submitted[PrepSettings]


_TIMES: Mapping[str, tuple[str, str]] = {
    "mix_lead": (
        "Developer is mixed before class, minutes",
        "20 is assumed. Where standing and pouring take longer, the sheet takes that.",
    ),
    "measure": ("Measuring out and weighing before a mixing, minutes", "10 is assumed."),
    "change": ("Changing the charge in a tray, minutes", "3 is assumed."),
    "late_start": (
        "A class may start late, minutes",
        "10 is assumed. The last plate must leave living developer even then.",
    ),
    "lay_out_lead": ("Laying out begins before the first class, minutes", "40 is assumed."),
    "equalise": (
        "Objects settle in the room, minutes",
        "180 is assumed; makers of holograms leave objects in the room for several hours.",
    ),
    "dark": (
        "Watching for light in the dark, minutes",
        "10, as a film maker's safelight guide says eyes need at least that.",
    ),
    "opens": ("Work begins at", "07:00 is assumed. What would come before is done the working day before."),
    "day_before": ("Things are made ready for the next day at", "15:00 is assumed."),
}
_ON_THE_CLOCK = {"opens", "day_before"}
_KIND_WORDS: Mapping[LineKind, str] = {
    LineKind.TAKE_OUT: "Taking out plates and objects",
    LineKind.WEIGH: "Weighing and measuring out",
    LineKind.MIX: "Mixing",
    LineKind.LABEL: "Labels",
    LineKind.BATH_CHECK: "Checking a bath: temperature, pH",
    LineKind.POUR: "Pouring and changing charges",
    LineKind.LAY_OUT: "Laying out baths and waste containers",
    LineKind.LASERS: "Lasers: switching on, reading, setting",
    LineKind.ROOM_CHECK: "Checking the room: eyewash, dark, safelight",
    LineKind.AFTER_CLASS: "After class",
}


def settings_page(session: LabSession, form: Submitted[PrepSettings] | None = None) -> PrepSettingsPage:
    times, assignments = get_prep_times(session), list_assignments(session)
    seconds = {**get_usual_quantities(session).model_dump(), **times.model_dump()}
    return PrepSettingsPage(
        assumed=times.assumed,
        times=[
            TimeField(
                name,
                label,
                f"{seconds_after_midnight(seconds[f'{name}_s']):%H:%M}"
                if name in _ON_THE_CLOCK
                else str(seconds[f"{name}_s"] // _MINUTE),
                hint,
            )
            for name, (label, hint) in _TIMES.items()
        ],
        assignments=[
            (kind.replace(" ", "_"), words, assignments[kind]) for kind, words in _KIND_WORDS.items()
        ],
        whos=[(who, who) for who in Who],
        form=form or Submitted(),
    )
