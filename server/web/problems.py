"""What a person sees when something cannot be done: always a sentence, never a traceback, a bare status or JSON."""

import logging
import secrets
from dataclasses import dataclass, replace

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from sqlalchemy.exc import IntegrityError
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from server.refusal import NotSignedIn, Refusal
from server.web.headers import add_headers
from server.web.lights import is_near_plates, kept_colour
from server.web.show import sent_by_htmx, show

_log = logging.getLogger("stillroom")


@dataclass(frozen=True)
class Problem:
    """`title` is a few words, `sentence` what is wrong and what to do, `reference` finds the record of a fault.

    `light` is the one colour that a tablet's screen may emit, and empty on paper.
    """

    title: str
    sentence: str
    reference: str = ""
    light: str = ""


_TITLES = {
    401: "Please sign in",
    403: "Not for you",
    404: "Not here",
    405: "Not here",
    409: "Not now",
}
_SENTENCES = {
    404: "There is no page at this address. Go back, or start again from Today.",
    405: "This address only takes a form that was sent from its own page. Go back to that page and press its button.",
}


def _light(request: Request) -> str:
    """Asked of the device itself, because the problem may be that nobody is signed in or the database is gone.

    Near plates a device that keeps no colour yet gets the one that most plates do not see.
    """
    signed = getattr(request.state, "signed", None)
    of_a_tablet = signed is not None and not signed.is_staff
    dark = of_a_tablet or is_near_plates(request.url.path)
    return kept_colour(request) or ("green" if dark else "")


def answer_with(request: Request, problem: Problem, status: int) -> Response:
    """The problem as a page, or above the form of a page that is still open."""
    if not sent_by_htmx(request):
        return show(request, "problem.html", replace(problem, light=_light(request)), status=status)
    # The page with everything typed stays as it is; the sentence appears above it.
    response = show(request, "parts/_problem.html", problem, status=status)
    response.headers["HX-Retarget"] = "#notice"
    response.headers["HX-Reswap"] = "innerHTML"
    return response


def _refused(request: Request, refusal: Exception) -> Response:
    assert isinstance(refusal, Refusal)
    # A page that is open stays open: it may hold typed text, or be the dark screen of a room with open plates.
    closed = request.method == "GET" and not sent_by_htmx(request) and not _light(request)
    if isinstance(refusal, NotSignedIn) and closed:
        address = request.url_for("people.sign_in").include_query_params(next=request.url.path)
        place = f"{address.path}?{address.query}"
        return RedirectResponse(place, status_code=303)
    return answer_with(request, Problem(_TITLES[refusal.status], refusal.sentence), refusal.status)


def _no_such_page(request: Request, fault: Exception) -> Response:
    status = fault.status_code if isinstance(fault, HTTPException) else 404
    title = _TITLES.get(status, "Not possible")
    sentence = _SENTENCES.get(status, "This can't be read. Go back and try once more.")
    return answer_with(request, Problem(title, sentence), status)


def _broken(request: Request, fault: Exception) -> Response:
    reference = secrets.token_hex(4)
    _log.error("fault %s at %s %s", reference, request.method, request.url.path, exc_info=fault)
    sentence = (
        "Something went wrong on our side and nothing was saved. What you typed is still in the form if you go back. "
        "Please try once more; if it happens again, tell whoever looks after this server the reference below."
    )
    answer = answer_with(request, Problem("This did not work", sentence, reference), 500)
    # This answer is sent from outside of every middleware.
    add_headers(answer.headers)
    return answer


def _collided(request: Request, fault: Exception) -> Response:
    """Two people saved the same thing at the same moment, and a unique constraint let in the first."""
    assert isinstance(fault, IntegrityError)
    if "unique" not in str(fault.orig).lower():
        return _broken(request, fault)
    sentence = (
        "Somebody saved the same thing at the same moment, so this was not saved a second time. "
        "Load the page again and look whether anything is still to do."
    )
    return answer_with(request, Problem(_TITLES[409], sentence), 409)


def install_problems(app: FastAPI) -> None:
    app.add_exception_handler(Refusal, _refused)
    app.add_exception_handler(RequestValidationError, _no_such_page)
    app.add_exception_handler(HTTPException, _no_such_page)
    app.add_exception_handler(IntegrityError, _collided)
    app.add_exception_handler(Exception, _broken)
