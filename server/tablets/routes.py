"""Addresses of the lab's tablets, and of leaving the dark room with a screen."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from server.people.access import Anyone
from server.tablets.forms import Leaving
from server.web.lights import kept_colour, put_colour_away, shut
from server.web.show import own_address
from server.web.submitted import Submitted, submitted

router = APIRouter()


@router.post("/out-of-the-dark-room", name="tablets.leave_dark_room")
def leave_dark_room(
    request: Request,
    _signed: Anyone,
    form: Annotated[Submitted[Leaving], Depends(submitted(Leaving))],
) -> Response:
    following = own_address(str(form.value("next", "/")))
    if kept_colour(request) == "none" and form.value("is_sure") != "yes":
        return shut(request, following=following, is_asked=True)
    answer = RedirectResponse(following, status_code=303)
    put_colour_away(answer)
    return answer
