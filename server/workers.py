"""Processes of lower priority that compute beside the server, so that its pages stay quick.

A process is started anew (never forked, for the server has threads), loads what it will need, and takes one job at a time.
Functions cross over by name; arguments, messages and results by value. A process ends when its server ends, however that
happens, because its input is closed then.
"""

import asyncio
import os
import pickle
import subprocess
import sys
import threading
import traceback
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import IO, Any, Generic, ParamSpec, TypeVar

from server.refusal import Refusal

# Pages come first: a process at work gives way to the server whenever that has something to do.
LOWER_PRIORITY = 15

Inputs = ParamSpec("Inputs")
Result = TypeVar("Result")


class WorkStopped(Refusal):
    """The job was stopped before it was done."""

    def __init__(self) -> None:
        super().__init__("This was stopped before it was done.")


class WorkLost(Refusal):
    """The job's process ended before the job did."""

    status = 503

    def __init__(self) -> None:
        super().__init__(
            "The computation broke off before it was done, so nothing came of it. Please try once more."
        )


class Job(Generic[Result]):
    """Work that was asked for. `heard` is called with each message, in a thread of the server."""

    def __init__(self, parcel: bytes, heard: Callable[[Any], None] | None, *, workers: "Workers") -> None:
        self.parcel = parcel
        self.heard = heard
        self.begun = False
        self.stopped = False
        self.future: Future[Result] = Future()
        # Nobody who waits may cancel it by giving up waiting: `stop` is the way.
        self.future.set_running_or_notify_cancel()
        self._workers = workers

    @property
    def is_long(self) -> bool:
        """Whether it tells how it goes: such a job takes long, and is kept from taking every process."""
        return self.heard is not None

    @property
    def done(self) -> bool:
        return self.future.done()

    async def result(self) -> Result:
        """What the function returned. Raises what it raised, `WorkStopped` or `WorkLost`."""
        return await asyncio.wrap_future(self.future)

    def stop(self) -> None:
        """End it now. Its process is ended and replaced; who waits for the result gets `WorkStopped`."""
        self._workers.stop(self)


class Workers:
    """At most `processes` of them, each started when it is first needed, and `waiting` jobs in line.

    Long jobs leave one process to those who ask for something short. `prepare` is called in each new process.
    """

    def __init__(self, processes: int, waiting: int, *, prepare: Callable[[], object] | None = None) -> None:
        self.processes = processes
        self.waiting = waiting
        self._prepare = pickle.dumps(prepare)
        self._changed = threading.Condition()
        self._line: deque[Job[Any]] = deque()
        self._running: dict[Job[Any], _Keeper] = {}
        self._keepers: list[_Keeper] = []
        self._closed = False

    async def ask(
        self, function: Callable[Inputs, Result], *args: Inputs.args, **kwargs: Inputs.kwargs
    ) -> Result:
        """What the function returns, computed in a process. Raises what it raises; `Refusal` where the line is full."""
        job: Job[Result] = self._enter(function, args, kwargs, heard=None)
        try:
            return await job.result()
        except asyncio.CancelledError:
            job.stop()
            raise

    def start(
        self, function: Callable[..., Result], *args: object, heard: Callable[[Any], None], **kwargs: object
    ) -> Job[Result]:
        """A long job: the function is given `tell`, and each message it tells is heard here. `Refusal` where the line is full."""
        return self._enter(function, args, kwargs, heard=heard)

    def warm(self) -> None:
        """Start every process now, so that nobody waits for it later."""
        with self._changed:
            while len(self._keepers) < self.processes:
                self._add_keeper()

    def stop(self, job: Job[Any]) -> None:
        with self._changed:
            job.stopped = True
            if job in self._line:
                self._line.remove(job)
                job.future.set_exception(WorkStopped())
            elif job in self._running:
                self._running[job].end_process()

    def close(self) -> None:
        """End every process; whoever waits gets `WorkStopped`."""
        with self._changed:
            self._closed = True
            for job in (*self._line, *self._running):
                self.stop(job)
            for keeper in self._keepers:
                keeper.end_process()
            self._changed.notify_all()
        for keeper in self._keepers:
            keeper.join()

    def _enter(
        self, function: Callable[..., Result], args: Any, kwargs: Any, *, heard: Callable[[Any], None] | None
    ) -> Job[Result]:
        parcel = pickle.dumps((function, args, kwargs, heard is not None))
        job: Job[Result] = Job(parcel, heard, workers=self)
        with self._changed:
            if self._closed:
                raise WorkStopped
            alike = sum(other.is_long == job.is_long for other in self._line)
            if alike >= self.waiting + self._free(job):
                raise Refusal(
                    f"The planner is busy, and {alike} questions wait in line already. Nothing was begun: please try again in a minute."
                    if alike
                    else "The planner is busy with other questions. Nothing was begun: please try again in a minute."
                )
            self._line.append(job)
            if len(self._keepers) < min(self.processes, len(self._running) + len(self._line)):
                self._add_keeper()
            self._changed.notify_all()
        return job

    def _free(self, job: Job[Any]) -> int:
        """How many processes such a job could have now."""
        free = self.processes - len(self._running)
        if not job.is_long:
            return free
        return min(free, max(1, self.processes - 1) - sum(other.is_long for other in self._running))

    def _add_keeper(self) -> None:
        keeper = _Keeper(self, self._prepare)
        self._keepers.append(keeper)
        keeper.start()

    def next_job(self, keeper: "_Keeper") -> Job[Any] | None:
        """The job that stands first of those that may begin, once there is one; None when all is closed."""
        with self._changed:
            while not self._closed:
                for job in self._line:
                    if self._free(job) > 0:
                        self._line.remove(job)
                        self._running[job] = keeper
                        return job
                self._changed.wait()
        return None

    def finish(self, job: Job[Any], came: "_Came") -> None:
        """The job is no longer worked on."""
        with self._changed:
            del self._running[job]
            self._changed.notify_all()
        if came.fault is not None:
            job.future.set_exception(came.fault)
        else:
            job.future.set_result(came.value)

    def is_closed(self) -> bool:
        with self._changed:
            return self._closed


@dataclass(frozen=True)
class _Came:
    """What came of a job."""

    value: Any = None
    fault: BaseException | None = None


class _Keeper(threading.Thread):
    """Keeps one process: starts it, hands it jobs, hears its messages, and replaces it when it ends."""

    def __init__(self, workers: Workers, prepare: bytes) -> None:
        super().__init__(name="keeper of a worker process", daemon=True)
        self._workers = workers
        self._prepare = prepare
        self._process: subprocess.Popen[bytes] | None = None
        self._is_spent = False

    def end_process(self) -> None:
        """Called while no job changes hands, so that never the next one is hit."""
        self._is_spent = True
        process = self._process
        if process is not None:
            process.kill()

    def run(self) -> None:
        self._renew_process()
        while (job := self._workers.next_job(self)) is not None:
            self._workers.finish(job, self._work_on(job))
            if self._process is None and not self._workers.is_closed():
                self._renew_process()
        self._bury_process()

    def _renew_process(self) -> None:
        self._bury_process()
        self._is_spent = False
        # It finds the same modules as the server does, and a Ctrl-C at the server's terminal is the server's alone.
        path = os.pathsep.join(str(Path(folder).absolute()) for folder in sys.path)
        self._process = subprocess.Popen(
            [sys.executable, "-c", "from server.workers import work; work()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": path},
            start_new_session=True,
        )
        with suppress(OSError):  # the first job will find out
            self._send(self._prepare)

    def _bury_process(self) -> None:
        """Leave nothing of it behind."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdout.close()
        with suppress(OSError):  # what could not be sent any more
            process.stdin.close()
        process.wait()

    def _send(self, parcel: bytes) -> None:
        assert self._process is not None
        assert self._process.stdin is not None
        _write(self._process.stdin, parcel)

    def _receive(self) -> tuple[str, Any]:
        assert self._process is not None
        assert self._process.stdout is not None
        kind, content = pickle.loads(_read(self._process.stdout))  # noqa: S301 - written by our own process
        return kind, content

    def _work_on(self, job: Job[Any]) -> _Came:
        if self._is_spent or self._process is None or self._process.poll() is not None:
            self._renew_process()
        if job.stopped:
            return _Came(fault=WorkStopped())
        job.begun = True
        try:
            self._send(job.parcel)
            while True:
                kind, content = self._receive()
                if kind == "returned":
                    return _Came(content)
                if kind == "raised":
                    return _Came(fault=content)
                assert job.heard is not None
                job.heard(content)
        except (EOFError, OSError):
            self._bury_process()
            return _Came(fault=WorkStopped() if job.stopped else WorkLost())
        except Exception as fault:  # noqa: BLE001 - a listener's fault is raised where the result is asked for
            self._bury_process()
            return _Came(fault=fault)


def _write(pipe: IO[bytes], parcel: bytes) -> None:
    pipe.write(len(parcel).to_bytes(8, "big"))
    pipe.write(parcel)
    pipe.flush()  # the other side waits for it


def _read(pipe: IO[bytes]) -> bytes:
    size = pipe.read(8)
    parcel = pipe.read(int.from_bytes(size, "big"))
    if len(size) < 8 or len(parcel) < int.from_bytes(size, "big"):  # noqa: PLR2004 - the length of a length
        raise EOFError
    return parcel


def work() -> None:
    """What a process does as long as it lives: load what it needs, then one job after the other."""
    os.nice(LOWER_PRIORITY)
    jobs: SimpleQueue[bytes] = SimpleQueue()
    answers: SimpleQueue[bytes] = SimpleQueue()
    # What a library prints is no message: it goes where the server's faults go.
    outbox = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    threading.Thread(target=_listen, args=(sys.stdin.buffer, jobs), daemon=True).start()
    threading.Thread(target=_answer, args=(outbox, answers), daemon=True).start()
    prepare = pickle.loads(jobs.get())  # noqa: S301 - sent by our own server
    if prepare is not None:
        prepare()
    while True:
        answers.put(_do(jobs.get(), answers))


def _listen(inbox: IO[bytes], jobs: SimpleQueue[bytes]) -> None:
    """Take in what the server sends; when it has gone, nobody needs this process any more."""
    try:
        while True:
            jobs.put(_read(inbox))
    finally:
        os._exit(0)


def _answer(outbox: IO[bytes], answers: SimpleQueue[bytes]) -> None:
    """Send what is told and what came out, in a thread of its own: a job never waits until the server has listened."""
    while True:
        _write(outbox, answers.get())


def _do(parcel: bytes, answers: SimpleQueue[bytes]) -> bytes:
    try:
        function, args, kwargs, tells = pickle.loads(parcel)  # noqa: S301 - sent by our own server
        if tells:
            kwargs["tell"] = lambda message: answers.put(pickle.dumps(("told", message)))
        return pickle.dumps(("returned", function(*args, **kwargs)))
    except Exception as fault:  # noqa: BLE001 - it is raised in the server
        return _fault_parcel(fault)


def _fault_parcel(fault: Exception) -> bytes:
    """The fault with the place where it happened; one that can't cross over is told by its words."""
    fault.add_note(f"in a worker process:\n{traceback.format_exc()}")
    try:
        parcel = pickle.dumps(("raised", fault))
        pickle.loads(parcel)  # noqa: S301 - some faults can be written and not be read
    except Exception:  # noqa: BLE001 - whatever its own code raises
        return pickle.dumps(("raised", RuntimeError(f"{type(fault).__name__}: {fault}")))
    return parcel
