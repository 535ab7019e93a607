"""The prep sheet's arithmetic. The two worked days are house examples, computed by hand."""

from datetime import UTC, date, datetime, timedelta
from itertools import combinations, pairwise

from hypothesis import given
from hypothesis import strategies as st

from server.core.prep_sheet import (
    BoxOnShelf,
    BoxPick,
    DayRotation,
    MixPlan,
    pick_plates,
    plan_mixes,
)

MIDNIGHT = datetime(2027, 2, 16, tzinfo=UTC)
HOUR = 3600


def _at(clock: str) -> datetime:
    parts = [int(part) for part in clock.split(":")] + [0]
    return MIDNIGHT + timedelta(hours=parts[0], minutes=parts[1], seconds=parts[2])


def _rotation(name: str, starts: str, last_out: str, plates: int) -> DayRotation:
    return DayRotation(name, _at(starts), _at(last_out), plates)


# Three sections in four rounds of three plates: talk 8 min, round 6 min, developer 2.5 min, so the last plate leaves
# the developer 8 + 4·6 + 2.5 = 34.5 min after the start. Three test plates, one per station.
CAPACITY_DAY = [
    _rotation("first", "9:00", "9:34:30", 12),
    _rotation("second", "11:00", "11:34:30", 12),
    _rotation("third", "14:00", "14:34:30", 12),
]


def _capacity_day(*, late_start_s: int = 600) -> MixPlan:
    return plan_mixes(
        CAPACITY_DAY,
        test_plates=3,
        life_s=6 * HOUR,
        charge_ul=200_000,
        plates_per_charge=12,
        lead_s=20 * 60,
        late_start_s=late_start_s,
    )


def test_the_capacity_day_needs_600_ml_in_the_morning_and_200_ml_after_noon() -> None:
    """House example, computed by hand: 27 plates are three charges at 08:40, 12 plates one charge at 13:40."""
    morning, afternoon = _capacity_day().mixes

    assert (morning.mixed_at, morning.plates, morning.charges, morning.volume_ul) == (
        _at("8:40"),
        27,
        3,
        600_000,
    )
    assert [rotation.name for rotation in morning.rotations] == ["first", "second"]
    assert (afternoon.mixed_at, afternoon.plates, afternoon.charges, afternoon.volume_ul) == (
        _at("13:40"),
        12,
        1,
        200_000,
    )


def test_one_mix_would_do_only_if_nobody_ever_started_late() -> None:
    """House example, computed by hand: mixed at 08:40 it lives to 14:40, 5.5 min after the last plate of 14:34:30."""
    (only,) = _capacity_day(late_start_s=0).mixes

    assert only.margin_s == 330
    assert len(_capacity_day(late_start_s=330).mixes) == 1
    assert len(_capacity_day(late_start_s=331).mixes) == 2


# Four sections of 110 min; plates may enter the developer until 15 min before the bell and stay in it for 2.5 min.
MIXING_DAY = [
    _rotation("one", "8:00", "9:37:30", 12),
    _rotation("two", "10:00", "11:37:30", 12),
    _rotation("three", "13:00", "14:37:30", 12),
    _rotation("four", "15:00", "16:37:30", 12),
]


def test_the_mixing_day_needs_two_mixes_of_400_ml() -> None:
    """House example, computed by hand: 07:45 lives to 13:45, 12:45 to 18:45; each serves 24 plates."""
    plan = plan_mixes(
        MIXING_DAY, test_plates=0, life_s=6 * HOUR, charge_ul=200_000, plates_per_charge=12, lead_s=15 * 60
    )

    assert [(mix.mixed_at, mix.ends_at, mix.volume_ul) for mix in plan.mixes] == [
        (_at("7:45"), _at("13:45"), 400_000),
        (_at("12:45"), _at("18:45"), 400_000),
    ]


def test_eight_hours_of_life_still_need_two_mixes_unless_the_last_section_ends_early() -> None:
    """House example, computed by hand: 07:45 + 8 h = 15:45, short of 16:35."""
    early = [*MIXING_DAY[:3], _rotation("four", "15:00", "15:42:30", 12)]

    for day, mixes in ((MIXING_DAY, 2), (early, 1)):
        plan = plan_mixes(
            day,
            test_plates=0,
            life_s=8 * HOUR,
            charge_ul=200_000,
            plates_per_charge=12,
            lead_s=15 * 60,
            late_start_s=0,
        )
        assert len(plan.mixes) == mixes


def test_a_rotation_longer_than_the_developers_life_is_named_and_in_no_mix() -> None:
    endless = _rotation("endless", "9:00", "17:00", 4)

    plan = plan_mixes(
        [endless, CAPACITY_DAY[2]], test_plates=0, life_s=6 * HOUR, charge_ul=200_000, plates_per_charge=12
    )

    assert plan.too_long == (endless,)
    assert [mix.rotations for mix in plan.mixes] == [(CAPACITY_DAY[2],)]


def test_a_day_without_rotations_needs_no_mix() -> None:
    plan = plan_mixes([], test_plates=0, life_s=6 * HOUR, charge_ul=200_000, plates_per_charge=12)

    assert plan == MixPlan((), ())


rotations = st.lists(
    st.builds(
        lambda start, lasts, plates: DayRotation(
            "a rotation",
            MIDNIGHT + timedelta(minutes=start),
            MIDNIGHT + timedelta(minutes=start + lasts),
            plates,
        ),
        st.integers(0, 20 * 60),
        st.integers(1, 120),
        st.integers(1, 40),
    ),
    max_size=6,
)


@given(rotations, st.integers(3 * HOUR, 9 * HOUR), st.integers(0, 6))
def test_every_plate_is_in_one_mix_that_outlives_it_and_no_division_has_fewer_mixes(
    day: list[DayRotation], life_s: int, test_plates: int
) -> None:
    plan = plan_mixes(day, test_plates=test_plates, life_s=life_s, charge_ul=200_000, plates_per_charge=12)
    ordered = [rotation for mix in plan.mixes for rotation in mix.rotations]

    assert ordered == sorted(day, key=lambda rotation: (rotation.starts_at, rotation.last_out_at))
    assert sum(mix.plates for mix in plan.mixes) == sum(rotation.plates for rotation in day) + (
        test_plates if day else 0
    )
    assert all(mix.margin_s >= 600 and mix.charges * 12 >= mix.plates for mix in plan.mixes)
    assert len(plan.mixes) == _fewest_parts(ordered, life_s)


def _fewest_parts(ordered: list[DayRotation], life_s: int) -> int:
    """The fewest parts by trying every way to cut the day."""
    if not ordered:
        return 0

    def lasts(part: list[DayRotation]) -> bool:
        longest = max(rotation.last_out_at for rotation in part) - part[0].starts_at
        return longest <= timedelta(seconds=life_s - 20 * 60 - 600)

    for cuts in range(len(ordered)):
        for chosen in combinations(range(1, len(ordered)), cuts):
            edges = [0, *chosen, len(ordered)]
            if all(lasts(ordered[a:b]) for a, b in pairwise(edges)):
                return cuts + 1
    raise AssertionError("a rotation alone outlasts the developer")


def test_plates_come_from_the_box_that_expires_first() -> None:
    boxes = [
        BoxOnShelf(1, 30, None),
        BoxOnShelf(2, 9, date(2027, 3, 31)),
        BoxOnShelf(3, 5, date(2027, 2, 28)),
    ]

    picked = pick_plates(boxes, plates=20, day=date(2027, 2, 16))

    assert picked.picks == (BoxPick(3, 5), BoxPick(2, 9), BoxPick(1, 6))
    assert picked.short == 0


def test_a_box_past_its_day_is_not_counted_for_the_class() -> None:
    """House example: the box expires on 31 March and the class is on 14 April."""
    picked = pick_plates([BoxOnShelf(1, 30, date(2027, 3, 31))], plates=12, day=date(2027, 4, 14))

    assert (picked.picks, picked.short, picked.expired) == ((), 12, 30)
    assert pick_plates([BoxOnShelf(1, 30, date(2027, 3, 31))], plates=12, day=date(2027, 3, 31)).short == 0


@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.none() | st.dates(date(2027, 1, 1), date(2027, 4, 1))), max_size=5
    ),
    st.integers(0, 90),
)
def test_plates_picked_and_short_are_the_plates_wanted(
    shelf: list[tuple[int, date | None]], plates: int
) -> None:
    boxes = [BoxOnShelf(number, held, expires) for number, (held, expires) in enumerate(shelf)]

    picked = pick_plates(boxes, plates=plates, day=date(2027, 2, 16))

    assert sum(pick.plates for pick in picked.picks) + picked.short == plates
    assert all(0 < pick.plates <= boxes[pick.box_id].plates for pick in picked.picks)
