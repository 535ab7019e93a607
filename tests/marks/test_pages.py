"""What the marks pages cost."""

from datetime import datetime, timedelta

from server.data.session import LabSession
from server.marks.pages import student_marks_page
from tests.callings.calls import NINE, ZONE, at
from tests.casts import Cast
from tests.costs import reading
from tests.marks.marking import class_held, marked_by_a_rubric, students_of
from tests.prep.days import publish_rounds


def test_a_tap_reads_as_much_after_three_classes_as_after_one(session: LabSession, cast: Cast) -> None:
    marked_by_a_rubric(session, cast.section_id)
    class_held(session, cast.section_id).run(session, 15)
    ada = students_of(session, cast.section_id)[0]

    def costs(until: datetime | None) -> int:
        with reading(session) as cost:
            student_marks_page(session, cast.section_id, ada, until, ZONE)
        return cost.statements

    tap = costs(None)
    for name, days in (("second", 7), ("third", 14)):
        publish_rounds(session, cast.section_id, name=name, starts_at=NINE + timedelta(days=days), rounds=1)
    session.flush()

    later = at(60) + timedelta(days=30)
    assert costs(None) == tap < costs(later)
