"""What the pages of a section and its students show."""

from collections import Counter
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import datetime

import segno

from server.core.moments import day_at, day_words, moment_words
from server.core.roles import FEWEST_IN_THE_DARK
from server.data.session import LabSession
from server.people.models import Student
from server.people.queries import (
    day_in_lab,
    get_lab,
    get_section,
    get_student,
    list_codes,
    list_groups,
    list_sections,
    list_students,
)
from server.students.forms import TICKS, Arranged, Erasure, GroupSize, NewStudents, SectionDetails, Signatures
from server.students.models import Arrangement, Signing
from server.students.queries import (
    Naming,
    Papers,
    list_adjustments,
    list_away,
    list_consents,
    list_lit,
    list_naming,
    list_papers,
)
from server.web.submitted import Submitted

DEFAULT_GROUP_SIZE = 3


@dataclass(frozen=True)
class StudentLine:
    """A student on the staff's list; `name` is the code once the name was erased, `group_id` none where there is no group."""

    id: int
    name: str
    code: str
    group_id: int | None
    is_away: bool


@dataclass(frozen=True)
class GroupLine:
    """A group; `alone` says that too few of it are there for the dark today."""

    name: str
    members: Sequence[str]
    alone: bool


@dataclass(frozen=True)
class SectionPage:
    """`class_link` is the whole address a tablet opens, `class_link_code` the same as an SVG to point a camera at.

    `unsigned` names who keeps to the light until the papers are there. `erased_on` is empty while names are kept.
    """

    id: int
    name: str
    short_name: str
    term_ends_on: str
    class_code: str
    class_link: str
    class_link_code: str
    erased_on: str
    students: Sequence[StudentLine]
    unsigned: Sequence[str]
    group_names: Sequence[tuple[int, str]]
    groups: Sequence[GroupLine]
    details_form: Submitted[SectionDetails]
    students_form: Submitted[NewStudents]
    size_form: Submitted[GroupSize]
    size: int


@dataclass(frozen=True)
class TickLine:
    """A student in the table of consents: `ticks` are (what stands in the form, its words, whether it is so)."""

    name: str
    code: str
    ticks: Sequence[tuple[str, str, bool]]
    state: str
    missing: str


@dataclass(frozen=True)
class ConsentLine:
    day: str
    name: str
    what: str
    kept: str


@dataclass(frozen=True)
class ConsentsPage:
    id: int
    section: str
    today: str
    heads: Sequence[str]
    lines: Sequence[TickLine]
    missing: int
    history: Sequence[ConsentLine]
    form: Submitted[Signatures]


@dataclass(frozen=True)
class AgreementPage:
    """A blank to be signed on paper."""

    id: int
    section: str
    lab: str


@dataclass(frozen=True)
class ArrangedLine:
    id: int
    name: str
    code: str
    arranged: Sequence[str]


@dataclass(frozen=True)
class AdjustmentsPage:
    """Who has what arranged, for staff who need to know."""

    id: int
    section: str
    lines: Sequence[ArrangedLine]


@dataclass(frozen=True)
class StudentPage:
    """`chosen` are the arrangements of the list that are ticked."""

    section_id: int
    section: str
    id: int
    name: str
    arrangements: Sequence[tuple[str, bool]]
    words: str
    form: Submitted[Arranged]


@dataclass(frozen=True)
class ErasableLine:
    """A section whose names are still kept; `typed` is where its names stand besides, as somebody typed them."""

    id: int
    name: str
    students: int
    consents: int
    adjustments: int
    term: str
    is_over: bool
    is_chosen: bool
    typed: str


@dataclass(frozen=True)
class NamesPage:
    """`erased` are the sections of which only codes are left, with the day."""

    lines: Sequence[ErasableLine]
    erased: Sequence[tuple[int, str, str]]
    form: Submitted[Erasure]


def _as_svg(address: str) -> str:
    drawing = segno.make(address, micro=False)
    return drawing.svg_inline(omitsize=True, border=2, title="The class link", svgclass=None, lineclass=None)


def _called(student: Student, codes: Mapping[int, str]) -> str:
    """What the staff's pages call a student: the name, and once it was erased the code."""
    return student.name or codes.get(student.id, f"student {student.id}")


def _by_code(students: Sequence[Student], codes: Mapping[int, str]) -> list[Student]:
    return sorted(students, key=lambda one: (one.id in codes, one.group_id or 0, one.letter, one.name))


def section_page(
    session: LabSession,
    section_id: int,
    link: str,
    now: datetime,
    *,
    details_form: Submitted[SectionDetails] | None = None,
    students_form: Submitted[NewStudents] | None = None,
    size_form: Submitted[GroupSize] | None = None,
) -> SectionPage:
    section = get_section(session, section_id)
    erased_at = section.names_erased_at
    codes = list_codes(session, section_id)
    students = _by_code(list_students(session, section_id), codes)
    papers = list_papers(session, section_id)
    today = day_in_lab(session, now)
    away = list_away(session, section_id, today)
    groups = list_groups(session, section_id)
    members = {group.id: [one for one in students if one.group_id == group.id] for group in groups}
    out = away | list_lit(session, section_id, today)
    return SectionPage(
        id=section.id,
        name=section.name,
        short_name=section.short_name,
        term_ends_on="" if section.term_ends_on is None else section.term_ends_on.isoformat(),
        class_code=section.class_code,
        class_link=link + section.class_code,
        class_link_code=_as_svg(link + section.class_code),
        erased_on="" if erased_at is None else day_words(day_at(erased_at, get_lab(session).time_zone)),
        students=[
            StudentLine(
                one.id, _called(one, codes), codes.get(one.id, "no group yet"), one.group_id, one.id in away
            )
            for one in students
        ],
        unsigned=[_called(one, codes) for one in students if papers[one.id].missing and erased_at is None],
        group_names=[(group.id, group.name) for group in groups],
        groups=[
            GroupLine(
                group.name,
                [_called(one, codes) for one in members[group.id]],
                len(members[group.id]) > 0
                and sum(one.id not in out for one in members[group.id]) < FEWEST_IN_THE_DARK,
            )
            for group in groups
        ],
        details_form=details_form or Submitted(),
        students_form=students_form or Submitted(),
        size_form=size_form or Submitted(),
        size=max((len(people) for people in members.values()), default=DEFAULT_GROUP_SIZE)
        or DEFAULT_GROUP_SIZE,
    )


def names_page(
    session: LabSession, now: datetime, form: Submitted[Erasure] | None = None, section_id: int | None = None
) -> NamesPage:
    today, zone = day_in_lab(session, now), get_lab(session).time_zone
    typed = form or Submitted[Erasure]()
    chosen = {str(one) for one in typed.value("section_ids", [] if section_id is None else [section_id])}
    students = {section.id: list_students(session, section.id) for section in list_sections(session)}
    naming = list_naming(session, {one.name for own in students.values() for one in own if one.name})
    lines, erased = [], []
    for section in list_sections(session):
        if section.names_erased_at is not None:
            erased.append((section.id, section.name, day_words(day_at(section.names_erased_at, zone))))
            continue
        if not students[section.id]:
            continue
        ends = section.term_ends_on
        lines.append(
            ErasableLine(
                section.id,
                section.name,
                len(students[section.id]),
                len(list_consents(session, section.id)),
                sum(len(own) for own in list_adjustments(session, section.id).values()),
                "no last day is set" if ends is None else f"ends on {day_words(ends)}",
                ends is not None and ends < today,
                str(section.id) in chosen,
                _typed_elsewhere(naming, {one.name for one in students[section.id]}),
            )
        )
    return NamesPage(lines, erased, typed)


def _typed_elsewhere(naming: Sequence[Naming], names: AbstractSet[str]) -> str:
    rows = Counter(one.table_name for one in naming if one.names & names)
    return "; ".join(f"{count} of “{table.replace('_', ' ')}”" for table, count in rows.items())


def consents_page(
    session: LabSession, section_id: int, now: datetime, form: Submitted[Signatures] | None = None
) -> ConsentsPage:
    section, zone = get_section(session, section_id), get_lab(session).time_zone
    codes = list_codes(session, section_id)
    students = _by_code(list_students(session, section_id), codes)
    papers = list_papers(session, section_id)
    names = {one.id: _called(one, codes) for one in students}
    typed = form or Submitted[Signatures]()
    return ConsentsPage(
        id=section.id,
        section=section.name,
        today=day_in_lab(session, now).isoformat(),
        heads=["under age" if signing is None else signing.value for signing in TICKS.values()],
        lines=[_tick_line(one, names[one.id], codes, papers[one.id], typed) for one in students],
        missing=sum(bool(own.missing) for own in papers.values()),
        history=[
            ConsentLine(
                one.on_day.isoformat(),
                names[one.student_id],
                f"{one.signing} {'given' if one.given else 'taken back'}",
                f"{one.kept_by}, {moment_words(one.kept_at, zone)}",
            )
            for one in reversed(list_consents(session, section_id))
        ],
        form=typed,
    )


def _tick_line(
    student: Student, name: str, codes: Mapping[int, str], papers: Papers, form: Submitted[Signatures]
) -> TickLine:
    kept = {
        key: student.is_minor if signing is None else papers.has(signing) for key, signing in TICKS.items()
    }
    typed = form.value("ticks", [])
    ticks = [
        (
            f"{key}-{student.id}",
            "under age" if signing is None else signing.value,
            f"{key}-{student.id}" in typed if form.values else kept[key],
        )
        for key, signing in TICKS.items()
    ]
    asked = [*papers.missing, *([] if papers.has(Signing.PHOTO) else [Signing.PHOTO])]
    state = "stop" if papers.missing else "watch" if asked else "well"
    words = f"no {' and no '.join(asked)}" if asked else "all signed"
    return TickLine(name, codes.get(student.id, "no group yet"), ticks, state, words)


def agreement_page(session: LabSession, section_id: int) -> AgreementPage:
    section = get_section(session, section_id)
    return AgreementPage(section.id, section.name, get_lab(session).name)


def adjustments_page(session: LabSession, section_id: int) -> AdjustmentsPage:
    section = get_section(session, section_id)
    codes, arranged = list_codes(session, section_id), list_adjustments(session, section_id)
    return AdjustmentsPage(
        section.id,
        section.name,
        [
            ArrangedLine(
                one.id,
                _called(one, codes),
                codes.get(one.id, "no group yet"),
                [own.words or own.arrangement for own in arranged.get(one.id, ())],
            )
            for one in _by_code(list_students(session, section_id), codes)
        ],
    )


def student_page(
    session: LabSession, section_id: int, student_id: int, form: Submitted[Arranged] | None = None
) -> StudentPage:
    student, section = get_student(session, section_id, student_id), get_section(session, section_id)
    kept = list_adjustments(session, section_id).get(student.id, [])
    typed = form or Submitted[Arranged]()
    chosen = typed.value("arrangements", [one.arrangement for one in kept])
    return StudentPage(
        section.id,
        section.name,
        student.id,
        _called(student, list_codes(session, section_id)),
        [(one.value, one.value in chosen) for one in Arrangement if one is not Arrangement.OTHER],
        next((one.words for one in kept if one.words), ""),
        typed,
    )
