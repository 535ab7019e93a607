"""What the pages of a section and its students show."""

from collections.abc import Sequence
from dataclasses import dataclass

import segno

from server.data.session import LabSession
from server.people.queries import get_section, list_codes, list_groups, list_students
from server.students.forms import GroupSize, NewStudents, SectionDetails
from server.web.submitted import Submitted

DEFAULT_GROUP_SIZE = 3


@dataclass(frozen=True)
class StudentLine:
    """A student on the staff's list; `group_id` is none where the student is in no group."""

    id: int
    name: str
    code: str
    group_id: int | None


@dataclass(frozen=True)
class GroupLine:
    name: str
    members: Sequence[str]


@dataclass(frozen=True)
class SectionPage:
    """`class_link` is the whole address a tablet opens, `class_link_code` the same as an SVG to point a camera at."""

    id: int
    name: str
    short_name: str
    term_ends_on: str
    class_code: str
    class_link: str
    class_link_code: str
    students: Sequence[StudentLine]
    group_names: Sequence[tuple[int, str]]
    groups: Sequence[GroupLine]
    details_form: Submitted[SectionDetails]
    students_form: Submitted[NewStudents]
    size_form: Submitted[GroupSize]
    size: int


def _as_svg(address: str) -> str:
    drawing = segno.make(address, micro=False)
    return drawing.svg_inline(omitsize=True, border=2, title="The class link", svgclass=None, lineclass=None)


def section_page(
    session: LabSession,
    section_id: int,
    link: str,
    *,
    details_form: Submitted[SectionDetails] | None = None,
    students_form: Submitted[NewStudents] | None = None,
    size_form: Submitted[GroupSize] | None = None,
) -> SectionPage:
    section = get_section(session, section_id)
    students, codes = list_students(session, section_id), list_codes(session, section_id)
    names = {group.id: group.name for group in list_groups(session, section_id)}
    members = {
        group_id: [student.name for student in students if student.group_id == group_id] for group_id in names
    }
    return SectionPage(
        id=section.id,
        name=section.name,
        short_name=section.short_name,
        term_ends_on="" if section.term_ends_on is None else section.term_ends_on.isoformat(),
        class_code=section.class_code,
        class_link=link + section.class_code,
        class_link_code=_as_svg(link + section.class_code),
        students=[
            StudentLine(one.id, one.name, codes.get(one.id, "no group yet"), one.group_id)
            for one in sorted(students, key=lambda one: codes.get(one.id, ""))
        ],
        group_names=list(names.items()),
        groups=[GroupLine(names[group_id], people) for group_id, people in members.items()],
        details_form=details_form or Submitted(),
        students_form=students_form or Submitted(),
        size_form=size_form or Submitted(),
        size=max((len(people) for people in members.values()), default=DEFAULT_GROUP_SIZE),
    )
