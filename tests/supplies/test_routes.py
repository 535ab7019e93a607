"""The supplies page over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date
from typing import Any

from server.data.session import LabSession
from server.rotations.models import Rotation, RotationState
from tests.casts import MORNING, Cast
from tests.conftest import Visitor
from tests.prep.days import furnish, publish_capacity_day, publish_rounds, stock
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]
CLASSES: dict[str, Any] = {
    "classes_name": "Thursday sections",
    "first_day": "2027-04-13",
    "last_day": "2027-04-15",
    "every_days": "2",
    "groups": "18",
    "plates_per_group": "1",
    "other_plates": "3",
}


def test_an_empty_lab_is_told_how_to_begin(tomas: Visitor) -> None:
    page = text_of(tomas.page("/supplies"))

    assert "0 plates on the shelf, no class ahead" in page
    assert "No class lies ahead." in page


def test_the_page_answers_and_says_why(in_lab: InLab, cast: Cast, tomas: Visitor) -> None:
    """By hand: 60 on the shelf − 39 planned − 13 in reserve = 8 free."""
    with in_lab() as session:
        furnish(session)
        stock(session, plates=60)
        publish_capacity_day(session, cast.section_id)

    page = tomas.page("/supplies")

    text = text_of(page)
    assert "8 plates free until Tue 16 Feb 2027: 60 there, 52 needed" in text
    assert "60 − 39 planned − 0 expired − 13 in reserve = 8." in text
    assert "Assumed: 80 % of the plates come out well." in text
    assert "There is nothing to order." in text
    assert page.select_one("svg.drawing polyline") is not None


def test_the_rest_of_the_term_is_written_down_and_ordered_for(in_lab: InLab, tomas: Visitor) -> None:
    """By hand: 36 good ones want 49 plates, and 6 tests: 55, two boxes of 30; 13 April − 1 − 42 days is 1 March."""
    with in_lab() as session:
        stock(session, plates=30, expires_on=date(2027, 3, 31))

    text = text_of(tomas.submit("/supplies/classes", **CLASSES))

    assert "55 plates short, from Tue 13 Apr 2027 on" in text
    assert (
        "Plates: order by Mon 1 Mar 2027: 2 boxes of 30. What is planned is short from Tue 13 Apr 2027 on."
        in text
    )
    assert "What came last says that its order took 42 days." in text
    assert "Thursday sections: Tue 13 Apr 2027 to Thu 15 Apr 2027, every 2 days; 18 × 1 = 18" in text

    surer = text_of(tomas.submit("/supplies/reserve", percent="95"))
    assert "57 plates short" in surer

    coming = text_of(tomas.submit("/supplies/orders", what="plates", amount="60", expected_on="2027-04-12"))
    assert "3 plates free" in coming
    assert "Plates, 60 plates, expected on Mon 12 Apr 2027" in coming

    assert "57 plates short" in text_of(tomas.submit("/supplies/orders/1/close"))
    assert "No class lies ahead." in text_of(tomas.submit("/supplies/classes/1/remove"))


def test_a_delivery_after_the_last_class_is_not_in_the_sum(in_lab: InLab, cast: Cast, tomas: Visitor) -> None:
    with in_lab() as session:
        furnish(session)
        stock(session, plates=60)
        publish_capacity_day(session, cast.section_id)

    late = text_of(tomas.submit("/supplies/orders", what="plates", amount="30", expected_on="2027-03-12"))

    assert "60 − 39 planned" in late
    assert "on their way" not in late


def test_trials_alone_have_no_reserve_to_explain(tomas: Visitor) -> None:
    trials = {"groups": "0", "plates_per_group": "0", "other_plates": "4"}

    text = text_of(tomas.submit("/supplies/classes", **(CLASSES | trials)))

    assert "In reserve: 0. No plate of a class is wanted, and any plate will do for a test." in text
    assert "Of 0 plates" not in text


def test_repeats_that_are_more_than_the_reserve_are_said_to_be_enough(
    in_lab: InLab, cast: Cast, tomas: Visitor
) -> None:
    with in_lab() as session:
        furnish(session)
        rotation_id = publish_rounds(
            session, cast.section_id, name="first", starts_at=MORNING, state=RotationState.PLANNED
        )
        rotation = session.get(Rotation, rotation_id)
        assert rotation is not None
        rotation.reserve_rounds = 4

    text = text_of(tomas.page("/supplies"))

    assert "are planned already, as first plates and as repeats, so no more are kept." in text


def test_an_order_that_would_come_too_late_says_what_helps(tomas: Visitor) -> None:
    """By hand: nothing is on the shelf, and ordered today a delivery of 42 days comes on 30 March, after the class of 2 March."""
    text = text_of(
        tomas.submit("/supplies/classes", **(CLASSES | {"first_day": "2027-03-02", "last_day": "2027-03-02"}))
    )

    assert "29 short Plates: the last day to order was Mon 18 Jan 2027." in text
    assert "Ordered today, 29 plates would come on Tue 30 Mar 2027, too late for Tue 2 Mar 2027." in text
    assert "29 plates have to come from elsewhere or not be made" in text
    assert "Nothing of it was ever taken in" in text
    assert "That a delivery takes 42 days is assumed." in text


def test_what_was_typed_stays_beside_its_fault(tomas: Visitor) -> None:
    page = tomas.submit("/supplies/classes", status=422, **(CLASSES | {"last_day": "2027-04-01"}))

    assert "The last day is before the first." in text_of(page)
    assert typed_in(page, "classes_name") == "Thursday sections"


def test_classes_that_make_no_plate_are_asked_back(tomas: Visitor) -> None:
    none = {"groups": "0", "plates_per_group": "1", "other_plates": "0"}
    page = tomas.submit("/supplies/classes", status=422, **(CLASSES | none))
    long = tomas.submit("/supplies/classes", status=422, **(CLASSES | {"last_day": "2029-01-01"}))

    many = tomas.submit(
        "/supplies/classes", status=422, **(CLASSES | {"groups": "500", "plates_per_group": "50"})
    )

    assert "plates on 2 days. Please write 5000 at most, and the rest of them by itself." in text_of(many)
    assert "These classes make no plate." in text_of(page)
    assert "of 400 days at most" in text_of(long)


def test_an_order_that_cannot_be_read_is_refused(tomas: Visitor) -> None:
    order = {"what": "plates", "amount": "60", "expected_on": "2027-03-01"}
    for changed, sentence in (
        ({"amount": "sixty"}, "Please write a whole number of plates"),
        ({"what": "stock A", "amount": "5 g"}, "is not a unit of volume"),
        ({"what": "stock A", "amount": "0 mL"}, "more than nothing"),
        ({"what": "gravy"}, "Nothing here is called “gravy”."),
        ({"expected_on": "2027-02-15"}, "That day is over."),
    ):
        assert sentence in text_of(tomas.submit("/supplies/orders", status=409, **(order | changed)))
    page = tomas.submit("/supplies/orders", status=422, **(order | {"expected_on": "soon"}))
    assert "Please write a date" in text_of(page)
    assert typed_in(page, "amount") == "60"


def test_only_90_and_95_percent_can_be_chosen(tomas: Visitor) -> None:
    assert "Please choose one of the list." in text_of(
        tomas.submit("/supplies/reserve", status=422, percent="99")
    )
