"""What the trays' pages show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from server.charges.forms import NewCharge, PlatesAllowed, PouredEarly, ToppingUp
from server.charges.models import SOLUTION_IN, EarlyPouring
from server.charges.queries import (
    Override,
    PlateSize,
    TrayCharge,
    find_developer_charge,
    find_early_pouring,
    find_size_at_hand,
    get_tray_charge,
    list_charges,
    list_emptied,
    state_of_charge,
)
from server.chemistry.models import Batch, UsualQuantities
from server.chemistry.pages import Ending, ending_of
from server.chemistry.queries import get_usual_quantities, list_live_batches, usable_until
from server.core.moments import clock_at, day_at, moment_words
from server.core.units import area_words, plates_words, size_words, volume_words
from server.core.working_solution import ChargeState, plates_within
from server.data.session import LabSession
from server.people.access import Signed
from server.people.models import Role
from server.stations.queries import list_trays
from server.web.submitted import Submitted

LAST_EMPTIED = 20


Options = Sequence[tuple[int, str]]


@dataclass(frozen=True)
class PartLine:
    """One pouring: `rules` is set for the part whose life the whole charge has."""

    batch_id: int
    batch: str
    volume: str
    poured: str
    ends: str
    rules: bool


@dataclass(frozen=True)
class ChargeLine:
    """`kind` is the shape of the state: well or stop. `ends_with` says which limit is the next to end it."""

    id: int
    tray: str
    batches: str
    solution: str
    volume: str
    plates: str
    area: str
    room: str
    size: str
    ending: Ending
    kind: str
    state: str
    parts: Sequence[PartLine]
    overrides: Sequence[str]
    why: Sequence[str]
    emptied: str


@dataclass(frozen=True)
class TrayLine:
    """A tray for a solution, and what stands in it."""

    place_id: int
    name: str
    solution: str
    charge: ChargeLine | None


@dataclass(frozen=True)
class TraysPage:
    """`next_ending` is the developer charge to use now that ends first; `tray` was chosen beforehand.

    `standing` are sentences about batches that stand still after mixing; `allowable` are those that may be let poured sooner.
    """

    next_ending: ChargeLine | None
    trays: Sequence[TrayLine]
    emptied: Sequence[ChargeLine]
    pourable: Options
    empty_trays: Options
    tray: str
    developer_charge: str
    standing: Sequence[str]
    allowable: Options
    form: Submitted[NewCharge]
    early_form: Submitted[PouredEarly]


@dataclass(frozen=True)
class ChargePage:
    charge: ChargeLine
    is_in_tray: bool
    is_usable: bool
    may_allow: bool
    after_parts: int
    pourable: Options
    size: str
    top_up_form: Submitted[ToppingUp]
    allow_form: Submitted[PlatesAllowed]


_STATES = {
    ChargeState.USABLE: ("well", "usable"),
    ChargeState.PAST_ITS_LIFE: ("stop", "past its life"),
    ChargeState.FAILED: ("stop", "failed its check"),
    ChargeState.USED_UP: ("stop", "used up"),
}


def _why(found: TrayCharge, usual: UsualQuantities, size: PlateSize, zone: str) -> Sequence[str]:
    charge = found.charge
    source = "these figures are assumed" if usual.assumed else "these figures are the lab's own"
    first = found.first_ending
    lines = [
        (
            f"It ends {moment_words(found.ends_at, zone)} with batch {first.batch.number}, the first of its parts to end, "
            "whenever it was poured or topped up."
        ),
        (
            f"{volume_words(charge.volume_ul)} serve {area_words(charge.area_at_most_mm2)} of plates: a charge of "
            f"{volume_words(usual.charge_ul_of(charge.solution))} now serves {usual.plates_per_charge} plates of "
            f"{size_words(usual.plate_width_um, usual.plate_height_um)}, which are "
            f"{area_words(usual.plates_per_charge * usual.plate_mm2)}, in proportion; {source}. Area counts, and not the number "
            "of plates."
        ),
        (
            f"{area_words(charge.area_mm2)} went through, so there is room for {area_words(max(0, charge.room_mm2))}; "
            f"a plate {size.whose} has {area_words(size.area_mm2)}."
        ),
    ]
    if charge.allowed_mm2:
        lines.append(f"An instructor allowed {area_words(charge.allowed_mm2)} beyond its capacity.")
    return [*lines, "Whichever ends first ends the charge."]


def _parts(found: TrayCharge, zone: str) -> Sequence[PartLine]:
    return [
        PartLine(
            part.batch.id,
            f"batch {part.batch.number}",
            volume_words(part.volume_ul),
            f"{moment_words(part.poured_at, zone)} by {part.poured_by}",
            moment_words(part.ends_at, zone),
            part is found.first_ending and any(other.batch is not part.batch for other in found.parts),
        )
        for part in found.parts
    ]


def override_words(override: Override, zone: str) -> str:
    """Who decided what, when and why, in one sentence."""
    if override.plates is not None:
        what = f"{plates_words(override.plates)} from then on, past its capacity"
    elif override.until is not None:
        what = f"batch {override.batch_number} until {moment_words(override.until, zone)}"
    else:
        what = f"batch {override.batch_number} before it had stood"
    return f"{override.by} allowed {what}, {moment_words(override.at, zone)}: {override.reason}"


def _charge_line(
    found: TrayCharge, usual: UsualQuantities, size: PlateSize, now: datetime, zone: str
) -> ChargeLine:
    charge = found.charge
    kind, state = _STATES[state_of_charge(found, now, plate_mm2=size.area_mm2)]
    room = plates_within(area_mm2=charge.room_mm2, plate_mm2=size.area_mm2)
    return ChargeLine(
        id=charge.id,
        tray=found.tray.name,
        batches=found.batches,
        solution=charge.solution,
        volume=volume_words(charge.volume_ul),
        plates=f"{plates_words(charge.plates)} through",
        area=f"{area_words(charge.area_mm2)} of {area_words(charge.area_at_most_mm2 + charge.allowed_mm2)}",
        room=f"room for {plates_words(room)}",
        size=size.words,
        ending=ending_of(found.ends_at, now, zone),
        kind=kind,
        state=state,
        parts=_parts(found, zone),
        overrides=[override_words(override, zone) for override in found.overrides],
        why=_why(found, usual, size, zone),
        emptied=moment_words(charge.emptied_at, zone) if charge.emptied_at else "",
    )


def _ends(batch: Batch, now: datetime, zone: str) -> str:
    if now < batch.ready_at:
        return f"stands until {clock_at(batch.ready_at, zone)}"
    ends_at = usable_until(batch)
    same_day = day_at(ends_at, zone) == day_at(now, zone)
    return f"ends {clock_at(ends_at, zone) if same_day else moment_words(ends_at, zone)}"


def _pourable(session: LabSession, now: datetime, zone: str, solution: str = "") -> Options:
    """The batches that may be poured now, of one solution or of each that a tray takes."""
    return [
        (
            batch.id,
            f"batch {batch.number}, {batch.solution}, {volume_words(batch.left_ul)} left, {_ends(batch, now, zone)}",
        )
        for batch in list_live_batches(session, now)
        if batch.solution in ({solution} if solution else SOLUTION_IN.values())
    ]


def _standing_batches(session: LabSession, now: datetime) -> Sequence[tuple[Batch, EarlyPouring | None]]:
    """The batches that still stand still after mixing, each with an instructor's leave to pour it sooner."""
    return [
        (batch, find_early_pouring(session, batch.id))
        for batch in list_live_batches(session, now)
        if batch.solution in SOLUTION_IN.values() and now < batch.ready_at
    ]


def _standing_words(batch: Batch, early: EarlyPouring | None, zone: str) -> str:
    words = (
        f"Batch {batch.number} stands still until {moment_words(batch.ready_at, zone)}, as its recipe says."
    )
    return f"{words} {early.allowed_by} allowed to pour it sooner: {early.reason}" if early else words


def trays_page(
    session: LabSession,
    signed: Signed,
    now: datetime,
    form: Submitted[NewCharge] | None = None,
    place_id: int | None = None,
    early_form: Submitted[PouredEarly] | None = None,
) -> TraysPage:
    zone = signed.time_zone
    size, usual = find_size_at_hand(session), get_usual_quantities(session)
    standing = {found.tray.id: _charge_line(found, usual, size, now, zone) for found in list_charges(session)}
    trays = [
        TrayLine(place.id, place.name, solution, standing.get(place.id))
        for bath, solution in SOLUTION_IN.items()
        for place in list_trays(session, bath)
    ]
    first, unstood = find_developer_charge(session, now), _standing_batches(session, now)
    return TraysPage(
        next_ending=None if first is None else standing[first.tray.id],
        trays=trays,
        emptied=[
            _charge_line(found, usual, size, now, zone) for found in list_emptied(session, LAST_EMPTIED)
        ],
        pourable=_pourable(session, now, zone),
        empty_trays=[(tray.place_id, tray.name) for tray in trays if tray.charge is None],
        tray="" if place_id is None else str(place_id),
        developer_charge=volume_words(usual.developer_charge_ul),
        standing=[_standing_words(batch, early, zone) for batch, early in unstood],
        allowable=[
            (batch.id, f"batch {batch.number}, {batch.solution}")
            for batch, early in unstood
            if early is None and signed.role is Role.INSTRUCTOR
        ],
        form=form or Submitted(),
        early_form=early_form or Submitted(),
    )


def charge_page(
    session: LabSession,
    charge_id: int,
    signed: Signed,
    now: datetime,
    top_up_form: Submitted[ToppingUp] | None = None,
    allow_form: Submitted[PlatesAllowed] | None = None,
) -> ChargePage:
    found, size = get_tray_charge(session, charge_id), find_size_at_hand(session)
    return ChargePage(
        charge=_charge_line(found, get_usual_quantities(session), size, now, signed.time_zone),
        is_in_tray=found.charge.emptied_at is None,
        is_usable=state_of_charge(found, now, plate_mm2=size.area_mm2) is ChargeState.USABLE,
        may_allow=signed.role is Role.INSTRUCTOR and now < found.ends_at,
        after_parts=len(found.parts),
        pourable=_pourable(session, now, signed.time_zone, found.charge.solution),
        size=f"{size.words}, {size.whose}",
        top_up_form=top_up_form or Submitted(),
        allow_form=allow_form or Submitted(),
    )
