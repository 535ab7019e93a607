"""From powders to stock solutions, from these to working developer: amounts, strengths, hazards, ends and the ledgers of all."""

from collections.abc import Sequence
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import col, select, update

from server.chemistry.actions import check_batch, correct_batch, discard_batch, override_end
from server.chemistry.forms import Chosen
from server.chemistry.models import Batch, BatchEntry
from server.chemistry.queries import (
    composition_of,
    find_key,
    get_making,
    list_batch_entries,
    list_batches,
    list_ingredients,
    list_sources,
    list_unbalanced,
    usable_until,
    usual_making,
)
from server.core.recipe import Measure
from server.data.session import Database, LabSession
from server.kits.models import Bottle, BottleEntry, BottleEntryKind
from server.kits.queries import list_unbalanced as list_unbalanced_bottles
from server.recipes.forms import NewComponent
from server.recipes.models import Solution
from server.refusal import Refusal
from tests.casts import MORNING, Cast
from tests.chemistry import from_powder, mixing

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture(autouse=True)
def a_lab_that_weighs(request: pytest.FixtureRequest) -> None:
    if "session" in request.fixturenames:
        session = request.getfixturevalue("session")
        from_powder.recipes(session)
        from_powder.powders(session)


def _both_stocks(session: LabSession, volume_ul: int = 500_000) -> tuple[Batch, Batch]:
    return mixing.by_name(session, "stock A", volume_ul), mixing.by_name(session, "stock B", volume_ul)


def _amounts(session: LabSession, batch: Batch) -> dict[str, int]:
    return {part.name: part.amount for part in list_ingredients(session, batch.number)}


def test_stock_solutions_are_weighed_by_the_form_on_the_shelf_and_filled_with_water(
    session: LabSession,
) -> None:
    """125 mL of each, by hand: 0.500 and 3.125 g; 1.875 g and 8.75 g anhydrous, which as monohydrate are 8.75 × 124.003 / 105.988 = 10.237 g.

    Weighed to 0.01 g.
    """
    a, b = _both_stocks(session, 125_000)

    assert _amounts(session, a) == {"metol": 500, "ascorbic acid": 3_130}
    assert _amounts(session, b) == {"soda": 10_240, "sodium hydroxide": 1_880}
    assert (a.volume_ul, a.water_ul, b.volume_ul, b.water_ul) == (125_000, 125_000, 125_000, 125_000)
    assert (a.solution, a.name) == (Solution.STOCK, "stock A")


def test_mixing_one_to_one_halves_every_strength(session: LabSession) -> None:
    """The recipe gives 2.0, 12.5, 35 and 7.5 g/L after mixing; weighing to 0.01 g keeps them within 0.2 %."""
    _both_stocks(session, 500_000)
    developer = mixing.developer(session, 250_000)
    found = {part.name: part for part in composition_of(session, developer)}

    assert [part.measure for part in found.values()] == [Measure.MASS] * 4
    for name, grams in {
        "metol": "2", "ascorbic acid": "12.5", "sodium carbonate": "35", "sodium hydroxide": "7.5",
    }.items():  # fmt: skip
        assert abs(found[name].strength / (Fraction(grams) * 1000) - 1) < Fraction(2, 1000), name
    assert [found[name].hazards for name in ("metol", "ascorbic acid", "sodium carbonate")] == [
        "skin allergy",
        "",
        "irritates eyes; dust irritates",
    ]


def test_a_developer_is_mixed_from_the_labs_own_stock_batches(session: LabSession) -> None:
    a, b = _both_stocks(session)
    stand_s = usual_making(session, Solution.DEVELOPER).stand_s
    developer = mixing.developer(session, 400_000, stand_s=stand_s)

    assert [part.batch_id for part in list_ingredients(session, developer.number)] == [a.id, b.id]
    assert (a.left_ul, b.left_ul, developer.volume_ul, developer.water_ul) == (300_000, 300_000, 400_000, 0)
    entry = list_batch_entries(session, a.id)[-1]
    assert (entry.kind, entry.change_ul, entry.into_batch_number) == ("drawn", -200_000, developer.number)
    assert developer.ready_at == MORNING + timedelta(minutes=5)
    assert list_unbalanced(session) == list_unbalanced_bottles(session) == []


def test_a_batch_keeps_its_lots(session: LabSession) -> None:
    a, _b = _both_stocks(session)

    assert [(part.source, part.lot) for part in list_ingredients(session, a.number)] == [
        ("powders", "M-17"),
        ("powders", ""),
    ]


def test_the_recipe_says_how_long_it_lives_and_the_usual_quantities_where_it_is_silent(
    session: LabSession,
) -> None:
    a, b = _both_stocks(session)

    assert (a.ends_at, b.ends_at) == (MORNING + 30 * DAY, MORNING + 60 * DAY)


def test_a_batch_never_outlives_what_it_was_mixed_from(session: LabSession) -> None:
    """Stock A ends in thirty days; developer mixed three hours before that has three hours, not six."""
    a, _b = _both_stocks(session)
    late = a.ends_at - 3 * HOUR

    assert mixing.developer(session, 200_000, mixed_at=late, now=late).ends_at == a.ends_at


def test_a_powder_that_expires_ends_what_was_mixed_from_it(session: LabSession) -> None:
    """Good until 20 February on the pack is until midnight in Berlin, 23:00 UTC."""
    kit = from_powder.powders(session, "old", expires_on=date(2027, 2, 20))
    a = mixing.by_name(session, "stock A", 100_000)

    assert {part.source for part in list_ingredients(session, a.number)} == {kit.name}
    assert a.ends_at == MORNING.replace(day=20, hour=23)


def test_an_ended_batch_can_not_be_chosen(session: LabSession) -> None:
    a, b = _both_stocks(session)
    developer = usual_making(session, Solution.DEVELOPER)
    late = a.ends_at

    assert list_sources(session, developer.formula.components[0], late) == []
    with pytest.raises(Refusal, match=r"Batch 1 ended Thu 18 Mar 2027, 08:00\."):
        mixing.developer(
            session, mixed_at=late, now=late,
            chosen=[Chosen("stock A", f"batch-{a.id}"), Chosen("stock B", f"batch-{b.id}")],
        )  # fmt: skip


def test_a_working_bath_is_not_mixed_into_another(session: LabSession) -> None:
    _both_stocks(session)
    developer = mixing.developer(session, 200_000)
    making = get_making(session, "kit-developer")

    with pytest.raises(Refusal, match="chosen for stock A is something else"):
        mixing.developer(
            session, chosen=[Chosen("stock A", f"batch-{developer.id}"), Chosen("stock B", "batch-2")]
        )
    assert [component.name for component in making.formula.components] == ["stock A", "stock B"]


def test_a_batch_that_still_stands_is_not_drawn_from(session: LabSession) -> None:
    from_powder.write(
        session, "slow stock", Solution.STOCK, NewComponent("metol", 4_000, Measure.MASS), stand_s=3_600
    )  # fmt: skip
    from_powder.write(session, "bath", Solution.OTHER, NewComponent("slow stock", 1, Measure.PART))
    slow = mixing.by_name(session, "slow stock", 100_000, stand_s=3_600)

    with pytest.raises(Refusal, match="was not ready before Tue 16 Feb 2027, 09:00"):
        mixing.by_name(session, "bath", 50_000, chosen=[Chosen("slow stock", f"batch-{slow.id}")])
    later = MORNING + HOUR
    assert mixing.by_name(session, "bath", 50_000, mixed_at=later, now=later).volume_ul == 50_000


def _by_hand(grams: str) -> list[Chosen]:
    return [
        Chosen("metol", "bottle-1", (int(Fraction(grams) * 1000), Measure.MASS)),
        Chosen("ascorbic acid", "bottle-2"),
    ]


def test_what_was_really_weighed_is_kept(session: LabSession) -> None:
    """0.5 L take 2 g of metol; 2.03 g were weighed, which is within two in a hundred."""
    a = mixing.by_name(session, "stock A", 500_000, chosen=_by_hand("2.03"))

    assert _amounts(session, a) == {"metol": 2_030, "ascorbic acid": 12_500}
    assert composition_of(session, a)[0].strength == 4_060


def test_an_amount_that_is_off_is_asked_back_and_taken_when_it_is_confirmed(session: LabSession) -> None:
    with pytest.raises(Refusal, match=r"metol would be 2\.5 g, which is 25% more than the 2 g called for"):
        mixing.by_name(session, "stock A", 500_000, chosen=_by_hand("2.5"))
    a = mixing.by_name(session, "stock A", 500_000, chosen=_by_hand("2.5"), as_measured=True)

    assert _amounts(session, a)["metol"] == 2_500


def test_a_powder_is_not_measured_in_millilitres(session: LabSession) -> None:
    wrong = [Chosen("metol", "bottle-1", (2_000, Measure.VOLUME)), Chosen("ascorbic acid", "bottle-2")]

    with pytest.raises(Refusal, match=r"is kept by its mass\. Write g\."):
        mixing.by_name(session, "stock A", 500_000, chosen=wrong)


def test_a_recipe_that_changed_meanwhile_is_looked_at_again(session: LabSession) -> None:
    making = usual_making(session, Solution.DEVELOPER)
    _both_stocks(session)

    with pytest.raises(Refusal, match="was changed meanwhile"):
        mixing.developer(session, 100_000, edition=making.edition.number + 1)  # type: ignore[union-attr]
    assert mixing.developer(session, 100_000, edition=1).edition_id == making.edition.id  # type: ignore[union-attr]


def test_the_same_mixing_sent_twice_is_entered_once(session: LabSession) -> None:
    _both_stocks(session)
    mixing.developer(session, 100_000)

    with pytest.raises(Refusal, match="Batch 3 is entered with the same"):
        mixing.developer(session, 100_000)
    later = MORNING + timedelta(minutes=1)
    assert mixing.developer(session, 100_000, mixed_at=later, now=later).number == 4


def test_a_failed_check_ends_a_batch_and_a_passed_one_does_not_bring_it_back(session: LabSession) -> None:
    a, _b = _both_stocks(session)
    noon = MORNING + 4 * HOUR
    check_batch(session, a.id, passed=True, look="clear", by="Tomas", now=MORNING + HOUR)
    assert usable_until(a) == a.ends_at

    check_batch(session, a.id, passed=False, look="brown", by="Tomas", now=noon)
    check_batch(session, a.id, passed=True, look="clear after all", by="Tomas", now=noon + HOUR)

    assert (usable_until(a), a.failed_at) == (noon, noon)
    later = noon + 2 * HOUR
    with pytest.raises(Refusal, match="Batch 1 ended Tue 16 Feb 2027, 12:00"):
        mixing.developer(
            session,
            100_000,
            mixed_at=later,
            now=later,
            chosen=[Chosen("stock A", "batch-1"), Chosen("stock B", "batch-2")],
        )


def test_only_an_instructors_decision_stands_over_a_check_until_the_next_one_fails(
    session: LabSession,
) -> None:
    a, _b = _both_stocks(session)
    check_batch(session, a.id, passed=False, look="brown", by="Tomas", now=MORNING + HOUR)
    until = MORNING + 6 * HOUR
    override_end(
        session, a.id, until=until, reason="a stain of the bottle", by="Mira", now=MORNING + 2 * HOUR
    )

    assert usable_until(a) == until
    check_batch(session, a.id, passed=True, look="clear", by="Tomas", now=MORNING + 3 * HOUR)
    assert usable_until(a) == until
    check_batch(session, a.id, passed=False, look="black", by="Tomas", now=MORNING + 4 * HOUR)
    assert usable_until(a) == MORNING + 4 * HOUR


def test_a_check_that_fails_beyond_the_life_leaves_what_was_used_by_decision_until_then(
    session: LabSession,
) -> None:
    _both_stocks(session)
    developer = mixing.developer(session, 200_000)
    end = developer.ends_at
    override_end(
        session, developer.id, until=end + 2 * HOUR, reason="strip as before", by="Mira", now=end - HOUR
    )

    check_batch(session, developer.id, passed=False, look="brown", by="Tomas", now=end + HOUR)

    assert usable_until(developer) == end + HOUR


@pytest.mark.parametrize(
    ("until", "sentence"),
    [(MORNING, "is past"), (MORNING + HOUR, r"may be used until Thu 18 Mar 2027, 08:00 as it is")],
)
def test_a_decision_that_changes_nothing_is_refused(
    session: LabSession, until: object, sentence: str
) -> None:
    a, _b = _both_stocks(session)

    with pytest.raises(Refusal, match=sentence):
        override_end(session, a.id, until=until, reason="why not", by="Mira", now=MORNING)  # type: ignore[arg-type]


def test_a_check_of_nothing_is_refused(session: LabSession) -> None:
    a, _b = _both_stocks(session)

    with pytest.raises(Refusal, match="Nothing was checked"):
        check_batch(session, a.id, passed=True, note="fine", by="Tomas", now=MORNING)


def test_planted_errors_in_liquids_and_lost_entries_are_found(session: LabSession) -> None:
    _both_stocks(session)
    mixing.developer(session, 200_000)
    assert list_unbalanced(session) == []
    session.execute(update(Batch).where(col(Batch.number) == 1).values(water_ul=499_000))
    into_nothing = update(BatchEntry).where(col(BatchEntry.batch_id) == 2, col(BatchEntry.kind) == "drawn")
    session.execute(into_nothing.values(into_batch_number=77))
    lost = update(BottleEntry).where(col(BottleEntry.bottle_id) == 1, col(BottleEntry.batch_number) == 1)
    session.execute(lost.values(batch_number=78))
    session.expire_all()

    assert list_unbalanced(session) == [
        (
            "Batch 3 (working developer) was mixed as 200000 µL, its ledger says 200000 µL, "
            "and 100000 µL were drawn for it beside 0 µL of water."
        ),
        (
            "Batch 1 (stock A) was mixed as 500000 µL, its ledger says 500000 µL, "
            "and 0 µL were drawn for it beside 499000 µL of water."
        ),
        "2 g of the metol of kit “powders” went into batch 78, which does not exist.",
        "Something was drawn into batch 77, which does not exist.",
    ]


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["stock A", "stock B", "working developer", "discard", "measure", "fail"]),
        st.integers(1, 900_000),
    ),
    max_size=10,
)


def _do(session: LabSession, step: str, size: int) -> None:
    batches = list_batches(session)
    batch = batches[size % len(batches)] if batches else None
    if step in {"stock A", "stock B", "working developer"}:
        mixing.by_name(session, step, size, as_measured=bool(size % 2))
    elif step == "discard" and batch:
        discard_batch(session, batch.id, by="Tomas", now=MORNING)
    elif step == "measure" and batch:
        correct_batch(session, batch.id, measured_ul=size, reason="measured", by="Tomas", now=MORNING)
    elif step == "fail" and batch:
        check_batch(session, batch.id, passed=False, look="brown", by="Tomas", now=MORNING)


def _ledger(session: LabSession, kinds: Sequence[str]) -> int:
    entries = session.exec(select(BatchEntry).where(col(BatchEntry.kind).in_(kinds))).all()
    return sum(entry.change_ul for entry in entries)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(STEPS)
def test_every_milligram_and_microlitre_ends_on_the_shelf_in_a_batch_or_a_discard(
    database: Database, cast: Cast, steps: list[tuple[str, int]]
) -> None:
    with database.writing(cast.lab_id) as session:
        from_powder.recipes(session)
        kit = from_powder.powders(session)
        for step, size in [("stock A", 300_000), ("stock B", 300_000), *steps]:
            savepoint = session.begin_nested()
            try:
                _do(session, step, size)
                savepoint.commit()
            except Refusal:
                savepoint.rollback()

        bottles = session.exec(select(Bottle).where(Bottle.kit_id == kit.id)).all()
        mixed_in = session.exec(select(BottleEntry).where(BottleEntry.kind == BottleEntryKind.MIXED)).all()
        batches = list_batches(session)
        weighed = sum(
            part.amount
            for batch in batches
            for part in list_ingredients(session, batch.number)
            if part.measure == Measure.MASS
        )
        assert sum(bottle.left for bottle in bottles) + weighed == 400_000
        assert weighed == -sum(entry.change for entry in mixed_in)
        water = sum(batch.water_ul for batch in batches)
        assert sum(batch.left_ul for batch in batches) == water + _ledger(
            session, ["discarded", "correction"]
        )
        assert list_unbalanced(session) == list_unbalanced_bottles(session) == []
        session.rollback()


def test_a_source_says_what_stands_in_it_where_that_has_another_name_or_form(session: LabSession) -> None:
    making = get_making(session, find_key(session, "stock B"))

    assert [
        source.name
        for component in making.formula.components
        for source in list_sources(session, component, MORNING)
    ] == ["powders, soda Na2CO3·H2O", "powders"]
