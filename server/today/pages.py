"""What Today and the board show."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from server.charges.pages import override_words
from server.charges.queries import find_size_at_hand, list_charges, state_of_charge
from server.chemistry.queries import list_live_batches, usable_until
from server.core.board_state import Colour
from server.core.container_life import TAKES_MORE
from server.core.fill_words import headline
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.units import duration_words, plates_words, volume_words
from server.core.working_solution import ChargeState, plates_within
from server.data.session import LabSession
from server.forecasts.pages import telling_of
from server.forecasts.queries import LabForecast, StreamForecast, get_forecast
from server.kits.queries import list_every_bottle
from server.limits.pages import clock_state
from server.limits.queries import list_clocks
from server.people.access import Signed
from server.people.queries import list_groups, list_section_names, list_sections, list_students
from server.pickups.pages import list_worries
from server.pickups.queries import list_pickups
from server.plates.queries import light_words, list_plate_boxes
from server.prep.queries import list_coming_days
from server.recipes.models import Solution
from server.rotations.models import RotationState
from server.rotations.queries import (
    list_rotations,
    list_rotations_of_day,
)
from server.runs.models import Run
from server.runs.pages import due_words, state_words
from server.runs.queries import count_verdicts, is_verdict_due, list_slots, list_veiled, list_waiting
from server.safety.pages import ADDRESSES, words_of
from server.safety.queries import list_checks, list_open_findings
from server.shelves.queries import list_left_open
from server.stations.models import PlaceKind
from server.stations.queries import list_places
from server.stock.queries import list_expiring
from server.supplies.pages import begun, order_note
from server.supplies.queries import find_supplies
from server.tablets.queries import find_screen_colour
from server.web.submitted import Form, Submitted

# Assumed: a container deserves a look from this part of its fill line on, and a charge this long before its end.
_NEARLY_FULL_PERCENT = 80
_NEARLY_OVER = timedelta(hours=1)
_REQUEST_SOON = timedelta(days=2)
_WASTE_DUE_SOON = timedelta(days=14)
# Schedules are booked far ahead; what is due within a fortnight is enough for today.
_REQUEST_IN_VIEW = timedelta(days=14)
_NO_ROOM_SOON, _AT_WORST_SOON = timedelta(days=14), timedelta(days=7)


@dataclass(frozen=True)
class FirstStep:
    words: str
    address: str
    done: bool


@dataclass(frozen=True)
class NextClass:
    """The rotation that is going on or comes next today or tomorrow. `number` is the time to its start or to its end."""

    rotation_id: int
    name: str
    number: str
    is_on: bool
    when: str
    groups: str
    plates: str
    prep_day: str
    colour: Colour


@dataclass(frozen=True)
class Item:
    """A line of Today: `state` is well, watch or stop, `state_words` says it."""

    what: str
    detail: str
    state: str
    state_words: str
    address: str


@dataclass(frozen=True)
class TodayPage:
    """`later` is the next day with a class, for when none is today or tomorrow."""

    day: str
    steps: Sequence[FirstStep]
    next_class: NextClass | None
    later: Sequence[tuple[str, str]]
    runs_out: Sequence[Item]
    due: Sequence[Item]


def _first_steps(session: LabSession) -> Sequence[FirstStep]:
    """What a new lab does first, ticked by what is there; nothing once all of it is."""
    sections = list_section_names(session)
    places = {place.kind for place in list_places(session)}
    rotations = list_rotations(session)
    steps = [
        FirstStep(
            "Add a section, enter its students and form groups",
            "/people",
            any(list_students(session, section) and list_groups(session, section) for section in sections),
        ),
        FirstStep(
            "Describe the room: zones, a tray line and stations",
            "/stations",
            {PlaceKind.STATION, PlaceKind.TRAY} <= places,
        ),
        FirstStep(
            "Take in a kit and a plate box",
            "/stock",
            bool(list_every_bottle(session)) and bool(list_plate_boxes(session)),
        ),
        FirstStep(
            "Plan a rotation and publish it",
            "/rotations",
            any(rotation.state == RotationState.PUBLISHED for rotation in rotations),
        ),
    ]
    return [] if all(step.done for step in steps) else steps


def _minutes(span: timedelta) -> str:
    """Whole minutes, rounded up, so that a class never seems closer than it is by the minute hand."""
    return duration_words(-(-int(span.total_seconds()) // 60) * 60)


def _next_class(session: LabSession, signed: Signed, now: datetime) -> NextClass | None:
    zone, today = signed.time_zone, day_at(now, signed.time_zone)
    days = [("today", today), ("tomorrow", today + timedelta(days=1))]
    classes = [(words, day, one) for words, day in days for one in list_rotations_of_day(session, day, zone)]
    found = next(((words, day, one) for words, day, one in classes if one.ends_at > now), None)
    if found is None:
        return None
    words, day, one = found
    is_on = one.starts_at <= now
    return NextClass(
        rotation_id=one.rotation_id,
        name=one.name,
        number=_minutes(one.ends_at - now if is_on else one.starts_at - now),
        is_on=is_on,
        when=f"{words}, {clock_at(one.starts_at, zone)} to {clock_at(one.ends_at, zone)}",
        groups="1 group" if one.groups == 1 else f"{one.groups} groups",
        plates=plates_words(one.plates),
        prep_day=day.isoformat(),
        colour=find_screen_colour(session, now),
    )


def _charge_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    size = find_size_at_hand(session)
    for found in list_charges(session):
        state = state_of_charge(found, now, plate_mm2=size.area_mm2)
        room = plates_within(area_mm2=found.charge.room_mm2, plate_mm2=size.area_mm2)
        until = f"ends {moment_words(found.ends_at, signed.time_zone)}"
        kind, words = "well", f"room for {plates_words(room)}"
        if state is not ChargeState.USABLE:
            kind, words = "stop", state
        elif found.ends_at - now < _NEARLY_OVER:
            kind, words = "watch", f"{_minutes(found.ends_at - now)} left"
        yield Item(
            f"{found.charge.solution.capitalize()} in {found.tray.name}",
            "; ".join(
                [
                    f"{found.batches}, {until}",
                    f"{plates_words(found.charge.plates)} through",
                    *(override_words(override, signed.time_zone) for override in found.overrides),
                ]
            ),
            kind,
            words,
            "/charges",
        )


def _batch_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    for batch in list_live_batches(session, now):
        soon = usable_until(batch) - now < _NEARLY_OVER
        yield Item(
            f"{Solution(batch.solution).capitalize()}, batch {batch.number}",
            f"{volume_words(batch.left_ul)} in its bottle, ends {moment_words(usable_until(batch), signed.time_zone)}",
            "watch" if soon else "well",
            f"{_minutes(usable_until(batch) - now)} left" if soon else "alive",
            "/chemistry",
        )


def _supply_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    """Plates against the term, and whatever is to be ordered soon or too late to arrive in time."""
    found = find_supplies(session, now, signed.time_zone)
    plates = found.plates
    if plates.order is None and (plates.days or plates.there):
        needed = plates.needs[-1].needed if plates.needs else 0
        yield Item(
            "Plates",
            f"{plates_words(plates.there)} on the shelf, {needed} needed for the classes ahead, with reserve",
            "well",
            "enough",
            "/supplies",
        )
    for supply in found.all:
        note = order_note(supply, found.term.today)
        if note is not None and (note.kind != "well" or supply is plates):
            yield Item(begun(supply.what), note.sentence, note.kind, note.state, "/supplies")


def _light_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    for box in list_plate_boxes(session):
        if box.light_at is not None and box.plates_left and not box.is_fogged:
            yield Item(
                f"Plate box “{box.name}”",
                f"{plates_words(box.plates_left)}, {light_words(box.light_at, now, signed.time_zone)}",
                "watch",
                "fog test wanted",
                f"/stock/plate-boxes/{box.id}",
            )


def _expiring_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    for found in list_expiring(session, day_at(now, signed.time_zone)):
        yield Item(
            found.what[0].upper() + found.what[1:],
            f"{found.left}, last good day {day_words(found.expires_on)}",
            "stop" if found.expired else "watch",
            "expired" if found.expired else "expires soon",
            found.address,
        )


def _stream_items(forecast: StreamForecast, found: LabForecast) -> Iterator[Item]:
    """A stream that will not hold, at once where that is within two weeks; one that may not at worst, where that is within one."""
    said, now = headline(telling_of(forecast, found)), found.shelf.now
    likely, worst = forecast.fill.first_over, forecast.fill.first_over_at_worst
    soon = worst is not None and worst.at < now + _AT_WORST_SOON
    if likely is not None or soon:
        yield Item(
            f"Waste “{forecast.stream.name}”",
            f"{said.figure}: {said.words}",
            "stop" if likely is not None and likely.at < now + _NO_ROOM_SOON else "watch",
            "will not hold" if likely is not None else "may not hold",
            "/waste/forecast",
        )
    for container in forecast.containers:
        full = container.held_ul * 100 // container.fill_line_ul
        if full >= _NEARLY_FULL_PERCENT and container.state in TAKES_MORE:
            yield Item(
                f"Waste container “{container.name}”",
                f"{volume_words(container.held_ul)} of {volume_words(container.fill_line_ul)} to its fill line",
                "stop" if container.held_ul >= container.fill_line_ul else "watch",
                f"{full} % full",
                "/waste",
            )


def _runs_out(session: LabSession, signed: Signed, now: datetime) -> Sequence[Item]:
    items = [
        *_charge_items(session, signed, now),
        *_batch_items(session, signed, now),
        *_supply_items(session, signed, now),
        *_light_items(session, signed, now),
        *_expiring_items(session, signed, now),
    ]
    found = get_forecast(session, now=now, zone=signed.time_zone)
    for forecast in found.streams:
        items.extend(_stream_items(forecast, found))
    return sorted(items, key=lambda item: ("stop", "watch", "well").index(item.state))


def _pickup_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    for worry in list_worries(session, now=now, zone=signed.time_zone):
        yield Item(worry.title, worry.words, "stop", worry.state_words, worry.address)
    for pickup in list_pickups(session, since=day_at(now, signed.time_zone)):
        if (
            pickup.is_over
            or pickup.requested_at is not None
            or not now <= pickup.request_by < now + _REQUEST_IN_VIEW
        ):
            continue
        by = moment_words(pickup.request_by, signed.time_zone)
        soon = pickup.request_by - now < _REQUEST_SOON
        yield Item(
            f"Pickup on {day_words(pickup.on_day)}",
            f"request it by {by}",
            "watch" if soon else "well",
            "to request",
            f"/waste/pickups/{pickup.id}",
        )


def _waste_clock_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    """Waste that must be gone, or looked into, within two weeks."""
    today = day_at(now, signed.time_zone)
    for running in list_clocks(session, today, zone=signed.time_zone):
        days = (running.due - today).days
        if days <= _WASTE_DUE_SOON.days:
            state, left = clock_state(days)
            yield Item(f"Waste: {running.of}", running.clock.says, state, left, running.address)


def _verdict_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    """Plates without a verdict: a reminder from the day after their exposure on, and until then a line to know of."""
    names, counted, slots = list_section_names(session), count_verdicts(session), list_slots(session)
    waiting: dict[int, list[Run]] = defaultdict(list)
    for run in list_waiting(session):
        waiting[run.section_id].append(run)
    for section_id, runs in waiting.items():
        due = [run for run in runs if is_verdict_due(run, now, signed.time_zone)]
        detail = state_words(counted[section_id], [slots[run.id] for run in runs if run.id in slots])
        yield Item(
            f"Verdicts of {names[section_id]}",
            f"{detail} Due: {due_words(due, slots)}." if due else detail,
            "watch" if due else "well",
            f"{len(due)} due" if due else "to rate when dry",
            f"/runs?section={section_id}",
        )


def _name_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    """Sections whose term is over while their students' names are still kept; erasing them is the instructor's."""
    today = day_at(now, signed.time_zone)
    for section in list_sections(session) if signed.is_instructor else ():
        ends = section.term_ends_on
        if ends is None or ends >= today or section.names_erased_at is not None:
            continue
        if list_students(session, section.id):
            yield Item(
                f"Names of {section.name}",
                f"The term ended on {day_words(ends)}. Once the marks are given, erase the students' names; codes and runs stay.",
                "watch",
                "to erase",
                f"/people/names?section={section.id}",
            )


def _photo_items(session: LabSession) -> Iterator[Item]:
    names = list_section_names(session)
    for run in list_veiled(session):
        yield Item(
            f"Photos of run {run.number} of {names[run.section_id]}",
            "Somebody of the group has taken back that photos may be used. They are shown to nobody: remove them.",
            "watch",
            "to remove",
            f"/runs/{run.id}",
        )


def _safety_items(session: LabSession, signed: Signed, now: datetime) -> Iterator[Item]:
    for check in list_checks(session, day_at(now, signed.time_zone)):
        address = ADDRESSES.get(check.check, "/safety")
        if check.is_due(now):
            since = (
                "never recorded"
                if check.due_at is None
                else f"was due {day_words(day_at(check.due_at, signed.time_zone))}"
            )
            yield Item(f"Safety round: {check.check}", since, "stop", "overdue", address)
    for found in list_open_findings(session):
        when = f"found {moment_words(found.round.done_at, signed.time_zone)}"
        yield Item(
            f"Waste container “{found.container.name}”",
            f"{words_of(found.finding)}; {when}",
            "stop",
            "not put right",
            "/safety",
        )


def _lid_items(session: LabSession, signed: Signed) -> Iterator[Item]:
    for container, since in list_left_open(session):
        yield Item(
            f"Waste container “{container.name}”",
            f"lid off since {moment_words(since, signed.time_zone)}: closed except while pouring; a funnel in the neck is an open lid",
            "watch",
            "left open",
            f"/waste/containers/{container.id}",
        )


def today_page(session: LabSession, signed: Signed, now: datetime) -> TodayPage:
    days = list_coming_days(session, now, signed.time_zone)
    return TodayPage(
        day=day_words(day_at(now, signed.time_zone)),
        steps=_first_steps(session),
        next_class=_next_class(session, signed, now),
        later=[(day.isoformat(), day_words(day)) for day in days[:1]],
        runs_out=_runs_out(session, signed, now),
        due=[
            *_safety_items(session, signed, now),
            *_lid_items(session, signed),
            *_pickup_items(session, signed, now),
            *_waste_clock_items(session, signed, now),
            *_verdict_items(session, signed, now),
            *_photo_items(session),
            *_name_items(session, signed, now),
        ],
    )


@dataclass(frozen=True)
class PartsPage:
    """Every part of a page, and one form as it was submitted with faults in it."""

    form: Submitted[Form]
    now: datetime
    until: datetime


def parts_page(now: datetime) -> PartsPage:
    faults = {
        "plates": "Please write a whole number, such as 12.",
        "spilled": "Please choose one of the list.",
    }
    typed = {
        "name": "Tuesday",
        "plates": "twelve",
        "spilled": "",
        "comment": "Lifted the card\ntoo early.",
        "ready": "true",
    }
    return PartsPage(Submitted(typed, faults), now, now + timedelta(hours=6))
