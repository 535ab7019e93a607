"""What is asked, over HTTP, with the real planner."""

import json
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from server.charges.actions import pour_charge
from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.models import BLEACH, STOCK_A, STOCK_B
from server.people.actions import enter_students, form_section_groups
from server.rotations.actions import SEED, keep_plan, plan_question
from server.rotations.queries import get_plan, list_every_visit, list_visits
from server.stations.models import Bath
from server.stations.queries import list_stations, list_trays
from tests.casts import MORNING, STUDENTS, Cast
from tests.chemistry import mixing
from tests.conftest import Visitor
from tests.reading import text_of, typed_in
from tests.rotations.rooms import furnish, with_repeats_after

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def room(in_lab: InLab) -> None:
    with in_lab() as session:
        furnish(session)


@pytest.fixture
def address(mira: Visitor, cast: Cast, room: None) -> str:
    """The address of a rotation on Tuesday from 10:00 to 11:30, without talk and clean-up."""
    answer = mira.post(
        "/rotations",
        data={
            "section_id": cast.section_id, "name": "First plates", "day": "2027-02-16", "starts": "10:00",
            "ends": "11:30", "plates_per_group": 1,
        },
    )  # fmt: skip
    assert answer.status_code == 200
    return answer.url.path


def _asked(page: BeautifulSoup) -> dict[str, list[str]]:
    """The lines of “What is asked”."""
    return {
        " ".join(line.dt.get_text().split()): [
            " ".join(words.get_text().split()) for words in line.select("dd")
        ]
        for line in page.select("#asked dl div")
        if line.dt
    }


def _keep_a_plan(in_lab: InLab, address: str) -> None:
    rotation_id = int(address.rsplit("/", 1)[1])
    with in_lab() as session:
        problem = plan_question(session, rotation_id)
        keep_plan(session, rotation_id, problem, with_repeats_after(problem), seed=SEED, now=MORNING)


def test_the_form_for_a_new_rotation_offers_a_talk_and_a_clean_up_called_assumed(
    mira: Visitor, cast: Cast
) -> None:
    page = mira.page("/rotations")

    assert (typed_in(page, "talk_min"), typed_in(page, "clean_up_min")) == ("8", "5")
    assert text_of(page).count("Assumed.") == 2


def test_everything_asked_is_shown_on_the_rotation_and_in_the_class_file(
    mira: Visitor, cast: Cast, address: str, in_lab: InLab
) -> None:
    question = mira.page(f"{address}/question")
    period = question.select_one("#period_id option")
    with in_lab() as session:
        low = list_stations(session)[1].id
    assert period is not None
    mira.submit(f"{address}/times", talk_min="8", clean_up_min="5")
    mira.submit(
        f"{address}/breaks",
        period_id=period["value"],
        break_name="tea",
        break_starts="10:40",
        break_ends="10:50",
    )
    mira.submit(
        f"{address}/plates",
        group_id=list(cast.group_ids),
        plates=["2", "0", "1"],
        tied_place_id=["", "", low],
    )
    mira.submit(f"{address}/mixes", mixed_on="2027-02-16", mixed_at="09:40", life_h="6", serves="12")
    mira.submit(f"{address}/reserve", reserve_rounds="1")

    page = mira.page(address)

    assert _asked(page) == {
        "Periods": ["Tue 16 Feb 2027, 10:00 to 11:30"],
        "Not for plates": ["talk: 10:00 to 10:08", "tea: 10:40 to 10:50", "clean-up: 11:25 to 11:30"],
        "Plates per group": ["G1 2, G2 0, G3 1"],
        "Tied to a station": ["G3 at S2"],
        "Developer": ["mixed Tue 16 Feb 2027, 09:40, lives 6 h, 12 plates in each tray"],
        "Kept for repeats": ["1 round at the end"],
        "Steps of a pass": ["align, load, settle, expose, carry, develop, rinse, bleach, wash, dry, view"],
    }
    asked = json.loads(mira.get(f"{address}/class-file").text)
    assert asked["periods"] == [[0, 1920], [2520, 4620]]
    assert [group["name"] for group in asked["groups"]] == ["G1", "G3", "Repeat 1", "Repeat 2"]
    assert asked["groups"][1]["steps"][0]["at"] == ["S2"]
    assert asked["places"][2]["charges"] == [{"from_s": 0, "until_s": 6 * 3600 - 28 * 60, "plates": 12}]


def test_repeats_are_rows_of_the_drawing_and_slips_and_no_run_of_a_group(
    mira: Visitor, cast: Cast, address: str, in_lab: InLab
) -> None:
    mira.submit(f"{address}/reserve", reserve_rounds="1")
    _keep_a_plan(in_lab, address)

    page = mira.page(address)

    names = [label.text for label in page.select(".timeline-group")]
    assert names == ["G1", "G2", "G3", "Repeat 1", "Repeat 2"]
    slips = [str(caption.contents[0]).strip() for caption in page.select("#by-group caption")]
    assert slips[-2:] == ["Repeat 1, plate 1", "Repeat 2, plate 1"]
    figures = text_of(page.select_one("dl.figures"))  # type: ignore[arg-type]
    assert "Plates planned 3" in figures
    assert "Kept for repeats 2 plates" in figures
    sheet = mira.page(f"{address}/sheet")
    assert "Repeat 2, plate 1" in text_of(sheet)
    assert mira.get(f"{address}/visits.csv").text.count("Repeat 2") == 11
    with in_lab() as session:
        kept = get_plan(session, int(address.rsplit("/", 1)[1]))
        assert kept is not None
        assert len(list_every_visit(session, kept.id)) - len(list_visits(session, kept.id)) == 22
    assert "simulated classes" in text_of(mira.page(f"{address}/chance"))


def test_the_real_planner_keeps_a_round_for_repeats_at_the_end(mira: Visitor, address: str) -> None:
    mira.submit(f"{address}/times", talk_min="8", clean_up_min="5")
    mira.submit(f"{address}/mixes", mixed_on="2027-02-16", mixed_at="09:40", life_h="6", serves="")
    mira.submit(f"{address}/reserve", reserve_rounds="1")

    page = mira.submit(f"{address}/plan")

    assert "Kept for repeats 2 plates" in text_of(page.select_one("dl.figures"))  # type: ignore[arg-type]
    assert page.select_one("#by-group td").text == "10:08"  # type: ignore[union-attr]
    assert "The last plate leaves the developer at " in text_of(page)
    sheet = text_of(mira.page(f"{address}/sheet"))
    assert "talk 10:00 to 10:08, clean-up 11:25 to 11:30" in sheet


def test_the_margin_to_the_end_of_the_developer_s_life_is_told(
    mira: Visitor, address: str, in_lab: InLab
) -> None:
    """Of two mixes that are alive the one that lives longer counts: 06:00 and seven hours."""
    mira.submit(f"{address}/mixes", mixed_on="2027-02-16", mixed_at="05:00", life_h="6", serves="30")
    mira.submit(f"{address}/mixes", mixed_on="2027-02-16", mixed_at="06:00", life_h="7", serves="30")
    _keep_a_plan(in_lab, address)
    with in_lab() as session:
        kept = get_plan(session, int(address.rsplit("/", 1)[1]))
        assert kept is not None
        last = max(one.ends_at for one in list_visits(session, kept.id) if one.step == "develop")
    minutes, seconds = divmod(round((MORNING + timedelta(hours=5) - last).total_seconds()), 60)
    clock = (last + timedelta(hours=1)).strftime("%H:%M:%S")

    words = text_of(mira.page(address)).replace("\N{NO-BREAK SPACE}", " ")

    left = f"{minutes // 60} h {minutes % 60} min" + (f" {seconds} s" if seconds else "")
    assert f"The last plate leaves the developer at {clock}, {left} before its end of life." in words


def test_a_talk_of_eight_and_four_rounds_of_six_leave_five_and_a_half_minutes_of_life(
    mira: Visitor, cast: Cast, room: None, in_lab: InLab
) -> None:
    """House example, by hand: 14:00 + 8 + 4 · 6 + 2.5 min = 14:34:30; mixed at 08:40 the developer lives to 14:40.

    The four rounds stand here as one step of 24 min before the plate is developed for 2.5 min.
    """
    answer = mira.post(
        "/rotations",
        data={
            "section_id": cast.section_id, "name": "Third section", "day": "2027-02-16", "starts": "14:00", "ends": "14:50",
            "plates_per_group": 1, "talk_min": "8", "clean_up_min": "5",
        },
    )  # fmt: skip
    address = answer.url.path
    mira.submit(
        f"{address}/steps", name=["rounds", "develop"], position=["10", "20"], at=["station", "developer"],
        time_from=["own", "own"], seconds=["1440", "150"], light=["any", "dark"], still=["any", "any"], max_wait_s=["0", ""],
        attended=["true", "true"],
    )  # fmt: skip
    mira.submit(
        f"{address}/plates", group_id=list(cast.group_ids), plates=["1", "0", "0"], tied_place_id=["", "", ""]
    )
    mira.submit(f"{address}/mixes", mixed_on="2027-02-16", mixed_at="08:40", life_h="6", serves="12")
    _keep_a_plan(in_lab, address)

    words = text_of(mira.page(address)).replace("\N{NO-BREAK SPACE}", " ")

    assert "leaves the developer at 14:34:30, 5 min 30 s before its end of life." in words


def test_without_a_mix_the_page_says_that_nothing_is_checked(mira: Visitor, address: str) -> None:
    assert "how long it lives isn't checked" in text_of(mira.page(address))
    assert "isn't checked" in text_of(mira.page(f"{address}/question").select_one("#mixes"))  # type: ignore[arg-type]


def test_a_break_and_a_mix_are_taken_out_again(mira: Visitor, address: str) -> None:
    period = mira.page(f"{address}/question").select_one("#period_id option")
    assert period is not None
    mira.submit(f"{address}/breaks", period_id=period["value"], break_starts="10:40", break_ends="10:50")
    page = mira.submit(f"{address}/mixes", mixed_on="2027-02-16", mixed_at="09:40", life_h="6.5", serves="")
    assert "without the break 10:40 to 10:50" in text_of(page)
    assert "alive until Tue 16 Feb 2027, 16:10, as many plates as come" in text_of(page)

    for form in page.select("form[action*='/breaks/'], form[action*='/mixes/']"):
        page = mira.submit(str(form["action"]))

    assert "without the break" not in text_of(page)
    assert "No mix is written down" in text_of(page)


@pytest.mark.parametrize(
    ("form", "fields", "wrong", "sentence"),
    [
        ("times", {"talk_min": "a while", "clean_up_min": "5"}, "talk_min", "whole number"),
        ("times", {"talk_min": "8", "clean_up_min": "900"}, "clean_up_min", "240 or less"),
        ("periods", {"day": "2027-02-17", "starts": "9", "ends": "10:00"}, "starts", "a time such as 09:40"),
        ("periods", {"day": "2027-02-17", "starts": "11:00", "ends": "10:00"}, "ends", "must end after"),
        ("breaks", {"period_id": "1", "break_starts": "10:50", "break_ends": "10:40"}, "break_ends", "must end after"),
        ("breaks", {"period_id": "1", "break_starts": "", "break_ends": "10:40"}, "break_starts", "fill this in"),
        ("mixes", {"mixed_on": "2027-02-16", "mixed_at": "25:00", "life_h": "6"}, "mixed_at", "a time such as"),
        ("mixes", {"mixed_on": "2027-02-16", "mixed_at": "09:00", "life_h": "long"}, "life_h", "a number, such as 2.5"),
        ("mixes", {"mixed_on": "2027-02-16", "mixed_at": "09:00", "life_h": "0"}, "life_h", "more than 0"),
        ("mixes", {"mixed_on": "2027-02-16", "mixed_at": "09:00", "life_h": "6", "serves": "0"}, "serves", "1 or more"),
        ("reserve", {"reserve_rounds": "-1"}, "reserve_rounds", "0 or more"),
        ("reserve", {"reserve_rounds": "11"}, "reserve_rounds", "10 or less"),
        ("name", {"name": "  "}, "name", "fill this in"),
        ("name", {"name": "x" * 81}, "name", "at most 80 characters"),
    ],
)  # fmt: skip
def test_bad_input_is_shown_again_in_its_open_form(
    mira: Visitor, address: str, form: str, fields: dict[str, str], wrong: str, sentence: str
) -> None:
    page = mira.submit(f"{address}/{form}", 422, **fields)

    fault = page.select_one(f"#{wrong}-fault")
    assert fault is not None
    assert sentence in fault.text
    assert {name: page.select_one(f"[name={name}]")["value"] for name in fields if name != "period_id"} == {  # type: ignore[index]
        name: typed for name, typed in fields.items() if name != "period_id"
    }
    assert fault.find_parent("details").has_attr("open")  # type: ignore[union-attr]


def test_bad_plates_are_shown_again(mira: Visitor, cast: Cast, address: str) -> None:
    page = mira.submit(f"{address}/plates", 422, group_id=list(cast.group_ids), plates=["1", "x", "2"])

    assert [field["value"] for field in page.select("input[name=plates]")] == ["1", "x", "2"]
    assert page.select_one(f"#plates-{cast.group_ids[1]}-fault")
    assert "One thing needs another look" in text_of(page)


def test_groups_show_how_many_people_they_have_and_new_ones_are_named(
    mira: Visitor, cast: Cast, address: str, in_lab: InLab
) -> None:
    with in_lab() as session:
        enter_students(session, cast.section_id, ("Gil Aro", "Hana Poe", "Ivo Renn"))
        session.flush()
        form_section_groups(session, cast.section_id, size=2)

    page = mira.page(f"{address}/question")

    rows = [
        [cell.get_text().strip() for cell in row.select("th, td")][:2]
        for row in page.select("#groups tbody tr")
    ]
    assert [row[0] for row in rows] == ["G1", "G2", "G3", "G4"]
    assert sum(int(row[1]) for row in rows) == len(STUDENTS) + 3
    assert "Formed after this rotation was made: G4." in text_of(page)
    assert _asked(mira.page(address))["Plates per group"] == [
        "G1 1, G2 1, G3 1, G4 1",
        "formed since, with the usual number: G4",
    ]
    ids = [str(field["value"]) for field in page.select("input[name=group_id]")]
    page = mira.submit(f"{address}/plates", group_id=ids, plates=["1"] * 4, tied_place_id=[""] * 4)
    assert "Formed after" not in text_of(page)


def test_a_mix_is_offered_from_the_usual_quantities(mira: Visitor, address: str) -> None:
    page = mira.page(f"{address}/question")

    assert [typed_in(page, field) for field in ("mixed_on", "mixed_at", "life_h", "serves")] == [
        "2027-02-16",
        "09:40",
        "6",
        "12",
    ]
    assert "usual quantities, which are still the assumed ones" in text_of(page)


def test_a_mix_is_offered_from_the_charge_in_the_tray(mira: Visitor, address: str, in_lab: InLab) -> None:
    """Mixed at 07:00 on the lab's clock, an hour before now."""
    with in_lab() as session:
        take_in_kit(
            session, name="Kit 1", arrived_on=MORNING.date(), expires_on=None, storage="shelf", contents=[NewBottle(STOCK_A, 500_000), NewBottle(STOCK_B, 500_000), NewBottle(BLEACH, 500_000)], by="Tomas", now=MORNING,
        )  # fmt: skip
        batch = mixing.developer(session, 200_000, mixed_at=MORNING - timedelta(hours=1))
        tray = list_trays(session, Bath.DEVELOPER)[0]
        pour_charge(session, batch_id=batch.id, place_id=tray.id, volume_ul=200_000, by="Tomas", now=MORNING)

    page = mira.page(f"{address}/question")

    assert [typed_in(page, field) for field in ("mixed_at", "life_h", "serves")] == ["07:00", "6", "12"]
    assert "batch 1, in a tray now, with the room it has for plates of 63.5 × 63.5 mm" in text_of(page)


def test_a_rotation_is_renamed_and_then_deleted_after_a_second_step(
    mira: Visitor, address: str, in_lab: InLab
) -> None:
    _keep_a_plan(in_lab, address)
    page = mira.submit(f"{address}/name", name="Two plates")
    assert (
        "“Two plates” goes for good: what it asks and its plan of Tue 16 Feb 2027 with 3 plates"
        in text_of(page)
    )
    assert page.select_one(f"details form[action='{address}/delete']")

    page = mira.submit(f"{address}/delete")

    assert "There is no rotation yet." in text_of(page)
    mira.page(address, 404)


def test_a_published_rotation_asks_what_it_asked_and_stays(
    mira: Visitor, address: str, in_lab: InLab
) -> None:
    _keep_a_plan(in_lab, address)
    mira.submit(f"{address}/publish")

    page = mira.page(f"{address}/question")

    assert [str(form["action"]) for form in page.select("main form")] == [f"{address}/name"]
    assert "Withdraw it first" in text_of(page)
    assert "Withdraw it before it begins" in text_of(mira.submit(f"{address}/delete", 409))
    assert "copy it and change the copy" in text_of(mira.submit(f"{address}/times", 409, talk_min="5"))


def test_the_technician_looks_and_changes_nothing(tomas: Visitor, address: str) -> None:
    page = tomas.page(f"{address}/question")

    assert "Talk 0 min at the start" in text_of(page)
    assert not page.select("main form")
    for action in ("times", "breaks", "periods", "plates", "mixes", "reserve", "name", "delete"):
        tomas.submit(f"{address}/{action}", 403)
    tomas.page("/class-file", 403)


def test_another_lab_neither_sees_nor_changes_it(noor: Visitor, address: str) -> None:
    noor.page(f"{address}/question", 404)
    noor.submit(f"{address}/times", 404, talk_min="5")
    noor.submit(f"{address}/name", 404, name="Mine")
    noor.submit(f"{address}/delete", 404)


def test_an_exported_class_file_is_taken_in_planned_and_exported_again(
    mira: Visitor, cast: Cast, address: str
) -> None:
    mira.submit(f"{address}/reserve", reserve_rounds="1")
    text = mira.get(f"{address}/class-file").text
    answer = mira.post(
        "/class-file",
        data={"section_id": cast.section_id, "day": "2027-02-23", "starts": "10:00", "class_file": text},
    )
    again = answer.url.path
    assert again != address

    page = mira.submit(f"{again}/plan")

    assert mira.get(f"{again}/class-file").text == text
    assert str(page.select_one("#by-group caption").contents[0]).strip() == "G1, plate 1"  # type: ignore[union-attr]
    assert "Tue 23 Feb 2027, 10:00 to 11:30" in text_of(page)
    assert not page.select("form[action$='/publish']")
    assert "not published" in text_of(mira.submit(f"{again}/publish", 409))
    assert _asked(page) == {"Class file": ["“First plates”: 5 groups, 5 plates, 8 places"]}
    assert "asks what its class file says" in text_of(mira.page(f"{again}/question"))
    assert "Repeat 1, plate 1" in text_of(mira.page(f"{again}/sheet"))
    assert mira.get(f"{again}/visits.csv").text.count("Repeat 1") == 11
    assert "take it in again" in text_of(mira.submit(f"{again}/steps", 409, **_a_step()))


def _a_step() -> dict[str, object]:
    return {
        "name": ["look"], "position": ["10"], "at": ["bench"], "time_from": ["own"], "seconds": ["60"], "light": ["any"],
        "still": ["any"], "max_wait_s": [""], "attended": ["true"],
    }  # fmt: skip


def test_a_bad_class_file_gets_its_one_line_fault_and_stays(mira: Visitor, cast: Cast) -> None:
    text = '{"name": "x", "periods": [[0, 600]], "places": [{"name": "S1", "capacity": 0}], "groups": []}'
    page = mira.submit(
        "/class-file", 422, section_id=cast.section_id, day="2027-02-23", starts="10:00", class_file=text
    )

    assert page.select_one("#class_file-fault").text == (  # type: ignore[union-attr]
        "places[0].capacity: 0 is not a whole number of at least 1."
    )
    assert page.select_one("#class_file").text.strip() == text  # type: ignore[union-attr]
    assert typed_in(page, "starts") == "10:00"
