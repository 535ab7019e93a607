"""The mix plan's arithmetic. The two worked days are house examples, computed by hand."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.mix_plan import (
    DevelopedRound,
    DeveloperRules,
    MixPlan,
    PlateInTray,
    Standing,
    StandingCharge,
    Stay,
    margin_words,
    plan_charges,
    plan_mixes,
    plates_served,
    rounds_of_class,
)

MIDNIGHT = datetime(2027, 2, 16, tzinfo=UTC)
HOUR = 3600
PLATE = 4032
RULES = DeveloperRules(
    life_s=6 * HOUR, lead_s=20 * 60, late_start_s=600, charge_ul=200_000, charge_area_mm2=12 * PLATE
)


def _at(clock: str) -> datetime:
    parts = [int(part) for part in clock.split(":")] + [0]
    return MIDNIGHT + timedelta(hours=parts[0], minutes=parts[1], seconds=parts[2])


def _plates(number: int, *, area_mm2: int = PLATE, tray: str = "line 1") -> tuple[PlateInTray, ...]:
    return (PlateInTray(tray, area_mm2),) * number


def _class(number: int, name: str, starts: str, last_out: str, plates: int) -> DevelopedRound:
    """A class whose plates all follow each other."""
    return DevelopedRound(number, name, _at(starts), _at(starts), _at(last_out), _plates(plates))


def _rounds(
    number: int, name: str, starts: str, *, rounds: int = 4, plates: int = 3, area_mm2: int = PLATE
) -> list[DevelopedRound]:
    """A class of 50 min: talk 8 min, a round of 6 min, then its plates are in the developer for 2.5 min."""
    found = []
    for index in range(rounds):
        first_in = _at(starts) + timedelta(minutes=14 + 6 * index)
        found.append(
            DevelopedRound(
                number,
                name,
                first_in if index else _at(starts),
                first_in,
                first_in + timedelta(seconds=150),
                _plates(plates, area_mm2=area_mm2),
            )
        )
    return found


def _tests(starts: str, plates: int) -> list[DevelopedRound]:
    return [DevelopedRound(0, "the tests", _at(starts), _at(starts), _at(starts), _plates(1))] * plates


# Three sections in four rounds of three plates: talk 8 min, round 6 min, developer 2.5 min, so the last plate leaves
# the developer 8 + 4·6 + 2.5 = 34.5 min after the start, one round of three of each kept for repeats. Three test plates.
CAPACITY_DAY = [
    *_tests("9:00", 3),
    *_rounds(1, "first", "9:00"),
    *_rounds(2, "second", "11:00"),
    *_rounds(3, "third", "14:00"),
]


def test_the_capacity_day_needs_600_ml_in_the_morning_and_200_ml_after_noon() -> None:
    """House example, computed by hand: 27 plates are three charges at 08:40, 12 plates one charge at 13:40."""
    morning, afternoon = plan_mixes(CAPACITY_DAY, RULES).mixes

    assert (morning.mixed_at, morning.plates, morning.charge_count, morning.volume_ul) == (
        _at("8:40"),
        27,
        3,
        600_000,
    )
    assert plates_served(morning.rounds) == (("the tests", 3), ("first", 12), ("second", 12))
    assert (afternoon.mixed_at, afternoon.plates, afternoon.charge_count, afternoon.volume_ul) == (
        _at("13:40"), 12, 1, 200_000,
    )  # fmt: skip


def test_the_capacity_days_charges_are_changed_between_rounds() -> None:
    """By hand: 3 tests and 3 rounds of 3 fill a charge of 12; then 4 rounds of 3; then the last round of the second class."""
    charges = plan_mixes(CAPACITY_DAY, RULES).mixes[0].charges

    assert [(charge.first_in_at, charge.plates) for charge in charges] == [
        (_at("9:00"), 12),
        (_at("9:32"), 12),
        (_at("11:32"), 3),
    ]


def test_one_mix_would_do_only_if_nobody_ever_started_late() -> None:
    """House example, computed by hand: mixed at 08:40 it lives to 14:40, 5.5 min after the last plate of 14:34:30."""
    (only,) = plan_mixes(CAPACITY_DAY, replace(RULES, late_start_s=0)).mixes

    assert only.margin_s == 330
    for late_start_s, mixes in ((330, 1), (331, 2), (360, 2)):
        assert len(plan_mixes(CAPACITY_DAY, replace(RULES, late_start_s=late_start_s)).mixes) == mixes


def test_why_one_mix_fewer_will_not_do_is_that_very_margin() -> None:
    one_fewer = plan_mixes(CAPACITY_DAY, RULES).one_fewer

    assert one_fewer is not None
    assert (one_fewer.mixed_at, one_fewer.ends_at, one_fewer.margin_s) == (_at("8:40"), _at("14:40"), 330)
    assert one_fewer.last_round.name == "third"
    assert (
        margin_words(one_fewer.margin_s)
        == "5.5 min before the end of its life, lost by a six-minute late start"
    )


# Four sections of 110 min; plates may enter the developer until 15 min before the bell and stay in it for 2.5 min.
MIXING_DAY = [
    _class(1, "one", "8:00", "9:37:30", 12),
    _class(2, "two", "10:00", "11:37:30", 12),
    _class(3, "three", "13:00", "14:37:30", 12),
    _class(4, "four", "15:00", "16:37:30", 12),
]
QUARTER = replace(RULES, lead_s=15 * 60)


def test_the_mixing_day_needs_two_mixes_of_400_ml() -> None:
    """House example, computed by hand: 07:45 lives to 13:45, 12:45 to 18:45; each serves 24 plates."""
    plan = plan_mixes(MIXING_DAY, QUARTER)

    assert [(mix.mixed_at, mix.ends_at, mix.volume_ul) for mix in plan.mixes] == [
        (_at("7:45"), _at("13:45"), 400_000),
        (_at("12:45"), _at("18:45"), 400_000),
    ]


def test_eight_hours_of_life_still_need_two_mixes_unless_the_last_section_ends_early() -> None:
    """House example, computed by hand: 07:45 + 8 h = 15:45, short of 16:35."""
    early = [*MIXING_DAY[:3], _class(4, "four", "15:00", "15:42:30", 12)]
    rules = replace(QUARTER, life_s=8 * HOUR, late_start_s=0)

    assert len(plan_mixes(MIXING_DAY, rules).mixes) == 2
    assert len(plan_mixes(early, rules).mixes) == 1


def test_a_class_longer_than_a_life_is_mixed_for_between_its_rounds() -> None:
    """By hand: the rounds begin at 09:14, 09:20, …; mixed at 08:40, the last one out before 14:30 enters at 14:26."""
    long = _rounds(1, "marathon", "9:00", rounds=60, plates=1)

    plan = plan_mixes(long, RULES)

    assert plan.too_long == ()
    first, second = plan.mixes
    assert len(first.rounds) + len(second.rounds) == 60
    assert first.last_round.last_out_at <= _at("14:30")
    assert second.mixed_at == second.rounds[0].first_in_at - timedelta(minutes=20)


def test_plates_that_follow_each_other_for_longer_than_a_life_are_named_and_in_no_mix() -> None:
    endless = _class(1, "endless", "9:00", "17:00", 4)

    plan = plan_mixes([endless, MIXING_DAY[2]], RULES)

    assert plan.too_long == (endless,)
    assert [mix.rounds for mix in plan.mixes] == [(MIXING_DAY[2],)]


def test_a_day_without_plates_needs_no_mix() -> None:
    assert plan_mixes([], RULES) == MixPlan((), (), (), None)


def test_a_class_is_not_divided_where_as_many_mixes_spare_it() -> None:
    """By hand: the first three rounds of the class of 14:00 would live in the morning's mix, its fourth would not."""
    plan = plan_mixes(CAPACITY_DAY, RULES)

    assert [name for mix in plan.mixes for name, _plates in plates_served(mix.rounds)] == [
        "the tests", "first", "second", "third",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("area_mm2", "charges"),
    [(PLATE, 1), (2 * PLATE, 2), (12 * PLATE, 12), (13 * PLATE, 24), (25 * PLATE, 36)],
)
def test_capacity_goes_with_the_area_of_the_plates(area_mm2: int, charges: int) -> None:
    """By hand: a charge of twelve small plates serves six of twice their area, and a plate above it takes several at once."""
    (mix,) = plan_mixes([_class(1, "large", "9:00", "9:30", 12)], RULES).mixes[:1] or [None]
    large = replace(mix.rounds[0], plates=_plates(12, area_mm2=area_mm2))  # type: ignore[union-attr]

    assert sum(one.charges for one in plan_charges([large], charge_area_mm2=12 * PLATE)) == charges


def test_a_charge_that_serves_one_plate_is_changed_for_every_plate() -> None:
    (mix,) = plan_mixes(
        _rounds(1, "first", "9:00"), replace(RULES, charge_ul=50_000, charge_area_mm2=PLATE)
    ).mixes

    assert (mix.charge_count, mix.volume_ul) == (12, 600_000)


def test_a_round_shares_a_charge() -> None:
    """By hand: of twelve, rounds of five leave two in each charge; 15 plates take two charges, 20 plates two, 25 three."""
    rounds = _rounds(1, "first", "9:00", rounds=5, plates=5)

    assert [len(plan_charges(rounds[:n], charge_area_mm2=12 * PLATE)) for n in range(1, 6)] == [1, 1, 2, 2, 3]


def test_every_developer_tray_has_charges_of_its_own() -> None:
    one = _class(1, "two lines", "9:00", "9:30", 0)
    both = replace(one, plates=(*_plates(6), *_plates(6, tray="line 2")))

    (mix,) = plan_mixes([both], RULES).mixes

    assert [(charge.tray, charge.plates) for charge in mix.charges] == [("line 1", 6), ("line 2", 6)]
    assert mix.volume_ul == 400_000


def _batch(mixed: str, *, charges: int = 3) -> Standing:
    mixed_at = _at(mixed)
    return Standing(
        7,
        mixed_at + timedelta(minutes=5),
        mixed_at + timedelta(hours=6),
        (StandingCharge(12 * PLATE),) * charges,
    )


def test_developer_that_is_there_is_used_before_any_is_mixed() -> None:
    """By hand: mixed at 08:42 it lives to 14:42, 7.5 min after the last plate of the third class, so that one gets its own."""
    plan = plan_mixes(CAPACITY_DAY, RULES, [_batch("8:42")])

    (use,) = plan.standing
    assert plates_served(use.rounds) == (("the tests", 3), ("first", 12), ("second", 12))
    assert [charge.first_in_at for charge in use.charges] == [_at("9:00"), _at("9:32"), _at("11:32")]
    assert [(mix.mixed_at, mix.volume_ul) for mix in plan.mixes] == [(_at("13:40"), 200_000)]


def test_a_charge_that_is_gone_serves_only_classes_that_had_begun() -> None:
    """By hand: mixed at 08:45 it lives to 14:45, for all three; its charges went at 09:32, 09:50 and 11:50, so the third class at 14:00 has none."""
    there = replace(
        _batch("8:45"),
        charges=tuple(StandingCharge(24 * PLATE, _at(gone)) for gone in ("9:32", "9:50", "11:50")),
    )

    plan = plan_mixes(CAPACITY_DAY, RULES, [there])

    assert [plates_served(use.rounds) for use in plan.standing] == [
        (("the tests", 3), ("first", 12), ("second", 12))
    ]
    assert [plates_served(mix.rounds) for mix in plan.mixes] == [(("third", 12),)]
    fresh = replace(there, charges=(*there.charges, StandingCharge(12 * PLATE)))
    assert plan_mixes(CAPACITY_DAY, RULES, [fresh]).mixes == ()


def test_developer_that_is_there_serves_only_classes_it_has_room_and_life_for() -> None:
    plan = plan_mixes(CAPACITY_DAY, RULES, [_batch("9:30", charges=1)])

    assert [plates_served(use.rounds) for use in plan.standing] == [(("second", 12),)]
    assert [plates_served(mix.rounds) for mix in plan.mixes] == [
        (("the tests", 3), ("first", 12)),
        (("third", 12),),
    ]


def test_stays_in_the_developer_with_no_time_to_change_between_them_are_one_round() -> None:
    """By hand: 30 s between the first two, then two stays at once, then 5 min."""
    stays = [
        Stay("line 1", _at(a), _at(b), PLATE)
        for a, b in (("9:00", "9:02"), ("9:03", "9:04"), ("9:02:30", "9:06"), ("9:11", "9:12"))
    ]

    def sizes(change_s: int) -> list[int]:
        found = rounds_of_class(1, "one", starts_at=_at("8:50"), stays=stays, change_s=change_s)
        return [len(one.plates) for one in found]

    assert sizes(180) == [3, 1]
    assert sizes(30) == [1, 2, 1]
    assert rounds_of_class(1, "one", starts_at=_at("8:50"), stays=[], change_s=30) == []


def test_developer_is_to_be_ready_when_the_class_begins_and_later_when_a_plate_comes() -> None:
    stays = [Stay("line 1", _at(a), _at(b), PLATE) for a, b in (("9:14", "9:16"), ("9:20", "9:22"))]

    first, second = rounds_of_class(1, "one", starts_at=_at("9:00"), stays=stays, change_s=180)

    assert (first.ready_by, first.first_in_at, first.last_out_at) == (_at("9:00"), _at("9:14"), _at("9:16"))
    assert (second.ready_by, second.first_in_at, second.last_out_at) == (
        _at("9:20"),
        _at("9:20"),
        _at("9:22"),
    )


@pytest.mark.parametrize(
    ("margin_s", "words"),
    [
        (0, "0 s before the end of its life, lost by a one-minute late start"),
        (420, "7 min before the end of its life, lost by an eight-minute late start"),
        (1100, "18 min 20 s before the end of its life, lost by a 19-minute late start"),
        (3 * HOUR + 90, "3 h 1 min 30 s before the end of its life"),
        (-150, "2.5 min after the end of its life"),
    ],
)
def test_margins_are_said_in_words(margin_s: int, words: str) -> None:
    assert margin_words(margin_s) == words


days = st.lists(
    st.tuples(
        st.integers(1, 3), st.integers(0, 20 * 60), st.integers(0, 30), st.integers(1, 120), st.integers(1, 9)
    ),
    max_size=6,
).map(
    lambda drawn: [
        DevelopedRound(
            rotation,
            f"class {rotation}",
            MIDNIGHT + timedelta(minutes=start),
            MIDNIGHT + timedelta(minutes=start + talk),
            MIDNIGHT + timedelta(minutes=start + talk + lasts),
            _plates(plates),
        )
        for rotation, start, talk, lasts, plates in drawn
    ]
)


def _divisions(rounds: Sequence[DevelopedRound]) -> Iterator[list[list[DevelopedRound]]]:
    """Every way to divide the rounds into parts, in any order."""
    if not rounds:
        yield []
        return
    first, *rest = rounds
    for parts in _divisions(rest):
        yield [[first], *parts]
        for index, part in enumerate(parts):
            yield [*parts[:index], [first, *part], *parts[index + 1 :]]


def _lasts(part: Sequence[DevelopedRound], life_s: int) -> bool:
    longest = max(one.last_out_at for one in part) - min(one.ready_by for one in part)
    return longest <= timedelta(seconds=life_s - 20 * 60 - 600)


@given(days, st.integers(3 * HOUR, 9 * HOUR))
def test_no_division_of_the_day_has_fewer_mixes(day: list[DevelopedRound], life_s: int) -> None:
    """Against every division of up to six rounds, not only into parts that follow each other."""
    plan = plan_mixes(day, replace(RULES, life_s=life_s))

    fewest = min(len(parts) for parts in _divisions(day) if all(_lasts(part, life_s) for part in parts))
    assert len(plan.mixes) == fewest
    assert plan.too_long == ()
    assert sum(mix.plates for mix in plan.mixes) == sum(len(one.plates) for one in day)
    assert all(mix.margin_s >= 600 for mix in plan.mixes)
    assert (plan.one_fewer is None) == (fewest < 2)
    assert plan.one_fewer is None or plan.one_fewer.margin_s < 600


@given(st.lists(st.integers(1, 14), max_size=8), st.integers(1, 13))
def test_no_other_changing_of_charges_needs_fewer(rounds: list[int], capacity: int) -> None:
    """Against every way to change between rounds, where a charge serves each round."""
    sizes = [min(plates, capacity) for plates in rounds]
    day = [
        replace(one, plates=_plates(plates))
        for one, plates in zip(_rounds(1, "class", "9:00", rounds=len(sizes)), sizes, strict=True)
    ]

    charges = plan_charges(day, charge_area_mm2=capacity * PLATE)

    assert len(charges) == _fewest_charges(sizes, capacity)
    assert sum(charge.plates for charge in charges) == sum(sizes)
    assert all(charge.plates <= capacity and charge.charges == 1 for charge in charges)


def _fewest_charges(sizes: Sequence[int], capacity: int) -> int:
    if not sizes:
        return 0
    return min(
        1 + _fewest_charges(sizes[end:], capacity)
        for end in range(1, len(sizes) + 1)
        if sum(sizes[:end]) <= capacity
    )


@given(days, st.integers(0, 20 * 60), st.integers(0, 4))
def test_what_is_there_never_makes_more_mixes_needed(
    day: list[DevelopedRound], minute: int, charges: int
) -> None:
    mixed_at = MIDNIGHT + timedelta(minutes=minute)
    there = Standing(7, mixed_at, mixed_at + timedelta(hours=6), (StandingCharge(12 * PLATE),) * charges)

    plan = plan_mixes(day, RULES, [there])

    assert len(plan.mixes) <= len(plan_mixes(day, RULES).mixes)
    assert sum(use.plates for use in plan.standing) <= 12 * charges
    assert sum(use.plates for use in plan.standing) + sum(mix.plates for mix in plan.mixes) == sum(
        len(one.plates) for one in day
    )
    assert all(use.margin_s >= 600 for use in plan.standing)
