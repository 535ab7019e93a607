"""The term read from rotations, from what was written down and from the shelf."""

from datetime import date, timedelta
from typing import Any

from server.charges.actions import pour_charge
from server.core.recipe import Measure
from server.data.session import LabSession
from server.plates.actions import draw_plates
from server.plates.models import PlateEntryKind
from server.recipes.forms import NewComponent
from server.recipes.models import Solution
from server.rotations.models import GroupPlates, NamedVisit, Rotation, RotationState
from server.rotations.queries import get_plan
from server.stations.models import Bath
from server.stations.queries import list_trays
from server.supplies.actions import (
    choose_reserve,
    close_order,
    record_order,
    strike_out_classes,
    write_down_classes,
)
from server.supplies.models import ClassesAhead
from server.supplies.queries import Supplies, Supply, find_supplies
from tests.casts import MORNING, Cast
from tests.chemistry import from_powder, mixing
from tests.plates import shelf
from tests.prep.days import furnish, publish_capacity_day, publish_rounds, stock

TUESDAY = date(2027, 2, 16)
ZONE = "Europe/Berlin"


def _supplies(session: LabSession, days_later: int = 0) -> Supplies:
    session.flush()
    return find_supplies(session, MORNING + timedelta(days=days_later), ZONE)


def _supply(found: Supplies, what: str) -> Supply:
    return next(supply for supply in found.all if supply.what == what)


def _write_down(session: LabSession, **changed: Any) -> ClassesAhead:
    """One day with 18 groups that make a plate each."""
    given: dict[str, Any] = {
        "name": "rest of the term",
        "section_id": None,
        "first_day": date(2027, 3, 2),
        "last_day": date(2027, 3, 2),
        "every_days": 7,
        "groups": 18,
        "plates_per_group": 1,
        "other_plates": 0,
    }
    return write_down_classes(session, **(given | changed), by="Tomas", now=MORNING)


def test_a_lab_without_classes_has_everything_free(session: LabSession) -> None:
    stock(session, plates=30)

    found = _supplies(session)

    assert found.term.days == []
    assert [(supply.there, supply.order) for supply in found.all] == [
        (30, None),
        (1_000_000, None),
        (1_000_000, None),
        (1_000_000, None),
    ]


def test_the_capacity_day_takes_39_plates_and_a_reserve(session: LabSession, cast: Cast) -> None:
    """By hand: 36 plates and 3 tests; 49 plates give 36 good ones on 90 of 100 days, so 13 are in reserve, and 60 − 52 = 8 are free."""
    furnish(session)
    stock(session, plates=60)
    publish_capacity_day(session, cast.section_id)

    found = _supplies(session)

    (day,) = found.plates.days
    (need,) = found.plates.needs
    assert (need.planned, need.reserve, need.spoiled, day.left, found.plates.order) == (39, 13, 0, 8, None)
    assert [one.to_mix[0].amount for one in found.solutions] == [800_000, 800_000]
    assert [(supply.what, supply.uses[0].amount) for supply in found.substances] == [
        ("stock A", 400_000),
        ("stock B", 400_000),
        ("bleach", 800_000),
    ]


def test_the_term_s_order_is_that_of_the_house_example(session: LabSession) -> None:
    """By hand: 4 trial plates, two days of 18 pairs and 3 tests: 59 plates at 90 %, two boxes; 61 at 95 %, three boxes."""
    first = date(2027, 4, 13)
    take_in = _write_down(
        session, first_day=first, last_day=first + timedelta(days=2), every_days=2, other_plates=3
    )
    _write_down(
        session,
        name="trial",
        first_day=first - timedelta(days=7),
        last_day=first - timedelta(days=7),
        groups=0,
        other_plates=4,
    )
    assert take_in.groups == 18
    stock(session, plates=30, expires_on=date(2027, 3, 31))

    sure = _supplies(session)
    choose_reserve(session, percent=95)
    surer = _supplies(session)

    assert sure.plates.order is not None
    assert surer.plates.order is not None
    assert (sure.plates.order.missing, sure.plates.order.packs, sure.plates.order.pack) == (59, 2, 30)
    assert (surer.plates.order.missing, surer.plates.order.packs) == (61, 3)
    assert sure.plates.order.first_short == first - timedelta(days=7)
    assert sure.plates.order.order_by == first - timedelta(days=7 + 1 + 42)


def test_a_box_that_expires_in_march_cannot_count_for_april(session: LabSession, cast: Cast) -> None:
    """By hand: 12 plates and 3 tests on 30 March are covered, those of 14 April not at all, though 45 plates stand there."""
    furnish(session)
    stock(session, plates=60, expires_on=date(2027, 3, 31))
    publish_rounds(session, cast.section_id, name="march", starts_at=MORNING + timedelta(days=42))
    publish_rounds(session, cast.section_id, name="april", starts_at=MORNING + timedelta(days=57))

    plates = _supplies(session).plates

    assert [day.short > 0 for day in plates.days] == [False, True]
    assert plates.needs[-1].spoiled == 45
    assert plates.order is not None
    assert plates.order.first_short == date(2027, 4, 14)


def test_expired_boxes_stand_apart(session: LabSession) -> None:
    stock(session, plates=30, expires_on=TUESDAY - timedelta(days=1))

    plates = _supplies(session).plates

    assert plates.there == 0
    assert [(one.lot.amount, one.apart) for one in plates.shelf] == [(30, "expired")]


def test_rounds_kept_for_repeats_are_planned_plates(session: LabSession, cast: Cast) -> None:
    """By hand: 12 plates, 3 tests and 1 repeat; 12 good ones want 18 plates, so 5 are in reserve beyond the repeat."""
    furnish(session)
    stock(session)
    rotation_id = publish_rounds(session, cast.section_id, name="one", starts_at=MORNING)
    kept = get_plan(session, rotation_id)
    assert kept is not None
    session.add(
        NamedVisit(
            plan_id=kept.id, group_name="Repeat 1", pass_no=1, step="expose", place="S1", light="dark", still="still",
            starts_at=MORNING + timedelta(minutes=40), ends_at=MORNING + timedelta(minutes=41),
        )
    )  # fmt: skip

    (need,) = _supplies(session).plates.needs

    assert (need.planned, need.reserve) == (16, 5)


def test_a_rotation_that_is_not_published_counts_by_what_is_asked(session: LabSession, cast: Cast) -> None:
    """By hand: two groups of three are asked for two plates each and one for one, and each of three stations is tested."""
    furnish(session)
    rotation_id = publish_rounds(
        session, cast.section_id, name="draft", starts_at=MORNING, state=RotationState.PLANNED
    )
    for group_id, plates in zip(cast.group_ids, (2, 2, 1), strict=True):
        session.add(GroupPlates(rotation_id=rotation_id, group_id=group_id, plates=plates))

    found = _supplies(session)

    (day,) = found.term.days
    assert (day.plates.good, day.plates.tests, day.classes[0].source) == (5, 3, "not published")


def test_a_class_file_s_rotation_is_not_counted(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation_id = publish_rounds(
        session, cast.section_id, name="file", starts_at=MORNING, state=RotationState.PLANNED
    )
    rotation = session.get(Rotation, rotation_id)
    assert rotation is not None
    rotation.class_file = "{}"

    assert _supplies(session).term.days == []


def test_a_section_s_rotation_counts_instead_of_what_was_written_down(
    session: LabSession, cast: Cast
) -> None:
    furnish(session)
    _write_down(session, section_id=cast.section_id, first_day=TUESDAY, last_day=TUESDAY + timedelta(days=7))
    publish_rounds(session, cast.section_id, name="one", starts_at=MORNING)

    found = _supplies(session)

    assert [(day.day, day.plates.good) for day in found.term.days] == [
        (TUESDAY, 12),
        (TUESDAY + timedelta(days=7), 18),
    ]


def test_classes_that_are_struck_out_count_no_longer(session: LabSession) -> None:
    classes = _write_down(session)
    session.flush()

    strike_out_classes(session, classes.id)

    assert _supplies(session).term.days == []


def test_during_the_day_the_shelf_counts_as_it_began(session: LabSession, cast: Cast) -> None:
    """By hand: 60 plates; three tests are drawn at 08:00, and the day still takes its 3 tests and 12 plates out of 60."""
    furnish(session)
    box = stock(session)
    publish_rounds(session, cast.section_id, name="one", starts_at=MORNING + timedelta(hours=1))
    before = _supplies(session)
    draw_plates(session, box, plates=3, note="", kind=PlateEntryKind.TEST, by="Tomas", now=MORNING)

    during = _supplies(session)

    assert (before.plates.there, during.plates.there) == (60, 60)
    assert during.plates.days == before.plates.days


def test_when_today_s_classes_are_over_only_the_shelf_of_now_counts(session: LabSession, cast: Cast) -> None:
    furnish(session)
    box = stock(session)
    publish_rounds(session, cast.section_id, name="one", starts_at=MORNING - timedelta(hours=2))
    draw_plates(session, box, plates=12, note="", kind=PlateEntryKind.TEST, by="Tomas", now=MORNING)

    found = _supplies(session)

    assert (found.term.first, found.term.days, found.plates.there) == (TUESDAY + timedelta(days=1), [], 48)


def test_what_is_on_its_way_counts_from_the_day_after(session: LabSession) -> None:
    """By hand: 18 good ones want 26 plates; 30 come on 1 March, the class is on 2 March."""
    _write_down(session)
    session.flush()
    assert _supplies(session).plates.order is not None

    coming = record_order(
        session, what="plates", amount="30", expected_on=date(2027, 3, 1), by="Tomas", zone=ZONE, now=MORNING
    )
    assert [day.left for day in _supplies(session).plates.days] == [4]

    close_order(session, coming.id, now=MORNING)
    assert [day.short for day in _supplies(session).plates.days] == [26]


def test_an_order_that_is_late_is_taken_to_come_today(session: LabSession) -> None:
    _write_down(session)
    record_order(
        session, what="plates", amount="30", expected_on=date(2027, 2, 20), by="Tomas", zone=ZONE, now=MORNING
    )

    (delivery,) = _supplies(session, days_later=9).plates.deliveries

    assert delivery.day == date(2027, 2, 25)


def test_bleach_that_is_mixed_already_is_used_first(session: LabSession, cast: Cast) -> None:
    """By hand: 18 plates want two charges of 200 mL of bleach; 300 mL stand mixed, 250 mL of them in a tray, so 100 mL are taken."""
    furnish(session)
    stock(session)
    before = MORNING - timedelta(days=1)
    batch = mixing.bleach(session, 300_000, mixed_at=before, now=before)
    tray = list_trays(session, Bath.BLEACH)[0]
    pour_charge(session, batch_id=batch.id, place_id=tray.id, volume_ul=250_000, now=before, by="Tomas")
    _write_down(session)

    bleach = _supply(_supplies(session), "bleach")

    assert [use.amount for use in bleach.uses] == [100_000]
    assert bleach.there == 700_000


def test_a_stock_solution_that_the_lab_mixes_is_taken_apart_into_its_powders(
    session: LabSession, cast: Cast
) -> None:
    """By hand: 18 plates want 400 mL of developer, 200 mL of each stock; 50 mL of A stand mixed, so 150 mL take 0.6 g of metol at 4 g/L.

    200 mL of B take 14 g of anhydrous carbonate, and the 100 g of monohydrate on the shelf stand for 100 × 105.988 / 124.003 = 85.47 g.
    """
    furnish(session)
    from_powder.recipes(session)
    from_powder.powders(session)
    mixing.by_name(session, "stock A", 50_000, mixed_at=MORNING - timedelta(days=1))
    _write_down(session)

    found = _supplies(session)

    assert [use.amount for use in _supply(found, "metol").uses] == [600]
    carbonate = _supply(found, "sodium carbonate")
    assert [use.amount for use in carbonate.uses] == [14_000]
    assert carbonate.there == 85_472
    assert carbonate.order is None
    assert "stock A" not in [supply.what for supply in found.all]
    assert [(one.name, one.uses[0].amount, one.to_mix[0].amount) for one in found.solutions] == [
        ("working developer", 400_000, 400_000),
        ("bleach", 400_000, 400_000),
        ("stock A", 200_000, 150_000),
        ("stock B", 200_000, 200_000),
    ]


def test_a_kit_s_bleach_counts_where_nothing_of_the_bleach_s_recipe_was_ever_bought(
    session: LabSession, cast: Cast
) -> None:
    furnish(session)
    stock(session)
    from_powder.write(
        session, "copper bleach", Solution.BLEACH, NewComponent("copper sulfate", 35_000, Measure.MASS)
    )
    _write_down(session)

    found = _supplies(session)

    assert [supply.what for supply in found.substances] == ["stock A", "stock B", "bleach"]


def test_a_recipe_that_names_itself_comes_to_an_end(session: LabSession) -> None:
    stock(session)
    from_powder.write(session, "stock A", Solution.STOCK, NewComponent("stock A", 1_000_000, Measure.VOLUME))
    _write_down(session)

    assert "stock A" in [supply.what for supply in _supplies(session).all]


def test_a_flagged_box_and_a_fogged_one_stand_apart(session: LabSession) -> None:
    """By hand: beside a box of 60 stand three of 30, of which one waits for its fog test and one is fogged: 90 plates count."""
    stock(session)
    boxes = [shelf.box(session, name) for name in ("box 7", "box 8", "box 9")]
    boxes[0].light_at = MORNING
    boxes[1].fogged_at = MORNING

    plates = _supplies(session).plates

    assert plates.there == 90
    assert sorted(one.apart for one in plates.shelf) == [
        "",
        "",
        "fogged, for tests only",
        "light incident at 08:00",
    ]
