"""A class as it is called: what each event makes of it, whatever comes in whatever order."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from server.core.board_state import RoomState
from server.core.calling import Answered, Event, EventKind, Replayed, Stale, answer, replay
from server.core.class_now import InTray, Situation, dangers, shortages, situation
from server.core.standing import ClassPlan, Mode, pending
from tests.core.test_cues import classes
from tests.core.worked_rota import PERIOD, class_plan, clock, rota

S = 1000
PLAN = class_plan()


class Caller:
    """Calls a class cue by cue, as a device does, and keeps what the server would."""

    def __init__(self, plan: ClassPlan = PLAN) -> None:
        self.plan = plan
        self.events: list[Event] = []

    def send(self, kind: EventKind, at_s: float, cue: str = "", **other: object) -> Answered | Stale:
        event = Event(f"e{len(self.events)}", kind, round(at_s * S), **other)  # type: ignore[arg-type]
        found = answer(self.plan, self.events, event, cue_key=cue)
        if isinstance(found, Answered):
            self.events = sorted([*self.events, found.event], key=lambda one: one.at_ms)
        return found

    def standing(self, at_s: float) -> Replayed:
        return replay(self.plan, [event for event in self.events if event.at_ms <= at_s * S])

    def call(self, at_s: float) -> str:
        """Call what is next, and return its words."""
        due = self.now(at_s).next
        # What goes by the plan is called from its beginning.
        cue = pending(self.standing(at_s).standing)[0]
        assert due is not None
        taken = self.send(EventKind.CALLED, at_s, cue.key)
        assert isinstance(taken, Answered), taken
        return cue.words

    def called_up_to(self, until: str, late_s: float = 0) -> "Caller":
        """Every cue up to the wall clock, each so late."""
        while clock((cue := pending(self.standing(10**6).standing)[0]).at_s) <= until:
            self.call(cue.at_s + late_s)
        return self

    def now(self, at_s: float) -> Situation:
        return situation(self.plan, replay(self.plan, self.events).standing, now_ms=round(at_s * S))


def at(wall_clock: str) -> int:
    hours, minutes, seconds = (int(part) for part in wall_clock.split(":"))
    return hours * 3600 + minutes * 60 + seconds - 9 * 3600


def _going_on(found: Situation) -> set[str]:
    return {f"{stay.visit.group} {stay.visit.step}" for stay in found.going_on}


def test_a_class_that_nobody_calls_goes_by_its_plan() -> None:
    found = Caller().now(at("09:10:00"))

    assert found.mode is Mode.BY_PLAN
    assert (found.room, found.is_dark) == (RoomState.STILL, True)
    assert _going_on(found) == {"P1 settle", "P2 settle", "P3 settle"}
    assert found.next is not None
    assert (found.next.cue.words, clock(found.next.due_ms / S)) == ("Lift", "09:12:30")


def test_a_called_class_waits_for_its_caller() -> None:
    caller = Caller().called_up_to("09:08:00")
    found = caller.now(at("09:10:00"))

    assert found.mode is Mode.RUNNING
    assert (found.room, _going_on(found)) == (RoomState.DARK, {"P1 load", "P2 load", "P3 load"})
    assert found.next is not None
    assert (found.next.cue.words, clock(found.next.due_ms / S)) == ("Hold still, settle", "09:09:30")
    assert found.late_ms == 30 * S


def test_what_is_called_late_moves_all_that_comes_behind_it_as_far() -> None:
    caller = Caller().called_up_to("09:08:00", late_s=40)
    caller.call(at("09:10:20"))
    found = caller.now(at("09:10:21"))

    assert found.late_ms == 50 * S
    assert [clock(due.due_ms / S - 50) for due in found.ahead[:4]] == [
        "09:12:30", "09:13:00", "09:13:15", "09:13:30",
    ]  # fmt: skip


def test_a_shutter_closes_and_a_bath_ends_by_their_own_clock_however_late_the_caller_is() -> None:
    caller = Caller().called_up_to("09:14:00")

    assert caller.now(at(["09:13:14", "9"][0]) + 0.9).room is RoomState.STILL
    assert caller.now(at("09:13:15")).room is RoomState.DARK
    # Hold still of 09:15:30 is called two minutes late: the first plates leave the developer at 09:16:30 all the same.
    waiting = caller.now(at("09:16:29"))
    assert {"P1 develop", "P4 load"} <= _going_on(waiting)
    assert "P1 rinse" in _going_on(caller.now(at("09:16:30")))
    assert "P4 load" in _going_on(caller.now(at("09:16:30")))
    caller.call(at("09:17:30"))
    found = caller.now(at("09:17:31"))
    assert found.room is RoomState.STILL
    assert [(clock(one.at_ms / S), one.visit.group) for one in found.counting[:1]] == [("09:19:00", "P1")]


def test_the_whole_room_holds_still_until_the_late_shutter_is_opened_and_closed() -> None:
    caller = Caller().called_up_to("09:12:30")

    assert caller.now(at("09:14:00")).room is RoomState.STILL
    caller.call(at("09:14:10"))
    assert caller.now(at("09:14:24")).room is RoomState.STILL
    assert caller.now(at("09:14:25")).room is RoomState.DARK


def test_lights_are_not_allowed_while_a_plate_is_open() -> None:
    caller = Caller().called_up_to("09:32:00", late_s=20)
    allowed = pending(caller.standing(10**6).standing)[0]

    assert allowed.words == "Lights allowed"
    assert caller.send(EventKind.CALLED, at("09:35:10"), allowed.key) is Stale.PLATES_OPEN
    assert caller.now(at("09:35:19")).room is RoomState.DARK
    assert isinstance(caller.send(EventKind.CALLED, at("09:35:20"), allowed.key), Answered)
    assert caller.now(at("09:35:20")).room is RoomState.LIGHTS


def test_two_callers_at_once_call_one_cue_once() -> None:
    caller = Caller().called_up_to("09:08:00")
    cue = pending(caller.standing(10**6).standing)[0].key

    assert isinstance(caller.send(EventKind.CALLED, at("09:09:30"), cue), Answered)
    assert caller.send(EventKind.CALLED, at("09:09:30") + 0.2, cue) is Stale.NOT_NEXT
    # The one that was said a little earlier, and arrives behind the other, calls nothing either.
    assert caller.send(EventKind.CALLED, at("09:09:30") - 0.2, cue) is Stale.SINCE


def test_undo_takes_back_the_last_call_only() -> None:
    caller = Caller().called_up_to("09:08:00")
    before = caller.now(at("09:09:00"))
    caller.call(at("09:08:10"))
    first, last = caller.events[-2:]

    assert caller.send(EventKind.UNDONE, at("09:08:12"), undoes=first.id) is Stale.NOTHING
    assert isinstance(caller.send(EventKind.UNDONE, at("09:08:12"), undoes=last.id), Answered)
    assert caller.now(at("09:09:00")) == before
    assert caller.send(EventKind.UNDONE, at("09:08:13"), undoes=last.id) is Stale.NOTHING


def test_a_pause_moves_what_waits_for_its_caller_and_no_bath() -> None:
    caller = Caller().called_up_to("09:14:00")
    caller.send(EventKind.PAUSED, at("09:14:30"))
    cue = pending(caller.standing(10**6).standing)[0]

    assert caller.send(EventKind.CALLED, at("09:14:40"), cue.key) is Stale.PAUSED
    held = caller.now(at("09:15:00"))
    assert held.mode is Mode.PAUSED
    assert held.next is not None
    assert clock(held.next.due_ms / S) == "09:16:00"
    assert "P1 rinse" in _going_on(caller.now(at("09:16:30")))
    caller.send(EventKind.RESUMED, at("09:16:30"))
    found = caller.now(at("09:16:31"))
    assert found.next is not None
    assert clock(found.next.due_ms / S) == "09:17:30"


def test_a_call_that_was_on_its_way_when_somebody_paused_still_counts() -> None:
    caller = Caller().called_up_to("09:08:00")
    cue = pending(caller.standing(10**6).standing)[0]
    caller.send(EventKind.PAUSED, at("09:09:31"))

    assert isinstance(caller.send(EventKind.CALLED, at("09:09:30"), cue.key), Answered)
    found = caller.now(at("09:09:40"))
    assert (found.mode, found.room) == (Mode.PAUSED, RoomState.STILL)


def test_lights_stops_everything_until_all_is_clear_and_taken_up_again() -> None:
    caller = Caller().called_up_to("09:09:30")
    caller.send(EventKind.STOPPED, at("09:10:00"))
    cue = pending(caller.standing(10**6).standing)[0]

    stopped = caller.now(at("09:10:30"))
    assert (stopped.mode, stopped.room, stopped.is_dark) == (Mode.STOPPED, RoomState.LIGHTS, False)
    assert caller.send(EventKind.CALLED, at("09:10:30"), cue.key) is Stale.STOPPED
    assert caller.send(EventKind.TAKEN_UP, at("09:10:30")) is Stale.NOT_CLEAR
    assert caller.send(EventKind.UNDONE, at("09:10:30"), undoes=caller.events[-1].id) is Stale.NOTHING
    caller.send(EventKind.CLEAR, at("09:11:00"))
    assert caller.now(at("09:11:01")).room is RoomState.LIGHTS
    caller.send(EventKind.TAKEN_UP, at("09:12:00"))
    found = caller.now(at("09:12:01"))
    assert (found.mode, found.room, found.is_dark) == (Mode.RUNNING, RoomState.STILL, True)
    assert found.next is not None
    assert clock(found.next.due_ms / S) == "09:14:30"


def test_whoever_steps_into_a_class_that_went_by_its_plan_finds_it_where_it_is() -> None:
    caller = Caller()
    caller.send(EventKind.CAUGHT_UP, at("09:15:00"))
    found = caller.now(at("09:16:00"))

    assert found.mode is Mode.RUNNING
    assert found.next is not None
    assert (found.next.cue.words, clock(found.next.due_ms / S)) == ("Hold still, settle", "09:15:30")
    assert "P1 develop" in _going_on(found)


def test_a_repeat_in_the_spare_round_costs_nothing() -> None:
    caller = Caller().called_up_to("09:14:00")
    due = [one.due_ms for one in caller.now(at("09:14:10")).ahead]
    taken = caller.send(EventKind.REPEAT, at("09:14:10"), repeats=(("P2", 1, 0),), into="R1")

    assert isinstance(taken, Answered)
    found = caller.now(at("09:14:10"))
    assert [one.due_ms for one in found.ahead] == due
    names = {mover.group for one in found.ahead for call in one.cue.calls for mover in call.movers}
    assert "P2 again" in names
    assert "R1" not in names


def test_a_repeat_made_at_once_moves_the_rest_by_one_wave() -> None:
    """The wave needs its stations 5.75 min; the next one began already, so the repeat comes behind it."""
    caller = Caller().called_up_to("09:15:30")
    caller.send(EventKind.REPEAT, at("09:15:40"), repeats=(("P1", 1, 0), ("P3", 1, 0)))
    caller.called_up_to("09:19:30")
    found = caller.now(at("09:19:40"))

    assert [(one.cue.words, clock(one.due_ms / S)) for one in found.ahead[:4]] == [
        ("Load, develop", "09:20:00"),
        ("Hold still, settle", "09:21:30"),
        ("Lift", "09:24:30"),
        ("Shutter open", "09:25:00"),
    ]
    movers = [f"{mover.group} {mover.place}" for call in found.ahead[1].cue.calls for mover in call.movers]
    assert movers == ["P1 again S1", "P3 again S3"]
    loads = [clock(one.due_ms / S) for one in found.ahead if "oad" in one.cue.words]
    assert loads == ["09:20:00", "09:25:45", "09:31:45"]
    developed = [clock(one.due_ms / S) for one in found.ahead if "evelop" in one.cue.words]
    assert developed == ["09:20:00", "09:26:00", "09:31:45", "09:37:45"]


def test_the_bell_is_in_danger_by_what_the_last_plate_is_over_it() -> None:
    """Without repeats the last plates leave the trays at 09:35; the plates' time ends at 09:45, before five minutes of clean-up."""
    caller = Caller(class_plan(spare=False)).called_up_to("09:08:00", late_s=9 * 60 + 50)

    assert dangers(caller.plan, caller.standing(10**6).standing, now_ms=at("09:18:00") * S) == ()
    [danger] = dangers(caller.plan, caller.standing(10**6).standing, now_ms=at("09:20:00") * S)
    assert (danger.kind, danger.over_ms, clock(danger.limit_s)) == ("bell", 30 * S, "09:45:00")
    assert danger.visit.group in {"P7", "P8", "P9"}


def test_a_plate_that_waits_longer_than_it_may_is_told() -> None:
    """A covered plate may wait two minutes before the developer; planned are fifteen seconds from 09:13:45 on."""
    caller = Caller().called_up_to("09:13:30")
    found = dangers(PLAN, caller.standing(10**6).standing, now_ms=at("09:16:15") * S)

    waits = [danger for danger in found if danger.kind == "wait"]
    assert [(danger.visit.step, danger.over_ms) for danger in waits] == [("develop", 30 * S)]


def test_developer_that_ends_before_the_last_plate_is_out_is_told() -> None:
    lives = (("trays", ((0, at("09:36:00")),)),)
    caller = Caller(replace(class_plan(spare=False), lives=lives)).called_up_to("09:08:00", late_s=90)
    found = dangers(caller.plan, caller.standing(10**6).standing, now_ms=at("09:09:31") * S)

    assert [(danger.kind, danger.over_ms) for danger in found] == [("life", 30 * S)]


def test_what_really_stands_in_a_tray_goes_before_what_the_plan_put_there() -> None:
    """The plan's developer lives all morning; what was poured ends 30 s before the last plate, called 90 s late, is out."""
    lives = (("trays", ((0, at("11:00:00")),)),)
    caller = Caller(replace(class_plan(spare=False), lives=lives)).called_up_to("09:08:00", late_s=90)
    standing, now_ms = caller.standing(10**6).standing, at("09:09:31") * S
    old = InTray(at("09:36:00") * S, 0, 100)

    assert dangers(caller.plan, standing, now_ms=now_ms) == ()
    found = dangers(caller.plan, standing, now_ms=now_ms, trays={"trays": old})
    assert [(danger.kind, danger.over_ms, clock(danger.limit_s)) for danger in found] == [
        ("life", 30 * S, "09:36:00")
    ]
    fresh = InTray(at("12:00:00") * S, 0, 100)
    assert dangers(caller.plan, standing, now_ms=now_ms, trays={"trays": fresh}) == ()
    short = replace(caller.plan, lives=(("trays", ((0, at("09:36:00")),)),))
    assert [danger.kind for danger in dangers(short, standing, now_ms=now_ms)] == ["life"]
    assert dangers(short, standing, now_ms=now_ms, trays={"trays": fresh}) == ()


def test_a_charge_that_the_plan_changes_before_a_plate_is_not_held_against_it() -> None:
    """Fresh developer is planned for 09:25; what stands in the tray until then ends at 09:26, when the second wave is out."""
    lives = (("trays", ((0, at("09:31:00")), (at("09:25:00"), at("11:00:00")))),)
    plan = replace(class_plan(spare=False), lives=lives)
    caller = Caller(plan).called_up_to("09:08:00")
    standing, now_ms = caller.standing(10**6).standing, at("09:09:00") * S
    there = InTray(at("09:29:00") * S, 0, 6)

    assert dangers(plan, standing, now_ms=now_ms, trays={"trays": there}) == ()
    assert shortages(plan, standing, now_ms=now_ms, trays={"trays": there}) == ()
    assert [one.plates for one in shortages(plan, standing, now_ms=now_ms, trays={"trays": replace(there, plates=5)})] == [6]  # fmt: skip


def test_a_charge_that_serves_fewer_plates_than_still_go_through_it_is_told() -> None:
    """Nine plates and room for five: the second of the second wave is the last that fits, whether its note is filed or not."""
    plan = class_plan()
    caller = Caller(plan).called_up_to("09:14:00")
    for now in ("09:09:00", "09:17:00"):
        [found] = shortages(
            plan, caller.standing(10**6).standing, now_ms=at(now) * S, trays={"trays": InTray(10**9, 0, 5)}
        )
        assert (found.plates, found.room, found.visit.group, found.visit.step) == (9, 5, "P6", "develop")
    enough = {"trays": InTray(10**9, 0, 9)}
    assert shortages(plan, caller.standing(10**6).standing, now_ms=at("09:09:00") * S, trays=enough) == ()


def test_plates_that_went_through_before_a_charge_was_poured_need_no_room_in_it() -> None:
    plan = class_plan()
    caller = Caller(plan).called_up_to("09:20:00")
    poured = {"trays": InTray(10**9, at("09:19:00") * S, 6)}

    assert shortages(plan, caller.standing(10**6).standing, now_ms=at("09:20:30") * S, trays=poured) == ()


def test_a_gap_between_two_periods_takes_up_what_the_class_is_late() -> None:
    later = tuple(
        replace(visit, start_s=visit.start_s + 7200, end_s=visit.end_s + 7200, pass_no=2) for visit in rota()
    )
    plan = ClassPlan((*rota(), *later), (PERIOD, (PERIOD[0] + 7200, PERIOD[1] + 7200)), 300)
    caller = Caller(plan).called_up_to("09:35:00", late_s=300)
    found = caller.now(at("09:50:00"))

    assert found.next is not None
    assert (found.next.cue.words, clock(found.next.due_ms / S)) == ("Lights off", "11:03:00")


def test_a_changed_plan_goes_on_where_the_class_is() -> None:
    """The class is called two minutes late; a plan that begins two minutes later is taken, and nothing is late any more."""
    caller = Caller().called_up_to("09:15:30", late_s=120)
    caller.plan = replace(
        PLAN,
        visits=tuple(
            replace(visit, start_s=visit.start_s + 120, end_s=visit.end_s + 120) for visit in rota()
        ),
    )
    found = caller.now(at("09:18:00"))

    assert found.late_ms == 0
    assert found.next is not None
    assert (found.next.cue.words, clock(found.next.due_ms / S)) == ("Lift", "09:20:30")


@st.composite
def stories(draw: st.DrawFn) -> tuple[ClassPlan, list[Event]]:
    """A class at random, and events of every kind at random times, sensible or not."""
    visits = tuple(draw(classes()))
    plan = ClassPlan(visits, ((0, 900), (1000, 2000)), draw(st.sampled_from([0, 30])))
    keys = [visit.key for visit in visits]
    events: list[Event] = []
    at_ms = draw(st.integers(-50_000, 100_000))
    for number in range(draw(st.integers(0, 25))):
        at_ms += draw(st.integers(0, 60_000))
        kind = draw(st.sampled_from([*EventKind, EventKind.CALLED, EventKind.CALLED, EventKind.CALLED]))
        ahead = pending(replay(plan, events).standing)
        sensible = draw(st.integers(0, 4)) > 0
        begins = (
            (ahead[0].begins or (ahead[0].key,)) if ahead and sensible else (draw(st.sampled_from(keys)),)
        )
        undoes = events[-1].id if events and sensible else "e0"
        visit = draw(st.sampled_from(visits))
        events.append(
            Event(
                f"e{number}",
                kind,
                at_ms,
                begins if kind is EventKind.CALLED else (),
                undoes if kind is EventKind.UNDONE else "",
                (visit.plate,) if kind is EventKind.REPEAT else (),
            )
        )
    return plan, events


@given(stories(), st.integers(-60_000, 2_500_000))
def test_any_events_come_to_the_same_again(story: tuple[ClassPlan, list[Event]], now_ms: int) -> None:
    plan, events = story
    once, again = replay(plan, events), replay(plan, tuple(events))

    assert once == again
    assert situation(plan, once.standing, now_ms=now_ms) == situation(plan, again.standing, now_ms=now_ms)
    assert replay(plan, [event for event in events if event.id not in once.ignored]).standing == once.standing


@given(stories(), st.sampled_from(list(EventKind)))
def test_undo_restores_what_was(story: tuple[ClassPlan, list[Event]], kind: EventKind) -> None:
    plan, events = story
    before = replay(plan, events)
    at_ms = (events[-1].at_ms if events else 0) + 500
    ahead = pending(before.standing)
    new = Event(
        "new",
        kind,
        at_ms,
        (ahead[0].begins or (ahead[0].key,)) if ahead else (),
        repeats=(plan.visits[0].plate,),
    )
    after = replay(plan, [*events, new])
    undone = replay(plan, [*events, new, Event("undo", EventKind.UNDONE, at_ms + 1, undoes="new")])

    if after.before is not None and after.taken[-1:] == (new,):
        assert undone.standing == before.standing == after.before
    elif kind is not EventKind.UNDONE:
        assert undone.standing == after.standing


@given(stories(), st.integers(0, 2_000_000))
def test_being_late_never_reorders_what_is_called(story: tuple[ClassPlan, list[Event]], now_ms: int) -> None:
    plan, events = story
    standing = replay(plan, events).standing
    found = situation(plan, standing, now_ms=now_ms)

    assert [due.cue.at_s for due in found.ahead] == sorted(due.cue.at_s for due in found.ahead)
    assert [due.due_ms for due in found.ahead] == sorted(due.due_ms for due in found.ahead)


@given(stories(), st.integers(-60_000, 2_500_000), st.one_of(st.none(), st.integers(-60_000, 2_000_000)))
def test_lights_are_never_shown_as_allowed_over_an_open_plate(
    story: tuple[ClassPlan, list[Event]], now_ms: int, alone_since_ms: int | None
) -> None:
    plan, events = story
    found = situation(plan, replay(plan, events).standing, now_ms=now_ms, alone_since_ms=alone_since_ms)
    dark = [stay for stay in found.going_on if stay.visit.light == "dark"]
    still = [stay for stay in found.going_on if stay.visit.still == "still"]

    if found.mode not in {Mode.STOPPED, Mode.CLEAR}:
        assert found.is_dark or not dark
        assert (found.room is RoomState.STILL) == bool(still)
        assert (found.room is RoomState.LIGHTS) == (not still and not found.is_dark)


@given(st.lists(st.integers(-20, 60), min_size=1, max_size=20))
def test_who_calls_each_cue_when_it_is_due_is_never_late(delays: list[int]) -> None:
    """Called early or late at random, and then on time: the class keeps the distance it had then, and no step gets too short."""
    caller = Caller(class_plan(spare=False))
    for delay_s in delays:
        due = caller.now(10**5).ahead
        if not due:
            break
        soonest = situation(caller.plan, caller.standing(10**6).standing, now_ms=-(10**9)).ahead[0].due_ms
        last = max((event.at_ms for event in caller.events), default=0)
        caller.send(EventKind.CALLED, max(last, soonest + delay_s * S) / S, due[0].cue.key)
    standing = caller.standing(10**6).standing
    lates = {
        due.due_ms - due.cue.at_s * S for due in situation(caller.plan, standing, now_ms=-(10**9)).ahead[1:]
    }

    assert len(lates) <= 2  # a plate that is still in a bath may hold up what comes last


def test_spare_rounds_that_nobody_needs_are_left_out() -> None:
    caller = Caller().called_up_to("09:25:30")
    caller.send(EventKind.LEFT_OUT, at("09:25:40"))
    found = caller.now(at("09:25:41"))

    assert [due.cue.words for due in found.ahead] == ["Develop", "Lights allowed"]
    assert clock(found.ahead[-1].due_ms / S) == "09:29:00"


def test_a_device_that_is_alone_goes_on_by_the_plan_and_not_before_it_was_left() -> None:
    """The caller is half a minute late with hold still when the network goes."""
    caller = Caller().called_up_to("09:08:00")
    standing = replay(PLAN, caller.events).standing
    alone = at("09:10:00") * S

    before = situation(PLAN, standing, now_ms=alone - 1)
    assert before.room is RoomState.DARK
    after = situation(PLAN, standing, now_ms=alone + 1, alone_since_ms=alone)
    assert after.room is RoomState.STILL
    assert after.next is not None
    assert (after.next.cue.words, clock(after.next.due_ms / S)) == ("Lift", "09:13:00")


def test_nobody_is_sent_to_where_a_plate_was_given_up() -> None:
    """P4's plate was to be loaded at a station that died before: it is made elsewhere, as another plate."""
    lost = tuple(replace(visit, lost=visit.group == "P4") for visit in PLAN.visits)
    given_up = Caller(replace(PLAN, visits=lost)).called_up_to("09:14:00")

    movers = {
        mover.group
        for cue in given_up.standing(at("09:20:00")).standing.calls
        for call in cue.calls
        for mover in call.movers
    }
    assert {"P3", "P5"} <= movers
    assert "P4" not in movers
