"""A diary that takes one pass at a time at the earliest moment that breaks no rule."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, product

from server.core.planning.work import Job, Placed, Work

MOST_CHOICES = 32
MOST_ATTEMPTS = 4_000

OPPOSITE = {"dark": "lit", "lit": "dark", "still": "moves", "moves": "still"}


@dataclass(frozen=True)
class _Span:
    start: int
    end: int
    job: int


@dataclass(frozen=True)
class _Later:
    """A block cannot stand where it was tried: block ``block`` must start at ``start`` or later."""

    block: int
    start: int


class Diary:
    """What is taken so far, and the earliest room for one more pass.

    Fixed steps are taken from the beginning, so that no pass is put in their way.
    """

    def __init__(self, work: Work) -> None:
        """Start empty but for the fixed steps."""
        self.work = work
        self.periods = work.problem.periods
        self.placed: dict[int, Placed] = {}
        self._kept: dict[int, list[_Span]] = defaultdict(list)
        self._busy: dict[int, list[_Span]] = defaultdict(list)
        self._zones: dict[tuple[str, str], list[_Span]] = defaultdict(list)
        for job in work.jobs:
            for step, pin in job.pins.items():
                span = _Span(pin.start_s, pin.start_s + job.seconds[step][pin.kind], job.number)
                self._kept[pin.kind].append(span)
                for key in self._demands(job, step, pin.kind):
                    self._zones[key].append(span)

    def add(self, job: Job, floors: Mapping[int, int], *, until: int | None = None) -> bool:
        """Place the job with step ``s`` no earlier than ``floors[s]``; False if there is no room.

        With ``until`` only the blocks up to that step are placed; adding the job again replaces what was placed.
        """
        self.remove(job)
        blocks = len(job.blocks) if until is None else _block_of(job, until) + 1
        # The first stay varies fastest, so that every station is tried however many ways lead on from it.
        backwards = product(*(stay.kinds for stay in reversed(job.stays)))
        choices = (kinds[::-1] for kinds in islice(backwards, MOST_CHOICES))
        best: Placed | None = None
        for kinds in choices:
            starts = self._fit(job, kinds, floors, blocks)
            if starts is not None:
                placed = Placed(starts, kinds)
                if not self._in_turn(job, placed):
                    continue
                if best is None or self.work.ends(job, placed)[-1] < self.work.ends(job, best)[-1]:
                    best = placed
        if best is None:
            return False
        self._take(job, best)
        return True

    def _take(self, job: Job, placed: Placed) -> None:
        self.placed[job.number] = placed
        ends = self.work.ends(job, placed)
        reached = len(placed.starts) - 1
        for stay, kind in zip(job.stays, placed.kinds, strict=True):
            if stay.first <= reached:
                last = min(stay.last, reached)
                self._kept[kind].append(_Span(placed.starts[stay.first], ends[last], job.number))
        free = placed.starts[0] if job.last_attended is None else ends[min(job.last_attended, reached)]
        self._busy[job.group].append(_Span(placed.starts[0], free, job.number))
        for step, start in enumerate(placed.starts):
            for key in self._demands(job, step, placed.kinds[job.stay_of[step]]):
                self._zones[key].append(_Span(start, ends[step], job.number))

    def remove(self, job: Job) -> None:
        """Free what the job was given before; its fixed steps stay taken."""
        if self.placed.pop(job.number, None) is None:
            return
        pinned = {(pin.start_s, pin.start_s + job.seconds[step][pin.kind]) for step, pin in job.pins.items()}
        for spans in (*self._kept.values(), *self._busy.values(), *self._zones.values()):
            spans[:] = [span for span in spans if span.job != job.number or (span.start, span.end) in pinned]

    def _demands(self, job: Job, step: int, kind: int) -> Iterator[tuple[str, str]]:
        """Yield the zone and the state in it that the step asks for."""
        place, one = self.work.kinds[kind], job.steps[step]
        if place.light_zone is not None and one.light != "any":
            yield place.light_zone, one.light
        if place.still_zone is not None and one.still != "any":
            yield place.still_zone, one.still

    def _fit(
        self, job: Job, kinds: Sequence[int], floors: Mapping[int, int], blocks: int
    ) -> tuple[int, ...] | None:
        """Return the earliest starts, moving a block later whenever the ones after it cannot follow in time."""
        seconds = [job.seconds[step][kinds[job.stay_of[step]]] for step in range(len(job.steps))]
        offsets = [
            sum(seconds[job.blocks[_block_of(job, step)].first : step]) for step in range(len(job.steps))
        ]
        low = [
            max(floors.get(step, 0) - offsets[step] for step in range(block.first, block.last + 1))
            for block in job.blocks
        ]
        low[0] = max(low[0], self._free_from(job))
        starts: list[int] = []
        for _ in range(MOST_ATTEMPTS):
            index = len(starts)
            if index == blocks:
                reached = job.blocks[index - 1].last
                return tuple(starts[_block_of(job, step)] + offsets[step] for step in range(reached + 1))
            begin = low[index]
            if index:
                before = job.blocks[index - 1]
                begin = max(begin, starts[-1] + offsets[before.last] + seconds[before.last])
            found = self._clear(job, kinds, seconds, offsets, starts, begin)
            if found is None:
                return None
            if isinstance(found, _Later):
                low[found.block] = max(low[found.block], found.start)
                del starts[found.block :]
                continue
            if index:
                before = job.blocks[index - 1]
                over = offsets[before.last] + seconds[before.last]
                if before.max_wait_s is not None and found > starts[-1] + over + before.max_wait_s:
                    low[index - 1] = found - over - before.max_wait_s
                    starts.pop()
                    continue
            starts.append(found)
        return None

    def _free_from(self, job: Job) -> int:
        """Return when the group is free of its earlier pass, or 0 when its passes may come in any order."""
        group = self.work.problem.groups[job.group]
        if group.any_order or job.pass_no == 1:
            return 0
        earlier = self.work.passes[job.group, job.pass_no - 1]
        if earlier.number not in self.placed:
            return self.periods[-1][1] + 1
        return self.released(earlier)

    def released(self, job: Job) -> int:
        """Return when the group of a job is free of it again, or 0 if the job is not placed."""
        placed = self.placed.get(job.number)
        return 0 if placed is None else self._released(job, placed)

    def _released(self, job: Job, placed: Placed) -> int:
        """Return when the group is free again; for a job placed in part, the soonest it can be."""
        if job.last_attended is None:
            return placed.starts[0]
        ends = self.work.ends(job, placed)
        if job.last_attended < len(ends):
            return ends[job.last_attended]
        return ends[-1] + sum(job.shortest(step) for step in range(len(ends), job.last_attended + 1))

    def _in_turn(self, job: Job, placed: Placed) -> bool:
        """Tell whether the group is free again before the next pass that is already placed."""
        group = self.work.problem.groups[job.group]
        following = self.work.passes.get((job.group, job.pass_no + 1))
        if group.any_order or following is None or following.number not in self.placed:
            return True
        return self._released(job, placed) <= self.placed[following.number].starts[0]

    def _clear(
        self,
        job: Job,
        kinds: Sequence[int],
        seconds: Sequence[int],
        offsets: Sequence[int],
        starts: Sequence[int],
        begin: int,
    ) -> int | _Later | None:
        """Return the first moment from ``begin`` for the next block, or which earlier block must move."""
        index = len(starts)
        block = job.blocks[index]
        moment = begin
        while moment <= self.periods[-1][1]:
            later = moment
            for step in range(block.first, block.last + 1):
                start = moment + offsets[step]
                allowed = self._allowed(job, step, start, seconds[step])
                if allowed is None:
                    return None
                later = max(later, allowed - offsets[step])
                for zone, state in self._demands(job, step, kinds[job.stay_of[step]]):
                    for span in self._zones[zone, OPPOSITE[state]]:
                        if span.job != job.number and span.start < start + seconds[step] and start < span.end:
                            later = max(later, span.end - offsets[step])
            if later == moment:
                blocked = self._kept_elsewhere(job, kinds, seconds, offsets, [*starts, moment])
                blocked = blocked or self._dark_apart(job, seconds, offsets, [*starts, moment])
                if blocked is None:
                    return moment
                if blocked.block < index:
                    return blocked
                later = blocked.start
            moment = later
        return None

    def _allowed(self, job: Job, step: int, start: int, seconds: int) -> int | None:
        """Return the first start from ``start`` that the periods and a fixed start allow."""
        pin = job.pins.get(step)
        if pin is not None and start != pin.start_s:
            return pin.start_s if start < pin.start_s else None
        inside = job.steps[step].attended or job.steps[step].light == "dark"
        for opens, closes in self.periods:
            last = closes - seconds if inside else closes
            if start <= last and opens <= last:
                return max(start, opens)
        return None

    def _kept_elsewhere(
        self,
        job: Job,
        kinds: Sequence[int],
        seconds: Sequence[int],
        offsets: Sequence[int],
        starts: Sequence[int],
    ) -> _Later | None:
        """Return which block must move because a place, or the group itself, is taken; None if all is free."""
        block = job.blocks[len(starts) - 1]
        reached = block.last
        begins = [starts[_block_of(job, step)] + offsets[step] for step in range(reached + 1)]
        ends = [begin + seconds[step] for step, begin in enumerate(begins)]
        wanted = [
            (self._kept[kind], self.work.kinds[kind].capacity, stay.first, ends[min(stay.last, reached)])
            for kind, stay in zip(kinds, job.stays, strict=True)
            if stay.first <= reached and stay.last >= block.first
        ]
        present = begins[0] if job.last_attended is None else ends[min(job.last_attended, reached)]
        wanted.append((self._busy[job.group], 1, 0, present))
        for spans, capacity, first, end in wanted:
            free = _full_until(spans, job.number, capacity, begins[first], end)
            if free is not None:
                index = _block_of(job, first)
                return _Later(index, max(free - offsets[first], starts[index] + 1))
        return None

    def _dark_apart(
        self, job: Job, seconds: Sequence[int], offsets: Sequence[int], starts: Sequence[int]
    ) -> _Later | None:
        """Return the block of the first dark step if a later dark step falls into a later period."""
        reached = job.blocks[len(starts) - 1].last
        dark = [step for step in range(reached + 1) if job.steps[step].light == "dark"]
        if len(self.periods) == 1 or len(dark) <= 1:
            return None
        first, last = dark[0], dark[-1]
        end = starts[_block_of(job, last)] + offsets[last] + seconds[last]
        opens = max(opens for opens, closes in self.periods if opens < end)
        block = _block_of(job, first)
        if starts[block] + offsets[first] >= opens:
            return None
        return _Later(block, opens - offsets[first])


def _block_of(job: Job, step: int) -> int:
    return next(index for index, block in enumerate(job.blocks) if block.last >= step)


def _full_until(spans: Sequence[_Span], job: int, capacity: int, start: int, end: int) -> int | None:
    """Return when a place that is full somewhere in the interval next has room, or None if it always has.

    A span without length counts as taken in its moment: a pass that nobody attends still has a beginning.
    """
    inside = [span for span in spans if span.job != job and span.start < end and start < span.end]
    if len(inside) < capacity:
        return None
    for moment in sorted({max(start, span.start) for span in inside}):
        # A fixed step is there from the beginning and again with its whole stay, and is still one plate.
        here = {span.job: span.end for span in inside if span.start <= moment < max(span.end, span.start + 1)}
        if len(here) >= capacity:
            return min(here.values())
    return None
