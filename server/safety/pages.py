"""What the safety pages show: the usual cautions, the checks and when they were done."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from server.core.moments import day_at, day_words, moment_words
from server.data.session import LabSession
from server.safety.forms import NewRound
from server.safety.models import SafetyCheck
from server.safety.queries import CheckState, list_checks, list_rounds
from server.web.submitted import Submitted

ROUNDS_SHOWN = 20

CHECK_NAMES = {
    SafetyCheck.EYEWASH: "Eyewash",
    SafetyCheck.WASTE_SHELF: "Waste shelf",
    SafetyCheck.SAFELIGHTS: "Safelights",
    SafetyCheck.LASERS: "Lasers",
    SafetyCheck.DARK_ROOM: "Dark room",
}

LOOK_AT = {
    SafetyCheck.EYEWASH: (
        "Both jets run clear and at the same height",
        "The way to it is free and can be walked in the dark within ten seconds",
        "The water is neither cold nor hot",
    ),
    SafetyCheck.WASTE_SHELF: (
        "Every container is closed, upright and in its tray; no funnel is left in a neck",
        "Every label is whole: what is in it, the hazard and the start date",
        "No container is above its fill line",
        "Streams that must not meet stand apart",
    ),
    SafetyCheck.SAFELIGHTS: (
        "Lamps shine at the floor or the wall, and no filter is cracked",
        "A fog test was made since the lamp, the filter or the plate box changed",
        "Screens and indicator lamps near open plates are dimmed or covered",
    ),
    SafetyCheck.LASERS: (
        "Class labels are in place, mounts are tight, shutters close by themselves",
        "Beams run above or below the eyes of people who sit and who stand, and end at a stop",
        "Nothing shiny stands in a beam; the sign is at the door",
    ),
    SafetyCheck.DARK_ROOM: (
        "The floor is clear, bags are out, edges are marked",
        "Exit signs are not covered and the light switch can be found",
        "The dryer and everything plugged in stand away from the wet bench, behind a tested residual-current switch",
        "Gloves, goggles, spill kit and sharps bin are where they should be",
    ),
}


@dataclass(frozen=True)
class Topic:
    """Usual cautions on one hazard; `who_decides` names whose word counts more than this page."""

    name: str
    cautions: tuple[str, ...]
    who_decides: str


CAUTIONS = (
    Topic(
        "Laser",
        (
            "Never look along a beam or at its mirror image, and never point it at anyone, even spread.",
            "The unspread beam is the dangerous one: fix the laser before it is switched on, and find the beam with a card.",
            "Keep beams below or above the eyes of those who sit and those who stand; end every beam at a stop.",
            "Take off watches and rings; keep lenses, spoons and mirrors out of the beam.",
            "Close the shutter whenever anyone bends down. In the dark pupils are wide and let in more light.",
            "Goggles hide the beam and the room: wear them only where the figures for your laser call for them.",
            "Never leave a laser running alone.",
        ),
        "Your laser safety officer decides about classes, limits, goggles, signs and who may align.",
    ),
    Topic(
        "Chemicals",
        (
            "Gloves and splash goggles at the trays; no food and drink in the room.",
            "Developers are often caustic, bleaches acid or oxidising. Never pour one into the other.",
            "A bleach with dichromate is toxic and its waste is a class of its own; schools should use another.",
            "Label every beaker, water too, with what is in it and the date.",
            "Walk the way to the eyewash before the lights go out. Eyes: rinse at once, for 15 minutes, and call for help.",
            "Change a torn glove; ask beforehand about latex.",
        ),
        "The safety data sheet of each product comes first; the waste office decides what may go into which container.",
    ),
    Topic(
        "Dark",
        (
            "Nobody is in the dark alone, and a member of staff is there before the students.",
            "Clear the floor and put bags outside; keep right, walk, say “behind you” and “door”.",
            "Give the talk under safelight for at least ten minutes, so that eyes have time to see.",
            "One person holds the light switch. Anyone may call LIGHTS, and then the lights go on.",
            "Exit signs stay uncovered, even if a plate is lost to them.",
            "Ask privately about fear of the dark, epilepsy and who needs a lit job; keep the arrangement, never the reason.",
        ),
        "Local fire and building codes decide about exits, signs and how many people may be in the room.",
    ),
    Topic(
        "Glass",
        (
            "Plate edges cut: hold them by the edges, with gloves on.",
            "Broken glass goes into the sharps bin with a brush, with the lights on, never by hand.",
            "Students do not cut plates.",
        ),
        "Your site's rules decide about sharps and first aid.",
    ),
    Topic(
        "Electricity",
        (
            "Dryers and lamps stand away from water, on a residual-current switch that was tested.",
            "Dry hands before you touch a plug, a switch or a laser's supply.",
            "Never open a laser's supply: it holds its charge after the plug is out.",
        ),
        "Local electrical codes and a licensed electrician decide about sockets and supplies.",
    ),
)


@dataclass(frozen=True)
class CheckLine:
    """`state` is one of the words of the state classes (well, watch, stop, plain), `words` what it says."""

    name: str
    state: str
    words: str
    last: str
    found: str
    due: str
    why: str


@dataclass(frozen=True)
class RoundLine:
    name: str
    when: str
    by: str
    in_order: bool
    found: str


@dataclass(frozen=True)
class SafetyPage:
    cautions: Sequence[Topic]
    checks: Sequence[CheckLine]
    rounds: Sequence[RoundLine]
    kinds: Sequence[tuple[str, str]]
    form: Submitted[NewRound]


@dataclass(frozen=True)
class ChecklistPage:
    """`look_at` is (name of the check, what to look at)."""

    lab_name: str
    day: str
    look_at: Sequence[tuple[str, Sequence[str]]]


def _days_words(time: timedelta) -> str:
    days = time.days
    if days == 0:
        return "less than a day"
    return "1 day" if days == 1 else f"{days} days"


def _check_line(check: CheckState, now: datetime, zone: str) -> CheckLine:
    name = CHECK_NAMES[check.check]
    why = "No interval is set: look before every class." if check.interval is None else check.interval.source
    due = "before every class" if check.interval is None else "now"
    latest = check.latest
    if latest is None:
        return CheckLine(name, "watch", "never recorded", "never", "", due, why)
    if check.due_at is not None and not check.is_due(now):
        due = day_words(day_at(check.due_at, zone))
    if not latest.in_order:
        state, words = "stop", "not in order"
    elif check.due_at is not None and check.is_due(now):
        state, words = "watch", f"due for {_days_words(now - check.due_at)}"
    else:
        state, words = "well", "in order"
    last = f"{moment_words(latest.done_at, zone)}, {_days_words(now - latest.done_at)} ago, {latest.done_by}"
    return CheckLine(name, state, words, last, latest.found, due, why)


def safety_page(
    session: LabSession, now: datetime, zone: str, form: Submitted[NewRound] | None = None
) -> SafetyPage:
    return SafetyPage(
        cautions=CAUTIONS,
        checks=[_check_line(check, now, zone) for check in list_checks(session)],
        rounds=[
            RoundLine(
                CHECK_NAMES[SafetyCheck(each.check_kind)],
                moment_words(each.done_at, zone),
                each.done_by,
                each.in_order,
                each.found,
            )
            for each in list_rounds(session, at_most=ROUNDS_SHOWN)
        ],
        kinds=[(check.value, name) for check, name in CHECK_NAMES.items()],
        form=form or Submitted(),
    )


def checklist_page(lab_name: str, now: datetime, zone: str) -> ChecklistPage:
    return ChecklistPage(
        lab_name,
        day_words(day_at(now, zone)),
        [(CHECK_NAMES[check], LOOK_AT[check]) for check in SafetyCheck],
    )
