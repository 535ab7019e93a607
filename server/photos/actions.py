"""Keeping a photo with its run, and taking one away."""

from datetime import datetime
from hashlib import sha256

from server.core.picture import NoPicture, Picture
from server.data.session import LabSession
from server.people.models import Group
from server.photos.models import MOST_PHOTOS, Photo
from server.photos.queries import find_photo_by_tablet_id, get_photo, list_photos
from server.refusal import NotFound, Refusal
from server.students.queries import find_photo_bar


def keep_photo(
    session: LabSession,
    run_id: int,
    *,
    tablet_id: str,
    group_id: int,
    picture: Picture | NoPicture,
    taken_at: datetime,
    by: str,
    now: datetime,
) -> Photo:
    """Keep a picture with the run of that group. The same `tablet_id` again is the same photo, also after it was removed."""
    if session.hold(Group, group_id) is None:  # two at once must not both be the last that has room
        raise NotFound("There is no such group in this lab. Join again with the class code.")
    kept = find_photo_by_tablet_id(session, tablet_id)
    if kept is not None:
        if kept.run_id != run_id:
            raise Refusal("This photo was kept with another run. Load the page again and take it anew.")
        return kept
    bar = find_photo_bar(session, group_id)
    if bar:
        raise Refusal(bar)
    if isinstance(picture, NoPicture):
        raise Refusal(picture.reason)
    if len(list_photos(session, run_id)) >= MOST_PHOTOS:
        raise Refusal(
            f"This run has {MOST_PHOTOS} photos already, which is as many as one may have. Ask your instructor to remove one."
        )
    photo = Photo(
        tablet_id=tablet_id,
        run_id=run_id,
        jpeg=picture.jpeg,
        width_px=picture.width_px,
        height_px=picture.height_px,
        sha256=sha256(picture.jpeg).hexdigest(),
        taken_at=taken_at,
        kept_at=now,
        kept_by=by,
    )
    session.add(photo)
    return photo


def remove_photo(session: LabSession, run_id: int, photo_id: int, *, by: str, now: datetime) -> None:
    """Take the picture away for good; that there was one stays known."""
    photo = get_photo(session, run_id, photo_id)
    photo.jpeg, photo.removed_at, photo.removed_by = None, now, by
