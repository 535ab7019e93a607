"""The chemistry pages over HTTP. The cellar lab's clock shows 08:00 when a test begins."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import col, update

from server.chemistry.models import Batch
from server.chemistry.queries import get_usual_quantities
from server.data.session import Database, LabSession
from server.kits.queries import list_bottles_of_kit
from server.stations.actions import add_tray_line
from tests.casts import MORNING, Cast
from tests.chemistry import mixing, mixing_pages
from tests.conftest import Running, Visitor
from tests.kits import shelf
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]

QUANTITIES: dict[str, Any] = {
    "developer_life_h": "7.5",
    "bleach_life_days": "30",
    "stock_life_days": "45",
    "other_life_h": "12",
    "developer_charge": "250 mL",
    "bleach_charge": "0.3 L",
    "plates_per_charge": "10",
    "plate_width_mm": "63.5",
    "plate_height_mm": "63.5",
    "rinse_per_plate": "200 mL",
    "test_plates_per_station": "2",
}


@pytest.fixture
def stocked(in_lab: InLab) -> None:
    with in_lab() as session:
        shelf.kit(session, "later kit")
        shelf.kit(session, "kit 4", expires_on=datetime(2027, 3, 1, tzinfo=UTC).date())
        add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)


@pytest.fixture
def undated(in_lab: InLab) -> None:
    with in_lab() as session:
        shelf.kit(session, "kit without a date", expires_on=None)


def test_an_empty_lab_says_what_is_needed_first(tomas: Visitor) -> None:
    text = text_of(tomas.page("/chemistry"))

    assert "No working developer that still lives is left in a bottle" in text
    assert "No stock A that may be used is on the shelf" in text
    assert "Wear chemical-resistant gloves, splash goggles" in text
    assert "eyewash" in text
    assert "The SDS of each bottle" in text


def test_a_batch_is_mixed_from_the_first_expiring_bottles_and_counts_down(
    tomas: Visitor, stocked: None
) -> None:
    assert (
        mixing_pages.options(tomas.page("/chemistry"), "source-1")[0][1]
        == "kit 4, 1 L left, good until Mon 1 Mar 2027"
    )
    page = mixing_pages.mix(tomas, mixed_at="7:40")
    text = text_of(page)

    assert "Batch 1, working developer" in text
    assert "ends 13:40" in text
    assert "600 mL = 300 mL stock A + 300 mL stock B." in text
    assert "It lives 6 h from Tue 16 Feb 2027, 07:40, so it ends Tue 16 Feb 2027, 13:40." in text
    assert "assumed: common practice is 6 to 8 hours" in text
    assert "stock A 300 mL kit 4 stock B 300 mL kit 4" in text
    time = tomas.page("/chemistry").select_one("time[data-until]")
    assert time is not None
    assert time.text == "5 h 40 min left"
    assert time["data-until"] == time["datetime"] == (MORNING + timedelta(minutes=-20, hours=6)).isoformat()
    assert time["data-now"] == MORNING.isoformat()


@pytest.mark.parametrize("typed", ["0740", "7.40", "07:40"])
def test_the_time_is_read_as_gloves_type_it(tomas: Visitor, stocked: None, typed: str) -> None:
    assert "ends 13:40" in text_of(mixing_pages.mix(tomas, mixed_at=typed))


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("volume", "", "fill this in"),
        ("volume", "a lot", "Please write it like 250 mL"),
        ("volume", "0 mL", "more than nothing"),
        ("mixed_at", "25:00", "a time such as 09:40"),
        ("mixed_at", "soon", "a time such as 09:40"),
    ],
)
def test_bad_input_about_a_mix_is_shown_again(
    tomas: Visitor, stocked: None, field: str, typed: str, sentence: str
) -> None:
    page = mixing_pages.mix(tomas, 422, **{field: typed})
    fault = page.select_one(f"#{field}-fault")

    assert fault is not None
    assert sentence in fault.text
    assert typed_in(page, field) == typed
    assert typed_in(page, "volume") == (typed if field == "volume" else "600 mL")


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"mixed_at": "08:01"}, "08:01 is still to come"),
        (
            {"volume": "3 L", "also_source": ["", ""]},
            "stock A would be 1 L, which is 33% less than the 1.5 L called for",
        ),
    ],
)
def test_what_cannot_be_mixed_is_refused_and_nothing_is_drawn(
    tomas: Visitor, stocked: None, fields: dict[str, str], sentence: str
) -> None:
    assert sentence in text_of(mixing_pages.mix(tomas, 409, **fields))
    assert (
        mixing_pages.options(tomas.page("/chemistry"), "source-1")[0][1]
        == "kit 4, 1 L left, good until Mon 1 Mar 2027"
    )


def test_an_hour_that_the_clocks_skip_is_asked_back(server: Running, tomas: Visitor, stocked: None) -> None:
    """Berlin skips 02:00 to 03:00 on 28 March 2027."""
    server.clock.instant = datetime(2027, 3, 28, 6, 0, tzinfo=UTC)
    page = mixing_pages.mix(tomas, 422, mixed_at="02:30")

    assert "the clocks skip 02:30" in text_of(page)
    assert typed_in(page, "mixed_at") == "02:30"
    assert "the clocks skip 02:30" in text_of(mixing_pages.mix_bleach(tomas, 422, mixed_at="02:30"))


def test_expired_bottles_are_not_offered(server: Running, tomas: Visitor, stocked: None) -> None:
    server.clock.instant = datetime(2027, 3, 2, 7, 0, tzinfo=UTC)

    assert [
        words.split(",")[0] for _id, words in mixing_pages.options(tomas.page("/chemistry"), "source-1")
    ] == ["later kit"]


def test_bleach_ends_with_its_kit_and_is_not_counted_down(tomas: Visitor, stocked: None) -> None:
    page = mixing_pages.mix_bleach(tomas)
    text = text_of(page)

    assert "Batch 1, bleach" in text
    assert "ends Tue 2 Mar 2027, 00:00" in text
    assert "That is the end of kit 4: a batch never outlives what it was mixed from" in text
    assert page.select_one("time[data-until]") is None


@pytest.mark.parametrize(("field", "typed"), [("volume", "much"), ("mixed_at", "8 o'clock")])
def test_bad_input_about_bleach_is_shown_again(tomas: Visitor, stocked: None, field: str, typed: str) -> None:
    page = mixing_pages.mix_bleach(tomas, 422, **{field: typed})

    assert page.select_one(f"#{field}-fault") is not None
    assert typed_in(page, field) == typed


def test_more_bleach_than_the_bottle_holds_is_refused(tomas: Visitor, stocked: None) -> None:
    assert "bleach would be 500 mL, which is 9% less" in text_of(
        mixing_pages.mix_bleach(tomas, 409, volume="550 mL")
    )


def test_a_batch_sent_twice_is_mixed_once(tomas: Visitor, stocked: None) -> None:
    mixing_pages.mix(tomas, mixed_at="07:40")
    assert "Batch 1 is entered with the same bottles" in text_of(
        mixing_pages.mix(tomas, 409, mixed_at="07:40")
    )
    assert "600 mL of 600 mL" in text_of(tomas.page("/chemistry"))

    assert "Batch 2" in text_of(mixing_pages.mix(tomas, mixed_at="07:41"))
    assert "Batch 3" in text_of(mixing_pages.mix(tomas, mixed_at="07:41", volume="200 mL"))


def test_the_rest_is_discarded_and_the_ledger_adds_up(tomas: Visitor, stocked: None) -> None:
    mixing_pages.mix(tomas)
    tomas.submit("/chemistry/batches/1/corrections", measured="590 mL", reason="spilled")
    page = tomas.submit("/chemistry/batches/1/discard", note="end of day")
    when = "Tue 16 Feb 2027, 08:00"
    ledger = page.select_one("[aria-label='Ledger of the batch']")

    assert [text_of(row) for row in ledger.select("tbody tr")] == [  # type: ignore[union-attr]
        f"{when} mixed +600 mL 600 mL Tomas",
        f"{when} correction −10 mL 590 mL spilled Tomas",
        f"{when} discarded −590 mL 0 mL end of day Tomas",
    ]
    assert "The entries add up to 0 mL, which is what is left" in text_of(page)
    assert "Nothing is left of batch 1" in text_of(
        tomas.submit("/chemistry/batches/1/discard", 409, note="again")
    )


def test_a_batch_whose_balance_is_wrong_says_so(tomas: Visitor, in_lab: InLab, stocked: None) -> None:
    mixing_pages.mix(tomas)
    with in_lab() as session:
        session.execute(update(Batch).where(col(Batch.number) == 1).values(left_ul=590_000))

    assert "The entries add up to 600 mL, but 590 mL stands above" in text_of(
        tomas.page("/chemistry/batches/1")
    )


@pytest.mark.parametrize(
    ("form", "fields", "wrong"),
    [
        ("discard", {"note": "x" * 201}, "note"),
        ("corrections", {"measured": "most of it", "reason": "spilled"}, "measured"),
        ("corrections", {"measured": "390 mL", "reason": ""}, "reason"),
        ("corrections", {"measured": "390 mL", "reason": " "}, "reason"),
    ],
)
def test_bad_input_about_a_batch_is_shown_again(
    tomas: Visitor, stocked: None, form: str, fields: dict[str, str], wrong: str
) -> None:
    mixing_pages.mix(tomas)
    page = tomas.submit(f"/chemistry/batches/1/{form}", 422, **fields)

    assert page.select_one(f"#{wrong}-fault") is not None
    assert {name: typed_in(page, name) for name in fields} == fields


def test_a_correction_that_changes_nothing_is_refused(tomas: Visitor, stocked: None) -> None:
    mixing_pages.mix(tomas)
    page = tomas.submit("/chemistry/batches/1/corrections", 409, measured="0.6 L", reason="measured")

    assert "nothing to correct" in text_of(page)


def test_usual_quantities_are_assumed_until_the_lab_saves_its_own(tomas: Visitor, stocked: None) -> None:
    page = tomas.page("/chemistry/quantities")
    assert "assumed" in text_of(page)
    assert (typed_in(page, "developer_life_h"), typed_in(page, "rinse_per_plate")) == ("6", "166.667 mL")
    page = tomas.submit("/chemistry/quantities", **QUANTITIES)

    assert "set by the lab" in text_of(page)
    assert {name: typed_in(page, name) for name in QUANTITIES} == QUANTITIES | {"bleach_charge": "300 mL"}
    text = text_of(mixing_pages.mix(tomas))
    assert "ends 15:30" in text
    assert "assumed" not in text


@pytest.mark.parametrize("life_h", ["6", "6.3333", "7.21"])
def test_saving_the_usual_quantities_as_they_stand_changes_none(
    tomas: Visitor, in_lab: InLab, life_h: str
) -> None:
    """A litre for six plates is 166 667 µL a plate, which no tenth of a millilitre says."""
    typed: dict[str, Any] = QUANTITIES | {"developer_life_h": life_h, "rinse_per_plate": "166.667 mL"}
    page = tomas.submit("/chemistry/quantities", **typed)
    with in_lab() as session:
        before = get_usual_quantities(session).model_dump()
    standing: dict[str, Any] = {name: typed_in(page, name) for name in QUANTITIES}
    tomas.submit("/chemistry/quantities", **standing)

    with in_lab() as session:
        assert get_usual_quantities(session).model_dump() == before
    assert before["rinse_ul_per_plate"] == 166_667


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("developer_life_h", "0", "more than 0"),
        ("developer_life_h", "six", "Please write a number"),
        ("bleach_life_days", "", "fill this in"),
        ("developer_charge", "0.9 mL", "1 mL or more"),
        ("plates_per_charge", "12.5", "whole number"),
        ("rinse_per_plate", "a litre", "Please write it like 250 mL"),
        ("test_plates_per_station", "-1", "0 or more"),
    ],
)
def test_bad_quantities_are_shown_again(tomas: Visitor, field: str, typed: str, sentence: str) -> None:
    kept = QUANTITIES | {field: typed}
    page = tomas.submit("/chemistry/quantities", 422, **kept)

    assert sentence in text_of(page)
    assert {name: typed_in(page, name) for name in kept} == kept


@pytest.mark.parametrize("address", ["", "/mix", "/quantities", "/batches/1"])
def test_students_never_see_the_chemistry(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(f"/chemistry{address}", 403))


@pytest.mark.parametrize(
    "form",
    [
        "mix",
        "quantities",
        "batches/1/checks",
        "batches/1/override",
        "batches/1/discard",
        "batches/1/corrections",
    ],
)
def test_students_never_mix_or_pour(tablet: Visitor, form: str) -> None:
    tablet.submit(f"/chemistry/{form}", 403)


def test_another_labs_batch_is_not_here(tomas: Visitor, petra: Visitor, stocked: None) -> None:
    mixing_pages.mix(tomas)

    petra.page("/chemistry/batches/1", 404)
    petra.submit("/chemistry/batches/1/discard", 404)


def test_the_form_is_filled_in_from_an_address(tomas: Visitor, stocked: None) -> None:
    page = tomas.page("/chemistry/mix?recipe=bleach&volume=300 mL")

    assert "Mix bleach" in text_of(page.select_one("h1"))  # type: ignore[arg-type]
    assert (typed_in(page, "volume"), typed_in(page, "asked-volume")) == ("300 mL", "300 mL")
    assert mixing_pages.options(page, "source-1")[0][1].startswith("take 300 mL: kit 4, ")
    assert [words for _key, words in mixing_pages.options(page, "asked-recipe")] == [
        "working developer",
        "bleach",
    ]


@pytest.mark.parametrize("recipe", ["4711", "9999999999", "9" * 5000, "soup"])
def test_an_address_with_an_unknown_recipe_is_not_here(tomas: Visitor, recipe: str) -> None:
    assert "no such recipe" in text_of(tomas.page(f"/chemistry/mix?recipe={recipe}", 404))


def test_a_volume_that_cannot_be_read_is_asked_back_beside_it(tomas: Visitor, stocked: None) -> None:
    page = tomas.page("/chemistry/mix?volume=a+lot")

    assert "Please write it like 250 mL" in text_of(page.select_one("#asked-volume-fault"))  # type: ignore[arg-type]
    assert typed_in(page, "asked-volume") == "a lot"


def test_a_short_bottle_gets_a_second_one_beside_it(tomas: Visitor, stocked: None) -> None:
    page = mixing_pages.mix(tomas, at="/chemistry/mix?volume=3+L", volume="3 L")

    assert "3 L = 1 L stock A + 500 mL stock A + 1 L stock B + 500 mL stock B" in text_of(page)


def test_an_odd_amount_is_asked_back_and_kept_when_it_is_confirmed(tomas: Visitor, stocked: None) -> None:
    odd: dict[str, Any] = {"measured": ["350 mL", ""]}
    page = mixing_pages.mix(tomas, 409, **odd)
    assert "stock A would be 350 mL, which is 17% more than the 300 mL called for" in text_of(page)

    text = text_of(mixing_pages.mix(tomas, **odd, as_measured="true"))
    assert "650 mL = 350 mL stock A + 300 mL stock B" in text


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("300", "with its unit, such as 300 g or 300 mL"),
        ("some", "is not a mass"),
        ("1 part", "what was measured"),
    ],
)
def test_an_amount_that_cannot_be_read_stays_in_its_line(
    tomas: Visitor, stocked: None, typed: str, sentence: str
) -> None:
    page = mixing_pages.mix(tomas, 422, measured=["", typed])

    assert sentence in text_of(page.select_one("#measured-2-fault"))  # type: ignore[arg-type]
    assert (typed_in(page, "measured-2"), typed_in(page, "volume")) == (typed, "600 mL")


@pytest.mark.parametrize("key", ["", "bottle-0", "bottle-9999999999", "shelf-1", "bottle-1; drop"])
def test_a_source_that_is_none_is_asked_back(tomas: Visitor, stocked: None, key: str) -> None:
    page = mixing_pages.mix(tomas, 422, source=[key, "bottle-2"])

    assert page.select_one("#source-1-fault") is not None


def test_bottles_and_batches_of_another_lab_are_not_mixed_from(
    tomas: Visitor, database: Database, cast: Cast, stocked: None
) -> None:
    with database.writing(cast.other_lab_id) as session:
        kit = shelf.kit(session, "theirs")
        theirs = [f"bottle-{bottle.id}" for bottle in list_bottles_of_kit(session, kit.id)]
        batch = mixing.developer(session)
    for source in (theirs[:2], [f"batch-{batch.id}"] * 2):
        mixing_pages.mix(tomas, 404, source=source)

    assert "Batch 1" in text_of(mixing_pages.mix(tomas))


def test_what_was_mixed_before_midnight_is_entered_after_it(
    server: Running, tomas: Visitor, stocked: None
) -> None:
    """Ten past midnight in Berlin."""
    server.clock.instant = datetime(2027, 2, 16, 23, 10, tzinfo=UTC)
    assert "23:50 is still to come" in text_of(mixing_pages.mix(tomas, 409, mixed_at="23:50"))

    text = text_of(mixing_pages.mix(tomas, mixed_at="23:50", mixed_on="yesterday"))
    assert "It lives 6 h from Tue 16 Feb 2027, 23:50" in text
    assert "ends 05:50" in text


@pytest.mark.parametrize(("turn", "ends"), [("before", "07:30"), ("after", "08:30")])
def test_an_hour_that_comes_twice_is_asked_back(
    server: Running, tomas: Visitor, undated: None, turn: str, ends: str
) -> None:
    """Berlin shows 02:00 to 03:00 twice on 31 October 2027: six hours after 02:30 it is 07:30 or 08:30."""
    server.clock.instant = datetime(2027, 10, 31, 3, 0, tzinfo=UTC)
    page = mixing_pages.mix(tomas, 422, mixed_at="02:30")
    assert "02:30 twice that night" in text_of(page.select_one("#clock_turn-fault"))  # type: ignore[arg-type]

    assert f"ends {ends}" in text_of(mixing_pages.mix(tomas, mixed_at="02:30", clock_turn=turn))


def test_in_the_first_of_two_hours_only_that_one_is_past(
    server: Running, tomas: Visitor, undated: None
) -> None:
    """At 02:45 for the first time, 02:30 has been shown once."""
    server.clock.instant = datetime(2027, 10, 31, 0, 45, tzinfo=UTC)

    assert "ends 07:30" in text_of(mixing_pages.mix(tomas, mixed_at="02:30"))


CHECK: dict[str, Any] = {
    "ph": "12.4",
    "ph_temperature": "21.5",
    "look": "clear",
    "verdict": "passed",
    "check_note": "new strips",
}


def test_a_check_stands_on_the_batch_s_page(tomas: Visitor, stocked: None) -> None:
    mixing_pages.mix(tomas)
    page = tomas.submit("/chemistry/batches/1/checks", **CHECK)

    row = text_of(page.select_one("[aria-label='Checks'] tbody tr"))  # type: ignore[arg-type]
    assert row == "Tue 16 Feb 2027, 08:00 pH 12.4 at 21.5 °C; clear passed new strips Tomas"
    assert "Treat as corrosive: pH 12.4 was measured." in text_of(page)


def test_a_mild_ph_does_not_say_that_it_is_harmless(tomas: Visitor, stocked: None) -> None:
    mixing_pages.mix(tomas)
    text = text_of(tomas.submit("/chemistry/batches/1/checks", **(CHECK | {"ph": "7"})))

    assert "Treat as corrosive" not in text
    assert "No pH and no list of contents says that a solution is harmless" in text
    assert "nobody has written its hazards down: see its SDS" in text


def test_a_failed_check_ends_the_batch_on_every_page(tomas: Visitor, stocked: None) -> None:
    mixing_pages.mix(tomas)
    page = tomas.submit("/chemistry/batches/1/checks", **(CHECK | {"verdict": "failed", "look": "brown"}))

    assert "A check failed Tue 16 Feb 2027, 08:00, and a failed check ends a batch." in text_of(page)
    text = text_of(tomas.page("/chemistry"))
    assert "failed a check Batch 1 , working developer, ended 08:00; still to discard: 600 mL" in text


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("ph", "15", "14 or less"),
        ("ph", "twelve", "Please write a number"),
        ("ph_temperature", "", "depends on the temperature"),
        ("verdict", "", "fill this in"),
        ("look", "x" * 121, "at most 120"),
    ],
)
def test_a_check_that_cannot_be_read_is_shown_again(
    tomas: Visitor, stocked: None, field: str, typed: str, sentence: str
) -> None:
    mixing_pages.mix(tomas)
    page = tomas.submit("/chemistry/batches/1/checks", 422, **(CHECK | {field: typed}))

    assert sentence in text_of(page.select_one(f"#{field}-fault"))  # type: ignore[arg-type]
    assert typed_in(page, "check_note") == "new strips"


END: dict[str, Any] = {
    "until_day": "2027-02-16",
    "until_clock": "18:00",
    "override_reason": "fog test was clean",
}


def test_an_instructor_decides_on_another_end_and_a_technician_does_not(
    tomas: Visitor, mira: Visitor, stocked: None
) -> None:
    mixing_pages.mix(tomas)
    assert "Decide on another end" not in text_of(tomas.page("/chemistry/batches/1"))
    tomas.submit("/chemistry/batches/1/override", 403, **END)

    page = mira.submit("/chemistry/batches/1/override", **END)
    assert "ends 18:00" in text_of(page)
    assert "that it may be used until Tue 16 Feb 2027, 18:00: fog test was clean" in text_of(page)
    assert "ends 18:00" in text_of(tomas.page("/chemistry"))


@pytest.mark.parametrize(
    ("field", "typed"), [("until_day", "tomorrow"), ("until_clock", "late"), ("override_reason", "")]
)
def test_a_decision_that_cannot_be_read_is_shown_again(
    tomas: Visitor, mira: Visitor, stocked: None, field: str, typed: str
) -> None:
    mixing_pages.mix(tomas)
    page = mira.submit("/chemistry/batches/1/override", 422, **(END | {field: typed}))

    assert page.select_one(f"#{field}-fault") is not None
    assert typed_in(page, field) == typed


def test_a_decision_about_an_hour_that_is_skipped_is_asked_back(
    server: Running, tomas: Visitor, mira: Visitor, stocked: None
) -> None:
    mixing_pages.mix(tomas)
    skipped = END | {"until_day": "2027-03-28", "until_clock": "02:30"}

    assert "the clocks skip 02:30" in text_of(mira.submit("/chemistry/batches/1/override", 422, **skipped))
