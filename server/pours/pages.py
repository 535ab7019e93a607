"""What the pages of pours and of single entries show."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from server.chemistry.queries import get_batch
from server.containers.models import Source, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.pages import TAKES, Options, charge_options, fill_words
from server.containers.queries import (
    SOURCE_OF_SOLUTION,
    find_charge_in_tray,
    find_reversal,
    get_container,
    get_entry,
    get_stream,
    list_containers,
    list_streams,
    source_of,
)
from server.core.container_life import GONE, TAKES_MORE
from server.core.measuring import Method, was_weighed, why_off
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.recipe import Measure
from server.core.units import digits, mass_words, volume_words
from server.data.session import LabSession
from server.kits.queries import get_bottle, get_kit
from server.people.queries import list_section_names
from server.pours.forms import NewPour, NewReversal
from server.pours.queries import find_other_leg, list_recent_classes
from server.recipes.models import Solution
from server.rotations.queries import get_rotation
from server.web.submitted import Submitted

METHODS = [
    (Method.GRADUATE.value, "read off a graduate"),
    (Method.SCALE.value, "weighed on a scale"),
    (Method.ESTIMATE.value, "estimated"),
]

TURNS = [("before", "the first, before the clocks went back"), ("after", "the second, after it")]

# More digits than the id of any row has.
LONGEST_ID = 10

# Entries that nothing takes back: a reversal, and what a pickup took.
STANDS = (WasteEntryKind.CORRECTION, WasteEntryKind.COLLECTED)


@dataclass(frozen=True)
class PourPage:
    """`discards` says whose rest goes in with it, and is empty where the form leads from no batch and no bottle."""

    containers: Options
    charges: Options
    sources: Options
    streams: Options
    methods: Options
    classes: Options
    turns: Options
    prefilled: Mapping[str, object]
    discards: str
    is_bottle: bool
    form: Submitted[NewPour]


@dataclass(frozen=True)
class EntryPage:
    """One entry with everything that is known of it.

    `with_it` and `others` are words and addresses of what belongs to it; `comes_back` says that its reversal puts something into a container.
    """

    id: int
    container_id: int
    container: str
    kind: str
    when: str
    entered: str
    who: str
    typed: str
    method: str
    off: str
    change: str
    change_mass: str
    why_mass: str
    after: str
    rotation: str
    with_it: Sequence[tuple[str, str]]
    others: Sequence[tuple[str, str]]
    over_line_reason: str
    note: str
    can_be_reversed: bool
    comes_back: bool
    takes_back: str
    form: Submitted[NewReversal]


def fresh_id() -> str:
    """An id for a form: sent twice, it is one entry."""
    return str(uuid.uuid4())


def container_options(session: LabSession) -> list[tuple[int, str]]:
    """Containers that take more, with their stream and how full they are."""
    streams = {stream.id: stream.name for stream in list_streams(session)}
    return [
        (container.id, f"{container.name} ({streams[container.stream_id]}): {fill_words(container)}")
        for container in list_containers(session)
        if container.state in TAKES_MORE
    ]


def _suited(session: LabSession, source: Source | None) -> dict[str, object]:
    """The source, and the first container that takes it."""
    if source is None:
        return {}
    takes = {stream.id: stream.takes for stream in list_streams(session)}
    suited = [
        container.id
        for container in list_containers(session)
        if container.state in TAKES_MORE and takes[container.stream_id] == source
    ]
    return {"source": source.value, **({"container_id": suited[0]} if suited else {})}


def _from_container(session: LabSession, container_id: int | None) -> dict[str, object]:
    if container_id is None:
        return {}
    container = get_container(session, container_id)
    stream = get_stream(session, container.stream_id)
    of = {"of_stream_id": stream.id} if stream.takes == Source.OTHER else {}
    return {"container_id": container_id, "source": stream.takes, **of}


def _from_charge(session: LabSession, charge_id: int | None) -> dict[str, object]:
    found = None if charge_id is None else find_charge_in_tray(session, charge_id)
    if found is None:
        return {}
    volume = volume_words(found.charge.volume_ul)
    return {"charge_id": charge_id, "amount": volume, **_suited(session, source_of(found.charge))}


def _from_batch(session: LabSession, batch_id: int | None) -> tuple[dict[str, object], str]:
    """What a link from a batch fills in, and what the pour discards."""
    if batch_id is None:
        return {}, ""
    batch = get_batch(session, batch_id)
    left = volume_words(batch.left_ul)
    solution = SOURCE_OF_SOLUTION.get(Solution(batch.solution))
    filled = {"batch_id": batch_id, "amount": left, **_suited(session, solution)}
    return filled, f"the rest of batch {batch.number}, {batch.name}: {left} by its ledger"


def _from_bottle(session: LabSession, bottle_id: int | None) -> tuple[dict[str, object], str]:
    """The same for a bottle of a kit. What is weighed in it is no volume that could be poured."""
    if bottle_id is None:
        return {}, ""
    bottle = get_bottle(session, bottle_id)
    if bottle.measure != Measure.VOLUME:
        return {}, ""
    left, kit = volume_words(bottle.left), get_kit(session, bottle.kit_id).name
    filled = {"bottle_id": bottle_id, "amount": left}
    return filled, f"the rest of {bottle.substance} of kit “{kit}”: {left} by its ledger"


def _class_options(session: LabSession, now: datetime, zone: str) -> tuple[list[tuple[int, str]], object]:
    """Classes of the last week, and the one that is running or began last."""
    classes = list_recent_classes(session, now, zone)
    words = [
        (
            one.rotation_id,
            f"{one.section_name}, {one.name}, {day_words(day_at(one.starts_at, zone))}, {clock_at(one.starts_at, zone)}",
        )
        for one in classes
    ]
    return words, next((one.rotation_id for one in classes if one.starts_at <= now), "")


def _named(form: Submitted[NewPour] | None, name: str, asked: int | None) -> int | None:
    """The id of what is discarded: as the form carried it, or as the address asks for it."""
    typed = "" if form is None else str(form.value(name))
    return int(typed) if typed.isdecimal() and len(typed) < LONGEST_ID else asked


def pour_page(
    session: LabSession,
    *,
    now: datetime,
    zone: str,
    container_id: int | None = None,
    charge_id: int | None = None,
    batch_id: int | None = None,
    bottle_id: int | None = None,
    form: Submitted[NewPour] | None = None,
) -> PourPage:
    """The form, filled in by what its address or what was typed names: a container, a charge, a batch or a bottle."""
    from_batch, batch_words = _from_batch(session, _named(form, "batch_id", batch_id))
    from_bottle, bottle_words = _from_bottle(session, _named(form, "bottle_id", bottle_id))
    classes, latest = _class_options(session, now, zone)
    return PourPage(
        containers=container_options(session),
        charges=charge_options(session),
        sources=TAKES,
        streams=[(stream.id, stream.name) for stream in list_streams(session)],
        methods=METHODS,
        classes=classes,
        turns=TURNS,
        prefilled={
            "tablet_id": fresh_id(),
            "rotation_id": latest,
            **_from_container(session, container_id),
            **_from_charge(session, charge_id),
            **from_batch,
            **from_bottle,
        },
        discards=batch_words or bottle_words,
        is_bottle=bool(bottle_words),
        form=form or Submitted(),
    )


def _signed(words: str, change: int) -> str:
    return f"+{words}" if change > 0 else words


def _why_mass(entry: WasteEntry) -> str:
    """How its mass follows from what was typed, in the entry's own figures."""
    volume, mass = volume_words(abs(entry.change_ul)), mass_words(abs(entry.change_mg))
    if entry.kind == WasteEntryKind.COLLECTED:
        return f"All that was in it: {volume} and {mass}, the sums of its entries."
    if entry.kind == WasteEntryKind.CORRECTION:
        return f"{volume} and {mass}, exactly what the entry says that it reverses."
    density = f"{digits(Fraction(abs(entry.change_mg), abs(entry.change_ul)))} g/mL"
    if entry.kind == WasteEntryKind.EVAPORATION:
        return f"{volume} × {density} = {mass}: what dries up is water, and its salts stay."
    if entry.kind != WasteEntryKind.POUR:
        return (
            f"{volume} × {density} = {mass}: its share of what the container held, by that one's own entries."
        )
    if was_weighed(entry.typed):
        return f"{mass} weighed ÷ {density} = {volume}: the density of its stream when it was entered."
    return f"{volume} × {density} = {mass}: the density of its stream when it was entered."


def _with_it(session: LabSession, entry: WasteEntry) -> list[tuple[str, str]]:
    """What was emptied or discarded with a pour, and where it is looked at."""
    found = []
    if entry.charge_id is not None:
        found.append(("a charge was emptied with it", "/charges"))
    if entry.batch_id is not None:
        batch = get_batch(session, entry.batch_id)
        words = f"{volume_words(entry.discarded_ul or 0)} of batch {batch.number} were discarded with it"
        found.append((words, f"/chemistry/batches/{batch.id}"))
    if entry.bottle_id is not None:
        bottle = get_bottle(session, entry.bottle_id)
        words = f"{volume_words(entry.discarded_ul or 0)} of {bottle.substance} were discarded with it"
        found.append((words, f"/stock/kits/{bottle.kit_id}"))
    return found


def _address(entry: WasteEntry) -> str:
    return f"/waste/containers/{entry.container_id}/entries/{entry.id}"


def _others(session: LabSession, entry: WasteEntry, reversal: WasteEntry | None) -> list[tuple[str, str]]:
    """Entries that belong to this one: the other leg of a transfer, what it reverses, what reverses it."""
    found = []
    other = find_other_leg(session, entry)
    if other is not None:
        way = "went into" if entry.change_ul < 0 else "came out of"
        name = get_container(session, other.container_id).name
        found.append((f"{way} “{name}”, no. {other.id}", _address(other)))
    if entry.reverses_id is not None:
        reversed_ = get_entry(session, entry.container_id, entry.reverses_id)
        found.append((f"reverses no. {reversed_.id}", _address(reversed_)))
    if reversal is not None:
        found.append((f"reversed by no. {reversal.id}", _address(reversal)))
    return found


def _takes_back(entry: WasteEntry) -> str:
    """What its reversal does, beside the entry of its own."""
    if entry.kind in {WasteEntryKind.TRANSFER_OUT, WasteEntryKind.TRANSFER_IN}:
        return "Both legs of the transfer are reversed, in both containers."
    if entry.charge_id is not None:
        return (
            "The charge that was emptied with it stands in its tray again, unless the tray was filled anew."
        )
    if entry.discarded_ul is not None:
        return f"The {volume_words(entry.discarded_ul)} that were discarded with it are in their own ledger again."
    return ""


def _class_words(session: LabSession, entry: WasteEntry) -> str:
    if entry.rotation_id is None:
        return ""
    rotation = get_rotation(session, entry.rotation_id)
    return f"{list_section_names(session)[rotation.section_id]}, {rotation.name}"


def entry_page(
    session: LabSession,
    container_id: int,
    entry_id: int,
    *,
    zone: str,
    form: Submitted[NewReversal] | None = None,
) -> EntryPage:
    container: WasteContainer = get_container(session, container_id)
    entry = get_entry(session, container_id, entry_id)
    reversal = find_reversal(session, entry_id)
    method = Method(entry.method)
    return EntryPage(
        id=entry.id,
        container_id=container.id,
        container=container.name,
        kind=entry.kind,
        when=moment_words(entry.happened_at, zone),
        entered=moment_words(entry.entered_at, zone),
        who=entry.entered_by,
        typed=entry.typed,
        method=dict(METHODS).get(method, method.value),
        off=why_off(method, typed=entry.typed, volume=entry.change_ul, uncertainty_ul=entry.uncertainty_ul),
        change=_signed(volume_words(entry.change_ul), entry.change_ul),
        change_mass=_signed(mass_words(entry.change_mg), entry.change_mg),
        why_mass=_why_mass(entry),
        after=f"{volume_words(entry.held_after_ul)}, {mass_words(entry.held_after_mg)}",
        rotation=_class_words(session, entry),
        with_it=_with_it(session, entry),
        others=_others(session, entry, reversal),
        over_line_reason=entry.over_line_reason,
        note=entry.note,
        can_be_reversed=reversal is None and entry.kind not in STANDS and container.state not in GONE,
        comes_back=entry.change_ul < 0 or entry.kind == WasteEntryKind.TRANSFER_IN,
        takes_back=_takes_back(entry),
        form=form or Submitted(),
    )
