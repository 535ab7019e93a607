"""What on the shelf runs out."""

from datetime import date, timedelta

from server.chemistry.models import Batch
from server.core.recipe import Basis, Measure
from server.data.session import LabSession
from server.kits.actions import discard_from_bottle, draw_from_bottle
from server.kits.forms import NewBottle
from server.kits.queries import list_bottles_of_kit, list_usable_bottles
from server.plates.actions import draw_plates
from server.plates.models import PlateBox, PlateEntryKind
from server.recipes.actions import add_recipe, write_edition
from server.recipes.forms import NewComponent
from server.recipes.models import Solution, Water
from server.stock.queries import (
    list_expiring,
    list_kit_promises,
    list_short,
    list_still_made,
)
from tests.casts import MORNING
from tests.chemistry import mixing
from tests.kits.shelf import kit
from tests.plates.shelf import box

TODAY = date(2027, 2, 16)


def _take(session: LabSession, full: PlateBox, plates: int) -> None:
    draw_plates(session, full.id, plates=plates, kind=PlateEntryKind.TEST, by="Tomas", now=MORNING)


def test_what_expires_within_thirty_days_is_listed_earliest_first(session: LabSession) -> None:
    box(session, "in 30 days", expires_on=date(2027, 3, 18))
    box(session, "in 31 days", expires_on=date(2027, 3, 19))
    box(session, "yesterday", expires_on=date(2027, 2, 15))
    kit(session, "kit 4", expires_on=TODAY, stock_b_ul=0, bleach_ul=0)
    gone = box(session, "used up", plates=2, expires_on=TODAY)
    _take(session, gone, 2)

    assert [(found.what, found.left, found.expired) for found in list_expiring(session, TODAY)] == [
        ("plate box “yesterday”", "30 plates", True),
        ("stock A of kit “kit 4”", "1 L", False),
        ("plate box “in 30 days”", "30 plates", False),
    ]


def test_plates_are_short_below_a_quarter_of_the_last_delivery(session: LabSession) -> None:
    full = box(session, plates=40)
    _take(session, full, 30)
    assert list_short(session, TODAY) == []
    _take(session, full, 1)

    (short,) = list_short(session, TODAY)
    assert (short.what, short.left, short.last_delivery) == ("plates", "9 plates", "40 plates")


def test_the_last_delivery_is_all_bottles_of_the_last_kit(session: LabSession) -> None:
    kit(session, "kit 3", stock_a_ul=4_000_000, stock_b_ul=0, bleach_ul=0, expires_on=date(2027, 2, 15))
    pair = kit(session, contents=[NewBottle("stock A", 500_000), NewBottle("Stock A", 500_000)])
    for one in list_bottles_of_kit(session, pair.id):
        discard_from_bottle(session, one.id, amount=380_000, note="", by="Tomas", now=MORNING)

    (short,) = list_short(session, TODAY)
    assert (short.what, short.left, short.last_delivery) == ("Stock A", "240 mL", "1 L")


def test_an_expired_bottle_leaves_its_substance_short(session: LabSession) -> None:
    kit(session, expires_on=date(2027, 2, 15), stock_b_ul=0, bleach_ul=0)

    (short,) = list_short(session, TODAY)
    assert (short.what, short.left, short.last_delivery) == ("stock A", "0 mL", "1 L")


def _recipe(session: LabSession, name: str, components: list[NewComponent], solution: Solution) -> None:
    recipe = add_recipe(session, name=name, solution=solution)
    write_edition(
        session,
        recipe.id,
        components,
        volume_ul=1_000_000,
        start_ul=0,
        basis=Basis.MADE_UP_TO,
        water=Water.TAP,
        temperature_decicelsius=None,
        stand_s=0,
        life_s=None,
        note="",
        by="Tomas",
        now=MORNING,
    )


def _still_made(session: LabSession) -> dict[str, tuple[int, tuple[str, ...]]]:
    return {
        one.name: (one.made.volume_ul, one.made.runs_out)
        for one in list_still_made(session, MORNING, "Europe/Berlin")
    }


def test_without_recipes_the_bottles_make_developer_and_bleach(session: LabSession) -> None:
    """Worked by hand: 1 L of A and 0.45 L of B make 0.9 L; expired bottles are not counted."""
    kit(session, stock_b_ul=450_000, bleach_ul=300_000)
    kit(session, "old", expires_on=date(2027, 2, 15))

    assert _still_made(session) == {
        "working developer": (900_000, ("stock B",)),
        "bleach": (300_000, ("bleach",)),
    }


def test_powders_and_batches_count_for_the_recipes_of_the_lab(session: LabSession) -> None:
    """Worked by hand: 10 g/L of salt A; 20 g in the jar make 2 L of stock A, and with as much stock B 4 L of developer.

    After a batch of half a litre of stock A the jar holds 15 g for 1.5 L, and the batch stands in for the rest.
    """
    _recipe(session, "stock A", [NewComponent("salt A", 10_000, Measure.MASS)], Solution.STOCK)
    parts = [NewComponent("stock A", 1, Measure.PART), NewComponent("stock B", 1, Measure.PART)]
    _recipe(session, "our developer", parts, Solution.DEVELOPER)
    kit(session, contents=[NewBottle("salt A", 20_000, Measure.MASS), NewBottle("stock B", 5_000_000)])

    assert _still_made(session)["our developer"] == (4_000_000, ("salt A",))
    assert _still_made(session)["stock A"] == (2_000_000, ("salt A",))

    (source,) = (
        bottle for bottle, _kit in list_usable_bottles(session, TODAY) if bottle.substance == "salt A"
    )
    session.add(
        Batch(
            number=1,
            name="stock A",
            solution=Solution.STOCK,
            volume_ul=0,
            water_ul=500_000,
            left_ul=500_000,
            mixed_at=MORNING,
            ready_at=MORNING,
            ends_at=MORNING + timedelta(days=30),
            mixed_by="Tomas",
        )
    )
    draw_from_bottle(session, source.id, amount=5_000, batch_number=1, by="Tomas", now=MORNING)

    developer = next(
        one for one in list_still_made(session, MORNING, "Europe/Berlin") if one.name == "our developer"
    )
    assert developer.made.volume_ul == 4_000_000
    assert [(found.words, int(amount)) for found, amount in developer.taken] == [
        ("batch 1 (stock A)", 500_000),
        ("salt A of kit “kit 4”", 15_000),
        ("stock B of kit “kit 4”", 2_000_000),
    ]


def test_what_is_mixed_already_is_not_made_once_more(session: LabSession) -> None:
    """Worked by hand: of half a litre of bleach 0.2 L stand mixed, and 0.3 L can still be."""
    kit(session, bleach_ul=500_000)
    mixing.bleach(session, 200_000)

    assert _still_made(session)["bleach"] == (300_000, ("bleach",))


def test_a_kits_bottles_are_told_beside_a_recipe_that_does_not_take_them(session: LabSession) -> None:
    """Half a litre of bleach stands ready in its bottle, though the lab's own recipe calls for a salt that is missing."""
    _recipe(session, "our bleach", [NewComponent("salt", 10_000, Measure.MASS)], Solution.BLEACH)
    kit(session, stock_a_ul=0, stock_b_ul=0)

    made = _still_made(session)
    assert made["our bleach"] == (0, ("salt",))
    assert made["bleach, of a kit's bottles"] == (500_000, ("bleach",))


def test_what_a_pack_promises_stands_beside_what_the_recipe_makes_of_it(session: LabSession) -> None:
    """Worked by hand: a pack that says 2 L brings 1 L of A and 0.8 L of B, which make 1.6 L, whatever is drawn later."""
    new = kit(session, makes_ul=2_000_000, stock_b_ul=800_000)
    bottle = list_bottles_of_kit(session, new.id)[0]
    discard_from_bottle(session, bottle.id, amount=900_000, note="spilled", by="Tomas", now=MORNING)

    (promise,) = list_kit_promises(session)
    assert (promise.says_ul, promise.makes.volume_ul, promise.makes.runs_out) == (
        2_000_000,
        1_600_000,
        ("stock B",),
    )


def test_a_powder_is_short_and_expires_by_its_mass(session: LabSession) -> None:
    new = kit(session, expires_on=TODAY, contents=[NewBottle("metol", 40_000, Measure.MASS)])
    bottle = list_bottles_of_kit(session, new.id)[0]
    discard_from_bottle(
        session, bottle.id, amount=30_001, measure=Measure.MASS, note="damp", by="Tomas", now=MORNING
    )

    (short,) = list_short(session, TODAY)
    assert (short.what, short.left, short.last_delivery) == ("metol", "9.999 g", "40 g")
    assert [(found.what, found.left) for found in list_expiring(session, TODAY)] == [
        ("metol of kit “kit 4”", "9.999 g")
    ]
