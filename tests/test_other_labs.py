"""No field of any form takes the id of another lab's thing.

Each form is sent with one id of the attic lab among the cellar lab's own, and must be refused; then with its own ids only, and must be
taken, so that the refusal had no other reason.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from sqlmodel import SQLModel, col, select

from server.activities.actions import remove_activity
from server.activities.queries import list_activities
from server.balances.models import WaterDrawn
from server.charges.models import Charge
from server.chemistry.models import Batch
from server.containers.actions import change_state, set_out_container
from server.containers.models import Stream, WasteContainer
from server.containers.queries import list_areas
from server.core.container_life import AreaKind, ContainerState
from server.core.planning import whiteboard
from server.data.session import ACROSS_LABS, Database, LabSession
from server.demo import furnish
from server.exposures.models import MeterReading
from server.kits.models import STOCK_A
from server.kits.queries import list_bottles
from server.marks.models import Rubric, RubricCriterion, RubricLevel
from server.people.models import Group, Section, Student
from server.people.queries import list_groups
from server.pickups.models import Pickup
from server.plates.models import PlateBox
from server.rotations.actions import SEED, keep_plan, plan_question, publish
from server.rotations.models import Period
from server.runs.queries import list_racks, list_runs
from server.safety.queries import list_open_findings
from server.stations.actions import add_tray_line
from server.stations.models import Bath, LightZone, Place, PlaceKind, StillZone
from server.stations.queries import list_trays
from server.tablets.models import Screen
from server.web.submitted import Form
from tests.casts import MORNING, Cast
from tests.chemistry import mixing
from tests.conftest import Visitor, words
from tests.runs.room import rate_a_strip

CLASS_FILE = (
    '{"name": "One", "periods": [[0, 600]], "places": [{"name": "A", "capacity": 1}],'
    ' "steps": [{"name": "look", "at": ["A"], "seconds": 60}], "groups": [{"name": "X", "passes": 1}]}'
)

A_POUR = {"tablet_id": "a-pour-of-the-test", "method": "graduate"}


def _first(session: LabSession, table: type[Any]) -> int:
    return int(session.exec(select(table.id).order_by(col(table.id))).all()[0])


@dataclass(frozen=True)
class Own:
    """Ids of one lab's things."""

    section: int
    group: int
    light_zone: int
    still_zone: int
    station: int
    empty_tray: int
    bottle_a: int
    jar: int
    plate_box: int
    batch: int
    unstood_batch: int
    charge: int
    reading: int
    screen: int
    stream: int
    container: int
    area: int
    reusable: int
    shelf: tuple[int, ...]
    finding: int
    second_container: int
    water: str
    pickup: int
    period: int
    published: int
    last_group: int
    student: int
    rubric: int
    criterion: int
    level: int
    run: int
    slip: int
    free_slot: str


def _reusable(session: LabSession) -> int:
    """An empty vessel of the first stream that waits to be filled again."""
    spare = set_out_container(
        session, stream_id=_first(session, Stream), name="spare", size_ul=1_000_000, by="T", now=MORNING
    )
    for state in (ContainerState.OPEN, ContainerState.WASHED, ContainerState.REUSABLE):
        change_state(session, spare, state, by="T", now=MORNING)
    return spare.id


def _furnished(session: LabSession, section_id: int, zone: str) -> Own:
    things = furnish(session, section_id, zone=zone, now=MORNING, seconds=0)
    problem = plan_question(session, things.draft_id)
    keep_plan(session, things.draft_id, problem, whiteboard(problem), seed=SEED, now=MORNING)
    publish(session, things.draft_id, now=MORNING)
    for activity in list_activities(session):
        remove_activity(session, activity.id)
    add_tray_line(session, name="line 2", capacity=1, light_zone_id=None, still_zone_id=None)
    stations = select(Place.id).where(Place.kind == PlaceKind.STATION)
    rate_a_strip(
        session,
        section_id=section_id,
        group_id=list_groups(session, section_id)[0].id,
        plate_box_id=_first(session, PlateBox),
        place_id=session.exec(stations).all()[0],
    )
    second = set_out_container(
        session, stream_id=_first(session, Stream), name="second", size_ul=1_000_000, by="T", now=MORNING
    ).id
    return Own(
        section=_first(session, Section),
        group=_first(session, Group),
        light_zone=_first(session, LightZone),
        still_zone=_first(session, StillZone),
        station=session.exec(stations).all()[0],
        empty_tray=list_trays(session, Bath.DEVELOPER)[-1].id,
        bottle_a=list_bottles(session, STOCK_A)[0].id,
        jar=list_bottles(session, "ascorbic acid")[0].id,
        plate_box=_first(session, PlateBox),
        batch=_first(session, Batch),
        unstood_batch=mixing.developer(session, 10_000, stand_s=300).id,
        charge=_first(session, Charge),
        reading=_first(session, MeterReading),
        screen=_first(session, Screen),
        stream=_first(session, Stream),
        container=_first(session, WasteContainer),
        area=next(area.id for area in list_areas(session) if area.kind == AreaKind.CENTRAL),
        reusable=_reusable(session),
        shelf=(*things.container_ids, second),
        finding=list_open_findings(session)[0].finding.id,
        second_container=second,
        water=f"water-{_first(session, WaterDrawn)}",
        pickup=_first(session, Pickup),
        period=_first(session, Period),
        published=things.draft_id,
        run=list_runs(session, section_id)[0].id,
        slip=things.slip_id,
        free_slot=f"{list_racks(session)[0].id}-9",
        last_group=list_groups(session, section_id)[-1].id,
        student=_first(session, Student),
        rubric=_first(session, Rubric),
        criterion=_first(session, RubricCriterion),
        level=_first(session, RubricLevel),
    )


@dataclass(frozen=True)
class Sent:
    """A form: `ids` names what of the lab stands in which field."""

    address: str
    ids: dict[str, str]
    typed: dict[str, object]
    by_tablet: bool = False
    # A calendar address is shown in the answer to its form; after any other form comes another page.
    taken: int = 303


OF_DAYS = {"first": "2027-02-16", "last": "2027-02-16"}
FORMS = (
    Sent("/people/names", {"section_ids": "section"}, {"word": "erase"}),
    Sent("/people/sections/{section}/students/1/move", {"group_id": "last_group"}, {}),
    Sent(
        "/stations/tray-lines",
        {"line_light_zone_id": "light_zone", "line_still_zone_id": "still_zone"},
        {"line_name": "line 9"},
    ),
    Sent(
        "/stations/places",
        {"light_zone_id": "light_zone", "still_zone_id": "still_zone"},
        {"place_name": "rack", "kind": "dryer"},
    ),
    Sent(
        "/stations/places/{station}",
        {"light_zone_id": "light_zone", "still_zone_id": "still_zone"},
        {"name": "S1", "settle_s": "60", "exposure_s": "10"},
    ),
    Sent(
        "/stations/tray-lines/1",
        {"light_zone_id": "light_zone", "still_zone_id": "still_zone"},
        {"capacity": "3"},
    ),
    Sent(
        "/activities/usual",
        {"usual_light_zone_id": "light_zone", "usual_still_zone_id": "still_zone"},
        {},
    ),
    Sent(
        "/activities",
        {"light_zone_id": "light_zone", "still_zone_id": "still_zone"},
        {"name": "quiz", "shortest_min": "5", "longest_min": "9"},
    ),
    Sent(
        "/labels/sheet",
        {"batch_ids": "batch", "charge_ids": "charge", "bottle_ids": "bottle_a"},
        {"format": "a4-2x4"},
    ),
    Sent("/waste/labels/sheet", {"container_ids": "container"}, {"format": "a4-2x2", "earlier_off": "true"}),
    Sent("/charges", {"batch_id": "batch", "place_id": "empty_tray"}, {"charge_volume": "20 mL"}),
    Sent("/charges/early", {"early_batch_id": "unstood_batch"}, {"early_reason": "the class waits"}),
    Sent("/charges/{charge}/parts", {"batch_id": "batch"}, {"more_volume": "20 mL", "after_parts": "1"}),
    Sent(
        "/stock/kits/1/discards",
        {"discard_bottle_id": "bottle_a"},
        {"discard_amount": "20 mL", "discard_note": "spilled"},
    ),
    Sent("/stock/kits/1/corrections", {"bottle_id": "bottle_a"}, {"measured": "700 mL", "reason": "read"}),
    Sent(
        "/stock/account/counts",
        {"plate_box_id": "plate_box"},
        {"left": "", "counted": "3", "reason": "counted"},
    ),
    Sent("/stock/light-incidents", {"light_zone_id": "light_zone"}, {"lit_at": "07:58"}),
    Sent("/stock/plate-boxes/2/opening", {"light_zone_id": "light_zone"}, {"warmed_up": "true"}),
    Sent("/stock/kits/1/opening", {"opened_bottle_id": "jar"}, {}),
    Sent(
        "/stock/kits/1/used-up",
        {"used_up_bottle_id": "bottle_a"},
        {"rest": "discarded", "used_up_note": "old"},
    ),
    Sent("/stock/kits/1/descriptions", {"described_bottle_id": "bottle_a"}, {"lot": "L-9"}),
    Sent("/stock/kits/1/sheets", {"sheet_bottle_id": "bottle_a"}, {"sheet_link": "https://sds.example"}),
    Sent("/exposures/readings", {"place_id": "station"}, {"irradiance": "60"}),
    Sent("/exposures/boxes/{plate_box}/take-over", {"reading_id": "reading"}, {}),
    Sent("/exposures/boxes/{plate_box}/learned", {"place_id": "station"}, {"exposure_s": "13"}),
    Sent(
        "/rotations",
        {"section_id": "section"},
        {"name": "Third", "day": "2027-02-23", "starts": "09:00", "ends": "12:00"},
    ),
    Sent(
        "/supplies/classes",
        {"section_id": "section"},
        {
            "classes_name": "rest of the term",
            "first_day": "2027-03-02",
            "last_day": "2027-03-30",
            "groups": "3",
            "plates_per_group": "1",
        },
    ),
    Sent("/calendars", {"section_id": "section"}, {"label": "phone"}, taken=200),
    Sent("/rotations/1/plates", {"group_id": "group", "tied_place_id": "station"}, {"plates": "2"}),
    Sent("/rotations/1/breaks", {"period_id": "period"}, {"break_starts": "11:30", "break_ends": "11:40"}),
    Sent(
        "/rotations/{published}/change",
        {"absent_group_id": "group", "joins_group_id": "last_group"},
        {"what": "absent"},
    ),
    Sent(
        "/class-file",
        {"section_id": "section"},
        {"day": "2027-02-23", "starts": "09:00", "class_file": CLASS_FILE},
    ),
    Sent(
        "/tablet/runs",
        {"group_id": "group", "plate_box_id": "plate_box", "place_id": "station", "charge_id": "charge"},
        {"tablet_id": "00000000-0000-4000-8000-000000000001"},
        by_tablet=True,
    ),
    Sent(
        "/tablet/runs/{run}/slip",
        {"group_id": "group", "slot_id": "free_slot"},
        {},
        by_tablet=True,
    ),
    Sent("/claims", {"run_id": "run", "slot_id": "free_slot"}, {}),
    Sent("/claims/hand-out", {"slip_ids": "slip"}, {}),
    Sent(
        "/waste/containers",
        {"stream_id": "stream", "previous_stream_id": "stream", "area_id": "area"},
        {"name": "developer 2", "size": "5 L", "washed": "true"},
    ),
    Sent("/waste/containers/{container}/area", {"area_id": "area"}, {}),
    Sent("/waste/containers/{reusable}/filling", {"stream_id": "stream"}, {"name": "developer 3"}),
    Sent(
        "/waste/shelf",
        {"area_id": "area"},
        {"course": "Etching", "contents": "acid", "volume": "1 L", "since": "2027-02-15"},
    ),
    Sent(
        "/waste/pour",
        {"container_id": "container", "charge_id": "charge", "of_stream_id": "stream"},
        {**A_POUR, "source": "spent developer", "amount": "200 mL"},
    ),
    Sent(
        "/waste/pour",
        {"container_id": "container", "batch_id": "batch", "rotation_id": "published"},
        {**A_POUR, "source": "spent developer", "amount": "200 mL"},
    ),
    Sent(
        "/waste/pour",
        {"container_id": "container", "bottle_id": "bottle_a"},
        {**A_POUR, "source": "spent developer", "amount": "20 mL", "keeps_rest": "true"},
    ),
    Sent(
        "/waste/containers/{container}/transfers",
        {"to_container_id": "second_container"},
        {**A_POUR, "amount": "100 mL"},
    ),
    Sent(
        "/waste/balances/entries",
        {"rotation_id": "published"},
        {
            **OF_DAYS,
            "tablet_id": "water-of-the-test",
            "what": "water",
            "volume": "1 L",
            "on_day": "2027-02-16",
            "clock": "08:00",
        },
    ),
    Sent("/waste/balances/entries/taken-back", {"entry_id": "water"}, {**OF_DAYS, "reason": "typed twice"}),
    Sent(
        "/waste/balances/answers",
        {"class_id": "published"},
        {
            **OF_DAYS,
            "seen_ul": "0",
            "seen_at": "2027-02-16T07:00:00Z",
            "answer": "a litre stands in the wash tray",
        },
    ),
    Sent(
        "/safety/shelf",
        {"container_id": "shelf"},
        {
            "tablet_id": "a-round-of-the-test",
            **{point: ["seen"] * 4 for point in ("closed", "label", "leak", "upright", "fill_line", "apart")},
        },
    ),
    Sent("/safety/findings", {"finding_id": "finding"}, {"how": "new label"}),
    Sent("/waste/limits/trays", {"area_id": "area"}, {"tray": "22 L"}),
    Sent(
        "/waste/limits/streams",
        {"stream_id": "stream"},
        {"counts_as": "acute liquid", "reason": "waste office"},
    ),
    Sent("/waste/pickups/{pickup}/containers", {"container_ids": "container"}, {}),
    Sent(
        "/waste/pickups/{pickup}/hand-over",
        {"container_id": "container"},
        {"outcome": "taken", "line_receipt": "", "left_reason": ""},
    ),
    Sent("/marks/sections/{section}", {"rubric_id": "rubric"}, {"notes_within_min": "30"}),
    Sent(
        "/marks/sections/{section}/students/{student}/levels",
        {"criterion_id": "criterion", "level_id": "level"},
        {},
    ),
    Sent(
        "/marks/sections/{section}/students/{student}/points",
        {"own_criterion_id": "criterion"},
        {"points": "1", "reason": "came late"},
    ),
    Sent(
        "/marks/sections/{section}/students/{student}/absences",
        {"rotation_id": "published"},
        {"was_away": "true"},
    ),
    Sent("/screen/name", {"screen_id": "screen"}, {}),
    Sent(
        "/tablets/{screen}/tests",
        {"plate_box_id": "plate_box"},
        {
            "colour": "green",
            "level": "3",
            "stage": "after exposure",
            "distance_cm": "50",
            "step_s": "60",
            "last_clear_s": "420",
            "made_on": "2027-02-16",
        },
    ),
)


def _shapes(parent: type[Form]) -> Iterator[type[Form]]:
    for child in parent.__subclasses__():
        yield child
        yield from _shapes(child)


def test_every_field_that_takes_an_id_is_tried_here() -> None:
    taken = {
        str(field.validation_alias or name)
        for shape in _shapes(Form)
        if shape.__module__.startswith("server.")
        for name, field in shape.model_fields.items()
        if name.endswith(("_id", "_ids"))
    }

    assert taken - {"tablet_id"} == {name for form in FORMS for name in form.ids}


def _furnish_both(database: Database, cast: Cast) -> tuple[Own, Own]:
    with database.writing(cast.lab_id) as session:
        own = _furnished(session, cast.section_id, "Europe/Berlin")
    with database.writing(cast.other_lab_id) as session:
        return own, _furnished(session, cast.other_section_id, "America/Chicago")


pytestmark = pytest.mark.furnished.with_args(_furnish_both)


def _strays(database: Database) -> list[str]:
    """Rows that name a row of another lab."""
    tables = {name: table for name, table in SQLModel.metadata.tables.items() if "lab_id" in table.columns}
    with database.reading(None) as session:
        return [
            f"{name}.{key.parent.name}"
            for name, table in tables.items()
            for key in table.foreign_keys
            if key.column.table.name in tables
            and session.execute(
                select(table.c.lab_id)
                .join(other := key.column.table.alias(), other.c.id == key.parent)
                .where(other.c.lab_id != table.c.lab_id),
                execution_options=ACROSS_LABS,
            ).all()
        ]


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.address)
def test_an_id_of_another_lab_is_refused(
    mira: Visitor, tablet: Visitor, database: Database, furnished: tuple[Own, Own], form: Sent
) -> None:
    own, theirs = furnished
    visitor = tablet if form.by_tablet else mira
    address = form.address.format(**vars(own))
    fields = {**form.typed, **{name: getattr(own, what) for name, what in form.ids.items()}}
    for name, what in form.ids.items():
        answer = visitor.post(address, data={**fields, name: getattr(theirs, what)}, follow_redirects=False)
        assert answer.status_code in {401, 404, 409}, f"{name}: {answer.status_code} {words(answer)[:300]}"
        assert _strays(database) == []
    answer = visitor.post(address, data=fields, follow_redirects=False)

    assert answer.status_code == form.taken, words(answer)[:600]
    assert _strays(database) == []
