"""What is true of every request's session."""

from concurrent.futures import ThreadPoolExecutor

import anyio
import httpx
from sqlmodel import select

from server.app import create_app
from server.data.session import Database
from server.people.access import COOKIE, Db, Instructor
from server.people.models import Section
from server.settings import Settings
from tests.casts import MORNING, TOKENS, Cast


async def _asked(database: Database, method: str) -> int:
    """The status of an address that adds a section, however it is asked."""
    app = create_app(Settings(), clock=lambda: MORNING)
    app.state.database.engine.dispose()
    app.state.database = database

    @app.api_route("/planted", methods=["GET", "POST"])
    def planted(session: Db, _person: Instructor) -> None:
        session.add(Section(name="Planted", short_name="Pla", class_code="NEWONE"))
        session.flush()

    address = "http://stillroom.test"
    async with httpx.AsyncClient(
        transport=httpx.ASGITransport(app),
        base_url=address,
        headers={"Origin": address},
        cookies={COOKIE: TOKENS["mira"]},
    ) as client:
        return (await client.request(method, "/planted")).status_code


def test_looking_at_a_page_never_writes_and_sending_a_form_does(database: Database, cast: Cast) -> None:
    kept = []
    for method in ("GET", "POST"):
        # In a thread of its own: a browser test before this one leaves a running event loop in the main one.
        with ThreadPoolExecutor(1) as thread:
            assert thread.submit(anyio.run, _asked, database, method).result() == 200
        with database.reading(cast.lab_id) as session:
            kept.append(set(session.exec(select(Section.name))))

    assert kept == [{"Tuesday"}, {"Tuesday", "Planted"}]
