"""Putting the application together. Nothing is opened at import."""

import gc
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import datetime
from types import FrameType

import anyio
import anyio.to_thread
import uvicorn
from anyio.to_thread import run_sync
from fastapi import APIRouter, FastAPI, Request

from server.activities.routes import router as activities
from server.balances.routes import router as balances
from server.calendars.routes import router as calendars
from server.callings.queries import are_lights_allowed
from server.callings.routes import router as callings
from server.callings.watching import Listening
from server.chances.routes import router as chances
from server.charges.routes import router as charges
from server.chemistry.routes import router as chemistry
from server.claims.routes import router as claims
from server.clock import utc_now
from server.containers.routes import router as containers
from server.core.planning import load_solver
from server.data.session import Database
from server.exposures.routes import router as exposures
from server.forecasts.routes import router as forecasts
from server.handovers.routes import router as handovers
from server.kits.routes import router as kits
from server.labels.routes import router as labels
from server.limits.routes import router as limits
from server.marks.routes import router as marks
from server.people.access import anyone
from server.people.routes import router as people
from server.photos.routes import router as photos
from server.pickups.routes import router as pickups
from server.plates.routes import router as plates
from server.pours.routes import router as pours
from server.prep.routes import router as prep
from server.questions.routes import router as questions
from server.recipes.routes import router as recipes
from server.registers.routes import router as registers
from server.replans.routes import router as replans
from server.rotations.routes import router as rotations
from server.rules.routes import router as rules
from server.runs.routes import router as runs
from server.safety.routes import router as safety
from server.searches.routes import router as searches
from server.settings import Settings
from server.sheets.routes import router as sheets
from server.shelves.routes import router as shelves
from server.stations.routes import router as stations
from server.stock.routes import router as stock
from server.strengths.routes import router as strengths
from server.students.routes import router as students
from server.supplies.routes import router as supplies
from server.tablets.routes import router as tablets
from server.today.routes import router as today
from server.transfers.routes import router as transfers
from server.waste.routes import router as waste
from server.waste_labels.routes import router as waste_labels
from server.web.assets import STATIC, Assets
from server.web.lights import WhitePagesShut
from server.web.problems import install_problems
from server.web.security import OwnPagesOnly, WholeForms
from server.what_ifs.routes import router as what_ifs
from server.workers import Workers

FEATURES: tuple[APIRouter, ...] = (
    today,
    tablets,
    marks,
    callings,
    rotations,
    questions,
    searches,
    chances,
    activities,
    replans,
    what_ifs,
    calendars,
    prep,
    supplies,
    chemistry,
    charges,
    labels,
    recipes,
    strengths,
    kits,
    plates,
    stock,
    stations,
    waste,
    shelves,
    containers,
    pours,
    transfers,
    waste_labels,
    handovers,
    sheets,
    pickups,
    registers,
    forecasts,
    balances,
    limits,
    rules,
    runs,
    photos,
    claims,
    exposures,
    safety,
    students,
    people,
)


LAST_WORDS_S = 5.0


class Serving(uvicorn.Server):
    """Serves an application until it is told to end; whoever listens to a board is let go first, for a server waits for its answers."""

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        app = self.config.app
        assert isinstance(app, FastAPI)
        app.state.listening.close()
        super().handle_exit(sig, frame)


async def lights_allowed(request: Request) -> bool:
    """Whether white pages may open on this device. Where nobody is signed in, nobody knows whose plates may be open near it."""
    database, now = request.app.state.database, request.app.state.clock()
    signed = await anyone(request, database, now)
    if signed is None:
        return False
    async with database.turn(signed.lab_id, writes=False) as session:
        return await run_sync(are_lights_allowed, session, now)


def create_app(settings: Settings, *, clock: Callable[[], datetime] = utc_now) -> FastAPI:
    """The application on the database that `settings` name. No state is kept in the process beside connections and workers."""
    database = Database(settings.url, connections=settings.connections)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        anyio.to_thread.current_default_thread_limiter().total_tokens = settings.connections
        # What was built at start-up lives as long as the process; collecting it again and again makes slow answers.
        gc.collect()
        gc.freeze()
        async with anyio.create_task_group() as tasks:
            app.state.tasks = tasks
            yield
            app.state.workers.close()
            # What hears of its work's end now has a last chance to write it down.
            tasks.cancel_scope.deadline = anyio.current_time() + LAST_WORDS_S
        database.engine.dispose()

    app = FastAPI(title="Stillroom", lifespan=lifespan, docs_url=None, redoc_url=None, openapi_url=None)
    app.state.database = database
    app.state.settings = settings
    app.state.clock = clock
    app.state.workers = Workers(settings.workers, settings.waiting, prepare=load_solver)
    app.state.listening = Listening(app.state)
    app.state.lights_allowed = lights_allowed
    app.add_middleware(WhitePagesShut)
    app.add_middleware(WholeForms)
    app.add_middleware(OwnPagesOnly)
    install_problems(app)
    app.mount("/static", Assets(directory=STATIC), name="static")
    for feature in FEATURES:
        app.include_router(feature)
    return app
