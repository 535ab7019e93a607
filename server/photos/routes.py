"""The address for removing a photo. Who looks at one reaches it through the addresses of its run."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.photos.actions import remove_photo
from server.web.show import seen
from server.web.submitted import RowId

router = APIRouter()


@router.post("/runs/{run_id}/photos/{photo_id}/remove", name="photos.remove")
def remove(
    request: Request, session: Db, now: Now, person: Technician, run_id: RowId, photo_id: RowId
) -> Response:
    remove_photo(session, run_id, photo_id, by=person.name, now=now)
    return seen(request, "runs.run", run_id=run_id)
