"""The command `stillroom`: serve a lab, show the demo, plan a class file, check the ledgers."""

import argparse
import socket
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

import uvicorn
from sqlmodel import select

from server.app import Serving, create_app
from server.balances.queries import list_unbalanced as list_unbalanced_weighings
from server.charges.queries import list_unbalanced as list_unbalanced_charges
from server.chemistry.queries import list_unbalanced as list_unbalanced_batches
from server.clock import utc_now
from server.containers.queries import list_unbalanced as list_unbalanced_waste
from server.core.planning import ClassFileFault, answer_json, plan, read_class_file, wall_sheet
from server.data.schema import migrate
from server.data.session import Database
from server.demo import INSTRUCTOR, PASSWORD, TECHNICIAN, load_demo
from server.kits.queries import list_unbalanced as list_unbalanced_bottles
from server.people.actions import issue_set_up_code
from server.people.models import Lab
from server.people.queries import count_labs, list_sections
from server.photos.queries import list_altered as list_altered_photos
from server.plates.queries import list_unbalanced as list_unbalanced_boxes
from server.runs.queries import list_unbalanced as list_unbalanced_runs
from server.settings import Settings

BAD_INPUT = 2
NOT_STARTED = 3
LONGEST_SOLVE_S = 3600


def _refuse_a_taken_port(settings: Settings) -> None:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, settings.port))
        except OSError as fault:
            sys.exit(
                f"Nothing was started: {settings.host}:{settings.port} can't be used ({fault.strerror}). "
                f"Choose another port, for example --port {settings.port + 1}."
            )


def _run(settings: Settings) -> None:
    app = create_app(settings)
    app.state.workers.warm()
    serving = Serving(uvicorn.Config(app, host=settings.host, port=settings.port, log_level="warning"))
    with suppress(KeyboardInterrupt):
        serving.run()
    if not serving.started:
        sys.exit(NOT_STARTED)


def _where(settings: Settings) -> str:
    if settings.database_url:
        return "Data are kept in the database that STILLROOM_DATABASE_URL names."
    return f"Data folder: {settings.data_folder.absolute()}"


def demo(settings: Settings) -> None:
    """Serve an invented lab; a second start keeps what was done in the first."""
    _refuse_a_taken_port(settings)
    migrate(settings)
    database = Database(settings.url)
    with database.writing(None) as session:
        if not count_labs(session):
            load_demo(session, utc_now())
        lab = session.exec(select(Lab), execution_options={"across_labs": True}).first()
        assert lab is not None
        session.info["lab_id"] = lab.id
        code = min(list_sections(session), key=lambda section: section.id).class_code
    database.engine.dispose()
    address = f"http://{settings.host}:{settings.port}"
    print(f"Stillroom with an invented demo lab: {lab.name}.")
    print(_where(settings))
    print(f"Open        {address}")
    print(f"Instructor  {INSTRUCTOR}   password: {PASSWORD}")
    print(f"Technician  {TECHNICIAN}   password: {PASSWORD}")
    print(f"Students    {address}/join/{code}   class code: {code}")
    print("Stop with Ctrl-C; the data stay.", flush=True)
    _run(settings)


def serve(settings: Settings) -> None:
    """Serve the labs in the database; an empty one gets a set-up code."""
    _refuse_a_taken_port(settings)
    migrate(settings)
    database = Database(settings.url)
    address = f"http://{settings.host}:{settings.port}"
    print(_where(settings))
    print(f"Open {address}")
    with database.writing(None) as session:
        if not count_labs(session):
            code = issue_set_up_code(session, utc_now())
            print(f"There is no lab yet. Set up yours at {address}/set-up?code={code}", flush=True)
    database.engine.dispose()
    _run(settings)


def new_lab(settings: Settings) -> None:
    """Print a code that lets its reader set up one more lab."""
    migrate(settings)
    database = Database(settings.url)
    with database.writing(None) as session:
        code = issue_set_up_code(session, utc_now())
    print(f"Set-up code for one new lab: {code}. Open /set-up on this server and type it.")


def audit(settings: Settings) -> None:
    """Compare every running balance with the sum of its ledger; leaves with status 1 where one differs."""
    migrate(settings)
    database = Database(settings.url)
    differences: list[str] = []
    with database.reading(None) as session:
        labs = session.exec(select(Lab), execution_options={"across_labs": True}).all()
    for lab in labs:
        with database.reading(lab.id) as session:
            differences += [
                f"{lab.name}: {sentence}"
                for found in (
                    list_unbalanced_bottles,
                    list_unbalanced_boxes,
                    list_unbalanced_batches,
                    list_unbalanced_charges,
                    list_unbalanced_runs,
                    list_altered_photos,
                    list_unbalanced_waste,
                    list_unbalanced_weighings,
                )
                for sentence in found(session)
            ]
    database.engine.dispose()
    for sentence in differences:
        print(sentence)
    if differences:
        sys.exit(1)
    print(f"Every balance of {len(labs)} labs equals its ledger." if labs else "There is no lab yet.")


def plan_file(file: Path, *, seconds: float, seed: int, as_json: bool) -> None:
    """Plan a class file and print the rotation; bad input leaves with status 2 and one line."""
    try:
        problem = read_class_file(file.read_text(encoding="utf-8"))
    except OSError as fault:
        print(f"{file}: {fault.strerror}", file=sys.stderr)
        sys.exit(BAD_INPUT)
    except UnicodeDecodeError:
        print(f"{file}: this is not text in UTF-8", file=sys.stderr)
        sys.exit(BAD_INPUT)
    except ClassFileFault as fault:
        print(f"{file}: {fault}", file=sys.stderr)
        sys.exit(BAD_INPUT)
    answer = plan(problem, seconds=seconds, seed=seed)
    print(answer_json(answer) if as_json else wall_sheet(problem, answer))


def _seconds(text: str) -> float:
    seconds = float(text)
    if not 0 < seconds <= LONGEST_SOLVE_S:
        message = f"choose more than 0 and at most {LONGEST_SOLVE_S} seconds"
        raise argparse.ArgumentTypeError(message)
    return seconds


def _arguments(words: Sequence[str] | None) -> argparse.Namespace:
    defaults = Settings()
    parser = argparse.ArgumentParser(prog="stillroom", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, does in (
        ("demo", "serve an invented lab to try everything in"),
        ("serve", "serve your labs"),
        ("new-lab", "print a code to set up one more lab"),
        ("audit", "compare every balance with its ledger"),
    ):
        one = commands.add_parser(name, help=does, description=does)
        one.add_argument(
            "--data", type=Path, default=defaults.data_folder, help="folder of the embedded database"
        )
        if name in {"demo", "serve"}:
            one.add_argument(
                "--host", default=defaults.host, help="0.0.0.0 lets tablets in the room reach it"
            )
            one.add_argument("--port", type=int, default=defaults.port)
    one = commands.add_parser(
        "plan", help="plan a class file", description="plan a class file, without a server"
    )
    one.add_argument("file", type=Path)
    one.add_argument("--seconds", type=_seconds, default=10.0, help="longest time to search")
    one.add_argument("--seed", type=int, default=1, help="the same file and seed give the same plan")
    one.add_argument("--json", action="store_true", help="print JSON instead of a table")
    return parser.parse_args(words)


def main(words: Sequence[str] | None = None) -> None:
    asked = _arguments(words)
    if asked.command == "plan":
        plan_file(asked.file, seconds=asked.seconds, seed=asked.seed, as_json=asked.json)
        return
    settings = Settings().model_copy(
        update={
            "data_folder": asked.data,
            "host": getattr(asked, "host", "127.0.0.1"),
            "port": getattr(asked, "port", 0),
        }
    )
    {"demo": demo, "serve": serve, "new-lab": new_lab, "audit": audit}[asked.command](settings)


if __name__ == "__main__":
    main()
