"""What stands in bottles, and what does not add up."""

from datetime import date

from sqlmodel import col, update

from server.core.recipe import Component, Measure
from server.data.session import LabSession
from server.kits.forms import NewBottle
from server.kits.models import STOCK_A, STOCK_B, Bottle
from server.kits.queries import find_lead_days, list_bottles, list_unbalanced, list_usable_bottles
from tests.kits import shelf

TODAY = date(2027, 2, 16)


def test_bottles_come_first_expiring_first_and_empty_ones_not_at_all(session: LabSession) -> None:
    later = shelf.kit(session, "later")
    sooner = shelf.kit(session, "sooner", expires_on=date(2027, 3, 1))
    past = shelf.kit(session, "past", expires_on=date(2027, 2, 15))
    shelf.kit(session, "bleach only", stock_a_ul=0, stock_b_ul=0)

    assert [bottle.kit_id for bottle in list_bottles(session, STOCK_A)] == [
        past.id,
        sooner.id,
        later.id,
    ]
    usable = list_usable_bottles(session, TODAY, standing_for=Component(STOCK_A, 1, Measure.PART))
    assert [kit.name for _bottle, kit in usable] == ["sooner", "later"]


def test_a_planted_error_in_a_bottle_is_found(session: LabSession) -> None:
    bottle = shelf.bottle(session, shelf.kit(session), STOCK_B)
    assert list_unbalanced(session) == []
    session.execute(update(Bottle).where(col(Bottle.id) == bottle.id).values(left=999_999))
    session.expire_all()

    assert list_unbalanced(session) == [
        "The stock B of kit “kit 4” says 999999 µL, its ledger adds up to 1000000 µL.",
    ]


def test_a_planted_error_in_a_jar_is_found_in_milligrams(session: LabSession) -> None:
    kit = shelf.kit(session, contents=[NewBottle("metol", 25_000, Measure.MASS)])
    bottle = shelf.bottle(session, kit, "metol")
    session.execute(update(Bottle).where(col(Bottle.id) == bottle.id).values(left=24_000))
    session.expire_all()

    assert list_unbalanced(session) == [
        "The metol of kit “kit 4” says 24000 mg, its ledger adds up to 25000 mg."
    ]


def test_bottles_are_found_for_a_component_by_name_or_as_another_hydrate(session: LabSession) -> None:
    shelf.kit(
        session,
        contents=[
            NewBottle("washing soda", 500_000, Measure.MASS, "Na2CO3·10H2O"),
            NewBottle("Sodium Carbonate", 500_000, Measure.MASS),
            NewBottle("sodium hydroxide", 500_000, Measure.MASS, "NaOH"),
        ],
    )
    wanted = Component("sodium carbonate", 70_000, formula="Na2CO3")

    usable = list_usable_bottles(session, TODAY, standing_for=wanted)
    assert [bottle.substance for bottle, _kit in usable] == ["washing soda", "Sodium Carbonate"]


def test_the_lead_time_is_that_of_the_last_delivery(session: LabSession) -> None:
    assert find_lead_days(session) == 14
    shelf.kit(session, lead_days=30)

    assert find_lead_days(session) == 30
