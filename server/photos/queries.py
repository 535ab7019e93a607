"""Reads of photos. Lists leave the pictures themselves in the database."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from sqlmodel import col, func, select

from server.data.session import LabSession
from server.photos.models import Photo
from server.refusal import NotFound
from server.students.queries import find_photo_veil


@dataclass(frozen=True)
class PhotoFacts:
    """What is known of a photo beside its picture. Pixels are of the kept picture."""

    id: int
    taken_at: datetime
    width_px: int
    height_px: int


def find_photo_by_tablet_id(session: LabSession, tablet_id: str) -> Photo | None:
    return session.exec(select(Photo).where(Photo.tablet_id == tablet_id)).first()


def get_photo(session: LabSession, run_id: int, photo_id: int) -> Photo:
    """The photo of that run, with its picture."""
    photo = session.get(Photo, photo_id)
    if photo is None or photo.run_id != run_id or photo.jpeg is None:
        raise NotFound(
            "There is no such photo of this run. It may have been removed; load the run's page again."
        )
    return photo


def get_shown_photo(session: LabSession, run_id: int, photo_id: int, group_id: int) -> Photo:
    """The photo of that run of that group, unless somebody of the group has taken the consent back."""
    veil = find_photo_veil(session, group_id)
    if veil:
        raise NotFound(veil)
    return get_photo(session, run_id, photo_id)


def list_photos(session: LabSession, run_id: int) -> Sequence[PhotoFacts]:
    """A run's photos, oldest first."""
    found = session.exec(
        select(Photo.id, Photo.taken_at, Photo.width_px, Photo.height_px)
        .where(Photo.run_id == run_id, col(Photo.removed_at).is_(None))
        .order_by(col(Photo.taken_at), col(Photo.id))
    ).all()
    return [PhotoFacts(*facts) for facts in found]


def list_altered(session: LabSession) -> list[str]:
    """A sentence for each photo whose picture is not the one that was kept, by its checksum."""
    ids = session.exec(select(Photo.id).where(col(Photo.removed_at).is_(None)).order_by(col(Photo.id))).all()
    altered = []
    for photo_id in ids:  # one after the other: all of them together may be larger than the memory
        found = session.exec(select(Photo.jpeg, Photo.sha256).where(Photo.id == photo_id)).one()
        if sha256(found[0] or b"").hexdigest() != found[1]:
            altered.append(f"Photo {photo_id} is not what was kept: its checksum differs.")
    return altered


def count_photos(session: LabSession, run_ids: Iterable[int]) -> Mapping[int, int]:
    """How many photos each of the runs has; runs without any are left out."""
    counted = session.exec(
        select(Photo.run_id, func.count())
        .where(col(Photo.run_id).in_(list(run_ids)), col(Photo.removed_at).is_(None))
        .group_by(col(Photo.run_id))
    ).all()
    return dict(counted)
