"""Processes beside the server: what crosses over, who waits, and that none is left behind."""

import asyncio
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import pytest

from server.core.planning import load_solver
from server.refusal import NotFound, Refusal
from server.settings import Settings
from server.web.show import ROOT
from server.workers import LOWER_PRIORITY, Job, Workers, WorkLost, WorkStopped

T = TypeVar("T")

LONG_S = 60


def double(number: int, *, plus: int = 0) -> int:
    return 2 * number + plus


def whoami() -> tuple[int, int]:
    return os.getpid(), os.nice(0)


def is_loaded(module: str) -> bool:
    return module in sys.modules


def refuse(sentence: str) -> None:
    raise NotFound(sentence)


class UnsendableError(Exception):
    def __init__(self, one: int, other: int) -> None:
        super().__init__(f"{one} and {other}")


def raise_unsendable() -> None:
    raise UnsendableError(1, 2)


def leave() -> None:
    os._exit(1)


def print_much() -> str:
    sys.stdout.write("what a library says " * 10)
    sys.stdout.flush()
    return "done"


def count_aloud(until: int, *, tell: Callable[[int], None]) -> str:
    for number in range(until):
        tell(number)
    return "counted"


def tell_and_linger(*, tell: Callable[[int], None]) -> None:
    tell(os.getpid())
    time.sleep(LONG_S)


def linger() -> None:
    time.sleep(LONG_S)


def _is_there(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    # Whoever has ended and was not yet asked for by its parent is still in the list, as a zombie.
    return "Z" not in Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]


def _gone(pid: int) -> bool:
    for _ in range(500):
        if not _is_there(pid):
            return True
        time.sleep(0.02)
    return False


class Heard:
    """What a job told, waited for."""

    def __init__(self) -> None:
        self.messages: list[int] = []
        self.first = threading.Event()

    def __call__(self, message: int) -> None:
        self.messages.append(message)
        self.first.set()


@pytest.fixture
def workers() -> Iterator[Workers]:
    made = Workers(2, 1)
    yield made
    made.close()


def _on_a_loop(asked: Coroutine[Any, Any, T]) -> T:
    """What a coroutine returns, on a loop of its own in a thread of its own: browser tests leave one going in this one."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, asked).result()


def _lingering(workers: Workers) -> tuple[Job[None], int]:
    """A job that is being worked on, and the id of its process."""
    heard = Heard()
    job = workers.start(tell_and_linger, heard=heard)
    assert heard.first.wait(30)
    return job, heard.messages[0]


def test_a_function_is_computed_in_a_process_of_lower_priority(workers: Workers) -> None:
    async def asked() -> tuple[int, tuple[int, int]]:
        return await workers.ask(double, 4, plus=1), await workers.ask(whoami)

    number, (pid, nice) = _on_a_loop(asked())

    assert number == 9
    assert pid != os.getpid()
    assert nice == min(os.nice(0) + LOWER_PRIORITY, 19)


def test_a_process_serves_again_and_again() -> None:
    workers = Workers(1, 9)

    async def asked() -> list[tuple[int, int]]:
        return await asyncio.gather(*[workers.ask(whoami) for _ in range(5)])

    assert len(set(_on_a_loop(asked()))) == 1
    workers.close()


def test_a_process_has_loaded_the_solver_before_it_is_asked_and_the_server_has_not() -> None:
    workers = Workers(1, 1, prepare=load_solver)

    assert _on_a_loop(workers.ask(is_loaded, "ortools.sat.python.cp_model"))
    workers.close()

    code = "import sys; from server.app import create_app; from server.settings import Settings; create_app(Settings()); print('ortools' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"


def test_what_a_function_raises_is_raised_where_it_was_asked(workers: Workers) -> None:
    with pytest.raises(NotFound, match="no such thing") as raised:
        _on_a_loop(workers.ask(refuse, "There is no such thing."))

    assert raised.value.sentence == "There is no such thing."
    assert "in refuse" in raised.value.__notes__[0]


def test_a_fault_that_cannot_cross_over_is_told_in_its_words(workers: Workers) -> None:
    with pytest.raises(RuntimeError, match="UnsendableError: 1 and 2"):
        _on_a_loop(workers.ask(raise_unsendable))


def test_what_a_library_prints_is_no_message(workers: Workers) -> None:
    assert _on_a_loop(workers.ask(print_much)) == "done"


def test_a_long_job_is_heard_in_order_and_then_gives_its_result(workers: Workers) -> None:
    heard = Heard()

    async def started() -> str:
        return await workers.start(count_aloud, 200, heard=heard).result()

    assert _on_a_loop(started()) == "counted"
    assert heard.messages == list(range(200))


def test_a_fault_in_hearing_ends_the_job_and_not_the_workers(workers: Workers) -> None:
    def deaf(message: int) -> None:
        raise ValueError(message)

    async def started() -> None:
        await workers.start(count_aloud, 3, heard=deaf).result()

    with pytest.raises(ValueError, match="0"):
        _on_a_loop(started())
    assert _on_a_loop(workers.ask(double, 1)) == 2


def test_a_stopped_job_s_process_is_ended_and_replaced(workers: Workers) -> None:
    job, pid = _lingering(workers)

    job.stop()

    with pytest.raises(WorkStopped):
        job.future.result(30)
    assert _gone(pid)
    assert _on_a_loop(workers.ask(double, 3)) == 6


def test_stopping_what_is_done_harms_nobody(workers: Workers) -> None:
    heard = Heard()
    job = workers.start(count_aloud, 1, heard=heard)
    assert job.future.result(30) == "counted"

    job.stop()

    assert _on_a_loop(workers.ask(double, 3)) == 6


def test_a_process_that_dies_is_noticed_and_replaced(workers: Workers) -> None:
    with pytest.raises(WorkLost, match="broke off"):
        _on_a_loop(workers.ask(leave))
    assert _on_a_loop(workers.ask(double, 5)) == 10


def test_a_process_that_is_killed_from_outside_is_noticed(workers: Workers) -> None:
    job, pid = _lingering(workers)

    os.kill(pid, signal.SIGKILL)

    with pytest.raises(WorkLost):
        job.future.result(30)


def test_long_jobs_leave_a_process_to_those_who_ask(workers: Workers) -> None:
    _lingering(workers)
    waiting = workers.start(tell_and_linger, heard=Heard())

    assert _on_a_loop(workers.ask(double, 7)) == 14
    assert not waiting.begun


def test_a_full_line_refuses_with_a_sentence(workers: Workers) -> None:
    _lingering(workers)
    waiting = workers.start(tell_and_linger, heard=Heard())

    with pytest.raises(Refusal, match=r"busy.*try again in a minute"):
        workers.start(tell_and_linger, heard=Heard())
    assert _on_a_loop(workers.ask(double, 2)) == 4

    waiting.stop()
    with pytest.raises(WorkStopped):
        waiting.future.result(30)
    workers.start(tell_and_linger, heard=Heard())


def test_giving_up_asking_stops_the_work(workers: Workers) -> None:
    async def impatient() -> None:
        await asyncio.wait_for(workers.ask(linger), 0.1)

    with pytest.raises(TimeoutError):
        _on_a_loop(impatient())
    assert _on_a_loop(workers.ask(double, 2)) == 4


def test_closing_leaves_no_process_and_nobody_waiting() -> None:
    workers = Workers(2, 2)
    job, pid = _lingering(workers)
    waiting = workers.start(tell_and_linger, heard=Heard())

    workers.close()

    for ended in (job, waiting):
        with pytest.raises(WorkStopped):
            ended.future.result(30)
    assert _gone(pid)
    with pytest.raises(WorkStopped):
        workers.start(tell_and_linger, heard=Heard())


# A server that is given a job, and says the id of the process that works on it as soon as it serves.
SERVER = """
import sys, time, uvicorn
from pathlib import Path
from server.app import create_app
from server.settings import Settings
from tests.test_workers import tell_and_linger

app = create_app(Settings(data_folder=Path(sys.argv[1]), workers=2))
server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error"))

def say(pid):
    while not server.started:
        time.sleep(0.01)
    print(pid, flush=True)

app.state.workers.start(tell_and_linger, heard=say)
server.run()
"""


@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL], ids=lambda one: one.name)
def test_no_process_outlives_its_server(tmp_path: Path, ending: signal.Signals) -> None:
    """Ended by a service's stop, by Ctrl-C, or with no time to tidy up."""
    server = subprocess.Popen(
        [sys.executable, "-c", SERVER, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    with server:
        assert server.stdout is not None
        pid = int(server.stdout.readline())
        assert _is_there(pid)
        server.send_signal(ending)
        server.wait(30)

    assert _gone(pid)


def test_workers_are_started_when_they_are_first_needed() -> None:
    """So that an application that plans nothing pays for nothing."""
    before = set(threading.enumerate())
    workers = Workers(Settings().workers, Settings().waiting, prepare=load_solver)

    assert set(threading.enumerate()) == before
    workers.warm()
    assert len(set(threading.enumerate()) - before) == Settings().workers
    workers.close()
