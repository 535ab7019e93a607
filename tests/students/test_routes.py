"""A section's pages over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import time

import pytest
from bs4 import BeautifulSoup

from server.data.session import LabSession
from server.people.queries import list_students
from server.rotations.actions import add_rotation
from server.students.queries import list_adjustments, list_consents, list_papers
from tests.casts import MORNING, Cast
from tests.conftest import Visitor
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]
SECTION = "/people/sections/1"


def _ticked(page: BeautifulSoup) -> list[str]:
    return [str(box["value"]) for box in page.select("[name=ticks][checked]")]


def _before(page: BeautifulSoup) -> list[str]:
    return [str(field["value"]) for field in page.select("[name=before]")]


def test_the_short_name_is_proposed_and_can_be_changed(mira: Visitor) -> None:
    page = mira.page(SECTION)
    assert page.select_one("#short_name")["value"] == "Tue"  # type: ignore[index]

    page = mira.submit(SECTION, short_name="Tu2", term_ends_on="2027-06-30")

    assert "Tu2-G1-a" in text_of(page)
    assert page.select_one("#term_ends_on")["value"] == "2027-06-30"  # type: ignore[index]


def test_removing_a_student_says_first_what_goes_along(mira: Visitor) -> None:
    page = mira.page(SECTION)
    (said,) = (one for one in page.select("details") if one.select("form[action$='/students/1/remove']"))
    assert not said.has_attr("open")
    assert "Consents, adjustments and days away go along for good" in text_of(said)

    assert "Ada Quist" not in text_of(mira.submit(f"{SECTION}/students/1/remove"))


@pytest.mark.parametrize("short_name", ["", "Tuesday", "Tu-2", "Tü2"])
def test_a_short_name_is_letters_and_figures(mira: Visitor, short_name: str) -> None:
    page = mira.submit(SECTION, 422, short_name=short_name)

    assert "fill this in" in text_of(page) or "letters and figures only" in text_of(page)
    assert page.select_one("#short_name")["value"] == short_name  # type: ignore[index]


def test_a_student_away_leaves_a_group_of_one_until_somebody_joins_it(mira: Visitor, cast: Cast) -> None:
    alone = "G1 has fewer than two students for the dark today"
    assert alone not in text_of(mira.page(SECTION))
    page = mira.submit(f"{SECTION}/students/2/away", is_away="true")
    assert alone in text_of(page)

    page = mira.submit(f"{SECTION}/students/3/move", group_id=cast.group_ids[0])

    assert alone not in text_of(page)
    assert "G2 has fewer than two" in text_of(page)
    assert "G2 has fewer than two" in text_of(mira.submit(f"{SECTION}/students/2/away", is_away="false"))


def test_a_group_that_nobody_knows_is_no_place_to_move_to(mira: Visitor) -> None:
    mira.submit(f"{SECTION}/students/2/move", 409, group_id=999)
    mira.submit(f"{SECTION}/students/2/move", 422, group_id="G2")


def test_what_is_ticked_and_unticked_is_kept_with_day_and_name(tomas: Visitor, in_lab: InLab) -> None:
    page = tomas.page(f"{SECTION}/consents")
    ticks, before = _ticked(page), _before(page)
    assert len(ticks) == len(before) == 18
    ticks.remove("photo-1")
    ticks.append("minor-2")

    page = tomas.submit(f"{SECTION}/consents", ticks=ticks, before=before, on_day="2027-02-16")

    assert "photo use taken back Tomas" in text_of(page)
    assert "no photo use" in text_of(page)
    with in_lab() as session:
        newest = list_consents(session, 1)[-1]
        assert (newest.student_id, newest.signing, newest.given) == (1, "photo use", False)
        assert (newest.on_day.isoformat(), newest.kept_by) == ("2027-02-16", "Tomas")
        assert list_papers(session, 1)[2].is_minor


def test_a_table_that_was_opened_long_ago_takes_nothing_back_that_came_since(
    mira: Visitor, tomas: Visitor
) -> None:
    old = tomas.page(f"{SECTION}/consents")
    ticks, before = _ticked(old), _before(old)
    without = [tick for tick in ticks if tick != "safety-1"]
    mira.submit(f"{SECTION}/consents", ticks=without, before=before, on_day="2027-02-16")
    tomas.submit(f"{SECTION}/consents", ticks=[*ticks, "minor-3"], before=before, on_day="2027-02-16")

    assert "safety-1" not in _ticked(mira.page(f"{SECTION}/consents"))


def test_a_day_that_is_none_keeps_the_ticks_on_the_page(mira: Visitor) -> None:
    page = mira.submit(f"{SECTION}/consents", 422, ticks=["safety-2"], before=["safety-1"], on_day="soon")

    assert "Please write a date" in text_of(page)
    assert _ticked(page) == ["safety-2"]
    assert _before(page) == ["safety-1"]


def test_nobody_signs_on_a_day_to_come(mira: Visitor) -> None:
    page = mira.submit(f"{SECTION}/consents", 409, ticks=["minor-1"], before=[], on_day="2027-02-17")

    assert "still to come" in text_of(page)


def test_who_has_not_signed_is_named_to_the_staff_until_all_did(mira: Visitor, in_lab: InLab) -> None:
    page = mira.submit(f"{SECTION}/students", names="Gus Tamm")
    assert "1 of 7 have not signed: Gus Tamm" in text_of(page)

    page = mira.submit(f"{SECTION}/consents/all")

    assert "Everybody has signed the safety agreement" in text_of(page)
    assert "not signed" not in text_of(mira.page(SECTION))
    with in_lab() as session:
        (gus,) = (one.id for one in list_students(session, 1) if one.name == "Gus Tamm")
        assert [one.signing for one in list_consents(session, 1) if one.student_id == gus] == [
            "safety agreement"
        ]


def test_the_blank_agreement_defers_to_the_institution(tomas: Visitor) -> None:
    text = text_of(tomas.page(f"{SECTION}/agreement"))

    assert "If your institution has a form of its own, use that one" in text
    assert "Local rules, the laser safety officer" in text
    for word in ("Laser", "Chemicals", "Glass", "dark", "guardian", "Photos"):
        assert word in text


def test_an_adjustment_is_kept_and_shown_to_staff_only(
    mira: Visitor, tomas: Visitor, tablet: Visitor
) -> None:
    mira.submit(
        f"{SECTION}/students/1", arrangements=["low bench station", "nitrile gloves"], words="a chair at S2"
    )

    assert "nitrile gloves, low bench station, a chair at S2" in text_of(tomas.page(f"{SECTION}/adjustments"))
    assert tablet.get(f"{SECTION}/adjustments").status_code == 403
    page = mira.page(f"{SECTION}/students/1")
    assert [str(box["value"]) for box in page.select("[name=arrangements][checked]")] == [
        "nitrile gloves", "low bench station",
    ]  # fmt: skip
    mira.submit(f"{SECTION}/students/1")
    assert "a chair" not in text_of(tomas.page(f"{SECTION}/adjustments"))


def test_words_that_sound_like_a_reason_are_asked_about_and_not_dropped(mira: Visitor, in_lab: InLab) -> None:
    gloves, words = ["nitrile gloves"], "Latex allergy, own gloves"
    page = mira.submit(f"{SECTION}/students/1", 422, arrangements=gloves, words=words)

    assert "“allergy” sounds like a reason" in text_of(page)
    assert page.select_one("#words")["value"] == words  # type: ignore[index]
    assert page.select_one("[value='nitrile gloves']").has_attr("checked")  # type: ignore[union-attr]
    mira.submit(f"{SECTION}/students/1", arrangements=gloves, words=words, is_meant="true")
    with in_lab() as session:
        assert [one.words for one in list_adjustments(session, 1)[1]] == ["", words]


def test_a_plan_is_told_what_a_group_needs_and_never_whose_it_is(
    mira: Visitor, in_lab: InLab, cast: Cast
) -> None:
    mira.submit(
        f"{SECTION}/students/3", arrangements=["low bench station", "longer time to adapt to the dark"]
    )
    with in_lab() as session:
        draft = add_rotation(
            session, section_id=cast.section_id, name="Draft", day=MORNING.date(), starts=time(10), ends=time(12),
            plates_per_group=1, now=MORNING, zone="Europe/Berlin",
        ).id  # fmt: skip
    text = text_of(mira.page(f"/rotations/{draft}/question"))

    assert "G2 has arranged: a low bench station, so choose its station below; longer time to adapt" in text
    assert "Cleo" not in text
