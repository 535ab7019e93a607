"""A rotation's chance of finishing and its reserve plates over HTTP, with the real planner and simulation."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, time

import pytest
from bs4 import BeautifulSoup

from server.core.planning import whiteboard
from server.data.session import LabSession
from server.people.actions import add_section, enter_students, form_section_groups
from server.plates.queries import list_plate_boxes
from server.rotations.actions import SEED, add_rotation, keep_plan, plan_question, publish, set_plates
from server.rotations.queries import list_exposures, list_group_plates
from server.runs.actions import file_run, give_verdict
from server.runs.models import Incident
from server.stations.queries import list_stations
from tests.casts import MORNING, Cast
from tests.conftest import Visitor
from tests.prep.days import stock
from tests.reading import text_of
from tests.rotations.rooms import furnish

InLab = Callable[[], AbstractContextManager[LabSession]]
DAY = date(2027, 2, 16)


def _table(page: BeautifulSoup, index: int) -> dict[str, list[str]]:
    return {
        " ".join(row.th.get_text(" ").split()): [cell.get_text(strip=True) for cell in row.select("td")]
        for row in page.select("#chance table")[index].select("tbody tr")
        if row.th
    }


@dataclass(frozen=True)
class Planning:
    """Plans rotations of sections in the cellar lab's room, in rounds by hand."""

    in_lab: InLab
    section_id: int

    def rotation(
        self,
        name: str = "First plates",
        *,
        starts: time = time(10),
        ends: time = time(12),
        plates: int = 3,
        section_id: int | None = None,
        published: bool = True,
    ) -> int:
        with self.in_lab() as session:
            added = add_rotation(
                session,
                section_id=section_id or self.section_id,
                name=name,
                day=DAY,
                starts=starts,
                ends=ends,
                plates_per_group=plates,
                now=MORNING,
                zone="Europe/Berlin",
            )
            problem = plan_question(session, added.id)
            keep_plan(session, added.id, problem, whiteboard(problem), seed=SEED, now=MORNING)
            if published:
                publish(session, added.id, now=MORNING)
            return added.id

    def other_section(self, name: str) -> int:
        """A section of three groups of two."""
        with self.in_lab() as session:
            section = add_section(session, name=name)
            session.flush()
            enter_students(session, section.id, tuple(f"Student {letter}" for letter in "ABCDEF"))
            session.flush()
            form_section_groups(session, section.id, size=2)
            return section.id

    def exposed(self, rotation_id: int, longer: float) -> None:
        """One run of each group, exposed so much longer after the beginning of the class than planned."""
        with self.in_lab() as session:
            box = next((one.id for one in list_plate_boxes(session)), 0) or stock(session)
            planned = [one for one in list_exposures(session) if one[0] == rotation_id]
            for _rotation, group_id, starts_at, ends_at in planned:
                exposed_at = starts_at + longer * (ends_at - starts_at)
                file_run(
                    session, tablet_id=f"{rotation_id}-{group_id}", section_id=self.section_id, group_id=group_id, plate_box_id=box,
                    place_id=list_stations(session)[0].id, charge_id=None, rotation_id=rotation_id, settle_s=60, exposure_s=8,
                    develop_s=None, incident=Incident.NONE, comment="", exposed_at=exposed_at, by="G1", now=exposed_at,
                )  # fmt: skip

    def rated(self, group_id: int, verdicts: list[int]) -> None:
        with self.in_lab() as session:
            box = stock(session)
            for number, verdict in enumerate(verdicts):
                run = file_run(
                    session, tablet_id=f"run-{number}", section_id=self.section_id, group_id=group_id, plate_box_id=box,
                    place_id=list_stations(session)[0].id, charge_id=None, rotation_id=None, settle_s=60, exposure_s=8,
                    develop_s=None, incident=Incident.NONE, comment="", exposed_at=MORNING, by="G1", now=MORNING,
                )  # fmt: skip
                session.flush()
                give_verdict(session, run.id, verdict=verdict, comment="", now=MORNING)


@pytest.fixture
def planning(in_lab: InLab, cast: Cast) -> Planning:
    with in_lab() as session:
        furnish(session)
    return Planning(in_lab, cast.section_id)


def test_the_page_says_how_likely_the_class_ends_by_the_bell(tomas: Visitor, planning: Planning) -> None:
    page = tomas.page(f"/rotations/{planning.rotation()}/chance")
    words = text_of(page)

    assert (
        "In more than 99 of 100 classes like this one everything is done by 12:00; half are done by 11:"
        in words
    )
    assert page.select_one("svg.chance-curve polyline")
    assert _table(page, 0)["12:00, period ends"] == ["more than 99"]
    assert "Assumed: how much times vary, and that 80 % of the plates come out well." in words
    assert "Classes of this lab that were called or have run notes so far: 0; from 5 on they count" in words
    assert "Assumed: 80 % of the plates come out well. Runs rated in this lab so far: 0" in words


def test_five_classes_that_took_longer_make_the_next_one_later(mira: Visitor, planning: Planning) -> None:
    """Worked by hand: five classes at 1.5 beside five assumed at 1.0 make 1.25; variance (5 · 0.0625 + 5 · 0.0725) / 10, and its root
    0.26 / 1.25 = 0.21.
    """
    first = planning.rotation("First", starts=time(8, 30), ends=time(10), plates=1)
    before = _table(mira.page(f"/rotations/{first}/chance"), 0)
    for number, hour in enumerate((10, 12, 14, 16, 18)):
        later = planning.rotation(f"Class {number}", starts=time(hour), ends=time(hour + 2), plates=1)
        planning.exposed(later, 1.5)

    page = mira.page(f"/rotations/{first}/chance")
    words = text_of(page)

    assert "From 5 classes of this lab" in words
    assert "takes 125 % of its planned time, and a whole class is slower or faster by 21 %" in words
    assert list(_table(page, 0)) != list(before)


def test_a_tight_period_is_kept_by_some_classes_only(mira: Visitor, planning: Planning) -> None:
    """The rounds by hand take a little less than the period, so about half of the classes are late."""
    with planning.in_lab() as session:
        furnished = add_rotation(
            session, section_id=planning.section_id, name="Tight", day=DAY, starts=time(10), ends=time(12), plates_per_group=1,
            now=MORNING, zone="Europe/Berlin",
        )  # fmt: skip
        makespan_s = whiteboard(plan_question(session, furnished.id)).makespan_s
    minutes = -(-makespan_s // 60)
    tight = planning.rotation(
        "Tight one", starts=time(14), ends=time(14 + minutes // 60, minutes % 60), plates=1
    )
    page = mira.page(f"/rotations/{tight}/chance")
    rows = _table(page, 0)
    (at_bell,) = next(cells for words, cells in rows.items() if "period ends" in words)

    assert f"In {at_bell} of 100 classes like this one" in text_of(page)
    assert 0 < int(at_bell) < 90
    assert page.select_one(".note.watch, .note.stop")


def test_the_rotation_s_page_fetches_its_chance_as_a_part(mira: Visitor, planning: Planning) -> None:
    """One markup for both: what the page fetches has the place's own id and no page around it."""
    rotation = planning.rotation()
    place = mira.page(f"/rotations/{rotation}").select_one("#chance")
    assert place is not None
    part = mira.get(str(place["hx-get"]), headers={"HX-Request-Type": "partial", "HX-Request": "true"})

    assert part.text.lstrip().startswith('<div id="chance">')
    assert "<html" not in part.text
    assert "Reserve plates" in part.text


def test_a_rotation_without_a_plan_has_no_chance_yet(mira: Visitor, planning: Planning, cast: Cast) -> None:
    with planning.in_lab() as session:
        draft = add_rotation(
            session, section_id=cast.section_id, name="Draft", day=DAY, starts=time(10), ends=time(12), plates_per_group=1,
            now=MORNING, zone="Europe/Berlin",
        ).id  # fmt: skip

    assert "There is no plan with a plate in it yet" in text_of(mira.page(f"/rotations/{draft}/chance"))
    assert mira.page(f"/rotations/{draft}").select_one("#chance") is None


def test_a_rotation_changed_since_its_plan_says_so(mira: Visitor, planning: Planning) -> None:
    rotation = planning.rotation(published=False)
    with planning.in_lab() as session:
        asked = list_group_plates(session, rotation)[0]
        set_plates(session, rotation, {asked.group_id: 1})

    assert "was changed after this plan was made" in text_of(mira.page(f"/rotations/{rotation}/chance"))


def test_nine_plates_want_four_in_reserve(mira: Visitor, planning: Planning) -> None:
    """House example: 9 good ones of plates of which 80 % come out well need 13 for 90 %."""
    page = mira.page(f"/rotations/{planning.rotation()}/chance")

    assert "To be 90 % sure of 9 good, have 13 plates ready: 4 in reserve." in text_of(page)
    assert list(_table(page, 1)) == ["This rotation"]


def test_three_classes_share_one_box_and_need_fewer(mira: Visitor, planning: Planning) -> None:
    """House example: 27 good ones out of one box need 38, three boxes 15 each; with 13 each, 73 of 100 days go well."""
    first = planning.rotation()
    for number, hour in ((2, 13), (3, 15)):
        section = planning.other_section(f"Section {number}")
        planning.rotation(f"plates {number}", starts=time(hour), ends=time(hour + 2), section_id=section)
    planning.rotation("not published", starts=time(18), ends=time(20), published=False)
    page = mira.page(f"/rotations/{first}/chance")
    rows = _table(page, 1)

    assert rows["This rotation"][:2] == ["9", "13 (9 + 4)"]
    assert rows["The 3 rotations of Tue 16 Feb 2027, one box"][:2] == ["27", "38 (27 + 11)"]
    assert rows["The 3 rotations, a box each"][:2] == ["27", "45 (27 + 18)"]
    assert "(13 + 13 + 13), all of them would have enough on 73 of 100 such days" in text_of(page)
    assert "not published" not in text_of(page)


@pytest.mark.parametrize(
    ("verdicts", "sentence", "ready"),
    [
        ([4, 3, 2, 4], "Assumed: 80 % of the plates come out well. Runs rated in this lab so far: 4;", 13),
        ([4, 3, 4, 3, 4], "(5 + 4) ÷ (5 + 5) = 90 %.", 11),
        ([0, 1, 2, 1, 0], "(0 + 4) ÷ (5 + 5) = 40 %.", 30),
    ],
)
def test_rated_runs_count_from_five_on(
    mira: Visitor, planning: Planning, cast: Cast, verdicts: list[int], sentence: str, ready: int
) -> None:
    """Fewest plates for nine good ones at 90 %, by the binomial distribution: 13 at 0.8, 11 at 0.9, 30 at 0.4."""
    rotation = planning.rotation()
    planning.rated(cast.group_ids[0], verdicts)
    words = text_of(mira.page(f"/rotations/{rotation}/chance"))

    assert sentence in words
    assert ("Assumed: how much times vary." in words) == (len(verdicts) >= 5)
    assert f"have {ready} plates ready" in words
