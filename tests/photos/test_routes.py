"""Photos over HTTP: from a tablet's page to the staff's, and to nobody else."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from uuid import uuid4

import httpx
import pytest

from server.data.session import LabSession
from server.people.queries import list_students
from server.runs.actions import file_run
from server.runs.models import Incident
from server.students.actions import keep_consents
from server.students.models import Signing
from tests.casts import MORNING, Cast
from tests.conftest import Visitor, words
from tests.pictures import GPS_WORDS, corners, oriented
from tests.runs.room import fill_room

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def run_id(in_lab: InLab, cast: Cast) -> int:
    with in_lab() as session:
        room = fill_room(session)
        return file_run(
            session, tablet_id="a run", section_id=cast.section_id, group_id=cast.group_ids[0],
            plate_box_id=room.plate_box_id, place_id=room.station_id, charge_id=None, rotation_id=None, settle_s=60,
            exposure_s=10, develop_s=None, incident=Incident.NONE, comment="", exposed_at=MORNING, by="G1", now=MORNING,
        ).id  # fmt: skip


def _send(
    visitor: Visitor, run_id: int, content: bytes, *, name: str = "photo.jpg", id_: str = ""
) -> httpx.Response:
    return visitor.post(
        f"/tablet/runs/{run_id}/photos",
        data={"tablet_id": id_ or str(uuid4()), "kept_s": "300"},
        files={"photo": (name, content, "image/jpeg")},
    )


def _addresses(visitor: Visitor, page: str) -> list[str]:
    return [str(image["src"]) for image in visitor.page(page).select(".photos img")]


def test_a_photo_goes_from_the_tablet_to_the_staff_upright_and_without_its_place(
    tablet: Visitor, tomas: Visitor, run_id: int
) -> None:
    page = tablet.page(f"/tablet/lit/runs/{run_id}/photo")
    assert "No faces" in page.get_text()
    form = page.select_one("form[data-outbox]")
    assert form is not None
    assert form["action"] == f"/tablet/runs/{run_id}/photos"
    answer = _send(tablet, run_id, oriented(6, place=True))
    assert (answer.status_code, answer.url.path) == (200, "/tablet")

    [address] = _addresses(tomas, f"/runs/{run_id}")
    shown = tomas.get(address)
    assert shown.headers["content-type"] == "image/jpeg"
    assert shown.headers["x-content-type-options"] == "nosniff"
    assert shown.headers["cache-control"] == "private, no-cache"
    assert corners(shown.content) == ("red", "green", "blue", "white")
    assert GPS_WORDS not in shown.content
    assert tomas.get(address, headers={"If-None-Match": shown.headers["etag"]}).status_code == 304
    assert "Photo 1, taken Tue 16 Feb 2027, 07:55" in words(tomas.get(f"/runs/{run_id}"))


def test_the_group_sees_its_own_photos_and_no_other_group_does(
    tablet: Visitor, other_tablet: Visitor, stranger: Visitor, petra: Visitor, run_id: int
) -> None:
    _send(tablet, run_id, oriented(1))
    [address] = _addresses(tablet, f"/tablet/lit/runs/{run_id}/photo")

    assert "1 photo: take or see" in words(tablet.get(f"/tablet/runs/{run_id}"))
    assert tablet.get(address).headers["content-type"] == "image/jpeg"
    assert other_tablet.get(address).status_code == 404
    assert other_tablet.get(f"/tablet/lit/runs/{run_id}/photo").status_code == 404
    assert _send(other_tablet, run_id, oriented(1)).status_code == 404
    assert stranger.get(address, follow_redirects=False).status_code == 303
    staffs = address.replace("/tablet/lit", "")
    assert petra.get(staffs).status_code == 404
    assert tablet.get(staffs).status_code == 403


def test_the_same_photo_sent_twice_is_one(tablet: Visitor, run_id: int) -> None:
    id_ = str(uuid4())
    for _ in range(2):
        assert _send(tablet, run_id, oriented(1), id_=id_).status_code == 200

    assert len(_addresses(tablet, f"/tablet/lit/runs/{run_id}/photo")) == 1


@pytest.mark.parametrize(
    ("content", "name", "sentence"),
    [
        (b"Dear diary, this is no picture.", "photo.jpg", "no picture that can be read"),
        (oriented(1)[:900], "photo.jpg", "broken or not whole"),
        (b"", "photo.jpg", "choose or take a picture"),
        (b"\x00\x00\x00\x18ftypheic" + bytes(100), "photo.heic", "most compatible format"),
    ],
    ids=["text", "half a picture", "nothing", "HEIC"],
)
def test_what_is_no_picture_is_refused_with_a_sentence_on_a_page_for_the_dark(
    tablet: Visitor, run_id: int, content: bytes, name: str, sentence: str
) -> None:
    answer = _send(tablet, run_id, content, name=name)

    assert answer.status_code == 409
    assert sentence in words(answer)
    assert "data-light" in answer.text
    assert "paper.css" not in answer.text
    assert _addresses(tablet, f"/tablet/lit/runs/{run_id}/photo") == []


def test_a_photo_without_its_number_is_refused(tablet: Visitor, run_id: int) -> None:
    answer = tablet.post(
        f"/tablet/runs/{run_id}/photos", files={"photo": ("a.jpg", oriented(1), "image/jpeg")}
    )

    assert answer.status_code == 409
    assert "lost its number" in words(answer)


def test_a_picture_as_large_as_a_camera_s_is_read_and_a_larger_one_is_refused_with_a_sentence(
    tablet: Visitor, run_id: int
) -> None:
    padded = oriented(1) + bytes(3_000_000)
    assert _send(tablet, run_id, padded).status_code == 200

    answer = _send(tablet, run_id, oriented(1) + bytes(12_000_000))
    assert "larger than 12 MB" in words(answer)
    answer = _send(tablet, run_id, bytes(12_200_000))
    assert answer.status_code == 413


def test_no_other_form_may_be_as_large_as_a_photo(tablet: Visitor, run_id: int) -> None:
    answer = tablet.post(f"/tablet/runs/{run_id}/verdict", data={"comment": "x" * 1_100_000})

    assert answer.status_code == 413


def test_photos_are_shown_to_nobody_once_somebody_of_the_group_took_the_consent_back(
    tablet: Visitor, tomas: Visitor, in_lab: InLab, cast: Cast, run_id: int
) -> None:
    _send(tablet, run_id, oriented(1))
    [own] = _addresses(tablet, f"/tablet/lit/runs/{run_id}/photo")
    [staffs] = _addresses(tomas, f"/runs/{run_id}")
    with in_lab() as session:
        [bo] = [one.id for one in list_students(session, cast.section_id) if one.name == "Bo Lind"]
        keep_consents(
            session, cast.section_id, given=(), withdrawn=[(bo, Signing.PHOTO)], on_day=MORNING.date(), by="Mira", now=MORNING
        )  # fmt: skip

    assert _addresses(tablet, f"/tablet/lit/runs/{run_id}/photo") == []
    assert _addresses(tomas, f"/runs/{run_id}") == []
    assert {tablet.get(own).status_code, tomas.get(staffs).status_code} == {404}
    assert "Tue-G1-b has taken back" in words(tomas.get(f"/runs/{run_id}"))
    assert "Photos of run 1 of Tue" in words(tomas.get("/"))
    tomas.submit(f"{staffs}/remove")
    assert "Photos of run 1" not in words(tomas.get("/"))


def test_staff_remove_a_photo_after_being_asked(tablet: Visitor, tomas: Visitor, run_id: int) -> None:
    _send(tablet, run_id, oriented(1))
    asked = tomas.page(f"/runs/{run_id}").select_one("#of-run details")
    assert asked is not None
    assert not asked.has_attr("open")
    form = asked.select_one("form")
    assert form is not None
    after = tomas.submit(str(form["action"]))

    assert after.select("#of-run img") == []
    assert _addresses(tablet, f"/tablet/lit/runs/{run_id}/photo") == []
