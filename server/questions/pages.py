"""What the page of a rotation's question shows, and the page that takes in a class file."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from server.charges.queries import find_developer_charge, find_size_at_hand
from server.chemistry.queries import get_usual_quantities
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.units import duration_words
from server.core.working_solution import plates_within
from server.data.session import LabSession
from server.people.queries import list_section_names, list_students
from server.questions.forms import (
    AskedOfGroup,
    ClassTimes,
    NewBreak,
    NewMix,
    NewName,
    ReserveRounds,
    TakenFile,
)
from server.rotations.forms import NewPeriod
from server.rotations.models import Period, PeriodBreak, Rotation, RotationMix, RotationState
from server.rotations.queries import (
    get_class_time,
    get_plan,
    get_rotation,
    list_asked_groups,
    list_breaks,
    list_mixes,
    list_periods,
    list_steps,
)
from server.stations.models import Bath
from server.stations.queries import list_stations, list_trays
from server.students.models import Arrangement
from server.students.queries import list_group_needs
from server.web.submitted import Submitted


@dataclass(frozen=True)
class QuestionForms:
    """What was typed into the forms of the page."""

    times: Submitted[ClassTimes] = field(default_factory=Submitted)
    period: Submitted[NewPeriod] = field(default_factory=Submitted)
    of_break: Submitted[NewBreak] = field(default_factory=Submitted)
    groups: Sequence[Submitted[AskedOfGroup]] = ()
    mix: Submitted[NewMix] = field(default_factory=Submitted)
    reserve: Submitted[ReserveRounds] = field(default_factory=Submitted)
    name: Submitted[NewName] = field(default_factory=Submitted)


@dataclass(frozen=True)
class BreakLine:
    id: int
    words: str


@dataclass(frozen=True)
class PeriodLine:
    id: int
    words: str
    breaks: Sequence[BreakLine]


@dataclass(frozen=True)
class GroupLine:
    """A group with what is asked of it; `people` is how many it has, `needs` what is arranged in it that its plan has to know of."""

    group_id: int
    group: str
    people: int
    plates: int
    tied_place_id: int | None
    is_new: bool
    form: Submitted[AskedOfGroup]
    needs: Sequence[str]


@dataclass(frozen=True)
class MixLine:
    id: int
    words: str


@dataclass(frozen=True)
class OfferedMix:
    """What the form for a mix holds before something is typed, and where that is from."""

    mixed_on: date | None
    mixed_at: str
    life_h: str
    serves: int
    source: str


@dataclass(frozen=True)
class QuestionPage:
    """`may_change` is false while the rotation is published or its question is a class file."""

    id: int
    name: str
    section: str
    is_published: bool
    is_from_file: bool
    may_change: bool
    periods: Sequence[PeriodLine]
    period_choices: Sequence[tuple[int, str]]
    day: date | None
    talk_min: int
    clean_up_min: int
    class_time: str
    groups: Sequence[GroupLine]
    group_faults: int
    usual_plates: int
    stations: Sequence[tuple[int, str]]
    ties: Sequence[str]
    plates_words: str
    mixes: Sequence[MixLine]
    offered: OfferedMix
    trays: int
    reserve_rounds: int
    steps: str
    loses: str
    forms: QuestionForms


@dataclass(frozen=True)
class TakeInPage:
    sections: Sequence[tuple[int, str]]
    form: Submitted[TakenFile]


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def _period_line(period: Period, breaks: Sequence[PeriodBreak], zone: str) -> PeriodLine:
    return PeriodLine(
        period.id,
        f"{moment_words(period.starts_at, zone)} to {clock_at(period.ends_at, zone)}",
        [
            BreakLine(one.id, f"{one.name} {clock_at(one.starts_at, zone)} to {clock_at(one.ends_at, zone)}")
            for one in breaks
            if one.period_id == period.id
        ],
    )


def _class_time_words(session: LabSession, rotation: Rotation) -> str:
    time = get_class_time(session, rotation)
    left = sum((piece.length for piece in time.plates), timedelta())
    pieces = "" if len(time.plates) == 1 else f" in {len(time.plates)} pieces"
    return f"{duration_words(round(left.total_seconds()))} for plates{pieces}"


def _group_lines(
    session: LabSession, rotation: Rotation, typed: Sequence[Submitted[AskedOfGroup]]
) -> list[GroupLine]:
    people = Counter(student.group_id for student in list_students(session, rotation.section_id))
    forms = {str(form.value("group_id")): form for form in typed}
    needs = list_group_needs(session, rotation.section_id)
    return [
        GroupLine(
            asked.group.id,
            asked.group.name,
            people[asked.group.id],
            asked.plates,
            asked.tied_place_id,
            asked.is_new,
            forms.get(str(asked.group.id), Submitted()),
            [_need_words(one, asked.tied_place_id) for one in needs.get(asked.group.id, ())],
        )
        for asked in list_asked_groups(session, rotation)
    ]


def _need_words(need: Arrangement, tied_place_id: int | None) -> str:
    """What is arranged, and what to do about it here."""
    if need is Arrangement.LOW_BENCH:
        return "a low bench station" + ("" if tied_place_id else ", so choose its station below")
    if need is Arrangement.ADAPT:
        return "longer time to adapt to the dark, so call the lights off earlier or give it a later round"
    return "more time for each step, so leave room behind its plates"


def _mix_line(mix: RotationMix, zone: str) -> MixLine:
    dies_at = mix.mixed_at + timedelta(seconds=mix.life_s)
    serves = "as many plates as come" if mix.plates is None else _count(mix.plates, "plate")
    return MixLine(
        mix.id,
        f"mixed {moment_words(mix.mixed_at, zone)}, alive until {moment_words(dies_at, zone)}, {serves}",
    )


def _hours(seconds: int) -> str:
    return f"{seconds / 3600:.2f}".rstrip("0").rstrip(".")


def _offered_mix(session: LabSession, begins: datetime | None, now: datetime, zone: str) -> OfferedMix:
    """The charge in a developer tray where it is alive when the class begins, else the usual quantities."""
    usual = get_usual_quantities(session)
    found = find_developer_charge(session, now)
    if found is not None and begins is not None:
        batch, size = found.first_ending.batch, find_size_at_hand(session)
        if begins < found.ends_at:
            return OfferedMix(
                day_at(batch.mixed_at, zone),
                clock_at(batch.mixed_at, zone),
                _hours(round((found.ends_at - batch.mixed_at).total_seconds())),
                plates_within(area_mm2=found.charge.room_mm2, plate_mm2=size.area_mm2),
                f"Offered here: {found.batches}, in a tray now, with the room it has for plates of {size.words}.",
            )
    mixed_at = None if begins is None else begins - timedelta(seconds=usual.mix_lead_s)
    return OfferedMix(
        None if mixed_at is None else day_at(mixed_at, zone),
        "" if mixed_at is None else clock_at(mixed_at, zone),
        _hours(usual.developer_life_s),
        usual.plates_per_charge,
        "Offered here: the lab's usual quantities"
        + (", which are still the assumed ones." if usual.assumed else "."),
    )


def question_page(
    session: LabSession, rotation_id: int, zone: str, now: datetime, forms: QuestionForms | None = None
) -> QuestionPage:
    rotation = get_rotation(session, rotation_id)
    typed = forms or QuestionForms()
    periods, breaks = list_periods(session, rotation_id), list_breaks(session, rotation_id)
    groups = _group_lines(session, rotation, typed.groups)
    stations = {station.id: station.name for station in list_stations(session)}
    plan = get_plan(session, rotation_id)
    begins = periods[0].starts_at if periods else None
    is_published = rotation.state == RotationState.PUBLISHED
    lines = [_period_line(period, breaks, zone) for period in periods]
    return QuestionPage(
        id=rotation.id,
        name=rotation.name,
        section=list_section_names(session)[rotation.section_id],
        is_published=is_published,
        is_from_file=rotation.class_file is not None,
        may_change=not is_published and rotation.class_file is None,
        periods=lines,
        period_choices=[(line.id, line.words) for line in lines],
        day=None if begins is None else day_at(begins, zone),
        talk_min=rotation.talk_s // 60,
        clean_up_min=rotation.clean_up_s // 60,
        class_time=_class_time_words(session, rotation),
        groups=groups,
        group_faults=sum(len(form.errors) for form in typed.groups),
        usual_plates=rotation.plates_per_group,
        stations=list(stations.items()),
        ties=[f"{one.group} at {stations[one.tied_place_id]}" for one in groups if one.tied_place_id],
        plates_words=f"{_count(len(groups), 'group')}, {_count(sum(one.plates for one in groups), 'plate')}",
        mixes=[_mix_line(mix, zone) for mix in list_mixes(session, rotation_id)],
        offered=_offered_mix(session, begins, now, zone),
        trays=len([tray for tray in list_trays(session, Bath.DEVELOPER) if not tray.out_of_order]),
        reserve_rounds=rotation.reserve_rounds,
        steps=", ".join(step.name for step in list_steps(session, rotation_id)) or "none yet",
        loses=""
        if plan is None
        else f"its plan of {day_words(day_at(plan.starts_at, zone))} with {_count(plan.plates_planned, 'plate')}",
        forms=typed,
    )


def take_in_page(session: LabSession, form: Submitted[TakenFile] | None = None) -> TakeInPage:
    sections = list_section_names(session)
    return TakeInPage(sorted(sections.items(), key=lambda section: section[1]), form or Submitted())
