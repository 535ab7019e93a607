"""What the pages of plates left to dry show, and their slips on paper."""

from collections.abc import Mapping, Sequence
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
    list_racks,
    list_runs_with_slip,
    list_slips,
    list_slips_left,
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
        self._runs: Mapping[int, Run] = {run.id: run for run in list_runs_with_slip(session)}
        self._codes = list_group_codes(session)
        self._racks = {place.id: place.name for place in list_places(session)}

    def code(self, run: Run) -> str:
        return self._codes[run.group_id]

    def line(self, slip: ClaimSlip) -> SlipLine:
        run = self._runs[slip.run_id]
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
            self.code(run),
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
    lines, slips = _Lines(session, now, zone), list_slips(session)
    with_slip = {slip.run_id for slip in slips}
    gone = sorted(
        (slip for slip in slips if slip.handed_out_at is not None),
        key=lambda slip: (slip.handed_out_at, slip.id),
        reverse=True,
    )
    racks = list_racks(session)
    return ClaimsPage(
        waiting=[lines.line(slip) for slip in list_slips_left(session)],
        handed_out=[lines.line(slip) for slip in gone[:HANDED_OUT_SHOWN]],
        has_rack=bool(racks),
        several_racks=len(racks) > 1,
        runs=[
            (run.id, f"run {run.number}, {lines.code(run)}")
            for run in list_waiting(session)
            if run.id not in with_slip
        ],
        slots=slot_tiles(session),
        form=form or Submitted(),
        fault="" if ticked is None else ticked.error("slip_ids"),
    )


def slips_page(session: LabSession, now: datetime, zone: str) -> SlipsPage:
    lines = _Lines(session, now, zone)
    return SlipsPage(
        lab=get_lab(session).name,
        several_racks=len(list_racks(session)) > 1,
        slips=[lines.line(slip) for slip in list_slips_left(session)],
    )
