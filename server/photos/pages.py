"""What the photo page of a tablet shows, and the photos on the page of a run."""

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import uuid4

from server.core.moments import moment_words
from server.data.session import LabSession
from server.photos.models import MOST_PHOTOS
from server.photos.queries import list_photos
from server.students.queries import find_photo_bar, find_photo_veil


@dataclass(frozen=True)
class PhotoShown:
    """`address` gives the picture, `seen` says what is on it to who can't see it; its size is told so that the page does not jump when it comes."""

    id: int
    address: str
    seen: str
    words: str
    width_px: int
    height_px: int


@dataclass(frozen=True)
class PhotoPage:
    """`bar` says why this group's photos may not be taken, `veil` why those it took are not shown; both are empty where they may."""

    run_id: int
    group_id: int
    name: str
    tablet_id: str
    photos: Sequence[PhotoShown]
    room: int
    most: int
    bar: str
    veil: str


def photos_words(count: int) -> str:
    return {0: "No photo yet", 1: "1 photo"}.get(count, f"{count} photos")


def photos_shown(session: LabSession, run_id: int, zone: str, *, folder: str) -> Sequence[PhotoShown]:
    """The photos of a run; `folder` is the address that they stand under."""
    return [
        PhotoShown(
            photo.id,
            f"{folder}/{photo.id}",
            f"The plate of this run, {number}",
            f"Photo {number}, taken {moment_words(photo.taken_at, zone)}",
            photo.width_px,
            photo.height_px,
        )
        for number, photo in enumerate(list_photos(session, run_id), start=1)
    ]


def photo_page(session: LabSession, run_id: int, *, group_id: int, name: str, zone: str) -> PhotoPage:
    """The tablet's page for taking photos of one of its runs."""
    photos = photos_shown(session, run_id, zone, folder=f"/tablet/lit/runs/{run_id}/photos")
    return PhotoPage(
        run_id=run_id,
        group_id=group_id,
        name=name,
        tablet_id=str(uuid4()),
        photos=photos,
        room=max(0, MOST_PHOTOS - len(photos)),
        most=MOST_PHOTOS,
        bar=find_photo_bar(session, group_id),
        veil=find_photo_veil(session, group_id),
    )
