"""What the page of plates left to dry costs to read."""

from datetime import timedelta

from server.claims.actions import hand_out
from server.claims.pages import HANDED_OUT_SHOWN, claims_page
from server.data.session import LabSession
from server.runs.actions import leave_to_dry
from tests.casts import MORNING, Cast
from tests.costs import reading
from tests.runs.room import add_rack, fill_room, make_plates

BERLIN = "Europe/Berlin"


def test_the_page_reads_no_more_when_more_plates_were_handed_out(session: LabSession, cast: Cast) -> None:
    room, rack = fill_room(session, plates=60), add_rack(session)
    later = MORNING + timedelta(hours=1)
    rows = []
    for group in cast.group_ids[:2]:
        runs = make_plates(
            session, room, section_id=cast.section_id, group_id=group, verdicts=[4] * (HANDED_OUT_SHOWN + 4)
        )
        for run in runs:
            slip = leave_to_dry(session, run.id, place_id=rack, slot=1, by="G1", now=MORNING)
            hand_out(session, [slip.id], by="Tomas", now=later)
        session.flush()
        session.expunge_all()
        with reading(session) as cost:
            page = claims_page(session, later, BERLIN)
        rows.append(cost.rows)

    assert [line.run for line in page.handed_out][:2] == ["run 32", "run 31"]
    assert len(page.handed_out) == HANDED_OUT_SHOWN
    assert rows[0] == rows[1]
