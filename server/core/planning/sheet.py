"""The plan as plain text for the wall."""

from collections.abc import Iterator, Sequence
from itertools import groupby
from textwrap import wrap

from server.core.planning.answer import Plan, Visit
from server.core.planning.problem import Problem
from server.core.planning.telling import tell

# Letters on a line of prose.
WIDTH = 100

WORDS = {
    "optimal": "every plate is made, and no plan ends earlier",
    "feasible": "every plate is made; an earlier finish is not ruled out",
    "partial": "not every plate fits",
    "impossible": "no plan is possible",
}


def wall_sheet(problem: Problem, plan: Plan) -> str:
    """Return the table a person can pin to the wall: by time, then by group, with the finish and its proof.

    Times are hours, minutes and seconds from the first period's start.
    """
    opens = problem.periods[0][0]
    order = {group.name: index for index, group in enumerate(problem.groups)}
    lines = [problem.name, "=" * len(problem.name), ""]
    lines.extend(_summary(plan, opens))
    lines.extend(_why(problem, plan, opens))
    if plan.visits:
        by_time = sorted(plan.visits, key=lambda visit: (visit.start_s, order[visit.group], visit.pass_no))
        rows = [
            (
                _clock(visit.start_s - opens),
                _clock(visit.end_s - opens),
                visit.group,
                str(visit.pass_no),
                visit.step,
                visit.place,
            )
            for visit in by_time
        ]
        lines.extend(["", "By time", "-------"])
        lines.extend(_table(("start", "end", "group", "plate", "step", "place"), rows))
        lines.extend(["", "By group", "--------"])
        by_group = sorted(plan.visits, key=lambda visit: (order[visit.group], visit.pass_no, visit.start_s))
        for (group, pass_no), visits in groupby(by_group, key=lambda visit: (visit.group, visit.pass_no)):
            lines.extend(["", f"{group}, plate {pass_no}"])
            lines.extend(_table(("start", "end", "step", "place"), [_row(visit, opens) for visit in visits]))
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _summary(plan: Plan, opens: int) -> list[str]:
    lines = [f"Plan: {WORDS[plan.status]}."]
    if plan.visits:
        gap = plan.makespan_s - plan.bound_s
        lines.append(f"Finish: {_clock(plan.makespan_s - opens)}")
        lines.append(
            f"No plan with as many plates ends before {_clock(max(plan.bound_s - opens, 0))} (gap {_clock(gap)})."
        )
    if plan.whiteboard_s is None:
        lines.append("Rounds on a whiteboard: do not fit.")
    else:
        lines.append(f"Rounds on a whiteboard: {_clock(plan.whiteboard_s - opens)}")
    if plan.unplaced:
        left = ", ".join(f"{missing.group} plate {missing.pass_no}" for missing in plan.unplaced)
        lines.append(f"Left out: {left}")
    lines.extend(f"- {reason}" for reason in plan.reasons)
    return lines


def _why(problem: Problem, plan: Plan, opens: int) -> Iterator[str]:
    told = tell(problem, plan, lambda second: _clock(second - opens))
    if told is not None:
        yield from ("", "Why it ends then", "----------------")
        made_of = f"Of {told.whole}: {'; '.join(told.parts)}."
        for sentence in (*told.sentences, made_of, told.bound):
            yield from wrap(sentence, width=WIDTH, subsequent_indent="  ")


def _row(visit: Visit, opens: int) -> tuple[str, ...]:
    return _clock(visit.start_s - opens), _clock(visit.end_s - opens), visit.step, visit.place


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(cells[column]) for cells in (head, *rows)) for column in range(len(head))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True))
        for cells in (head, *rows)
    ]


def _clock(seconds: int) -> str:
    hours, rest = divmod(seconds, 3600)
    return f"{hours}:{rest // 60:02}:{rest % 60:02}"
