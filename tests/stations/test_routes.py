"""The stations pages over HTTP."""

import pytest
from bs4 import BeautifulSoup

from server.people.access import COOKIE
from tests.conftest import Visitor
from tests.reading import text_of


def _option(page: BeautifulSoup, field: str, words: str) -> str:
    found = next(option for option in page.select(f"#{field} option") if option.text == words)
    return str(found["value"])


def test_a_room_is_set_up_from_nothing(mira: Visitor) -> None:
    mira.submit("/stations/zones", name="cellar", shares="light")
    page = mira.submit("/stations/zones", name="sand table", shares="stillness")
    room, table = _option(page, "light_zone_id", "cellar"), _option(page, "still_zone_id", "sand table")
    mira.submit("/stations/tray-lines", line_name="line 1", line_capacity="3", line_light_zone_id=room)
    page = mira.submit(
        "/stations/places", place_name="S1", kind="station", capacity="1", light_zone_id=room, still_zone_id=table,
        settle_s="90", exposure_s="12",
    )  # fmt: skip
    rows = [" ".join(row.get_text(" ").split()) for row in page.select("tbody tr")]

    assert rows == [
        "S1 station 1 cellar sand table settle 1 min 30 s, expose 12 s in use",
        "developer, line 1 tray 3 cellar none in use",
        "rinse, line 1 tray 3 cellar none in use",
        "bleach, line 1 tray 3 cellar none in use",
        "wash, line 1 tray 3 cellar none in use",
    ]


def test_a_place_is_changed_and_taken_out_of_order(mira: Visitor) -> None:
    page = mira.submit("/stations/places", place_name="S1", kind="station", settle_s="60", exposure_s="10")
    address = str(page.select_one("tbody a")["href"])  # type: ignore[index]
    page = mira.submit(address, name="S1 low bench", exposure_s="14", laser_warm_up="5", out_of_order="true")

    assert "S1 low bench station 1 none none settle 1 min, expose 14 s out of order" in text_of(page)
    assert mira.page(address).select_one("#laser_warm_up")["value"] == "5"  # type: ignore[index]
    assert "240 or less" in text_of(mira.submit(address, 422, name="S1 low bench", laser_warm_up="241"))


def test_a_second_place_of_the_same_name_is_refused_with_a_sentence(mira: Visitor) -> None:
    mira.submit("/stations/places", place_name="S1", kind="station")
    page = mira.submit("/stations/places", 409, place_name="S1", kind="bench")

    assert "already something called “S1”" in text_of(page)


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("capacity", "three", "whole number"),
        ("capacity", "0", "1 or more"),
        ("exposure_s", "-4", "1 or more"),
        ("exposure_s", "99999999999999999999", "3600 or less"),
        ("place_name", "", "fill this in"),
        ("place_name", "   ", "fill this in"),
        ("place_name", "x" * 41, "at most 40 characters"),
    ],
)
def test_bad_input_is_shown_again_with_its_sentence(
    mira: Visitor, field: str, typed: str, sentence: str
) -> None:
    fields = {"place_name": "S9", "kind": "dryer", field: typed}
    page = mira.submit("/stations/places", 422, **fields)

    assert sentence in text_of(page)
    assert typed in [str(found.get("value")) for found in page.select("input")]


def test_a_tray_of_the_longest_line_can_be_taken_out_of_order(mira: Visitor) -> None:
    """The page of a tray sends its whole name back."""
    page = mira.submit("/stations/tray-lines", line_name="x" * 29)
    tray = page.select_one("tbody a")
    assert tray is not None
    mira.submit(str(tray["href"]), name=tray.text, out_of_order="true")

    assert "at most 29 characters" in text_of(mira.submit("/stations/tray-lines", 422, line_name="x" * 30))


def test_a_label_belongs_to_the_field_of_its_own_form(mira: Visitor) -> None:
    page = mira.page("/stations")
    ids = [str(one["id"]) for one in page.select("[id]")]

    assert sorted(ids) == sorted(set(ids))


def test_only_an_instructor_changes_the_room(tomas: Visitor) -> None:
    page = tomas.submit("/stations/zones", 403, name="cellar", shares="light")

    assert "Only an instructor can do this" in text_of(page)
    assert tomas.page("/stations").select_one("form[action^='/stations']") is None


def test_a_form_kept_open_after_signing_out_says_so_and_stays(mira: Visitor) -> None:
    mira.cookies.delete(COOKIE)
    answer = mira.post(
        "/stations/zones", data={"name": "cellar", "shares": "light"}, headers={"HX-Request": "true"}
    )

    assert answer.status_code == 401
    assert answer.headers["HX-Retarget"] == "#notice"
    assert "Your sign-in has ended" in answer.text


def _first_link(page: BeautifulSoup, start: str) -> str:
    link = page.select_one(f"a[href^='{start}']")
    assert link is not None
    return str(link["href"])


def test_a_light_zone_is_named_anew_and_told_how_long_it_glows_on(mira: Visitor) -> None:
    page = mira.submit("/stations/zones", name="cellar", shares="light", afterglow_s="300")
    assert "cellar , afterglow 5 min" in text_of(page)
    address = _first_link(page, "/stations/light-zones/")

    page = mira.submit(address, 422, name="cellar", afterglow_s="long")
    assert page.select_one("#afterglow_s")["value"] == "long"  # type: ignore[index]

    assert "vault , afterglow none" in text_of(mira.submit(address, name="vault", afterglow_s="0"))


def test_a_light_zone_does_not_take_another_s_name(mira: Visitor) -> None:
    mira.submit("/stations/zones", name="cellar", shares="light")
    page = mira.submit("/stations/zones", name="booth", shares="light")

    refused = mira.submit(_first_link(page, "/stations/light-zones/"), 409, name="cellar")

    assert "already something called “cellar”" in text_of(refused)


def test_all_trays_of_a_line_are_changed_at_once_and_one_alone(mira: Visitor) -> None:
    mira.submit("/stations/zones", name="cellar", shares="light")
    page = mira.submit("/stations/zones", name="floor", shares="stillness")
    room, floor = _option(page, "light_zone_id", "cellar"), _option(page, "still_zone_id", "floor")
    page = mira.submit("/stations/tray-lines", line_name="line 1")
    assert "line 1 : 1 at once in each tray, light not shared, stillness not shared" in text_of(page)
    address = _first_link(page, "/stations/tray-lines/")

    page = mira.submit(address, capacity="3", light_zone_id=room, still_zone_id=floor)

    rows = [" ".join(row.get_text(" ").split()) for row in page.select("tbody tr")]
    assert rows == [
        f"{bath}, line 1 tray 3 cellar floor in use" for bath in ("developer", "rinse", "bleach", "wash")
    ]
    assert "line 1 : 3 at once in each tray, light cellar, stillness floor" in text_of(page)
    tray = page.select("tbody a")[1]
    mira.submit(str(tray["href"]), name=tray.text, capacity="5", light_zone_id=room)
    assert "line 1 : its trays differ" in text_of(mira.page("/stations"))
    assert "The trays differ now." in text_of(mira.page(address))
    page = mira.submit(address, 422, capacity="0")
    assert page.select_one("#capacity-fault")


def test_a_place_is_put_back_in_order(mira: Visitor) -> None:
    page = mira.submit("/stations/places", place_name="S1", kind="station")
    address = _first_link(page, "/stations/places/")
    assert "out of order" in text_of(mira.submit(address, name="S1", out_of_order="true"))

    assert "out of order" not in text_of(mira.submit(address, name="S1"))
