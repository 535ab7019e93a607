"""Addresses of the photos for the staff. A tablet reaches its own through the addresses of its runs."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.photos.actions import remove_photo
from server.photos.queries import get_photo
from server.web.downloads import unchanging
from server.web.show import seen
from server.web.submitted import RowId

router = APIRouter()


@router.get("/runs/{run_id}/photos/{photo_id}", name="photos.photo")
def photo(request: Request, session: Db, _person: Technician, run_id: RowId, photo_id: RowId) -> Response:
    found = get_photo(session, run_id, photo_id)
    return unchanging(request, found.jpeg or b"", tag=found.sha256, media_type="image/jpeg")


@router.post("/runs/{run_id}/photos/{photo_id}/remove", name="photos.remove")
def remove(
    request: Request, session: Db, now: Now, person: Technician, run_id: RowId, photo_id: RowId
) -> Response:
    remove_photo(session, run_id, photo_id, by=person.name, now=now)
    return seen(request, "runs.run", run_id=run_id)
