"""The prep pages over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, timedelta

import pytest
from bs4 import BeautifulSoup

from server.chemistry.queries import get_usual_quantities
from server.containers.actions import add_usual_streams, set_out_container
from server.containers.queries import list_streams
from server.core.plate_box import Keeping
from server.core.recipe import Basis, Measure
from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.plates.actions import open_plate_box
from server.plates.models import PlateBox
from server.recipes.actions import add_recipe, write_edition
from server.recipes.forms import NewComponent
from server.recipes.models import Solution, Water
from tests.casts import MORNING, Cast
from tests.chemistry import mixing
from tests.conftest import Running, Visitor
from tests.prep.days import furnish, publish_capacity_day, publish_rounds, stock
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]
DAY = "/prep/2027-02-16"


def _lines(page: BeautifulSoup) -> dict[str, str]:
    """Key to clock, words, for whom and what stands below it, in the order of the page."""
    return {str(row["id"]): " ".join(row.get_text(" ").split()) for row in page.select("li.prep-line")}


def _press(page: BeautifulSoup, key: str) -> bool:
    """Whether the line is ticked."""
    (box,) = page.select(f"#tick-{key}")
    return box["aria-pressed"] == "true"


@pytest.fixture
def capacity_day(in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        furnish(session)
        stock(session)
        publish_capacity_day(session, cast.section_id)
        add_usual_streams(session)
        for stream in list_streams(session):
            set_out_container(
                session, stream_id=stream.id, name=stream.name, size_ul=20_000_000, by="Tomas", now=MORNING
            )


@pytest.mark.usefixtures("capacity_day")
def test_the_sheet_lists_the_capacity_day_in_the_order_of_the_clock(tomas: Visitor) -> None:
    """House example, computed by hand; the box warms up for 1 h before it is opened for the tests at 08:40."""
    page = tomas.page("/prep")
    lines = _lines(page)
    before, *clocks = [words.split()[0] for words in lines.values()]

    assert (next(iter(lines)), before) == ("objects", "15:00")
    assert page.select_one("#prep-lines h3").text == "Mon 15 Feb 2027, the working day before"  # type: ignore[union-attr]
    assert clocks == sorted(clocks)
    assert clocks[0] == "07:40"
    assert "Mix 600 mL of working developer, 300 mL of stock A and 300 mL of stock B" in lines["mix-0740-600"]
    assert lines["mix-0740-600"].startswith("08:40")
    assert lines["mix-1240-200"].startswith("13:40 Mix 200 mL")
    assert "39 plates of it are used" in list(lines.values())[1]
    assert "Have 6.5 L of rinse water ready" in lines["rinse"]
    assert "Have 800 mL of bleach ready: 4 charges of 200 mL" in lines["bleach"]
    assert "Pour 200 mL of bleach into its tray in each tray line and label the tray" in lines["bleach-pour"]
    assert "400 mL of stock A (kit “kit 1”), 400 mL of stock B (kit “kit 1”)" in lines["take-stock"]
    assert any(
        "Read the meter at S3, then set it: settle 1 min, expose 19 s" in words for words in lines.values()
    )
    assert "are enough for this day" in text_of(page)


@pytest.mark.usefixtures("capacity_day")
def test_every_line_opens_to_its_reason(tomas: Visitor) -> None:
    page = tomas.page(DAY)

    assert all(row.select_one("details p") for row in page.select("li.prep-line"))
    why = _lines(page)["mix-0740-600"]
    assert "It serves the tests (3 plates); Tuesday, first (12 plates); Tuesday, second (12 plates)" in why
    assert "3 charges, poured for 09:14, 09:32 and 11:32" in why


@pytest.mark.usefixtures("capacity_day")
def test_the_sheet_says_why_one_mix_fewer_will_not_do(tomas: Visitor) -> None:
    """House example, computed by hand: 08:40 and six hours are 14:40, 5.5 min after the last plate of the third class."""
    why = _lines(tomas.page(DAY))["mix-1240-200"]

    assert "mixed at 08:40 it lives to 14:40, and the last plate leaves it at 14:34:30" in why
    assert "5.5 min before the end of its life, lost by a six-minute late start" in why


def test_the_sheet_of_the_mixing_day_has_two_mixes_of_400_ml(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    """House example, computed by hand: sections of 110 min at 08:00, 10:00, 13:00 and 15:00, 12 plates each, no tests.

    Mixed 15 min before, the first lives from 07:45 to 13:45 and the second from 12:45 to 18:45.
    """
    with in_lab() as session:
        furnish(session)
        stock(session)
        usual = get_usual_quantities(session)
        usual.test_plates_per_station, usual.mix_lead_s = 0, 15 * 60
        session.add(usual)
        for name, hours in (("one", 0), ("two", 2), ("three", 5), ("four", 7)):
            starts_at = MORNING + timedelta(hours=hours)
            publish_rounds(session, cast.section_id, name=name, starts_at=starts_at, round_s=1335)

    lines = _lines(tomas.page(DAY))

    assert [key for key in lines if key.startswith("mix")] == ["mix-0645-400", "mix-1145-400"]
    assert lines["mix-0645-400"].startswith("07:45 Mix 400 mL")
    assert lines["mix-1145-400"].startswith("12:45 Mix 400 mL")
    assert "to 18:45; the last plate leaves it at" in lines["mix-1145-400"]


@pytest.mark.usefixtures("capacity_day")
def test_a_line_is_ticked_stays_ticked_and_is_unticked(tomas: Visitor, mira: Visitor) -> None:
    page = tomas.submit(f"{DAY}/ticks/rinse", done="true")
    assert "done Tomas, 08:00" in _lines(page)["rinse"]

    assert "done Tomas, 08:00" in _lines(mira.submit(f"{DAY}/ticks/rinse", done="true"))["rinse"]
    assert _press(tomas.page(DAY), "rinse")
    assert not _press(mira.submit(f"{DAY}/ticks/rinse", done="false"), "rinse")


@pytest.mark.usefixtures("capacity_day")
def test_a_tick_answers_a_tablet_with_the_lines_alone(tomas: Visitor) -> None:
    answer = tomas.post(
        f"{DAY}/ticks/rinse",
        data={"done": "true"},
        headers={"HX-Request": "true", "HX-Request-Type": "partial"},
    )

    assert answer.text.lstrip().startswith('<div id="prep-lines"')
    assert "1 of" in answer.text


@pytest.mark.usefixtures("capacity_day")
def test_every_stage_of_the_day_has_its_lines_in_order(tomas: Visitor) -> None:
    """By hand: standing 5 min from 08:40; the lasers 15 min before the first test plate; a charge changed 3 min before its round."""
    lines = _lines(tomas.page(DAY))
    order = [
        "objects", "lasers-900", "weigh-0740-600", "mix-0740-600", "bath-0740-600", "pour-0740-600-1", "pour-0740-600-2",
        "spent-0740-600", "mix-1240-200", "spent-1240-200", "after-lights",
    ]  # fmt: skip

    assert [key for key in lines if key in order] == order
    assert lines["lasers-900"].startswith("08:25 Switch the lasers of S1, S2 and S3 on")
    assert lines["weigh-0740-600"].startswith("08:30 Measure out 300 mL of stock A and 300 mL of stock B")
    assert lines["bath-0740-600"].startswith("08:45")
    assert lines["pour-0740-600-2"].startswith(
        "09:29 Change the charge in developer, line 1: 200 mL, for 12 plates"
    )
    assert {"eyewash", "dark-room", "safelight", "label-0740-600", "after-count"} <= set(lines)


@pytest.mark.usefixtures("capacity_day")
def test_what_is_mixed_already_stands_on_the_sheet_and_takes_no_tick(tomas: Visitor, in_lab: InLab) -> None:
    with in_lab() as session:
        mixed_at = MORNING + timedelta(minutes=42)
        mixing.developer(session, 600_000, mixed_at=mixed_at, now=mixed_at)

    page = tomas.page(DAY)
    lines = _lines(page)

    assert "600 mL of working developer, is mixed and serves the tests (3 plates)" in lines["batch-1"]
    assert "done Tomas, 08:42" in lines["batch-1"]
    assert page.select("#tick-batch-1") == []
    assert lines["label-batch-1"].startswith("08:42 Label the 600 mL of batch 1: batch, mixed 08:42")
    assert lines["bath-batch-1"].startswith("08:42 Read temperature and pH of the 600 mL of batch 1")
    assert [key for key in lines if key.startswith("mix")] == ["mix-1240-200"]
    tomas.submit(f"{DAY}/ticks/batch-1", 404, done="true")


SETTINGS = {
    "mix_lead": "30", "measure": "5", "change": "2", "late_start": "0", "lay_out_lead": "60", "equalise": "60", "dark": "15",
    "opens": "06:30", "day_before": "16:00", "take_out": "assistant", "weigh": "technician", "mix": "technician",
    "label": "technician", "check_a_bath": "technician", "pour": "assistant", "lay_out": "technician",
    "lasers": "assistant", "check_the_room": "instructor", "after_class": "technician",
}  # fmt: skip


@pytest.mark.usefixtures("capacity_day")
def test_the_lab_sets_its_own_times_and_who_does_what(tomas: Visitor) -> None:
    """By hand: mixed 30 min before 09:00 it lives to 14:30, 4.5 min short of the last plate, so there are still two mixes."""
    assert "has not set its own times" in text_of(tomas.page("/prep/settings"))

    assert "set by the lab" in text_of(tomas.submit("/prep/settings", 200, **SETTINGS))

    lines = _lines(tomas.page(DAY))
    assert lines["mix-0730-600"].startswith("08:30")
    assert lines["weigh-0730-600"].startswith("08:25")
    assert lines["objects"].startswith("08:00")
    assert "assistant" in lines["lasers-900"]
    assert "instructor" in lines["eyewash"]
    assert "4.5 min after the end of its life" in lines["mix-1230-200"]


def test_a_setting_that_is_none_is_asked_back_and_what_was_typed_stays(tomas: Visitor) -> None:
    page = tomas.submit("/prep/settings", 422, **{**SETTINGS, "opens": "seven", "mix_lead": "-1"})

    assert "Please write a time such as 09:40." in text_of(page)
    assert "Please write 0 or more." in text_of(page)
    assert page.select_one("#opens")["value"] == "seven"  # type: ignore[index]


@pytest.mark.usefixtures("capacity_day")
def test_a_line_that_is_not_there_can_not_be_ticked(tomas: Visitor) -> None:
    assert "not on the sheet any more" in text_of(tomas.submit(f"{DAY}/ticks/champagne", 404, done="true"))
    assert "Prep for" in text_of(tomas.submit(f"{DAY}/ticks/rinse", 422, done="perhaps"))


def test_a_box_that_light_reached_is_not_counted_and_its_fog_test_is_a_line(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        furnish(session)
        box = stock(session, plates=60)
        publish_capacity_day(session, cast.section_id)
        open_plate_box(session, box, by="Tomas", now=MORNING)
    assert "of it are used" in text_of(tomas.page(DAY))
    tomas.submit("/stock/light-incidents", lit_at="08:00")

    text = text_of(tomas.page(DAY))

    assert "Make a fog test of plate box “box 1”: light incident" in text
    assert "39 plates of 39 are missing. 60 plates of “box 1” wait for a fog test" in text
    assert "of it are used" not in text


def test_a_box_that_stands_in_the_room_is_not_taken_out_of_the_cold(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    """By hand: it needs no warming up, so it is set ready when the first box is opened, for the tests at 08:40."""
    with in_lab() as session:
        furnish(session)
        box = session.get(PlateBox, stock(session))
        assert box is not None
        box.kept, box.warm_up_s = Keeping.ROOM, 0
        publish_capacity_day(session, cast.section_id)

    line = _lines(tomas.page(DAY))["plates-1"]

    assert line.startswith("08:40 Set plate box “box 1” ready, closed: 39 plates of it are used")
    assert "nothing says that it has to warm up" in line


def test_what_is_short_stands_on_top_with_what_to_do(tomas: Visitor, in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        furnish(session)
        stock(session, plates=30, stock_a_ul=300_000, bleach_ul=0, expires_on=date(2027, 2, 15))
        publish_capacity_day(session, cast.section_id)

    short = " ".join(tomas.page(DAY).select_one(".note.stop").get_text(" ").split())  # type: ignore[union-attr]

    assert "39 plates of 39 are missing. Another 30 plates are past their day. Take in a plate box" in short
    assert "Stock A: 400 mL are needed and 300 mL are there" in short
    assert "Bleach: 800 mL are needed and 0 mL are there" in short
    assert "No waste stream takes rinse, 6.5 L come. Set one up." in short
    assert "Stock B" not in short


def test_a_class_that_outlasts_the_developer_gets_a_second_mix_between_its_rounds(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    """By hand: after n rounds the first mix has 329.5 − 6n min left and the second 6n − 16.5, both longest for n = 29; the 30th round
    enters the developer at 11:08, so it is mixed for at 10:48.
    """
    with in_lab() as session:
        publish_rounds(session, cast.section_id, name="marathon", starts_at=MORNING, rounds=60)

    page = tomas.page(DAY)

    assert "outlasts the developer" not in text_of(page)
    mixes = [words.split()[0] for key, words in _lines(page).items() if key.startswith("mix")]
    assert mixes == ["07:40", "10:48"]


def test_a_class_without_a_moment_to_change_the_developer_is_told(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        publish_rounds(session, cast.section_id, name="marathon", starts_at=MORNING, rounds=60, develop_s=355)

    assert "Tuesday, marathon outlasts the developer" in text_of(tomas.page(DAY))


@pytest.mark.usefixtures("server")
def test_an_empty_lab_is_told_what_to_do(tomas: Visitor) -> None:
    assert "Plan one under Rotations and publish it" in text_of(tomas.page("/prep"))
    assert "nothing to lay out" in text_of(tomas.page("/prep/2027-03-01"))


@pytest.mark.usefixtures("server")
def test_a_day_that_is_none_is_not_here(tomas: Visitor) -> None:
    for day in ("2027-02-30", "tomorrow", "0001-01-01", "9999-12-31"):
        tomas.page(f"/prep/{day}", 404)


def test_without_a_day_the_sheet_is_the_next_days_with_a_class(
    tomas: Visitor, in_lab: InLab, cast: Cast, server: Running
) -> None:
    with in_lab() as session:
        publish_rounds(session, cast.section_id, name="next", starts_at=MORNING + timedelta(days=3))
        publish_rounds(session, cast.section_id, name="gone", starts_at=MORNING - timedelta(days=1))

    assert tomas.page("/prep").select_one("h1").text == "Prep for Fri 19 Feb 2027"  # type: ignore[union-attr]
    assert "This day is over" in text_of(tomas.page("/prep/2027-02-15"))


@pytest.mark.usefixtures("capacity_day")
def test_another_lab_sees_none_of_it(noor: Visitor) -> None:
    assert "nothing to lay out" in text_of(noor.page(DAY))
    noor.submit(f"{DAY}/ticks/rinse", 404, done="true")


@pytest.mark.usefixtures("capacity_day")
def test_only_staff_prepare(mira: Visitor, tablet: Visitor, stranger: Visitor) -> None:
    assert mira.page(DAY)
    tablet.page(DAY, 403)
    tablet.submit(f"{DAY}/ticks/rinse", 403, done="true")
    tablet.page("/prep/settings", 403)
    tablet.submit("/prep/settings", 403, **SETTINGS)
    assert stranger.page(DAY).select_one("h1").text == "Sign in"  # type: ignore[union-attr]
    stranger.submit(f"{DAY}/ticks/rinse", 401, done="true")


def _recipe(session: LabSession, name: str, solution: Solution, *lines: tuple[str, int]) -> int:
    """A recipe for a litre, by mass. Returns its id."""
    recipe = add_recipe(session, name=name, solution=solution)
    write_edition(
        session,
        recipe.id,
        [NewComponent(component, amount, Measure.MASS) for component, amount in lines],
        volume_ul=1_000_000,
        start_ul=700_000,
        basis=Basis.MADE_UP_TO,
        water=Water.DISTILLED,
        temperature_decicelsius=None,
        stand_s=0,
        life_s=None,
        note="",
        by="Tomas",
        now=MORNING,
    )
    return recipe.id


def test_bleach_by_a_recipe_is_weighed_and_mixed_the_working_day_before(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    """By hand: four charges of 200 mL of the published copper bleach (Stony Brook, 2003): 28, 80 and 4 g."""
    with in_lab() as session:
        furnish(session)
        stock(session)
        publish_capacity_day(session, cast.section_id)
        _recipe(
            session, "Copper bleach", Solution.BLEACH,
            ("copper sulfate", 35_000), ("potassium bromide", 100_000), ("sodium bisulfate", 5_000),
        )  # fmt: skip

    made = _lines(tomas.page(DAY))["make-bleach-800"]

    assert "Weigh 28 g of copper sulfate, 80 g of potassium bromide and 4 g of sodium bisulfate" in made
    assert "mix 800 mL of Copper bleach and label it" in made


def test_a_stock_solution_that_runs_short_is_weighed_the_working_day_before(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    """By hand: 800 mL take 400 mL of A, of which 150 are there: 250 mL are made of 1 g metol and 6.25 g ascorbic acid."""
    with in_lab() as session:
        furnish(session)
        stock(session, stock_a_ul=150_000)
        publish_capacity_day(session, cast.section_id)
        recipe_id = _recipe(session, "Stock A", Solution.STOCK, ("metol", 4_000), ("ascorbic acid", 25_000))

    page = tomas.page(DAY)

    made = _lines(page)[f"make-{recipe_id}-250"]
    assert made.startswith(
        "15:00 Weigh 1 g of metol and 6.25 g of ascorbic acid, mix 250 mL of stock A and label it"
    )
    (door,) = page.select(f"#make-{recipe_id}-250 a")
    assert door["href"] == f"/chemistry/mix?recipe={recipe_id}&volume=250"
    assert "Metol for stock A: 1 g are needed and 0 g are there" in text_of(page)


def test_the_tick_of_a_solution_that_was_mixed_since_does_not_fall_to_the_next(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    """By hand: 800 mL take 400 mL each of A and B, of which 150 mL stand there: 250 mL of either are to be made."""
    with in_lab() as session:
        furnish(session)
        stock(session, stock_a_ul=150_000, stock_b_ul=150_000)
        publish_capacity_day(session, cast.section_id)
        first = _recipe(session, "Stock A", Solution.STOCK, ("metol", 4_000))
        second = _recipe(session, "Stock B", Solution.STOCK, ("sodium carbonate", 60_000))
        take_in_kit(
            session, name="metol", arrived_on=MORNING.date(), expires_on=None, storage="",
            contents=[NewBottle("metol", 10_000, Measure.MASS)], by="Tomas", now=MORNING,
        )  # fmt: skip
    tomas.submit(f"{DAY}/ticks/make-{first}-250", done="true")
    with in_lab() as session:
        mixing.by_name(session, "Stock A", 250_000)

    page = tomas.page(DAY)

    assert [key for key in _lines(page) if key.startswith("make")] == [f"make-{second}-250"]
    assert not _press(page, f"make-{second}-250")


def test_two_batches_that_end_together_are_poured_away_by_a_line_each(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        furnish(session)
        stock(session)
        publish_rounds(session, cast.section_id, name="one", starts_at=MORNING + timedelta(hours=1))
        publish_rounds(session, cast.section_id, name="other", starts_at=MORNING + timedelta(hours=1))
        usual = get_usual_quantities(session)
        usual.test_plates_per_station = 0
        session.add(usual)
        for minute in range(2):
            mixed_at = MORNING + timedelta(minutes=minute)
            mixing.developer(session, 200_000, mixed_at=mixed_at, now=mixed_at)

    spent = [key for key in _lines(tomas.page(DAY)) if key.startswith("spent-batch")]

    assert spent == ["spent-batch-1", "spent-batch-2"]


def test_the_mixing_form_opens_with_the_volume_of_the_line(tomas: Visitor, in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        furnish(session)
        stock(session)
        publish_capacity_day(session, cast.section_id)

    door = tomas.page(DAY).select_one("#mix-0740-600 a")

    assert door is not None
    assert "300 mL" in text_of(tomas.page(str(door["href"])))


def test_the_sheet_of_a_later_day_says_what_is_taken_before(
    tomas: Visitor, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        furnish(session)
        stock(session)
        publish_capacity_day(session, cast.section_id)
        publish_rounds(session, cast.section_id, name="late", starts_at=MORNING + timedelta(days=1))

    assert "What is still needed for Tue 16 Feb 2027 is taken off the shelf first" in text_of(
        tomas.page("/prep/2027-02-17")
    )
    assert "taken off the shelf first" not in text_of(tomas.page(DAY))
