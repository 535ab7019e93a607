"""Plan every class of the bench and print one table: ``python -m tests.bench``, or some classes by a part of their name.

``python -m tests.bench pages`` measures instead how quick pages are meanwhile, ``python -m tests.bench ledger`` what a container's
pages cost with a long ledger, ``python -m tests.bench board`` how soon sixty devices see what is called.
"""

import os
import sys
import time
from dataclasses import dataclass, field

from server.core.planning import Plan, Problem, Progress, check, plan
from tests.bench import board, ledger, pages
from tests.bench.classes import CLASSES

COLUMNS = (
    f"{'class':42} {'limit':>5} {'first':>6} {'best':>6} {'proof':>6} {'all':>6} {'cpu':>6} "
    f"{'finish':>7} {'bound':>6} {'gap':>6} {'board':>6} {'earlier':>7}"
)


@dataclass
class Watch:
    """Notes when the finish last improved and when the bound met it, by the wall clock."""

    began: float = field(default_factory=time.perf_counter)
    first: float | None = None
    best: float = 0.0
    proof: float | None = None
    finish_s: int | None = None

    def __call__(self, progress: Progress) -> None:
        now = time.perf_counter() - self.began
        if self.first is None:
            self.first = now
        if self.finish_s is None or progress.makespan_s < self.finish_s:
            self.finish_s, self.best = progress.makespan_s, now
        if self.proof is None and progress.makespan_s == progress.bound_s:
            self.proof = now


def measured(problem: Problem, seconds: float) -> str:
    watch, cpu = Watch(), time.process_time()
    answer = plan(problem, seconds=seconds, seed=1, watch=watch)
    taken, cpu = time.perf_counter() - watch.began, time.process_time() - cpu
    faults = check(problem, answer)
    if faults:
        raise SystemExit(f"{problem.name}: {faults[0]}")
    return row(problem.name, seconds, watch, (taken, cpu), answer)


def row(name: str, seconds: float, watch: Watch, taken: tuple[float, float], answer: Plan) -> str:
    gap = 100 * (answer.makespan_s - answer.bound_s) / answer.makespan_s
    board = answer.whiteboard_s
    earlier = "-" if board is None else f"{100 * (board - answer.makespan_s) / board:.1f} %"
    return (
        f"{name[:42]:42} {seconds:5.0f} {_clock(watch.first)} {_clock(watch.best)} {_clock(watch.proof)} "
        f"{taken[0]:6.2f} {taken[1]:6.2f} {answer.makespan_s:7} {answer.bound_s:6} {gap:4.1f} % "
        f"{board or '-':>6} {earlier:>7}"
    )


def _clock(seconds: float | None) -> str:
    return f"{'-' if seconds is None else f'{seconds:.2f}':>6}"


HEAD = """{processors} processors, {load:.1f} programs wanting one as this began; the planner uses one.
first, best, proof and all are seconds by the wall, which others slow down; cpu is this program's own.
finish, bound and board (the whiteboard's finish) are seconds of class time.
"""


def main(wanted: list[str]) -> None:
    for name, bench in (("pages", pages), ("ledger", ledger), ("board", board)):
        if wanted == [name]:
            for line in bench.measured():
                print(line, flush=True)  # noqa: T201
            return
    print(HEAD.format(processors=os.cpu_count(), load=os.getloadavg()[0]))  # noqa: T201
    print(COLUMNS)  # noqa: T201
    for problem, seconds in CLASSES:
        if not wanted or any(part in problem.name for part in wanted):
            print(measured(problem, seconds), flush=True)  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1:])
