"""What the prep pages show: a day's needs as lines to tick, in the order of the clock."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from server.core.mix_plan import Mix, margin_words, plates_served
from server.core.moments import clock_at, day_at, day_words, exact_clock_at, moment_words
from server.core.prep_sheet import CHANGE_S, LATE_START_S, LAY_OUT_LEAD_S, MIX_LEAD_S
from server.core.units import duration_words, plates_words, volume_words
from server.core.working_solution import equal_parts
from server.data.session import LabSession
from server.kits.models import BLEACH, STOCK_A, STOCK_B
from server.people.access import Signed
from server.prep.queries import DayNeeds, StreamNeed, find_day_needs, list_coming_days, list_ticks

_DO_ABOUT_STOCK = {
    STOCK_A: "Take in a kit",
    STOCK_B: "Take in a kit",
    BLEACH: "Take in a kit with bleach",
}


@dataclass(frozen=True)
class PrepLine:
    """One thing to lay out; `reasons` are the inputs and the formula behind it."""

    key: str
    at: datetime
    clock: str
    words: str
    reasons: Sequence[str]
    done: str = ""


@dataclass(frozen=True)
class SheetRotation:
    rotation_id: int
    clock: str
    name: str
    plates: str


@dataclass(frozen=True)
class PrepPage:
    """The sheet of one day; `shortages` are sentences, each with what to do."""

    day: date
    day_words: str
    is_today: bool
    is_past: bool
    rotations: Sequence[SheetRotation]
    shortages: Sequence[str]
    lines: Sequence[PrepLine]
    done: int
    assumed: bool
    other_days: Sequence[tuple[date, str]]


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


def _plate_lines(needs: DayNeeds, zone: str) -> Iterator[PrepLine]:
    opened = clock_at(needs.first_plate_at, zone)
    for pick in needs.picks.picks:
        box = needs.boxes[pick.box_id]
        expires = (
            "has no expiry date" if box.expires_on is None else f"expires on {day_words(box.expires_on)}"
        )
        yield PrepLine(
            f"plates-{box.id}",
            needs.first_plate_at - timedelta(seconds=box.warm_up_s),
            "",
            f"Take plate box “{box.name}” out of the cold, closed: {plates_words(pick.plates)} of it are used",
            (
                _plates_reason(needs),
                f"The box that expires first is used first; this one {expires}.",
                (
                    f"It is opened at {opened} and warms up for {duration_words(box.warm_up_s)} before, "
                    "so that no water settles on cold glass."
                ),
            ),
        )


def _mix_line(needs: DayNeeds, mix: Mix, zone: str) -> PrepLine:
    parts = equal_parts(volume_ul=mix.volume_ul)
    serves = ", ".join(f"{name} ({plates_words(plates)})" for name, plates in plates_served(mix.rounds))
    last = exact_clock_at(mix.last_round.last_out_at, zone)
    changes = [clock_at(charge.first_in_at, zone) for charge in mix.charges]
    return PrepLine(
        f"mix-{mix.mixed_at:%H%M}-{mix.volume_ul // 1000}",
        mix.mixed_at,
        "",
        f"Mix {volume_words(mix.volume_ul)} of working developer, {volume_words(parts.stock_a_ul)} of stock A and "
        f"{volume_words(parts.stock_b_ul)} of stock B; it makes {_charges(mix.charge_count)} of "
        f"{volume_words(needs.usual.developer_charge_ul)}",
        (
            f"It serves {serves}.",
            (
                f"Area of its {plates_words(mix.plates)} in the order of use, "
                f"{needs.usual.plates_per_charge} plates of the usual size per charge, each round in one charge: "
                f"{_charges(mix.charge_count)}, poured for {_joined(changes)}."
            ),
            (
                f"It lives {duration_words(needs.usual.developer_life_s)} from mixing, to {clock_at(mix.ends_at, zone)}; "
                f"the last plate leaves it at {last}, {margin_words(mix.margin_s)}."
            ),
            (
                f"Assumed: it is mixed {duration_words(MIX_LEAD_S)} before it is needed, a class may start "
                f"{duration_words(LATE_START_S)} late, and a charge is changed between two rounds in {duration_words(CHANGE_S)}."
            ),
            *_why_so_many(needs, zone),
        ),
    )


def _joined(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _why_so_many(needs: DayNeeds, zone: str) -> Iterator[str]:
    fails = needs.mixes.one_fewer
    if fails is not None:
        serves = _joined([name for name, _plates in plates_served(fails.rounds)])
        yield (
            f"With one mix fewer, at the best, {serves} would share one: mixed at {clock_at(fails.mixed_at, zone)} it lives to "
            f"{clock_at(fails.ends_at, zone)}, and the last plate leaves it at {exact_clock_at(fails.last_round.last_out_at, zone)}, "
            f"{margin_words(fails.margin_s)}. No other division of the day does better."
        )


def _charges(number: int) -> str:
    return "1 charge" if number == 1 else f"{number} charges"


def _room_of(need: StreamNeed) -> int:
    return 0 if need.fill is None else sum(vessel.room_ul for vessel in need.fill.vessels)


def _lay_out_lines(needs: DayNeeds) -> Iterator[PrepLine]:
    at = needs.starts_at - timedelta(seconds=LAY_OUT_LEAD_S)
    usual = needs.usual
    bleach = volume_words(needs.bleach_charges * usual.bleach_charge_ul)
    when = f"Assumed: laying out begins {duration_words(LAY_OUT_LEAD_S)} before the first rotation."
    for need in needs.streams:
        if need.fill is not None and need.needed_ul:
            yield PrepLine(
                f"waste-{need.source.replace(' ', '-')}",
                at,
                "",
                f"Set out the containers of “{need.stream}”: {volume_words(need.needed_ul)} come in",
                (
                    (
                        f"The open containers of this stream hold {volume_words(_room_of(need))} more up to their fill lines, "
                        "as the day began."
                    ),
                    when,
                ),
            )
    if needs.plates:
        yield PrepLine(
            "bleach",
            at,
            "",
            f"Have {bleach} of bleach ready: {_charges(needs.bleach_charges)} of "
            f"{volume_words(usual.bleach_charge_ul)}",
            (
                f"The area of {needs.plates} plates ÷ that of {usual.plates_per_charge} plates of the usual size per charge, rounded up.",
                when,
            ),
        )
        yield PrepLine(
            "rinse",
            at,
            "",
            f"Have {volume_words(needs.rinse_ul)} of rinse water ready",
            (
                (
                    f"{needs.plates} plates × {volume_words(usual.rinse_ul_per_plate)} of rinse per plate, "
                    "the tests and each rotation to the nearest mL."
                ),
                when,
            ),
        )
    for place in needs.stations:
        yield PrepLine(
            f"station-{place.id}",
            at,
            "",
            f"Set {place.name}: settle {duration_words(place.settle_s or 0)}, expose {duration_words(place.exposure_s or 0)}",
            (
                "The station's own times, from Stations. A meter reading under Exposure gives a new exposure time.",
                when,
            ),
        )


def _sheet_lines(session: LabSession, day: date, needs: DayNeeds, zone: str) -> Sequence[PrepLine]:
    ticks = list_ticks(session, day)
    lines = [
        *_plate_lines(needs, zone),
        *_lay_out_lines(needs),
        *(_mix_line(needs, mix, zone) for mix in needs.mixes.mixes),
    ]
    return [
        PrepLine(
            line.key,
            line.at,
            clock_at(line.at, zone) if day_at(line.at, zone) == day else moment_words(line.at, zone),
            line.words,
            line.reasons,
            f"{ticks[line.key].ticked_by}, {clock_at(ticks[line.key].ticked_at, zone)}"
            if line.key in ticks
            else "",
        )
        for line in sorted(lines, key=lambda line: line.at)
    ]


def shortages_of(needs: DayNeeds, zone: str) -> Sequence[str]:
    """A sentence for everything that the day needs and the lab hasn't got, each with what to do."""
    return [
        *_plate_shortages(needs),
        *_stock_shortages(needs),
        *_life_shortages(needs, zone),
        *_waste_shortages(needs),
    ]


def _plate_shortages(needs: DayNeeds) -> Iterator[str]:
    if needs.picks.short:
        expired = (
            f" Another {plates_words(needs.picks.expired)} are past their day." if needs.picks.expired else ""
        )
        yield (
            f"{plates_words(needs.picks.short)} of {needs.plates} are missing.{expired} "
            "Take in a plate box under Stock, or plan fewer plates."
        )


def _stock_shortages(needs: DayNeeds) -> Iterator[str]:
    for need in needs.stock:
        if need.needed_ul > need.there_ul:
            yield (
                f"{need.substance[0].upper()}{need.substance[1:]}: {volume_words(need.needed_ul)} are needed and "
                f"{volume_words(need.there_ul)} are there that may be used that day. {_DO_ABOUT_STOCK[need.substance]} under Stock."
            )


def _life_shortages(needs: DayNeeds, zone: str) -> Iterator[str]:
    for one in needs.mixes.too_long:
        yield (
            f"{one.name} outlasts the developer: mixed {duration_words(MIX_LEAD_S)} before "
            f"{clock_at(one.ready_by, zone)}, it is dead before the last plate leaves it at {clock_at(one.last_out_at, zone)}, and until "
            f"then there are never {duration_words(CHANGE_S)} in which a charge could be changed. Plan a break, or plan it shorter."
        )


def _waste_shortages(needs: DayNeeds) -> Iterator[str]:
    for need in needs.streams:
        if need.needed_ul and need.fill is None:
            yield f"No waste stream takes {need.source}, {volume_words(need.needed_ul)} come. Set one up under Waste."
        elif need.fill is not None and need.fill.first_over is not None:
            yield (
                f"“{need.stream}” has room for {volume_words(_room_of(need))} and {volume_words(need.needed_ul)} come: "
                f"it is over its fill line during {need.fill.first_over.name}. "
                "Open another container under Waste, or have it picked up before."
            )


def prep_page(session: LabSession, day: date, signed: Signed, now: datetime) -> PrepPage:
    zone, today = signed.time_zone, day_at(now, signed.time_zone)
    needs = find_day_needs(session, day, zone=zone)
    lines = [] if needs is None else _sheet_lines(session, day, needs, zone)
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
        lines=lines,
        done=sum(1 for line in lines if line.done),
        assumed=needs is not None and needs.usual.assumed,
        other_days=[
            (other, day_words(other)) for other in list_coming_days(session, now, zone) if other != day
        ],
    )


def next_sheet(session: LabSession, signed: Signed, now: datetime) -> PrepPage:
    """The sheet of the next day with a published rotation; today's, empty, where there is none."""
    coming = list_coming_days(session, now, signed.time_zone)
    return prep_page(session, coming[0] if coming else day_at(now, signed.time_zone), signed, now)
