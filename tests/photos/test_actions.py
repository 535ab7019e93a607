"""Photos are kept with their run once, few of them, and only where everybody agreed."""

from datetime import timedelta
from hashlib import sha256

import pytest
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from server.core.picture import NoPicture, Picture
from server.data.session import Database, LabSession
from server.people.models import Student
from server.photos.actions import keep_photo, remove_photo
from server.photos.models import MOST_PHOTOS, Photo
from server.photos.queries import count_photos, get_photo, list_altered, list_photos
from server.refusal import NotFound, Refusal
from server.runs.actions import file_run
from server.runs.models import Incident
from server.students.actions import keep_consents
from server.students.models import Signing
from tests.casts import MORNING, Cast
from tests.runs.room import fill_room

PICTURE = Picture(b"\xff\xd8 a picture", 40, 30)


@pytest.fixture
def run_ids(session: LabSession, cast: Cast) -> tuple[int, int]:
    """Two runs of G1."""
    room = fill_room(session)
    runs = [
        file_run(
            session, tablet_id=f"run-{number}", section_id=cast.section_id, group_id=cast.group_ids[0],
            plate_box_id=room.plate_box_id, place_id=room.station_id, charge_id=None, rotation_id=None, settle_s=60,
            exposure_s=10, develop_s=None, incident=Incident.NONE, comment="", exposed_at=MORNING, by="G1", now=MORNING,
        )
        for number in (1, 2)
    ]  # fmt: skip
    return runs[0].id, runs[1].id


def _keep(
    session: LabSession,
    cast: Cast,
    run_id: int,
    tablet_id: str = "one",
    picture: Picture | NoPicture = PICTURE,
) -> Photo:
    photo = keep_photo(
        session, run_id, tablet_id=tablet_id, group_id=cast.group_ids[0], picture=picture,
        taken_at=MORNING - timedelta(minutes=5), by="G1", now=MORNING,
    )  # fmt: skip
    session.flush()
    return photo


def test_a_photo_is_kept_with_its_size_its_time_and_its_checksum(
    session: LabSession, cast: Cast, run_ids: tuple[int, int]
) -> None:
    kept = get_photo(session, run_ids[0], _keep(session, cast, run_ids[0]).id)

    assert (kept.jpeg, kept.width_px, kept.height_px) == (PICTURE.jpeg, 40, 30)
    assert kept.sha256 == sha256(PICTURE.jpeg).hexdigest()
    assert (kept.taken_at, kept.kept_at) == (MORNING - timedelta(minutes=5), MORNING)


def test_the_same_id_twice_is_one_photo(session: LabSession, cast: Cast, run_ids: tuple[int, int]) -> None:
    first = _keep(session, cast, run_ids[0])

    assert _keep(session, cast, run_ids[0]).id == first.id
    assert len(list_photos(session, run_ids[0])) == 1
    with pytest.raises(Refusal, match="kept with another run"):
        _keep(session, cast, run_ids[1])


def test_the_database_itself_takes_an_id_once(
    session: LabSession, cast: Cast, run_ids: tuple[int, int]
) -> None:
    first = _keep(session, cast, run_ids[0])
    session.add(Photo(**first.model_dump(exclude={"id"})))

    with pytest.raises(IntegrityError):
        session.flush()


def test_a_run_has_few_photos_and_a_removed_one_makes_room(
    session: LabSession, cast: Cast, run_ids: tuple[int, int]
) -> None:
    photos = [_keep(session, cast, run_ids[0], f"photo {number}") for number in range(MOST_PHOTOS)]
    with pytest.raises(Refusal, match="This run has 4 photos already"):
        _keep(session, cast, run_ids[0], "one more")
    _keep(session, cast, run_ids[1], "of another run")
    assert count_photos(session, run_ids) == {run_ids[0]: 4, run_ids[1]: 1}

    remove_photo(session, run_ids[0], photos[1].id, by="Mira", now=MORNING)
    _keep(session, cast, run_ids[0], "one more")
    assert len(list_photos(session, run_ids[0])) == MOST_PHOTOS


def test_a_removed_photo_is_gone_and_does_not_come_back_with_a_tablet_that_sends_it_again(
    session: LabSession, cast: Cast, run_ids: tuple[int, int]
) -> None:
    photo_id = _keep(session, cast, run_ids[0]).id
    remove_photo(session, run_ids[0], photo_id, by="Mira", now=MORNING)
    again = _keep(session, cast, run_ids[0])

    assert (again.id, again.jpeg, again.removed_by) == (photo_id, None, "Mira")
    assert list_photos(session, run_ids[0]) == []
    with pytest.raises(NotFound, match="may have been removed"):
        get_photo(session, run_ids[0], photo_id)


def test_what_is_no_picture_is_refused_with_its_sentence(
    session: LabSession, cast: Cast, run_ids: tuple[int, int]
) -> None:
    with pytest.raises(Refusal, match="no picture at all"):
        _keep(session, cast, run_ids[0], picture=NoPicture("This is no picture at all."))


def test_a_group_in_which_somebody_has_not_agreed_takes_no_photo(
    session: LabSession, cast: Cast, run_ids: tuple[int, int]
) -> None:
    bo = session.exec(select(Student).where(Student.name == "Bo Lind")).one()
    keep_consents(
        session, cast.section_id, given=(), withdrawn=[(bo.id, Signing.PHOTO)], on_day=MORNING.date(), by="Mira", now=MORNING
    )  # fmt: skip
    session.flush()

    with pytest.raises(Refusal, match="Tue-G1-b has not agreed to photos") as refused:
        _keep(session, cast, run_ids[0])
    assert "Bo" not in refused.value.sentence


def test_another_run_s_photo_and_another_lab_s_are_not_found(
    session: LabSession, cast: Cast, run_ids: tuple[int, int]
) -> None:
    photo = _keep(session, cast, run_ids[0])
    with pytest.raises(NotFound):
        get_photo(session, run_ids[1], photo.id)
    with pytest.raises(NotFound, match="no such group"):
        keep_photo(
            session, run_ids[0], tablet_id="two", group_id=cast.other_group_id, picture=PICTURE, taken_at=MORNING, by="G1", now=MORNING
        )  # fmt: skip


def test_a_picture_that_was_changed_behind_our_back_is_told_of(
    session: LabSession, cast: Cast, run_ids: tuple[int, int]
) -> None:
    photo = _keep(session, cast, run_ids[0])
    remove_photo(session, run_ids[0], _keep(session, cast, run_ids[0], "removed").id, by="Mira", now=MORNING)
    session.flush()
    assert list_altered(session) == []
    photo.jpeg = PICTURE.jpeg + b" "
    session.flush()

    assert list_altered(session) == [f"Photo {photo.id} is not what was kept: its checksum differs."]


def test_a_large_picture_comes_back_byte_for_byte(
    database: Database, session: LabSession, cast: Cast, run_ids: tuple[int, int]
) -> None:
    assert database
    content = bytes(range(256)) * 2000
    photo = _keep(session, cast, run_ids[0], picture=Picture(content, 1600, 1200))
    session.expire_all()

    assert get_photo(session, run_ids[0], photo.id).jpeg == content
