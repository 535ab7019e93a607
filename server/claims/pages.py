"""What the pages of plates left to dry show, and their slips on paper."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from server.claims.forms import HandedOut, LeftToDry
from server.core.moments import day_at, day_words, moment_words
from server.core.rack import slot_name
from server.data.session import LabSession
from server.people.queries import get_lab, list_group_codes
from server.runs.models import ClaimSlip, Run
from server.runs.pages import Tile, slot_tiles
from server.runs.queries import (
    is_verdict_due,
    list_handed_out,
    list_rack_names,
    list_racks,
    list_runs_left,
    list_waiting,
)
from server.stations.queries import list_places
from server.web.submitted import Submitted

# What was handed out lately can still be put back.
HANDED_OUT_SHOWN = 12


@dataclass(frozen=True)
class SlipLine:
    """A plate in a slot, or one that was there. `code` is its group's, never a name."""

    id: int
    run_id: int
    slot: str
    rack: str
    code: str
    run: str
    day: str
    left: str
    verdict: str
    state: str
    handed_out: str


@dataclass(frozen=True)
class ClaimsPage:
    """Plates that nobody claimed yet, and those handed out last."""

    waiting: Sequence[SlipLine]
    handed_out: Sequence[SlipLine]
    has_rack: bool
    several_racks: bool
    runs: Sequence[tuple[int, str]]
    slots: Sequence[Tile]
    form: Submitted[LeftToDry]
    fault: str


@dataclass(frozen=True)
class SlipsPage:
    """Slips to print, cut and hand to those whose plates stand in the rack."""

    lab: str
    several_racks: bool
    slips: Sequence[SlipLine]


class _Lines:
    """Draws lines of slips, each with what the lab knows of its run."""

    def __init__(self, session: LabSession, now: datetime, zone: str) -> None:
        self._now, self._zone = now, zone
        self._codes = list_group_codes(session)
        self._racks = {place.id: place.name for place in list_places(session)}

    def choice(self, run: Run, slip: ClaimSlip | None) -> str:
        """A run to leave in a slot, or to move from the one it has."""
        now = "" if slip is None else f", now in {slot_name(slip.slot)} of {self._racks[slip.place_id]}"
        return f"run {run.number}, {self._codes[run.group_id]}{now}"

    def line(self, slip: ClaimSlip, run: Run) -> SlipLine:
        verdict, state = (
            ("no verdict needed", "plain") if not run.awaits_verdict else ("verdict waits", "plain")
        )
        if run.verdict is not None:
            verdict, state = f"rated {run.verdict}", "well"
        elif is_verdict_due(run, self._now, self._zone):
            verdict, state = "verdict due", "watch"
        handed_out = "" if slip.handed_out_at is None else moment_words(slip.handed_out_at, self._zone)
        return SlipLine(
            slip.id,
            run.id,
            slot_name(slip.slot),
            self._racks[slip.place_id],
            self._codes[run.group_id],
            f"run {run.number}",
            day_words(day_at(slip.left_at, self._zone)),
            moment_words(slip.left_at, self._zone),
            verdict,
            state,
            f"{handed_out} by {slip.handed_out_by}" if handed_out else "",
        )


def claims_page(
    session: LabSession,
    now: datetime,
    zone: str,
    form: Submitted[LeftToDry] | None = None,
    ticked: Submitted[HandedOut] | None = None,
) -> ClaimsPage:
    lines, left = _Lines(session, now, zone), list_runs_left(session)
    in_slot, waiting = {run.id: slip for slip, run in left}, list_waiting(session)
    others = {run.id for run in waiting}
    return ClaimsPage(
        waiting=[lines.line(slip, run) for slip, run in left],
        handed_out=[lines.line(slip, run) for slip, run in list_handed_out(session, HANDED_OUT_SHOWN)],
        has_rack=bool(list_racks(session)),
        several_racks=_has_several_racks(session),
        runs=[
            (run.id, lines.choice(run, in_slot.get(run.id)))
            for run in [*waiting, *(run for _slip, run in left if run.id not in others)]
        ],
        slots=slot_tiles(session),
        form=form or Submitted(),
        fault="" if ticked is None else ticked.error("slip_ids"),
    )


def slips_page(session: LabSession, now: datetime, zone: str) -> SlipsPage:
    lines = _Lines(session, now, zone)
    return SlipsPage(
        lab=get_lab(session).name,
        several_racks=_has_several_racks(session),
        slips=[lines.line(slip, run) for slip, run in list_runs_left(session)],
    )


def _has_several_racks(session: LabSession) -> bool:
    """One that is out of order may still hold plates."""
    return len(list_rack_names(session)) > 1
