"""What the safety pages show: the usual cautions, the checks and when they were done."""

import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from server.containers.models import WasteContainer
from server.containers.pages import fill_words
from server.containers.queries import get_container, list_streams
from server.core.container_life import ContainerState
from server.core.moments import day_at, day_words, moment_words, stamp
from server.core.table_file import write_table
from server.core.units import duration_words
from server.data.session import LabSession
from server.safety.forms import ContainerLook, EyewashRound, NewRound, PutRight, ShelfRound
from server.safety.models import SafetyCheck, SafetyRound, ShelfFinding, ShelfPoint, WaterFelt
from server.safety.queries import (
    LATEST,
    CheckState,
    Found,
    list_checks,
    list_findings,
    list_looks_at,
    list_on_shelf,
    list_open_findings,
    list_rounds,
)
from server.web.submitted import Submitted

# More rounds than a lab keeps in a lifetime, for the file that holds them all.
EVERY = 1_000_000

CHECK_NAMES = {
    SafetyCheck.EYEWASH: "Eyewash",
    SafetyCheck.WASTE_SHELF: "Waste shelf",
    SafetyCheck.SAFELIGHTS: "Safelights",
    SafetyCheck.LASERS: "Lasers",
    SafetyCheck.DARK_ROOM: "Dark room",
}

# Checks with a form of their own.
ADDRESSES = {SafetyCheck.EYEWASH: "/safety/eyewash", SafetyCheck.WASTE_SHELF: "/safety/shelf"}

LOOK_AT = {
    SafetyCheck.EYEWASH: (
        "Both jets run clear and at the same height",
        "The way to it is free and can be walked in the dark within ten seconds",
        "The water is neither cold nor hot",
    ),
    SafetyCheck.WASTE_SHELF: (
        "Every container that stands there is on the list, and every one on the list stands there",
        "The trays below them are dry and hold what the largest would spill",
        "The spill kit is beside them; nothing else stands in the way",
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


# Each point of a waste container: its name, its field, and what is looked at.
POINTS = (
    (ShelfPoint.CLOSED, "Lid", "closed", "shut; no funnel left in the neck"),
    (ShelfPoint.LABEL, "Label", "label", "whole and readable: what is in it, the hazard, the start date"),
    (ShelfPoint.LEAK, "Leak", "leak", "none; dry outside, no bulge, no crust"),
    (ShelfPoint.UPRIGHT, "Tray", "upright", "upright, in its spill tray"),
    (ShelfPoint.LINE, "Level", "fill_line", "not above its fill line"),
    (ShelfPoint.APART, "Neighbours", "apart", "streams that must not meet stand apart"),
)
POINT_NAMES = {point: name for point, name, _field, _look in POINTS}
WATER = {
    WaterFelt.TEPID: "tepid, as it should be (16 to 38 °C)",
    WaterFelt.COLD: "cold",
    WaterFelt.HOT: "hot",
}
EYEWASH_RULES = (
    "Run it weekly: common practice, and what summaries of ANSI/ISEA Z358.1 say. The standard itself was not read.",
    "Tepid is 16 to 38 °C (60 to 100 °F): the same summaries. Nobody holds an eye into cold or hot water for fifteen minutes.",
    "It gives at least 1.5 L a minute for fifteen minutes and is reached within ten seconds, on the same level: the same summaries.",
    "Where eyes may meet what is corrosive, quick drenching is a duty in the United States: 29 CFR 1910.151(c).",
)


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
    """`state` is one of the words of the state classes (well, watch, stop, plain), `words` what it says; `address` records it."""

    name: str
    state: str
    words: str
    last: str
    found: str
    due: str
    why: str
    address: str


@dataclass(frozen=True)
class FindingLine:
    id: int
    container: str
    container_id: int
    what: str
    when: str
    put_right: str


@dataclass(frozen=True)
class RoundLine:
    """`told` is what was measured, `looked` names the containers that were looked at."""

    name: str
    when: str
    by: str
    in_order: bool
    found: str
    told: str
    looked: str
    findings: Sequence[FindingLine]


@dataclass(frozen=True)
class SafetyPage:
    cautions: Sequence[Topic]
    checks: Sequence[CheckLine]
    open_findings: Sequence[FindingLine]
    finding_options: Sequence[tuple[int, str]]
    rounds: Sequence[RoundLine]
    kinds: Sequence[tuple[str, str]]
    form: Submitted[NewRound]
    right_form: Submitted[PutRight]


@dataclass(frozen=True)
class EyewashPage:
    look_at: Sequence[str]
    water: Sequence[tuple[str, str]]
    rules: Sequence[str]
    tablet_id: str
    form: Submitted[EyewashRound]


@dataclass(frozen=True)
class ShelfLine:
    """One container as it is looked at. `watch` is what the program knows already that wants a look; `open` its findings not yet put right."""

    id: int
    name: str
    stream: str
    fill: str
    state: str
    watch: str
    open: Sequence[str]
    form: Submitted[ContainerLook]


@dataclass(frozen=True)
class ShelfPage:
    """`points` is (name, field, what to look at)."""

    lines: Sequence[ShelfLine]
    points: Sequence[tuple[str, str, str]]
    look_at: Sequence[str]
    tablet_id: str
    form: Submitted[ShelfRound]


@dataclass(frozen=True)
class ChecklistPage:
    """`look_at` is (name of the check, what to look at); `containers` have a box for each of the `points`."""

    lab_name: str
    day: str
    look_at: Sequence[tuple[str, Sequence[str]]]
    containers: Sequence[str]
    points: Sequence[tuple[str, str]]


@dataclass(frozen=True)
class LooksPage:
    """The rounds in which one container was looked at."""

    container_id: int
    container: str
    rounds: Sequence[RoundLine]


@dataclass(frozen=True)
class HistoryPage:
    """`older` is the round before which the next page begins, None on the last one."""

    lab_name: str
    rounds: Sequence[RoundLine]
    is_latest: bool
    older: int | None


def _days_words(time: timedelta) -> str:
    days = time.days
    if days == 0:
        return "less than a day"
    return "1 day" if days == 1 else f"{days} days"


def _state_of(check: CheckState, now: datetime) -> tuple[str, str]:
    """The shape class and the words; what was found comes before what is due."""
    latest = check.latest
    if check.still_open:
        findings = "1 finding" if check.still_open == 1 else f"{check.still_open} findings"
        return "stop", f"{findings} not put right"
    if latest is None:
        return "watch", "never recorded"
    # What was found of containers is put right one by one; of the other checks only a later round can say so.
    if not latest.in_order and check.check is not SafetyCheck.WASTE_SHELF:
        return "stop", "not in order"
    if check.due_at is not None and check.is_due(now):
        return "watch", f"due for {_days_words(now - check.due_at)}"
    return "well", "in order" if latest.in_order else "put right"


def _check_line(check: CheckState, found: str, now: datetime, zone: str) -> CheckLine:
    name = CHECK_NAMES[check.check]
    why = "No interval is set: look before every class." if check.interval is None else check.interval.source
    due = "before every class" if check.interval is None else "now"
    state, words = _state_of(check, now)
    if check.due_at is not None and not check.is_due(now):
        due = day_words(day_at(check.due_at, zone))
    latest = check.latest
    last = "never"
    if latest is not None:
        last = (
            f"{moment_words(latest.done_at, zone)}, {_days_words(now - latest.done_at)} ago, {latest.done_by}"
        )
    return CheckLine(name, state, words, last, found, due, why, ADDRESSES.get(check.check, ""))


def words_of(finding: ShelfFinding) -> str:
    """Such as `Label: torn`."""
    return f"{POINT_NAMES[ShelfPoint(finding.point)]}: {finding.found}"


def _finding_line(found: Found, zone: str) -> FindingLine:
    finding = found.finding
    put_right = ""
    if finding.put_right_at is not None:
        when = moment_words(finding.put_right_at, zone)
        put_right = f"put right {when}, {finding.put_right_by}: {finding.put_right_how}"
    return FindingLine(
        id=finding.id,
        container=found.container.name,
        container_id=found.container.id,
        what=words_of(finding),
        when=f"{moment_words(found.round.done_at, zone)}, {found.round.done_by}",
        put_right=put_right,
    )


def _told(each: SafetyRound) -> str:
    if each.ran_s is None or each.water_felt is None:
        return ""
    return f"ran {duration_words(each.ran_s)}, water {each.water_felt}"


def _round_lines(session: LabSession, rounds: Sequence[SafetyRound], zone: str) -> Sequence[RoundLine]:
    if not rounds:
        return []
    of_round: dict[int, list[Found]] = {each.id: [] for each in rounds}
    for found in list_findings(session, first_round=rounds[-1].id, last_round=rounds[0].id):
        of_round[found.round.id].append(found)
    return [_round_line(each, of_round[each.id], zone) for each in rounds]


def _round_line(each: SafetyRound, looked: Sequence[Found], zone: str) -> RoundLine:
    return RoundLine(
        name=CHECK_NAMES[SafetyCheck(each.check_kind)],
        when=moment_words(each.done_at, zone),
        by=each.done_by,
        in_order=each.in_order,
        found=each.found,
        told=_told(each),
        looked=", ".join(dict.fromkeys(found.container.name for found in looked)),
        findings=[_finding_line(found, zone) for found in looked if found.finding.found],
    )


def _found_words(line: RoundLine) -> str:
    """What a round says, in one line."""
    findings = [f"{finding.container}, {finding.what}" for finding in line.findings]
    return "; ".join(filter(None, (line.told, *findings, line.found)))


def _check_lines(session: LabSession, now: datetime, zone: str) -> Iterator[CheckLine]:
    for check in list_checks(session, day_at(now, zone)):
        lines = _round_lines(session, [check.latest], zone) if check.latest else ()
        yield _check_line(check, _found_words(lines[0]) if lines else "", now, zone)


def safety_page(
    session: LabSession,
    now: datetime,
    zone: str,
    form: Submitted[NewRound] | None = None,
    right_form: Submitted[PutRight] | None = None,
) -> SafetyPage:
    findings = [_finding_line(found, zone) for found in list_open_findings(session)]
    return SafetyPage(
        cautions=CAUTIONS,
        checks=list(_check_lines(session, now, zone)),
        open_findings=findings,
        finding_options=[(line.id, f"{line.container}, {line.what}") for line in findings],
        rounds=_round_lines(session, list_rounds(session), zone),
        kinds=[(check.value, name) for check, name in CHECK_NAMES.items() if check not in ADDRESSES],
        form=form or Submitted(),
        right_form=right_form or Submitted(),
    )


def eyewash_page(form: Submitted[EyewashRound] | None = None) -> EyewashPage:
    return EyewashPage(
        look_at=LOOK_AT[SafetyCheck.EYEWASH],
        water=[(felt.value, words) for felt, words in WATER.items()],
        rules=EYEWASH_RULES,
        tablet_id=str(uuid.uuid4()),
        form=form or Submitted(),
    )


def _watch(container: WasteContainer) -> str:
    """What the ledger and the container's state say that a look should find."""
    wants = []
    if container.state == ContainerState.OPEN:
        wants.append("its lid is noted as off: shut it, or note here that it stands open")
    if container.held_ul > container.fill_line_ul:
        wants.append("by its ledger it stands above its fill line")
    if container.labelled_at is None:
        wants.append("no label was printed for it here")
    return "; ".join(wants)


def shelf_page(
    session: LabSession,
    zone: str,
    form: Submitted[ShelfRound] | None = None,
    looked: Sequence[Submitted[ContainerLook]] = (),
) -> ShelfPage:
    """Every container that stands in the lab, each with what was typed of it."""
    streams = {stream.id: stream.name for stream in list_streams(session)}
    open_findings: dict[int, list[str]] = {}
    for found in list_open_findings(session):
        line = _finding_line(found, zone)
        open_findings.setdefault(line.container_id, []).append(f"{line.what} ({line.when})")
    typed = {str(line.value("container_id")): line for line in looked}
    return ShelfPage(
        lines=[
            ShelfLine(
                id=container.id,
                name=container.name,
                stream=streams[container.stream_id],
                fill=fill_words(container),
                state=container.state,
                watch=_watch(container),
                open=open_findings.get(container.id, ()),
                form=typed.get(str(container.id), Submitted()),
            )
            for container in list_on_shelf(session)
        ],
        points=[(name, field, look) for _point, name, field, look in POINTS],
        look_at=LOOK_AT[SafetyCheck.WASTE_SHELF],
        tablet_id=str(uuid.uuid4()),
        form=form or Submitted(),
    )


def checklist_page(session: LabSession, lab_name: str, now: datetime, zone: str) -> ChecklistPage:
    return ChecklistPage(
        lab_name,
        day_words(day_at(now, zone)),
        [(CHECK_NAMES[check], LOOK_AT[check]) for check in SafetyCheck],
        [container.name for container in list_on_shelf(session)],
        [(name, look) for _point, name, _field, look in POINTS],
    )


def history_page(session: LabSession, lab_name: str, zone: str, *, before: int | None = None) -> HistoryPage:
    rounds = list_rounds(session, before=before, at_most=LATEST + 1)
    shown = rounds[:LATEST]
    return HistoryPage(
        lab_name=lab_name,
        rounds=_round_lines(session, shown, zone),
        is_latest=before is None,
        older=shown[-1].id if len(rounds) > LATEST else None,
    )


def looks_page(session: LabSession, container_id: int, zone: str) -> LooksPage:
    container = get_container(session, container_id)
    of_round: dict[int, list[Found]] = {}
    for found in list_looks_at(session, container_id):
        of_round.setdefault(found.round.id, []).append(found)
    lines = [_round_line(looks[0].round, looks, zone) for looks in of_round.values()]
    return LooksPage(container_id, container.name, lines)


ROUNDS_HEAD = (
    "round", "done", "by", "check", "in order", "note", "eyewash ran min", "water", "container", "point", "found", "put right",
    "put right by", "what was done",
)  # fmt: skip


def _row_of_round(each: SafetyRound, zone: str) -> Sequence[str]:
    return (
        str(each.id),
        stamp(each.done_at, zone),
        each.done_by,
        each.check_kind,
        "yes" if each.in_order else "no",
        each.found,
        "" if each.ran_s is None else str(each.ran_s // 60),
        each.water_felt or "",
    )


def _rows(session: LabSession, zone: str) -> Iterator[Sequence[str]]:
    """A line for each round, or for each point of each of its containers."""
    rounds = list_rounds(session, at_most=EVERY)
    of_round: dict[int, list[Found]] = {each.id: [] for each in rounds}
    if rounds:
        for found in list_findings(session, first_round=rounds[-1].id, last_round=rounds[0].id):
            of_round[found.round.id].append(found)
    for each in reversed(rounds):
        start = _row_of_round(each, zone)
        if not of_round[each.id]:
            yield (*start, *[""] * 6)
        for found in of_round[each.id]:
            one = found.finding
            yield (
                *start, found.container.name, one.point, one.found or "in order", stamp(one.put_right_at, zone),
                one.put_right_by, one.put_right_how,
            )  # fmt: skip


def rounds_table(session: LabSession, *, zone: str) -> str:
    """Every round there is, as comma-separated values, the oldest first."""
    return write_table(ROUNDS_HEAD, _rows(session, zone))
