"""A diary that takes one pass at a time at the earliest moment that breaks no rule."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product

from server.core.planning.work import Block, Job, Placed, Stay, Work

MOST_CHOICES = 32
MOST_ATTEMPTS = 4_000

OPPOSITE = {"dark": "lit", "lit": "dark", "still": "moves", "moves": "still"}
NOBODY = -1
NEVER_S = 2**40


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


class _Taken:
    """When as many of some spans as the capacity overlap, in order and apart."""

    def __init__(self, spans: Sequence[tuple[int, int]], capacity: int) -> None:
        """Go through the spans' ends and starts in order; who ends makes room for who starts at that moment."""
        self._starts: list[int] = []
        self._ends: list[int] = []
        inside = 0
        for moment, change in sorted([*((start, 1) for start, _ in spans), *((end, -1) for _, end in spans)]):
            inside += change
            if change > 0 and inside == capacity:
                if self._ends and self._ends[-1] == moment:
                    self._ends.pop()
                else:
                    self._starts.append(moment)
            elif change < 0 and inside == capacity - 1:
                self._ends.append(moment)

    def until(self, start: int, end: int) -> int | None:
        """Return the end of what overlaps the interval first, or None if nothing does."""
        first = bisect_right(self._ends, start)
        return self._ends[first] if first < len(self._ends) and self._starts[first] < end else None


@dataclass(frozen=True)
class _Demand:
    """A state that a block asks of a zone, from ``start`` to ``end`` seconds after its own start."""

    key: tuple[str, str]
    start: int
    end: int


@dataclass(frozen=True)
class _Trial:
    """A job at some kinds of places. For each step: its seconds, block, seconds from the block's start, and afterglow.

    ``lit_before`` is the last earlier step that leaves the lights glowing for a dark one. For each block: its length,
    its demands, and whether anything but the only period's opening and end says when it may start.
    """

    job: Job
    kinds: tuple[int, ...]
    seconds: tuple[int, ...]
    block_of: tuple[int, ...]
    offsets: tuple[int, ...]
    glow: tuple[int, ...]
    lit_before: tuple[int | None, ...]
    lengths: tuple[int, ...]
    demands: tuple[tuple[_Demand, ...], ...]
    spans: tuple[tuple[int, int] | None, ...]


class Diary:
    """What is taken so far, and the earliest room for one more pass.

    Fixed steps and closed times are taken from the beginning, so that no pass is put in their way. ``tried`` counts the
    moments that were tried: a measure of time that repeats.
    """

    def __init__(self, work: Work) -> None:
        """Start empty but for the fixed steps and the closed times."""
        self.work = work
        self.periods = work.problem.periods
        self.placed: dict[int, Placed] = {}
        self.tried = 0
        self._kept: dict[int, list[_Span]] = defaultdict(list)
        self._busy: dict[int, list[_Span]] = defaultdict(list)
        self._zones: dict[tuple[str, str], list[_Span]] = defaultdict(list)
        self._served: dict[tuple[int, int], list[int]] = defaultdict(list)
        self._full: dict[int, _Taken] = {}
        self._opposed: dict[tuple[str, str], _Taken] = {}
        self._trials: dict[tuple[int, tuple[int, ...]], _Trial] = {}
        for number, kind in enumerate(work.kinds):
            self._kept[number].extend(
                _Span(shut, opens, NOBODY) for shut, opens in kind.closed for _ in range(kind.capacity)
            )
        for job in work.jobs:
            self._take_pins(job)

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
            finish = None if best is None else self.work.ends(job, best)[-1]
            starts = self._fit(self._trial(job, kinds), floors, blocks, finish)
            if starts is not None and self._in_turn(job, Placed(starts, kinds)):
                best = Placed(starts, kinds)
        if best is None:
            return False
        self.take(job, best)
        return True

    def take(self, job: Job, placed: Placed) -> None:
        """Place a job that is not placed yet where and when it is known to fit."""
        if job.pins:
            self._forget(job)
        self.placed[job.number] = placed
        ends = self.work.ends(job, placed)
        reached = len(placed.starts) - 1
        for stay, kind in zip(job.stays, placed.kinds, strict=True):
            if stay.first <= reached:
                start, end = placed.starts[stay.first], ends[min(stay.last, reached)]
                self._keep(kind, _Span(start, end, job.number))
                charge = self._charge_for(kind, start, end)
                if charge is not None:
                    self._served[kind, charge].append(job.number)
        free = placed.starts[0] if job.last_attended is None else ends[min(job.last_attended, reached)]
        self._busy[job.group].append(_Span(placed.starts[0], free, job.number))
        for step, start in enumerate(placed.starts):
            for key in self._demands(job, step, placed.kinds[job.stay_of[step]]):
                self._ask(key, _Span(start, ends[step], job.number))

    def _take_pins(self, job: Job) -> None:
        for step, pin in job.pins.items():
            span = _Span(pin.start_s, pin.start_s + job.seconds[step][pin.kind], job.number)
            self._keep(pin.kind, span)
            for key in self._demands(job, step, pin.kind):
                self._ask(key, span)

    def _keep(self, kind: int, span: _Span) -> None:
        self._kept[kind].append(span)
        self._full.pop(kind, None)

    def _ask(self, key: tuple[str, str], span: _Span) -> None:
        self._zones[key].append(span)
        self._opposed.pop((key[0], OPPOSITE[key[1]]), None)

    def remove(self, job: Job) -> None:
        """Free what the job was given before; its fixed steps stay taken."""
        if self.placed.pop(job.number, None) is not None:
            self._forget(job)
            self._take_pins(job)

    def _forget(self, job: Job) -> None:
        for spans in (*self._kept.values(), *self._busy.values(), *self._zones.values()):
            spans[:] = [span for span in spans if span.job != job.number]
        for served in self._served.values():
            served[:] = [number for number in served if number != job.number]
        self._full.clear()
        self._opposed.clear()

    def _demands(self, job: Job, step: int, kind: int) -> Iterator[tuple[str, str]]:
        """Yield the zone and the state in it that the step asks for."""
        place, one = self.work.kinds[kind], job.steps[step]
        if place.light_zone is not None and one.light != "any":
            yield place.light_zone, one.light
        if place.still_zone is not None and one.still != "any":
            yield place.still_zone, one.still

    def _trial(self, job: Job, kinds: tuple[int, ...]) -> _Trial:
        key = self.work.first_alike[job.number], kinds
        if key not in self._trials:
            self._trials[key] = self._new_trial(job, kinds)
        return replace(self._trials[key], job=job)

    def _new_trial(self, job: Job, kinds: tuple[int, ...]) -> _Trial:
        steps = range(len(job.steps))
        seconds = tuple(job.seconds[step][kinds[job.stay_of[step]]] for step in steps)
        block_of = tuple(_block_of(job, step) for step in steps)
        offsets = tuple(sum(seconds[job.blocks[block_of[step]].first : step]) for step in steps)
        zones = [self.work.kinds[kinds[job.stay_of[step]]].light_zone for step in steps]
        glow = tuple(
            self.work.problem.afterglow_s(zones[step]) if job.steps[step].light == "dark" else 0
            for step in steps
        )
        lit_before = tuple(
            max(
                (lit for lit in range(step) if job.steps[lit].light == "lit" and zones[lit] == zones[step]),
                default=None,
            )
            if glow[step]
            else None
            for step in steps
        )
        trial = _Trial(
            job,
            kinds,
            seconds,
            block_of,
            offsets,
            glow,
            lit_before,
            tuple(offsets[block.last] + seconds[block.last] for block in job.blocks),
            tuple(tuple(self._demands_of(job, kinds, offsets, block)) for block in job.blocks),
            tuple(None for _ in job.blocks),
        )
        return replace(trial, spans=tuple(self._span(trial, block) for block in job.blocks))

    def _demands_of(
        self, job: Job, kinds: tuple[int, ...], offsets: Sequence[int], block: Block
    ) -> Iterator[_Demand]:
        """Yield what a block asks of its zones, in spans as long as they can be."""
        found: dict[tuple[str, str], list[_Demand]] = defaultdict(list)
        for step in range(block.first, block.last + 1):
            kind = kinds[job.stay_of[step]]
            end = offsets[step] + job.seconds[step][kind]
            for key in self._demands(job, step, kind):
                joins = found[key] and found[key][-1].end == offsets[step]
                start = found[key].pop().start if joins else offsets[step]
                found[key].append(_Demand(key, start, end))
        for demands in found.values():
            yield from demands

    def _span(self, trial: _Trial, block: Block) -> tuple[int, int] | None:
        """Return when a block may start if only one period says so, else None."""
        steps = range(block.first, block.last + 1)
        if len(self.periods) > 1 or any(
            step in trial.job.pins or trial.lit_before[step] is not None for step in steps
        ):
            return None
        opens, closes = self.periods[0]
        return (
            max(opens + trial.glow[step] - trial.offsets[step] for step in steps),
            min(closes - self._inside(trial, step) - trial.offsets[step] for step in steps),
        )

    def _inside(self, trial: _Trial, step: int) -> int:
        """Return how many seconds of a step must lie inside a period."""
        one = trial.job.steps[step]
        return trial.seconds[step] if one.attended or one.light == "dark" else 0

    def _fit(
        self, trial: _Trial, floors: Mapping[int, int], blocks: int, before_s: int | None
    ) -> tuple[int, ...] | None:
        """Return the earliest starts, moving a block later whenever the ones after it cannot follow in time.

        None if there are none, or none that end before ``before_s``.
        """
        job, offsets = trial.job, trial.offsets
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
                return tuple(starts[trial.block_of[step]] + offsets[step] for step in range(reached + 1))
            begin = low[index]
            if index:
                begin = max(begin, starts[-1] + trial.lengths[index - 1])
            found = self._clear(trial, starts, begin)
            if found is None:
                return None
            if isinstance(found, _Later):
                low[found.block] = max(low[found.block], found.start)
                del starts[found.block :]
                continue
            onward = sum(trial.lengths[index:blocks])
            if before_s is not None and found + onward >= before_s:
                return None
            longest = job.blocks[index - 1].max_wait_s if index else None
            if longest is not None and found > starts[-1] + trial.lengths[index - 1] + longest:
                low[index - 1] = found - trial.lengths[index - 1] - longest
                starts.pop()
                continue
            starts.append(found)
        return None

    def _free_from(self, job: Job) -> int:
        """Return when the group may begin: after its earlier pass, and what is kept for repeats after all others."""
        others = self.others_left() if job.number in self.work.held_back else 0
        group = self.work.problem.groups[job.group]
        if group.any_order or job.pass_no == 1:
            return others
        earlier = self.work.passes[job.group, job.pass_no - 1]
        if earlier.number not in self.placed:
            return self.periods[-1][1] + 1
        return max(others, self.released(earlier))

    def others_left(self) -> int:
        """Return when all that is placed and not kept for repeats has left its first place."""
        return max(
            (
                self._left(self.work.jobs[number], placed)
                for number, placed in self.placed.items()
                if number not in self.work.reserve
            ),
            default=0,
        )

    def _left(self, job: Job, placed: Placed) -> int:
        """Return when a job has left its first place; for one placed in part, the soonest it can."""
        last = job.stays[0].last
        ends = self.work.ends(job, placed)
        return ends[min(last, len(ends) - 1)] + sum(job.shortest(step) for step in range(len(ends), last + 1))

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
        """Tell whether the job is out of the way of what is already placed and has to come after it."""
        if job.number not in self.work.reserve:
            left = self._left(job, placed)
            if any(
                number in self.placed and self.placed[number].starts[0] < left
                for number in self.work.held_back
            ):
                return False
        group = self.work.problem.groups[job.group]
        following = self.work.passes.get((job.group, job.pass_no + 1))
        if group.any_order or following is None or following.number not in self.placed:
            return True
        return self._released(job, placed) <= self.placed[following.number].starts[0]

    def _clear(self, trial: _Trial, starts: Sequence[int], begin: int) -> int | _Later | None:
        """Return the first moment from ``begin`` for the next block, or which earlier block must move."""
        index = len(starts)
        moment = begin
        while moment <= self.periods[-1][1]:
            self.tried += 1
            later = self._in_time(trial, [*starts, moment])
            if later is None:
                return None
            if later == moment:
                later = self._in_the_light(trial, index, moment)
            if later == moment:
                blocked = self._kept_elsewhere(trial, [*starts, moment])
                blocked = blocked or self._dark_apart(trial, [*starts, moment])
                if blocked is None:
                    return moment
                if blocked.block < index:
                    return blocked
                later = blocked.start
            moment = later
        return None

    def _in_time(self, trial: _Trial, starts: Sequence[int]) -> int | None:
        """Return the moment for the last block at which periods, fixed starts and its own lights allow every step."""
        index = len(starts) - 1
        span = trial.spans[index]
        if span is not None:
            return max(starts[-1], span[0]) if starts[-1] <= span[1] and span[0] <= span[1] else None
        block, moment = trial.job.blocks[index], starts[-1]
        for step in range(block.first, block.last + 1):
            allowed = self._allowed(trial, step, moment + trial.offsets[step])
            if allowed is None:
                return None
            lit = trial.lit_before[step]
            if lit is not None:
                at = trial.block_of[lit]
                dark = starts[at] + trial.offsets[lit] + trial.seconds[lit] + trial.glow[step]
                if at == index and dark > starts[at] + trial.offsets[step]:
                    return None
                allowed = max(allowed, dark)
            moment = max(moment, allowed - trial.offsets[step])
        return moment

    def _in_the_light(self, trial: _Trial, index: int, moment: int) -> int:
        """Return the moment, or a later one, at which no zone is in a state that a step of the block cannot do with."""
        later = moment
        for demand in trial.demands[index]:
            until = self._opposite(demand.key, trial.job).until(moment + demand.start, moment + demand.end)
            if until is not None:
                later = max(later, until - demand.start)
        return later

    def _opposite(self, key: tuple[str, str], job: Job) -> _Taken:
        """Return when a zone is in the state opposite to the one asked for, afterglow included."""
        taken = None if job.pins else self._opposed.get(key)
        if taken is None:
            zone, state = key
            glow = self.work.problem.afterglow_s(zone) if state in {"dark", "lit"} else 0
            before, after = (glow, 0) if state == "lit" else (0, glow)
            spans = self._zones[zone, OPPOSITE[state]]
            taken = _Taken(
                [(span.start - before, span.end + after) for span in spans if span.job != job.number], 1
            )
            if not job.pins:
                self._opposed[key] = taken
        return taken

    def _fullness(self, kind: int, job: Job) -> _Taken:
        """Return when a kind of place has no room for the job."""
        taken = None if job.pins else self._full.get(kind)
        if taken is None:
            spans = [(span.start, span.end) for span in self._kept[kind] if span.job != job.number]
            taken = _Taken(spans, self.work.kinds[kind].capacity)
            if not job.pins:
                self._full[kind] = taken
        return taken

    def _allowed(self, trial: _Trial, step: int, start: int) -> int | None:
        """Return the first start from ``start`` that the periods and a fixed start allow."""
        pin = trial.job.pins.get(step)
        if pin is not None and start != pin.start_s:
            return pin.start_s if start < pin.start_s else None
        for opens, closes in self.periods:
            first, last = opens + trial.glow[step], closes - self._inside(trial, step)
            if start <= last and first <= last:
                return max(start, first)
        return None

    def _kept_elsewhere(self, trial: _Trial, starts: Sequence[int]) -> _Later | None:
        """Return which block must move because a place, or the group itself, is taken; None if all is free."""
        job, block = trial.job, trial.job.blocks[len(starts) - 1]
        reached = block.last

        def begin_of(step: int) -> int:
            return starts[trial.block_of[step]] + trial.offsets[step]

        def end_of(step: int) -> int:
            return begin_of(step) + trial.seconds[step]

        for number, (kind, stay) in enumerate(zip(trial.kinds, job.stays, strict=True)):
            if stay.first <= reached and stay.last >= block.first:
                begin, end = begin_of(stay.first), end_of(min(stay.last, reached))
                free = self._fullness(kind, job).until(begin, end)
                if free is None:
                    ahead = trial.kinds[:number].count(kind)
                    free = self._serve_from(kind, begin, end, ahead)
                if free is not None:
                    return self._moved(trial, stay, free)
        present = starts[0] if job.last_attended is None else end_of(min(job.last_attended, reached))
        free = _busy_until(self._busy[job.group], starts[0], present)
        return None if free is None else _Later(0, max(free, starts[0] + 1))

    def _moved(self, trial: _Trial, stay: Stay, start: int) -> _Later:
        return _Later(trial.block_of[stay.first], start - trial.offsets[stay.first])

    def _charge_for(self, kind: int, start: int, end: int, ahead: int = 0) -> int | None:
        """Return the charge that serves a plate all that time and ends first; ``ahead`` plates come before it."""
        for number, charge in enumerate(self.work.kinds[kind].charges):
            inside = charge.from_s <= start and end <= charge.until_s
            if inside and (charge.plates is None or len(self._served[kind, number]) + ahead < charge.plates):
                return number
        return None

    def _serve_from(self, kind: int, start: int, end: int, ahead: int) -> int | None:
        """Return when the next charge could serve a plate for as long, or None if one does so at once."""
        charges = self.work.kinds[kind].charges
        if not charges or self._charge_for(kind, start, end, ahead) is not None:
            return None
        froms = sorted(charge.from_s for charge in charges if charge.from_s > start)
        return next(
            (
                from_s
                for from_s in froms
                if self._charge_for(kind, from_s, from_s + end - start, ahead) is not None
            ),
            NEVER_S,
        )

    def _dark_apart(self, trial: _Trial, starts: Sequence[int]) -> _Later | None:
        """Return the block of the first dark step if a later dark step falls into a later period."""
        reached = trial.job.blocks[len(starts) - 1].last
        dark = [step for step in range(reached + 1) if trial.job.steps[step].light == "dark"]
        if len(self.periods) == 1 or len(dark) <= 1:
            return None
        first, last = dark[0], dark[-1]
        end = starts[trial.block_of[last]] + trial.offsets[last] + trial.seconds[last]
        opens = max(opens for opens, closes in self.periods if opens < end)
        block = trial.block_of[first]
        if starts[block] + trial.offsets[first] >= opens:
            return None
        return _Later(block, opens - trial.offsets[first])


def _block_of(job: Job, step: int) -> int:
    return next(index for index, block in enumerate(job.blocks) if block.last >= step)


def _busy_until(spans: Sequence[_Span], start: int, end: int) -> int | None:
    """Return when a group that is busy somewhere in the interval is next free, or None if it always is.

    A span without length counts as taken in its moment: a pass that nobody attends still has a beginning.
    """
    inside = [max(span.end, span.start + 1) for span in spans if span.start < end and start < span.end]
    return min(inside, default=None)
