"""What the page about changes to a rotation shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from server.core.moments import clock_at, day_at, moment_words, up_to_the_minute
from server.core.planning import Change, Gain, Outlook, compare, pairs_of
from server.core.units import duration_words, plates_words
from server.data.session import LabSession
from server.people.queries import get_section
from server.rotations.queries import get_plan, get_rotation
from server.what_ifs.models import WhatIfSet
from server.what_ifs.queries import Weighed, find_set, find_weighed, is_going_on, map_outlooks

# More than these would be a list again, not a sentence.
NAMED = 3


@dataclass(frozen=True)
class ChangeLine:
    """One change. `proof` is empty while it is worked out; `state` is well, watch or plain; `why` are sentences to open."""

    words: str
    finish: str
    saved: str
    plates: str
    state: str
    proof: str
    why: Sequence[str]


@dataclass(frozen=True)
class WhatIfPage:
    """`before` tells the plan that everything is weighed against, `better` that a better one was found with nothing changed.

    `lines` are empty until it was asked for; `pairs` are two changes at once that let everybody make every plate.
    """

    id: int
    name: str
    section: str
    has_plan: bool
    is_stale: bool
    before: str
    changes: Sequence[str]
    better: str
    summary: str
    progress: str
    is_going_on: bool
    may_ask: bool
    lines: Sequence[ChangeLine]
    pairs: Sequence[ChangeLine]


@dataclass(frozen=True)
class _Clock:
    """Seconds of the plan on the lab's wall clock; with the day where the plan goes over several."""

    weighed: Weighed
    zone: str

    def __call__(self, second: int, *, exact: bool = False) -> str:
        starts = self.weighed.kept.starts_at
        instant = starts + timedelta(seconds=second)
        shown = instant if exact else up_to_the_minute(instant)
        one_day = day_at(starts, self.zone) == day_at(instant, self.zone)
        seconds = f":{instant.second:02}" if exact else ""
        return (clock_at if one_day else moment_words)(shown, self.zone) + seconds


def _saved(gain: Gain) -> str:
    if gain.saved_s is None:
        return "–"
    if gain.saved_s == gain.most_saved_s or gain.saved_s > 0:
        words = duration_words(gain.saved_s) if gain.saved_s else "nothing"
        return words if gain.saved_s == gain.most_saved_s else f"at least {words}"
    return "nothing found"


def _plates(gain: Gain, after: Outlook) -> str:
    fit = f"{after.placed} of {after.plates}"
    if gain.plates == 0:
        return fit
    more = f"{abs(gain.plates)} {'more' if gain.plates > 0 else 'fewer'}, {fit}"
    return more if gain.plates == gain.most_plates else f"at least {more}"


def _why(change: Change, before: Outlook, after: Outlook, gain: Gain, clock: _Clock) -> Sequence[str]:
    found = [*change.inputs]
    if gain.saved_s is None:
        found.append(
            f"Of {plates_words(after.plates)}, {after.placed} fit instead of {before.placed}; the last of them is done at "
            f"{clock(after.makespan_s, exact=True)}."
        )
    else:
        found.append(
            f"{clock(before.makespan_s, exact=True)} without it − {clock(after.makespan_s, exact=True)} with it = "
            f"{duration_words(before.makespan_s - after.makespan_s)}."
        )
    if gain.proven:
        found.append("Proven: no plan of the changed class makes more plates, or ends sooner with as many.")
        return found
    if gain.most_plates > gain.plates:
        found.append("The search was cut short before it knew whether more plates fit.")
    elif gain.most_saved_s is not None:
        found.append(
            f"The search was cut short; no plan of the changed class ends before {clock(after.bound_s, exact=True)}, so the change "
            f"saves at most {duration_words(gain.most_saved_s)}."
        )
    return found


def _line(change: Change, before: Outlook, after: Outlook | None, clock: _Clock) -> ChangeLine:
    if after is None:
        return ChangeLine(change.words, "…", "…", "…", "plain", "", change.inputs)
    gain = compare(before, after)
    helps = gain.plates > 0 or (gain.saved_s or 0) > 0
    return ChangeLine(
        words=change.words,
        finish=clock(after.makespan_s) if after.placed else "–",
        saved=_saved(gain) if after.placed else "–",
        plates=_plates(gain, after),
        state="well" if gain.proven and helps else "plain" if gain.proven else "watch",
        proof="proven" if gain.proven else "cut short",
        why=_why(change, before, after, gain, clock),
    )


def _rank(change: Change, before: Outlook, after: Outlook | None) -> tuple[bool, bool, int, int, int]:
    """What helps most comes first; what gives up plates comes after all else, and what is not known yet last."""
    if after is None:
        return True, change.gives_up, 0, 0, change.effort
    gain = compare(before, after)
    return False, change.gives_up, -gain.plates, -(gain.saved_s or 0), change.effort


def _helps(change: Change, before: Outlook, after: Outlook) -> str:
    """What a change brings in a few words, empty where it brings nothing."""
    gain = compare(before, after)
    sure = "" if gain.proven else "at least "
    if gain.plates > 0:
        every = ", so that all of them fit" if after.placed == after.plates else ""
        return f"{change.words}: {sure}{plates_words(gain.plates)} more{every}"
    return f"{change.words}: {sure}{duration_words(gain.saved_s)} sooner" if gain.saved_s else ""


def _summary(ranked: Sequence[Change], before: Outlook, found: Mapping[str, Outlook]) -> str:
    kept = [change for change in ranked if not change.gives_up and change.key in found]
    helping = [words for change in kept if (words := _helps(change, before, found[change.key]))]
    if not helping:
        return _nothing(sure=_all_proven(kept, before, found))
    first, *others = helping[:NAMED]
    named = "; ".join([first, *(words[0].lower() + words[1:] for words in others)])
    if len(helping) > NAMED:
        return f"{named}. What else helps stands below."
    return f"{named}. Nothing else {'helps' if len(kept) == len(helping) or _all_proven(kept, before, found) else 'was found to help'}."


def _nothing(*, sure: bool) -> str:
    if sure:
        return "Nothing of this makes the class end sooner or makes room for a plate more; what gives up plates stands last."
    return "Nothing was found that makes the class end sooner or makes room for a plate more, but the searches were cut short, so some of it may."


def _all_proven(kept: Sequence[Change], before: Outlook, found: Mapping[str, Outlook]) -> bool:
    return all(compare(before, found[change.key]).proven for change in kept)


def _before_words(weighed: Weighed, before: Outlook, clock: _Clock) -> str:
    if not before.placed:
        return f"As it is, none of the {plates_words(before.plates)} fits."
    fit = (
        f"{'the one plate fits' if before.plates == 1 else f'all {plates_words(before.plates)} fit'}"
        if before.placed == before.plates
        else f"{before.placed} of the {plates_words(before.plates)} fit"
    )
    finish = clock(before.makespan_s)
    if before.proven:
        sure = "proven"
    elif before.most:
        sure = f"no plan ends before {clock(before.bound_s)}"
    else:
        sure = "the search was cut short before it knew whether more fit"
    starts = clock_at(weighed.kept.starts_at, clock.zone)
    return f"As it is, {fit}; the first group begins at {starts}, the last step ends at {finish} ({sure})."


def _better(kept: Outlook, again: Outlook, clock: _Clock) -> str:
    """What planning once more brought with nothing changed."""
    gain = compare(kept, again)
    if gain.plates > 0:
        what = f"makes room for {plates_words(gain.plates)} more"
    elif gain.saved_s:
        what = f"ends at {clock(again.makespan_s)}, {duration_words(gain.saved_s)} sooner"
    else:
        return ""
    return (
        f"Planned once more with nothing changed, the class {what}. Press Plan again on the rotation's page; "
        "the changes are weighed against this better plan."
    )


def _progress(weighed: Weighed, asked: WhatIfSet | None, found: Mapping[str, Outlook], now: datetime) -> str:
    known = sum(change.key in found for change in weighed.asked)
    if asked is None:
        return ""
    if is_going_on(asked, now):
        if known == len(weighed.asked):
            return "Pairs of changes are being tried …"
        return f"{known} of {len(weighed.asked)} worked out …"
    if known < len(weighed.asked):
        return f"{len(weighed.asked) - known} of {len(weighed.asked)} could not be worked out in time. Ask once more."
    return ""


def what_if_page(session: LabSession, rotation_id: int, zone: str, *, now: datetime) -> WhatIfPage:
    rotation = get_rotation(session, rotation_id)
    weighed = find_weighed(session, rotation_id)
    section = get_section(session, rotation.section_id).name
    if weighed is None:
        stale = get_plan(session, rotation_id) is not None
        return WhatIfPage(
            rotation.id, rotation.name, section, has_plan=False, is_stale=stale, before="", changes=(), better="",
            summary="", progress="", is_going_on=False, may_ask=False, lines=(), pairs=(),
        )  # fmt: skip
    asked = find_set(session, rotation_id)
    asked = asked if asked is not None and asked.digest == weighed.digest else None
    found = {} if asked is None else map_outlooks(session, asked.id)
    clock, before = _Clock(weighed, zone), found.get("again", weighed.before)
    ranked = sorted(weighed.changes, key=lambda change: _rank(change, before, found.get(change.key)))
    pairs = [
        pair
        for pair in (
            pairs_of(weighed.problem, weighed.changes, talk_s=weighed.talk_s)
            if any("+" in key for key in found)
            else ()
        )
        if pair.key in found
    ]
    going = asked is not None and is_going_on(asked, now)
    whole = all(change.key in found for change in weighed.asked)
    return WhatIfPage(
        id=rotation.id,
        name=rotation.name,
        section=section,
        has_plan=True,
        is_stale=False,
        before=_before_words(weighed, before, clock),
        changes=[change.words for change in weighed.changes],
        better=_better(weighed.before, before, clock),
        summary=_summary(ranked, before, found) if asked is not None and not going and found else "",
        progress=_progress(weighed, asked, found, now),
        is_going_on=going,
        may_ask=not going and not whole,
        lines=[] if asked is None else [_line(one, before, found.get(one.key), clock) for one in ranked],
        pairs=[_line(pair, before, found[pair.key], clock) for pair in pairs],
    )
