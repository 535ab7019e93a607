"""What request sheets show: the lab's particulars, what is told of each container, and the sheet itself."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from server.containers.pages import started_words
from server.containers.queries import list_stream_groups
from server.core.compatibility import Waste
from server.core.moments import day_at, day_words, moment_words
from server.core.reactivity_chart import WORDS, Group
from server.core.sheet_quantity import How, NoQuantity
from server.core.units import celsius_words, mass_words, ph_words, volume_words
from server.core.waste_composition import composition_text
from server.core.waste_rules.rule import Key
from server.core.waste_rules.shipping import (
    Basis,
    ManifestQuantity,
    ManifestUnit,
    manifest_quantity,
)
from server.data.session import LabSession
from server.pickups.models import PhysicalState, Pickup, Vessel
from server.pickups.pages import other_words, share_words
from server.pickups.queries import (
    Listed,
    get_listed,
    get_pickup,
    list_listed,
    share_of,
)
from server.rules.queries import find_rules
from server.sheets.forms import LabParticulars, Told
from server.sheets.models import Particulars
from server.sheets.queries import Known, Near, composition_known, find_particulars, list_near
from server.shelves.queries import list_other_waste
from server.waste_labels.pages import contents_words
from server.web.submitted import Submitted

VESSELS = [(one.value, one.value) for one in Vessel]
STATES = [(one.value, one.value) for one in PhysicalState]


@dataclass(frozen=True)
class ParticularsPage:
    kept: Particulars
    form: Submitted[LabParticulars]


@dataclass(frozen=True)
class ToldPage:
    """What is told of one container on a sheet. `proposed` is its composition by the batches that went into it, where all of them are known."""

    pickup_id: int
    container_id: int
    day: str
    name: str
    stream: str
    ledger: str
    size: str
    proposed: str
    known: str
    groups: str
    before: Mapping[str, object]
    vessels: Sequence[tuple[str, str]]
    states: Sequence[tuple[str, str]]
    is_over: bool
    form: Submitted[Told]


@dataclass(frozen=True)
class SheetEntry:
    """One container as the paper shows it. Empty texts are blanks to be filled in by hand."""

    container_id: int
    number: int
    name: str
    stream: str
    vessel: str
    size: str
    contents: str
    composition: Sequence[str]
    physical_state: str
    hazards: str
    groups: str
    ph: str
    started: str
    full: str
    whole_litres: str
    whole_kilograms: str
    volume: str
    net: str
    tare: str
    gross: str
    working: str
    differs: str
    near: Sequence[str]
    handling: str


@dataclass(frozen=True)
class StreamTotal:
    """A stream of the sheet: how many containers of which kinds, and their sum, added up before it is rounded."""

    stream: str
    containers: str
    whole_litres: str
    whole_kilograms: str
    exact: str


@dataclass(frozen=True)
class SheetPage:
    pickup_id: int
    lab: str
    particulars: Particulars
    day: str
    request_by: str
    requested: str
    note: str
    is_over: bool
    entries: Sequence[SheetEntry]
    totals: Sequence[StreamTotal]
    share: str
    others: Sequence[str]
    missing: Sequence[tuple[str, str]]
    on_leaving: Sequence[str]
    on_leaving_source: str


def particulars_page(session: LabSession, form: Submitted[LabParticulars] | None = None) -> ParticularsPage:
    return ParticularsPage(find_particulars(session), form or Submitted())


def judged_told(
    session: LabSession, pickup_id: int, container_id: int, form: Submitted[Told]
) -> Submitted[Told]:
    """The form, with a sentence beside a quantity that can't be."""
    if form.clean is None:
        return form
    kept = form.clean.kept()
    found = get_listed(session, pickup_id, container_id).measured(
        read_ul=kept["read_ul"], gross_mg=kept["gross_mg"], tare_mg=kept["tare_mg"]
    )
    return form.refused(found.field, found.reason) if isinstance(found, NoQuantity) else form


def _known_words(known: Known) -> str:
    if not known.poured_ul:
        return "Nothing was poured into it by its ledger."
    if known.parts:
        return (
            "All of it came from batches whose recipes are known. This is what they held as mixed; what reacted in use and what plates gave "
            "off, silver above all, is not in it."
        )
    if known.known_ul:
        return (
            f"{volume_words(known.known_ul)} of {volume_words(known.poured_ul)} came from batches whose recipes are known; of the rest nobody "
            "said what it holds. Write what you know, in shares of the whole."
        )
    return (
        "No batch with a known recipe went into it, so nothing can be proposed. Write what you know, in shares of the whole; for a rinse "
        "that is water and traces of what it rinsed. Never guess that there is nothing in it."
    )


def _groups_words(session: LabSession, stream_id: int) -> str:
    groups = [WORDS[Group(row.reactivity)].name for row in list_stream_groups(session, stream_id)]
    return ", ".join(groups)


def told_page(
    session: LabSession, pickup_id: int, container_id: int, form: Submitted[Told] | None = None
) -> ToldPage:
    listed = get_listed(session, pickup_id, container_id)
    line, container, stream = listed.line, listed.container, listed.stream
    known = composition_known(session, container, stream)
    proposed = composition_text(known.parts)
    tare = container.tare_mg if line.tare_mg is None else line.tare_mg
    return ToldPage(
        pickup_id=pickup_id,
        container_id=container_id,
        day=day_words(listed.pickup.on_day),
        name=container.name,
        stream=stream.name,
        ledger=f"{volume_words(container.held_ul)}, {mass_words(container.held_mg)}",
        size=volume_words(container.size_ul),
        proposed=proposed,
        known=_known_words(known),
        groups=_groups_words(session, stream.id),
        before={
            "vessel": line.vessel,
            "contents": line.contents or contents_words(stream),
            "composition": line.composition or ("" if line.described_at else proposed),
            "physical_state": line.physical_state,
            "ph": "" if line.ph_hundredths is None else ph_words(line.ph_hundredths).removeprefix("pH "),
            "ph_temperature": ""
            if line.temperature_decicelsius is None
            else celsius_words(line.temperature_decicelsius).removesuffix(" °C"),
            "read": "" if line.read_ul is None else volume_words(line.read_ul),
            "gross": "" if line.gross_mg is None else mass_words(line.gross_mg),
            "tare": "" if tare is None else mass_words(tare),
            "handling": line.handling,
        },
        vessels=VESSELS,
        states=STATES,
        is_over=listed.pickup.is_over,
        form=form or Submitted(),
    )


def _whole(amount: int, unit: ManifestUnit) -> str:
    """The amount in whole units as a manifest takes it; less than half of one is told as it is, for the office to decide."""
    found = manifest_quantity(amount=amount, unit=unit, basis=Basis.MEASURED)
    symbol = {ManifestUnit.LITRES: "L", ManifestUnit.KILOGRAMS: "kg"}[unit]
    return f"{found.number} {symbol}" if isinstance(found, ManifestQuantity) else f"under 1 {symbol}"


def _near_words(near: Near) -> str:
    names = ", ".join(f"“{one.name}”" for one in near.containers)
    return f"{near.stream.name} ({names}): {near.met.words}"


def _entry(session: LabSession, number: int, one: Listed, wastes: dict[int, Waste], zone: str) -> SheetEntry:
    line, container, stream, quantity = one.line, one.container, one.stream, one.quantity
    ph = ""
    if line.ph_hundredths is not None:
        ph = f"{ph_words(line.ph_hundredths)} at {celsius_words(line.temperature_decicelsius or 0)}"
    working = f"{quantity.how}: {quantity.working}"
    if quantity.how is How.LEDGER and container.estimated_ul:
        working += f"; of what came in {volume_words(container.estimated_ul)} were estimated"
    return SheetEntry(
        container_id=container.id,
        number=number,
        name=container.name,
        stream=stream.name,
        vessel=line.vessel,
        size=volume_words(container.size_ul),
        contents=line.contents or contents_words(stream),
        composition=line.composition.splitlines(),
        physical_state=line.physical_state,
        hazards=stream.hazards,
        groups=_groups_words(session, stream.id),
        ph=ph,
        started=started_words(container, zone),
        full="" if container.full_at is None else day_words(day_at(container.full_at, zone)),
        whole_litres=_whole(quantity.volume_ul, ManifestUnit.LITRES),
        whole_kilograms=_whole(quantity.net_mg, ManifestUnit.KILOGRAMS),
        volume=volume_words(quantity.volume_ul),
        net=mass_words(quantity.net_mg),
        tare="" if quantity.tare_mg is None else mass_words(quantity.tare_mg),
        gross="" if quantity.gross_mg is None else mass_words(quantity.gross_mg),
        working=working,
        differs=quantity.differs,
        near=[_near_words(near) for near in list_near(session, container, wastes)],
        handling=line.handling,
    )


def _totals(listed: Sequence[Listed]) -> Sequence[StreamTotal]:
    by_stream: dict[str, list[Listed]] = {}
    for one in listed:
        by_stream.setdefault(one.stream.name, []).append(one)
    totals = []
    for stream, own in by_stream.items():
        kinds: dict[str, int] = {}
        for one in own:
            kind = one.line.vessel or "container, kind not said"
            kinds[kind] = kinds.get(kind, 0) + 1
        volume = sum(one.quantity.volume_ul for one in own)
        mass = sum(one.quantity.net_mg for one in own)
        totals.append(
            StreamTotal(
                stream,
                ", ".join(f"{number} × {kind}" for kind, number in kinds.items()),
                _whole(volume, ManifestUnit.LITRES),
                _whole(mass, ManifestUnit.KILOGRAMS),
                f"{volume_words(volume)}, {mass_words(mass)}",
            )
        )
    return totals


_ASKED_OF_THE_LAB = {
    "generator": "the name of the site",
    "address": "its address",
    "phone": "a phone number",
    "emergency_phone": "an emergency phone number",
}


def _missing(pickup: Pickup, particulars: Particulars, listed: Sequence[Listed]) -> Sequence[tuple[str, str]]:
    """What the paper still has blanks for, with where it is written down."""
    blanks = [words for name, words in _ASKED_OF_THE_LAB.items() if not getattr(particulars, name)]
    found = [(f"Of the lab: {', '.join(blanks)}", "/waste/pickups/particulars")] if blanks else []
    for one in listed:
        line = one.line
        asked = (
            (line.composition, "what it is made of"),
            (line.vessel, "what kind of container"),
            (one.stream.hazards, "the hazards of its stream"),
        )
        lacks = [words for value, words in asked if not value]
        if lacks:
            address = f"/waste/pickups/{pickup.id}/containers/{one.container.id}"
            found.append((f"Of “{one.container.name}”: {', '.join(lacks)}", address))
    return found


def sheet_page(session: LabSession, pickup_id: int, *, now: datetime, zone: str, lab: str) -> SheetPage:
    """The request sheet; once it was handed over, of what was taken."""
    pickup = get_pickup(session, pickup_id)
    listed = list_listed(session, [pickup_id])
    if pickup.done_at is not None:
        listed = [one for one in listed if one.is_taken]
    particulars = find_particulars(session)
    others = [] if pickup.is_over else list_other_waste(session)
    wastes: dict[int, Waste] = {}
    leaving = find_rules(session, day_at(now, zone)).book.find(Key.SHIPPING)
    return SheetPage(
        pickup_id=pickup.id,
        lab=lab,
        particulars=particulars,
        day=day_words(pickup.on_day),
        request_by=moment_words(pickup.request_by, zone),
        requested=""
        if pickup.requested_at is None
        else f"{moment_words(pickup.requested_at, zone)}, by {pickup.requested_by}",
        note=pickup.note,
        is_over=pickup.is_over,
        entries=[_entry(session, number, one, wastes, zone) for number, one in enumerate(listed, start=1)],
        totals=_totals(listed),
        share="" if pickup.is_over else share_words(pickup, share_of(pickup, listed, others)),
        others=[other_words(one) for one in others],
        missing=[] if pickup.is_over else _missing(pickup, particulars, listed),
        on_leaving=leaving.lines,
        on_leaving_source=f"{leaving.says} ({leaving.edition}; {leaving.source})",
    )
