"""What the pages of containers' lives, of waste areas and of the waste shelf show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from server.containers.models import ContainerEvent, OtherWaste, WasteContainer
from server.containers.pages import Options
from server.containers.queries import (
    find_next_filling,
    get_container,
    get_stream,
    list_areas,
    list_containers,
    list_streams,
)
from server.core.container_life import GONE, REFILLABLE, AreaKind, ContainerState, is_words, moves_from
from server.core.headspace import USUAL_FILL_PERCENT
from server.core.moments import day_at, day_words, moment_words
from server.core.units import digits, mass_words, volume_words
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.rules.queries import find_fill_percent
from server.shelves.forms import (
    CarriedTo,
    GoneOn,
    MovedLine,
    NewArea,
    NewContainer,
    NewOtherWaste,
    NewState,
    NextFilling,
    Tare,
)
from server.shelves.queries import (
    LATEST_EVENTS,
    get_other_waste,
    list_events,
    list_other_waste,
    list_other_waste_gone,
)
from server.web.submitted import Submitted

AREA_KINDS = [
    (AreaKind.SATELLITE.value, "beside the work (satellite area)"),
    (AreaKind.CENTRAL.value, "store of the site (central area)"),
    (AreaKind.LABORATORY.value, "a laboratory as a whole"),
]

KIND_WORDS = dict(AREA_KINDS)


@dataclass(frozen=True)
class SettingOutPage:
    streams: Options
    areas: Options
    usual_line: str
    form: Submitted[NewContainer]


@dataclass(frozen=True)
class EventLine:
    when: str
    state: str
    note: str
    by: str


@dataclass(frozen=True)
class LifePage:
    """`older` is the event before which the next page begins, None on the last one."""

    id: int
    name: str
    state: str
    is_words: str
    stream: str
    area: str
    tare: str
    line: str
    is_gone: bool
    moves: Options
    events: Sequence[EventLine]
    older: int | None
    before: tuple[int, str] | None
    after: tuple[int, str] | None
    can_be_filled_anew: bool
    streams: Options
    areas: Options
    state_form: Submitted[NewState]
    line_form: Submitted[MovedLine]
    tare_form: Submitted[Tare]
    area_form: Submitted[CarriedTo]
    filling_form: Submitted[NextFilling]


@dataclass(frozen=True)
class AreaCard:
    id: int
    name: str
    kind: str
    containers: Sequence[tuple[int, str]]
    others: Sequence[str]
    total: str


@dataclass(frozen=True)
class AreasPage:
    areas: Sequence[AreaCard]
    unplaced: Sequence[tuple[int, str]]
    kinds: Options
    form: Submitted[NewArea]


@dataclass(frozen=True)
class OtherLine:
    id: int
    course: str
    contents: str
    quantity: str
    area: str
    since: str
    gone: str
    who: str
    form: Submitted[GoneOn]


@dataclass(frozen=True)
class ShelfPage:
    today: str
    lines: Sequence[OtherLine]
    gone: Sequence[OtherLine]
    areas: Options
    form: Submitted[NewOtherWaste]


def _area_options(session: LabSession) -> list[tuple[int, str]]:
    return [(area.id, f"{area.name}: {KIND_WORDS[area.kind]}") for area in list_areas(session)]


def _stream_options(session: LabSession) -> list[tuple[int, str]]:
    return [(stream.id, f"{stream.name} (takes {stream.takes})") for stream in list_streams(session)]


def setting_out_page(
    session: LabSession, now: datetime, form: Submitted[NewContainer] | None = None
) -> SettingOutPage:
    percent = find_fill_percent(session, day_in_lab(session, now))
    said = "which is assumed" if percent == USUAL_FILL_PERCENT else "by the rules of the lab"
    return SettingOutPage(
        _stream_options(session),
        _area_options(session),
        f"{digits(Fraction(percent))} % of the size, {said}",
        form or Submitted(),
    )


def _event_line(event: ContainerEvent, zone: str) -> EventLine:
    return EventLine(moment_words(event.happened_at, zone), event.state, event.note, event.noted_by)


def _filling(container: WasteContainer | None) -> tuple[int, str] | None:
    return None if container is None else (container.id, container.name)


def life_page(
    session: LabSession,
    container_id: int,
    *,
    zone: str,
    before: int | None = None,
    state_form: Submitted[NewState] | None = None,
    line_form: Submitted[MovedLine] | None = None,
    tare_form: Submitted[Tare] | None = None,
    area_form: Submitted[CarriedTo] | None = None,
    filling_form: Submitted[NextFilling] | None = None,
) -> LifePage:
    container = get_container(session, container_id)
    state = ContainerState(container.state)
    found = list_events(session, container_id, before=before, at_most=LATEST_EVENTS + 1)
    events = found[:LATEST_EVENTS]
    areas = {area.id: area.name for area in list_areas(session)}
    held_before = container.reused_from_id
    return LifePage(
        id=container.id,
        name=container.name,
        state=state,
        is_words=is_words(state),
        stream=get_stream(session, container.stream_id).name,
        area="" if container.area_id is None else areas[container.area_id],
        tare="" if container.tare_mg is None else mass_words(container.tare_mg),
        line=volume_words(container.fill_line_ul),
        is_gone=state in GONE,
        moves=[
            (after.value, f"{move.words}{' (say why)' if move.needs_reason else ''}")
            for after, move in moves_from(state)
        ],
        events=[_event_line(event, zone) for event in events],
        older=events[-1].id if len(found) > LATEST_EVENTS else None,
        before=None if held_before is None else _filling(get_container(session, held_before)),
        after=_filling(find_next_filling(session, container_id)),
        can_be_filled_anew=state in REFILLABLE,
        streams=_stream_options(session),
        areas=[(area_id, words) for area_id, words in _area_options(session) if area_id != container.area_id],
        state_form=state_form or Submitted(),
        line_form=line_form or Submitted(),
        tare_form=tare_form or Submitted(),
        area_form=area_form or Submitted(),
        filling_form=filling_form or Submitted(),
    )


def _area_cards(session: LabSession) -> list[AreaCard]:
    containers, others = list_containers(session), list_other_waste(session)
    cards = []
    for area in list_areas(session):
        here = [container for container in containers if container.area_id == area.id]
        beside = [waste for waste in others if waste.area_id == area.id]
        total_ul = sum(one.held_ul for one in here) + sum(one.volume_ul for one in beside)
        total_mg = sum(one.held_mg for one in here) + sum(one.mass_mg for one in beside)
        cards.append(
            AreaCard(
                area.id,
                area.name,
                KIND_WORDS[area.kind],
                [(one.id, f"{one.name}: {volume_words(one.held_ul)}") for one in here],
                [f"{one.course}: {one.contents}, {volume_words(one.volume_ul)}" for one in beside],
                f"{volume_words(total_ul)}, {mass_words(total_mg)}",
            )
        )
    return cards


def areas_page(session: LabSession, form: Submitted[NewArea] | None = None) -> AreasPage:
    return AreasPage(
        areas=_area_cards(session),
        unplaced=[(one.id, one.name) for one in list_containers(session) if one.area_id is None],
        kinds=AREA_KINDS,
        form=form or Submitted(),
    )


def _other_line(waste: OtherWaste, areas: Mapping[int, str], form: Submitted[GoneOn] | None) -> OtherLine:
    return OtherLine(
        waste.id,
        waste.course,
        waste.contents,
        f"{volume_words(waste.volume_ul)}, {mass_words(waste.mass_mg)}",
        "" if waste.area_id is None else areas[waste.area_id],
        day_words(waste.since),
        "" if waste.gone_on is None else day_words(waste.gone_on),
        waste.entered_by,
        form or Submitted(),
    )


def shelf_page(
    session: LabSession,
    *,
    now: datetime,
    zone: str,
    form: Submitted[NewOtherWaste] | None = None,
    gone_form: tuple[int, Submitted[GoneOn]] | None = None,
) -> ShelfPage:
    areas = {area.id: area.name for area in list_areas(session)}
    gone_id, typed = gone_form or (0, None)
    if gone_form is not None:
        get_other_waste(session, gone_id)
    return ShelfPage(
        today=day_at(now, zone).isoformat(),
        lines=[
            _other_line(waste, areas, typed if waste.id == gone_id else None)
            for waste in list_other_waste(session)
        ],
        gone=[_other_line(waste, areas, None) for waste in list_other_waste_gone(session)],
        areas=_area_options(session),
        form=form or Submitted(),
    )
