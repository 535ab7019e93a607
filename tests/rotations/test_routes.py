"""The rotations pages over HTTP, with the real planner."""

import csv
import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from datetime import UTC, timedelta
from io import StringIO
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from bs4 import BeautifulSoup

from server.core.planning import plan, read_class_file
from server.data.session import LabSession
from server.people.queries import list_group_names
from server.rotations.actions import SEED
from server.rotations.queries import get_plan, list_visits
from server.stations.actions import add_tray_line
from server.stations.queries import list_stations
from tests.casts import STUDENTS, Cast
from tests.conftest import Running, Visitor
from tests.reading import text_of
from tests.rotations.rooms import furnish

InLab = Callable[[], AbstractContextManager[LabSession]]


def _figures(page: BeautifulSoup) -> dict[str, str]:
    return {
        " ".join(one.dt.get_text().split()): " ".join(one.dd.get_text().split())
        for one in page.select("dl.figures div")
        if one.dt and one.dd
    }


@pytest.fixture
def room(in_lab: InLab) -> None:
    with in_lab() as session:
        furnish(session)


def _add(visitor: Visitor, cast: Cast, **changes: object) -> str:
    """Add a rotation and return its address."""
    fields = {
        "section_id": cast.section_id, "name": "First plates", "day": "2027-02-16", "starts": "10:00", "ends": "11:30",
        "plates_per_group": 1,
    }  # fmt: skip
    answer = visitor.post("/rotations", data={**fields, **changes})
    assert answer.status_code == 200
    return answer.url.path


def test_pressing_plan_brings_the_finish_the_bound_and_the_gap(mira: Visitor, cast: Cast, room: None) -> None:
    address = _add(mira, cast)

    page = mira.submit(f"{address}/plan")

    figures = _figures(page)
    assert page.select_one(".figure-number").text.startswith("10:")  # type: ignore[union-attr]
    assert figures["Plates planned"] == "3"
    assert figures["No plan ends before"].startswith("10:")
    assert "min" in figures["Takes in all"]
    assert "min" in figures["Saved against that"]
    words = text_of(page)
    assert "proven earliest" in words or "best found" in words
    assert (figures["Gap"] == "none") == ("proven earliest" in words)
    assert len(page.select(".timeline-visit")) == 3 * 11
    assert len(page.select("#by-group table")) == 3
    assert [str(caption.contents[0]).strip() for caption in page.select("#by-place caption")][:3] == [
        "S1",
        "S2",
        "developer, line 1",
    ]
    assert len(page.select("#by-place tbody tr")) == 3 * 11
    assert page.select("a[href$='/sheet']")

    listed = text_of(mira.page("/rotations"))
    assert "First plates Tuesday Tue 16 Feb 2027" in listed
    assert "planned, not published" in listed


def test_the_page_says_why_the_class_ends_then(mira: Visitor, cast: Cast, room: None) -> None:
    """The chain goes from the start of the class to the last step, whose end is the finish; the parts are all of it."""
    address = _add(mira, cast)

    page = mira.submit(f"{address}/plan")

    why = page.select_one("#why")
    assert why is not None
    finish = page.select_one(".figure-number").text  # type: ignore[union-attr]
    assert why.select_one("summary").text == f"Why does it end at {finish}?"  # type: ignore[union-attr]
    lines = [" ".join(line.text.split()) for line in why.select("ol li")]
    assert lines[0].startswith("10:00 to 10:")
    assert lines[0].endswith("It begins with the class.")
    assert len(lines) > 1
    assert " ".join(why.text.split()).count(_figures(page)["Takes in all"]) >= 2
    sentence = next(one.text for one in mira.page(f"{address}/sheet").select("p") if "It ends at" in one.text)
    assert all(part.text in sentence for part in why.select("ul li"))


def test_the_sheet_names_groups_and_never_students(mira: Visitor, cast: Cast, room: None) -> None:
    address = _add(mira, cast)
    mira.submit(f"{address}/plan")

    sheet = mira.page(f"{address}/sheet")

    assert sheet.select_one("h1").text == "Tuesday: First plates"  # type: ignore[union-attr]
    assert len(sheet.select(".timeline-visit")) == 33
    assert not [name for name in STUDENTS if name in text_of(sheet)]


def test_too_many_plates_for_fifty_minutes_say_what_would_make_them_fit(
    mira: Visitor, cast: Cast, room: None
) -> None:
    address = _add(mira, cast, ends="10:50", plates_per_group=4)

    page = mira.submit(f"{address}/plan")

    words = text_of(page)
    assert "does not all fit" in words
    assert "Why not all fits, and what would make it fit" in words
    assert "of the 12 plates" in words
    assert "more than the period" in words
    assert "Left out:" in words
    assert _figures(page)["Plates planned"].endswith(" of 12")


def test_a_period_too_short_for_one_plate_says_why_it_cannot_be_done(
    mira: Visitor, cast: Cast, room: None
) -> None:
    address = _add(mira, cast, ends="10:10")

    page = mira.submit(f"{address}/plan")

    words = text_of(page)
    assert page.select_one(".figure-number").text == "No plan"  # type: ignore[union-attr]
    assert "cannot be done" in words
    assert "The period has only 10 min." in words
    assert not page.select("#timeline")
    assert "no plan possible" in text_of(mira.page("/rotations"))
    assert "nothing to print yet" in text_of(mira.page(f"{address}/sheet"))
    refused = mira.submit(f"{address}/publish", 409)
    assert "no plate in it" in text_of(refused)


def test_an_empty_room_is_refused_with_where_to_furnish_it(mira: Visitor, cast: Cast) -> None:
    address = _add(mira, cast)

    assert "There is no station in order." in text_of(mira.page(address))
    refused = mira.submit(f"{address}/plan", 409)

    assert "Add one, or repair one, under Stations." in text_of(refused)


def test_a_published_rotation_is_fixed_until_it_is_copied(
    mira: Visitor, cast: Cast, room: None, in_lab: InLab
) -> None:
    address = _add(mira, cast)
    mira.submit(f"{address}/plan")
    before = mira.submit(f"{address}/publish")
    with in_lab() as session:
        for station in list_stations(session):
            station.exposure_s = 60

    after = mira.page(address)

    assert "published" in text_of(after)
    assert str(after.select_one("#by-group")) == str(before.select_one("#by-group"))
    assert not after.select("form[action$='/plan']")
    assert "copy it and change the copy" in text_of(mira.submit(f"{address}/plan", 409))
    copy = mira.submit(f"{address}/copy")
    assert copy.select_one("h1").text == "Copy of First plates"  # type: ignore[union-attr]
    assert copy.select("form[action$='/plan']")


def test_a_published_rotation_is_withdrawn_before_it_begins(
    mira: Visitor, server: Running, cast: Cast, room: None
) -> None:
    address = _add(mira, cast)
    mira.submit(f"{address}/plan")
    mira.submit(f"{address}/publish")

    assert mira.submit(f"{address}/withdraw").select("form[action$='/plan']")

    mira.submit(f"{address}/publish")
    server.clock.instant += timedelta(days=100)
    assert "has begun" in text_of(mira.submit(f"{address}/withdraw", 409))


def test_other_pages_are_answered_while_a_rotation_that_eight_asked_for_is_planned(
    mira: Visitor, tomas: Visitor, cast: Cast, room: None
) -> None:
    """Eighteen plates take the planner longer than any page takes; the eight share one search."""
    address = _add(mira, cast, ends="16:00", plates_per_group=6)
    with ThreadPoolExecutor(8) as pool:
        pressed = [pool.submit(mira.post, f"{address}/plan") for _ in range(8)]
        pages = 0
        while not all(one.done() for one in pressed):
            tomas.page("/rotations")
            pages += 1

    assert pages > 4  # without turns the eight take every thread, and a page or two slip in before them
    assert {one.result().status_code for one in pressed} == {200}


def test_the_class_file_reads_back_and_plans_to_what_is_shown(mira: Visitor, cast: Cast, room: None) -> None:
    address = _add(mira, cast)
    page = mira.submit(f"{address}/plan")

    answer = mira.get(f"{address}/class-file")

    assert answer.headers["content-type"] == "application/json"
    assert 'filename="Tuesday 2027-02-16 class.json"' in answer.headers["content-disposition"]
    problem = read_class_file(answer.text)
    assert json.loads(answer.text)["periods"] == [[0, 5400]]
    again = plan(problem, seconds=2, seed=SEED)
    minutes, seconds = divmod(again.makespan_s, 60)
    shown = _figures(page)["Takes in all"]
    assert shown == f"{minutes} min" + (f" {seconds} s" if seconds else "")


def test_times_are_shown_on_the_wall_clock_after_the_spring_change(
    mira: Visitor, cast: Cast, room: None
) -> None:
    """On 28 March 2027 Berlin goes to summer time: 10:00 is 08:00 UTC, and the page still says 10:00."""
    address = _add(mira, cast, day="2027-03-28")

    page = mira.submit(f"{address}/plan")

    assert "Sun 28 Mar 2027, 10:00 to 11:30" in text_of(page)
    assert page.select_one("#by-group td").text == "10:00"  # type: ignore[union-attr]


def test_a_second_day_is_named_with_every_time(mira: Visitor, cast: Cast, room: None) -> None:
    address = _add(mira, cast, ends="10:30")
    mira.submit(f"{address}/periods", day="2027-02-17", starts="09:00", ends="09:40")

    page = mira.submit(f"{address}/plan")

    assert "Tue 16 Feb, 10:00" in text_of(page.select_one("#by-group"))  # type: ignore[arg-type]
    assert "Wed 17 Feb 2027, 09:00 to 09:40" in text_of(page)
    remove = mira.page(f"{address}/question").select("form[action$='/remove']")
    assert len(remove) == 2
    mira.submit(str(remove[1]["action"]))
    page = mira.page(address)
    assert "Wed 17 Feb 2027" not in text_of(page.select_one("#asked"))  # type: ignore[arg-type]
    assert "changed after this plan was made" in text_of(page)


def test_a_finish_on_another_day_is_shown_with_its_day(mira: Visitor, cast: Cast, room: None) -> None:
    """The first period is too short for any plate."""
    address = _add(mira, cast, ends="10:05")
    mira.submit(f"{address}/periods", day="2027-02-17", starts="09:00", ends="10:30")
    mira.submit(f"{address}/plan")

    assert "Wed 17 Feb 2027, 09:" in text_of(mira.page("/rotations"))
    finish = mira.page(f"{address}/sheet").select_one("strong")
    assert finish is not None
    assert finish.text.startswith("Finish 09:")
    assert finish.text.endswith(" on Wed 17 Feb 2027")


def test_a_bad_entry_is_shown_again_with_the_sentence(mira: Visitor, cast: Cast) -> None:
    page = mira.submit(
        "/rotations", 422, section_id=cast.section_id, name="Late", day="2027-02-16", starts="12:00", ends="10:00",
        plates_per_group="many",
    )  # fmt: skip

    assert page.select_one("#ends-fault").text == "The period must end after it starts."  # type: ignore[union-attr]
    assert page.select_one("#plates_per_group")["value"] == "many"  # type: ignore[index]


def _steps_as_shown(page: BeautifulSoup) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for field in page.select("table.steps input, table.steps select"):
        chosen = field.select_one("option[selected]") if field.name == "select" else field
        fields.setdefault(str(field["name"]), []).append("" if chosen is None else str(chosen["value"]))
    return fields


def test_the_steps_are_edited_in_one_table(mira: Visitor, cast: Cast, room: None) -> None:
    address = _add(mira, cast)
    shown = _steps_as_shown(mira.page(f"{address}/steps"))
    assert shown["name"][:3] == ["align", "load", "settle"]
    assert shown["seconds"][0] == "300"

    wrong = {**shown, "seconds": ["five", *shown["seconds"][1:]]}
    page = mira.submit(f"{address}/steps", 422, **wrong)
    assert page.select_one("#seconds-1")["value"] == "five"  # type: ignore[index]
    assert page.select_one("#seconds-1-fault")

    right = {**shown, "name": [*shown["name"][:-3], "", "", ""], "seconds": ["240", *shown["seconds"][1:]]}
    page = mira.submit(f"{address}/steps", **right)
    assert "wash, dry Change what is asked" in text_of(page)
    assert _steps_as_shown(mira.page(f"{address}/steps"))["seconds"][0] == "240"


def test_the_technician_looks_and_does_not_plan(
    mira: Visitor, tomas: Visitor, cast: Cast, room: None
) -> None:
    address = _add(mira, cast)
    mira.submit(f"{address}/plan")

    page = tomas.page(address)

    assert page.select("#timeline")
    assert not page.select("main form")
    assert not tomas.page("/rotations").select("main form")
    tomas.page(f"{address}/sheet")
    steps = tomas.page(f"{address}/steps")
    assert "station's settle time" in text_of(steps)
    assert not steps.select("main form, main input")
    for action in ("plan", "publish", "copy", "steps", "plates", "periods"):
        tomas.submit(f"{address}/{action}", 403)
    tomas.submit("/rotations", 403, section_id=cast.section_id)


def test_another_lab_sees_nothing_of_it(
    mira: Visitor, noor: Visitor, tablet: Visitor, cast: Cast, room: None
) -> None:
    address = _add(mira, cast)
    mira.submit(f"{address}/plan")

    for page in ("", "/sheet", "/steps", "/class-file", "/visits.csv", "/calendar.ics"):
        noor.page(f"{address}{page}", 404)
        tablet.page(f"{address}{page}", 403)
    for action in ("/plan", "/publish", "/copy", "/periods/1/remove"):
        noor.submit(f"{address}{action}", 404)
    assert "There is no rotation yet." in text_of(noor.page("/rotations"))
    noor.submit(
        "/rotations",
        404,
        section_id=cast.section_id,
        name="Mine",
        day="2027-02-16",
        starts="10:00",
        ends="11:00",
    )


def test_a_second_tray_line_is_used(mira: Visitor, cast: Cast, room: None, in_lab: InLab) -> None:
    with in_lab() as session:
        add_tray_line(session, name="line 2", capacity=1, light_zone_id=None, still_zone_id=None)
    address = _add(mira, cast)

    asked = json.loads(mira.get(f"{address}/class-file").text)

    assert asked["steps"][5]["at"] == ["developer, line 1", "developer, line 2"]


def test_the_table_for_a_spreadsheet_holds_every_visit(
    mira: Visitor, tomas: Visitor, cast: Cast, room: None, in_lab: InLab
) -> None:
    address = _add(mira, cast)
    page = mira.submit(f"{address}/plan")
    assert page.select(f"a[href='{address}/visits.csv']")

    answer = tomas.get(f"{address}/visits.csv")

    assert answer.headers["content-type"] == "text/csv; header=present; charset=utf-8"
    assert answer.headers["content-disposition"].startswith("attachment")
    head, *rows = csv.reader(StringIO(answer.content.decode("utf-8-sig"), newline=""))
    assert answer.content.startswith(b"\xef\xbb\xbf"), "a spreadsheet sees that it is UTF-8"
    assert 'filename="Tuesday 2027-02-16 visits.csv"' in answer.headers["content-disposition"]
    assert head == [
        "date", "starts", "ends", "starts (UTC)", "ends (UTC)", "group", "plate", "step", "place", "light", "still",
    ]  # fmt: skip
    with in_lab() as session:
        kept = get_plan(session, int(address.rsplit("/", 1)[1]))
        assert kept is not None
        groups = list_group_names(session)
        berlin = ZoneInfo("Europe/Berlin")
        assert rows == [
            [
                "2027-02-16",
                *(f"{at.astimezone(berlin):%H:%M:%S}" for at in (one.starts_at, one.ends_at)),
                *(
                    at.astimezone(UTC).isoformat().replace("+00:00", "Z")
                    for at in (one.starts_at, one.ends_at)
                ),
                groups[one.group_id],
                str(one.pass_no),
                one.step,
                one.place,
                one.light,
                one.still,
            ]
            for one in list_visits(session, kept.id)
        ]
    assert len(rows) == 33


def test_there_is_no_table_without_a_plan_of_the_rotation_as_it_stands(
    mira: Visitor, cast: Cast, room: None
) -> None:
    address = _add(mira, cast)
    assert "Press Plan first." in text_of(mira.page(f"{address}/visits.csv", 409))

    mira.submit(f"{address}/plan")
    mira.submit(f"{address}/plates", group_id=list(cast.group_ids), plates=["2", "0", "1"])

    assert not mira.page(address).select("a[href$='/visits.csv']")
    mira.page(f"{address}/visits.csv", 409)


def test_stations_and_tray_lines_have_sheets_of_their_own(mira: Visitor, cast: Cast, room: None) -> None:
    address = _add(mira, cast)
    mira.submit(f"{address}/plan")

    sheet = mira.page(f"{address}/sheet")

    assert [heading.text for heading in sheet.select("h2.new-sheet")] == [
        "By group",
        "By station: S1",
        "By station: S2",
        "By tray line: line 1",
        "By place: dryer",
        "By place: bench",
    ]
    line = sheet.select(".wall-table")[2]
    assert [head.text for head in line.select("thead th")] == [
        "Plate",
        "developer: develop",
        "rinse",
        "bleach",
        "wash",
    ]
    assert len(line.select("tbody tr")) == 3
    starts = [row.select_one("td").text for row in line.select("tbody tr")]  # type: ignore[union-attr]
    assert starts == sorted(starts)
    cells = [cell.text for cell in sheet.select(".wall-table td")]
    assert len([cell for cell in cells if " to " in cell]) == 3 * 11
