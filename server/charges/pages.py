"""What the trays' page shows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from server.charges.forms import NewCharge
from server.charges.models import Charge
from server.charges.queries import list_charges, list_emptied, state_of_charge
from server.chemistry.models import Batch, UsualQuantities
from server.chemistry.pages import Ending, Options, ending_of
from server.chemistry.queries import get_usual_quantities, list_live_batches
from server.core.moments import clock_at, moment_words
from server.core.units import volume_words
from server.core.working_solution import ChargeState
from server.data.session import LabSession
from server.recipes.models import Solution
from server.stations.models import Bath
from server.stations.queries import list_trays
from server.web.submitted import Submitted

LAST_EMPTIED = 20


@dataclass(frozen=True)
class ChargeLine:
    """`kind` is the shape of the state: well or stop."""

    id: int
    tray: str
    batch_id: int
    batch_number: int
    solution: str
    volume: str
    poured: str
    plates: int
    plates_at_most: int
    ending: Ending
    kind: str
    state: str
    why: str


@dataclass(frozen=True)
class EmptiedCharge:
    tray: str
    batch_id: int
    batch_number: int
    volume: str
    poured: str
    plates: int
    plates_at_most: int
    emptied: str


@dataclass(frozen=True)
class TraysPage:
    """`next_ending` is the developer charge to use now that ends first."""

    next_ending: ChargeLine | None
    charges: Sequence[ChargeLine]
    emptied: Sequence[EmptiedCharge]
    pourable: Options
    trays: Options
    developer_charge: str
    form: Submitted[NewCharge]


_STATES = {
    ChargeState.USABLE: ("well", "usable"),
    ChargeState.PAST_ITS_LIFE: ("stop", "past its life"),
    ChargeState.USED_UP: ("stop", "used up"),
}


def _charge_line(
    charge: Charge, batch: Batch, tray: str, usual: UsualQuantities, now: datetime, zone: str
) -> ChargeLine:
    kind, state = _STATES[state_of_charge(charge, batch, now)]
    source = "these figures are assumed" if usual.assumed else "these figures are the lab's own"
    usual_ul = usual.developer_charge_ul if batch.solution == Solution.DEVELOPER else usual.bleach_charge_ul
    return ChargeLine(
        id=charge.id,
        tray=tray,
        batch_id=batch.id,
        batch_number=batch.number,
        solution=batch.solution,
        volume=volume_words(charge.volume_ul),
        poured=clock_at(charge.poured_at, zone),
        plates=charge.plates,
        plates_at_most=charge.plates_at_most,
        ending=ending_of(batch.ends_at, now, zone),
        kind=kind,
        state=state,
        why=(
            f"Its life is its batch's, whenever it was poured. It takes at most {charge.plates_at_most} plates: a charge of "
            f"{volume_words(usual_ul)} now serves {usual.plates_per_charge}, in proportion; {source}. "
            "Whichever ends first ends the charge."
        ),
    )


def trays_page(
    session: LabSession, now: datetime, zone: str, form: Submitted[NewCharge] | None = None
) -> TraysPage:
    usual = get_usual_quantities(session)
    charges = list_charges(session)
    in_use = {place.id for _charge, _batch, place in charges}
    lines = [_charge_line(charge, batch, tray.name, usual, now, zone) for charge, batch, tray in charges]
    developers = [
        (batch.ends_at, charge.id, line)
        for (charge, batch, _tray), line in zip(charges, lines, strict=True)
        if batch.solution == Solution.DEVELOPER and state_of_charge(charge, batch, now) is ChargeState.USABLE
    ]
    return TraysPage(
        next_ending=min(developers)[2] if developers else None,
        charges=lines,
        emptied=[
            EmptiedCharge(
                tray.name,
                batch.id,
                batch.number,
                volume_words(charge.volume_ul),
                moment_words(charge.poured_at, zone),
                charge.plates,
                charge.plates_at_most,
                moment_words(charge.emptied_at, zone) if charge.emptied_at else "",
            )
            for charge, batch, tray in list_emptied(session, LAST_EMPTIED)
        ],
        pourable=[
            (batch.id, f"batch {batch.number}, {batch.solution}, {volume_words(batch.left_ul)} left")
            for batch in list_live_batches(session, now)
        ],
        trays=[
            (place.id, place.name)
            for bath in (Bath.DEVELOPER, Bath.BLEACH)
            for place in list_trays(session, bath)
            if place.id not in in_use
        ],
        developer_charge=volume_words(usual.developer_charge_ul),
        form=form or Submitted(),
    )
