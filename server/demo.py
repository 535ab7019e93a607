"""An invented lab with invented people and numbers, made with the same actions that people use."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from io import BytesIO

from PIL import Image, ImageDraw, ImageFilter

from server.activities.actions import add_usual_activities
from server.activities.queries import list_activities
from server.balances.actions import log_water, weigh_container
from server.calendars.actions import add_address
from server.calendars.queries import list_addresses
from server.charges.actions import pour_charge
from server.chemistry.actions import mix_batch
from server.chemistry.forms import Chosen
from server.chemistry.models import Batch
from server.chemistry.queries import list_sources, usual_making
from server.containers.actions import add_usual_streams, set_out_container
from server.containers.models import Source
from server.containers.queries import list_streams
from server.core.container_life import AreaKind
from server.core.diagnosis import Darkening
from server.core.measuring import Method
from server.core.moments import day_at
from server.core.picture import picture_from
from server.core.planning import plan
from server.core.recipe import Basis, Measure
from server.core.screen_light import USUAL_LEVEL, Stage
from server.core.waste_rules.rule import Establishment, Key
from server.data.session import LabSession
from server.exposures.actions import record_reading
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.models import BLEACH, STOCK_A, STOCK_B
from server.limits.actions import measure_tray, record_determination
from server.marks.actions import add_usual_rubric, give_level, give_own_points, mark_by
from server.marks.models import NOTES_WITHIN_S
from server.marks.queries import find_latest_edition, list_criteria
from server.people.actions import add_person, add_section, enter_students, form_section_groups, open_lab
from server.people.models import Role
from server.people.queries import day_in_lab, list_groups, list_students
from server.photos.actions import keep_photo
from server.pickups.actions import book_pickup, choose_containers, repeat_pickups
from server.plates.actions import open_plate_box, take_in_plate_box
from server.pours.actions import pour
from server.questions.actions import add_break, add_mix, ask_groups, set_reserve_rounds
from server.recipes.actions import add_recipe, write_edition
from server.recipes.forms import NewComponent
from server.recipes.models import PLANNED_WITH, Solution, Water
from server.rotations.actions import SEED, add_rotation, instant_on, keep_plan, plan_question, publish
from server.rotations.queries import list_periods
from server.rules.actions import choose_rule_set, lay_over
from server.runs.actions import file_run, give_verdict, leave_to_dry
from server.runs.models import Incident, ObjectKind, ObjectTone, ReplayColour, Run
from server.runs.queries import list_racks
from server.safety.actions import record_eyewash, record_shelf_round
from server.safety.models import ShelfPoint, WaterFelt
from server.sheets.actions import set_particulars
from server.shelves.actions import add_area, log_other_waste
from server.stations.actions import add_light_zone, add_place, add_still_zone, add_tray_line
from server.stations.models import Bath, PlaceKind
from server.stations.queries import list_trays
from server.students.actions import arrange, describe_section, keep_consents
from server.students.models import Arrangement, Signing
from server.supplies.actions import record_order, write_down_classes
from server.tablets.actions import add_screen, note_test

LAB = "Hologram lab, Lindenfurt College"
ZONE = "Europe/Berlin"
INSTRUCTOR = "mira@lindenfurt.example"
TECHNICIAN = "tomas@lindenfurt.example"
PASSWORD = "green light only"  # noqa: S105 - the demo's sign-in is printed for everybody
SECTION = "Tuesday morning"
STUDENTS = (
    "Ada Quist", "Bo Lind", "Cleo Varga", "Dov Maron", "Edda Sund", "Finn Oake", "Gil Aro", "Hana Poe",
    "Ivo Renn", "Jun Takeda", "Kaya Brook", "Leif Thorn", "Mona Vale", "Nils Ferro", "Orla Dean", "Pia Stern",
)  # fmt: skip

ML = 1_000
GRAM = 1_000
LITRE = 1_000_000


@dataclass(frozen=True)
class Furnished:
    """The ids of what was put into a lab."""

    station_ids: tuple[int, ...]
    kit_id: int
    plate_box_id: int
    developer_batch_id: int
    charge_id: int
    rotation_id: int
    draft_id: int
    run_id: int
    slip_id: int
    container_ids: tuple[int, ...]
    weighing_id: int
    pickup_id: int
    activity_id: int
    address_id: int
    calendar_secret: str
    recipe_id: int
    rubric_id: int
    photo_id: int
    screen_id: int


def load_demo(session: LabSession, now: datetime) -> None:
    """Open the demo lab with its staff, a section of sixteen and everything they need for tomorrow."""
    open_lab(
        session, lab_name=LAB, time_zone=ZONE, name="Mira Holt", email=INSTRUCTOR, password=PASSWORD, now=now
    )
    add_person(session, name="Tomas Brandt", email=TECHNICIAN, role=Role.TECHNICIAN, password=PASSWORD)
    section = add_section(session, name=SECTION)
    enter_students(session, section.id, STUDENTS)
    form_section_groups(session, section.id, size=2)
    describe_section(
        session, section.id, short_name="Tue1", term_ends_on=day_at(now, ZONE) + timedelta(days=63)
    )
    _papers(session, section.id, now=now)
    furnish(session, section.id, zone=ZONE, now=now, seconds=5)


def _drawn_plate(reveals: int) -> bytes:
    """A picture of a plate under its lamp, drawn: a coin that shows more or less brightly in green, and the plate's edge."""
    image = Image.new("RGB", (1200, 900), (9, 10, 12))
    pen = ImageDraw.Draw(image)
    pen.rectangle((240, 90, 960, 810), fill=(16, 26, 20), outline=(70, 90, 80), width=6)
    for ring in range(14):
        bright = max(0, reveals - 7 * ring)
        edge = 12 * ring
        pen.ellipse((400 + edge, 250 + edge, 800 - edge, 650 - edge), fill=(bright // 5, bright, bright // 4))
    pen.regular_polygon((600, 450, 95), 5, fill=(10, reveals // 3, 16))
    for scratch in range(3):
        pen.line((300, 700 + 20 * scratch, 420, 660 + 24 * scratch), fill=(60, 90, 70), width=2)
    written = BytesIO()
    image.filter(ImageFilter.GaussianBlur(2)).save(written, "PNG")
    return written.getvalue()


def _screens(session: LabSession, plate_box_id: int, *, by: str, now: datetime) -> int:
    """A tablet that passed its fog test, and the wall's screen, which has none yet. Returns the tablet's id."""
    tablet = add_screen(session, name="Tablet 1", by=by, now=now)
    add_screen(session, name="Wall", by=by, now=now)
    session.flush()  # its tests name it
    for stage, last_clear_s in ((Stage.AFTER, 420), (Stage.BEFORE, 600)):
        note_test(
            session, tablet.id, plate_box_id=plate_box_id, colour="green", level=USUAL_LEVEL, stage=stage, distance_mm=500,
            step_s=60, last_clear_s=last_clear_s, made_on=day_in_lab(session, now), note="", by=by, now=now,
        )  # fmt: skip
    return tablet.id


def _photos(session: LabSession, run: Run, *, now: datetime) -> Sequence[int]:
    """Two photos of the plate of a run, whose group agreed to them."""
    members = [one for one in list_students(session, run.section_id) if one.group_id == run.group_id]
    keep_consents(
        session, run.section_id, given=[(one.id, Signing.PHOTO) for one in members], withdrawn=(),
        on_day=day_in_lab(session, now), by="Mira Holt", now=now,
    )  # fmt: skip
    session.flush()  # whether they agreed is asked of the database
    photos = [
        keep_photo(
            session, run.id, tablet_id=f"demo-photo-{number}", group_id=run.group_id,
            picture=picture_from(_drawn_plate(reveals)), taken_at=now - timedelta(minutes=9 - number), by="G1", now=now,
        )
        for number, reveals in enumerate((210, 120))
    ]  # fmt: skip
    session.flush()  # the photos get their ids
    return [photo.id for photo in photos]


def _papers(session: LabSession, section_id: int, *, now: datetime) -> None:
    """All but the last student have signed, and all but the third agreed to photos; three have something arranged."""
    session.flush()  # the students are asked for by id
    students = list_students(session, section_id)
    ticks = [(one.id, Signing.SAFETY) for one in students[:-1]]
    ticks += [(one.id, Signing.PHOTO) for number, one in enumerate(students[:-1]) if number != 2]  # noqa: PLR2004
    keep_consents(
        session, section_id, given=ticks, withdrawn=(), on_day=day_at(now, ZONE) - timedelta(days=7),
        by="Mira Holt", now=now,
    )  # fmt: skip
    arranged = (
        (1, (Arrangement.LOW_BENCH,), ""),
        (6, (Arrangement.ADAPT, Arrangement.LARGE_PRINT), ""),
        (9, (Arrangement.NITRILE,), "a chair at the viewing bench"),
    )
    for number, chosen, words in arranged:
        arrange(session, section_id, students[number].id, arrangements=chosen, words=words)


def _room(session: LabSession) -> tuple[int, ...]:
    room = add_light_zone(session, name="cellar")
    table = add_still_zone(session, name="sand table")
    stations = [
        add_place(
            session, name=name, kind=PlaceKind.STATION, capacity=1, light_zone_id=room.id, still_zone_id=table.id,
            settle_s=60, exposure_s=exposure_s,
        )
        for name, exposure_s in (("S1", 10), ("S2", 12))
    ]  # fmt: skip
    add_tray_line(session, name="line 1", capacity=2, light_zone_id=room.id, still_zone_id=None)
    add_place(session, name="dryer", kind=PlaceKind.DRYER, capacity=2, light_zone_id=None, still_zone_id=None)
    add_place(
        session,
        name="viewing bench",
        kind=PlaceKind.BENCH,
        capacity=4,
        light_zone_id=room.id,
        still_zone_id=None,
    )
    add_place(
        session, name="drying rack", kind=PlaceKind.RACK, capacity=12, light_zone_id=None, still_zone_id=None
    )
    return tuple(station.id for station in stations)


def _rotation(session: LabSession, section_id: int, *, name: str, day: date, zone: str, now: datetime) -> int:
    """From nine to twelve, with a talk, a clean-up and developer that is mixed for it."""
    rotation = add_rotation(
        session, section_id=section_id, name=name, day=day, starts=time(9, 0), ends=time(12, 0),
        plates_per_group=1, now=now, zone=zone, talk_s=8 * 60, clean_up_s=5 * 60,
    )  # fmt: skip
    mixed_at = instant_on(day, time(8, 40), zone)
    add_mix(session, rotation.id, mixed_at=mixed_at, life_s=6 * 3600, plates=12)
    return rotation.id


def _recipes(session: LabSession, *, by: str, now: datetime) -> int:
    """Two stock solutions, a bleach and the working developer, with invented amounts; returns the id of the last one's recipe."""
    written = (
        (
            "stock A",
            Solution.STOCK,
            90 * 86_400,
            (
                NewComponent(
                    "developing agent",
                    3_000,
                    Measure.MASS,
                    hazards="harmful, may cause an allergic skin reaction",
                ),
                NewComponent("ascorbic acid", 20_000, Measure.MASS, "C6H8O6"),
            ),
        ),
        (
            "stock B",
            Solution.STOCK,
            90 * 86_400,
            (
                NewComponent("sodium carbonate", 60_000, Measure.MASS, "Na2CO3", "irritates eyes"),
                NewComponent("sodium hydroxide", 8_000, Measure.MASS, "NaOH", "burns skin and eyes"),
            ),
        ),
        (
            "bleach",
            Solution.BLEACH,
            60 * 86_400,
            (
                NewComponent(
                    "copper sulfate",
                    30_000,
                    Measure.MASS,
                    "CuSO4·5H2O",
                    "harmful, damages eyes, toxic to water life",
                ),
                NewComponent("potassium bromide", 80_000, Measure.MASS, "KBr"),
                NewComponent(
                    "acetic acid", 12_000, Measure.VOLUME, "C2H4O2", "burns skin and eyes", 600_000, 1_064
                ),
            ),
        ),
        (
            "working developer",
            Solution.DEVELOPER,
            6 * 3600,
            (NewComponent("stock A", 1, Measure.PART), NewComponent("stock B", 1, Measure.PART)),
        ),
    )
    for name, solution, life_s, components in written:
        recipe = add_recipe(session, name=name, solution=solution)
        write_edition(
            session, recipe.id, components, volume_ul=LITRE, start_ul=700 * ML, basis=Basis.MADE_UP_TO,
            water=Water.DISTILLED, temperature_decicelsius=200, stand_s=300 if solution is Solution.DEVELOPER else 0, life_s=life_s,
            note="invented for the demo", by=by, now=now,
        )  # fmt: skip
    return recipe.id


def _first_rotation(
    session: LabSession, section_id: int, *, day: date, zone: str, seconds: float, now: datetime
) -> int:
    """With a round kept for repeats; planned within `seconds` and published, or a draft with none."""
    rotation_id = _rotation(session, section_id, name="First hologram", day=day, zone=zone, now=now)
    set_reserve_rounds(session, rotation_id, reserve_rounds=1)
    if seconds:
        problem = plan_question(session, rotation_id)
        answer = plan(problem, seconds=seconds, seed=SEED)
        keep_plan(session, rotation_id, problem, answer, seed=SEED, now=now)
        publish(session, rotation_id, now=now)
    return rotation_id


def _second_rotation(
    session: LabSession, section_id: int, *, station_id: int, day: date, zone: str, now: datetime
) -> int:
    """A draft with a break and a group that needs a certain station."""
    rotation_id = _rotation(session, section_id, name="Second hologram", day=day, zone=zone, now=now)
    period = list_periods(session, rotation_id)[0]
    add_break(
        session,
        rotation_id,
        period_id=period.id,
        name="break",
        starts=time(10, 30),
        ends=time(10, 45),
        zone=zone,
    )
    ask_groups(session, rotation_id, {}, {list_groups(session, section_id)[-1].id: station_id})
    return rotation_id


def _mixed(session: LabSession, solution: Solution, *, by: str, now: datetime) -> Batch:
    """400 mL of what is usually mixed, an hour ago, from what ends first."""
    making = usual_making(session, solution)
    chosen = [
        Chosen(component.name, list_sources(session, component, now)[0].key)
        for component in making.formula.components
    ]
    return mix_batch(
        session, making, chosen, volume_ul=400 * ML, mixed_at=now - timedelta(hours=1), by=by, now=now
    )


def _rules_of_waste(
    session: LabSession, container_id: int, area_id: int, *, today: date, now: datetime
) -> None:
    """The rules of a small site with a leaflet of its waste office, its tray, and a pH measured in the developer's bottle."""
    choose_rule_set(
        session, rule_set="us-small", establishment=Establishment.UNIVERSITY, is_far=False,
        from_day=today - timedelta(days=200), by="Mira Holt", now=now,
    )  # fmt: skip
    for rule, value in ((Key.FULL_DAYS, "3"), (Key.REMOVAL_DAYS, "90")):
        lay_over(
            session, rule=rule, value=value, reason="the waste office's leaflet",
            from_day=today - timedelta(days=200), by="Mira Holt", now=now,
        )  # fmt: skip
    measure_tray(session, area_id=area_id, tray_ul=22 * LITRE, by="Tomas Brandt", now=now)
    record_determination(
        session, container_id, ph_hundredths=1252, temperature_decicelsius=250, silver_ug_per_l=None,
        chromium_ug_per_l=None, said="", sampled_at=now - timedelta(hours=20), origin="electrode, Tomas Brandt",
        note="", by="Tomas Brandt", now=now,
    )  # fmt: skip


def _marks(session: LabSession, section_id: int, *, now: datetime) -> int:
    """The usual rubric, by which the first student is marked, the group's share with them, and one mark overridden. Returns its id."""
    by = "Mira Holt"
    rubric = add_usual_rubric(session, by=by, now=now)
    mark_by(session, section_id, rubric_id=rubric.id, notes_within_s=NOTES_WITHIN_S, by=by, now=now)
    edition = find_latest_edition(session, rubric.id)
    first = list_students(session, section_id)[0]
    criteria = list_criteria(session, edition.id) if edition else ()
    for kept, points in zip(criteria, (3, 4, 2, 3, 2), strict=False):
        give_level(
            session, section_id, first.id, criterion_id=kept.row.id, level_id=kept.levels[points].id, by=by, now=now
        )  # fmt: skip
    give_own_points(
        session, section_id, first.id, criterion_id=criteria[0].row.id, points=Fraction("3.5"),
        reason="explained the reference beam to the next group", by=by, now=now,
    )  # fmt: skip
    return rubric.id


def furnish(session: LabSession, section_id: int, *, zone: str, now: datetime, seconds: float) -> Furnished:
    """Fill an empty lab whose section has groups: a room, stock, today's mixes, waste, a published rotation for tomorrow
    (planned within `seconds`), a draft, and two runs of which one waits for its verdict.
    """
    by = "Tomas Brandt"
    today = day_at(now, zone)
    stations = _room(session)
    kit = take_in_kit(
        session, name="Kit 1", arrived_on=today - timedelta(days=20), expires_on=today + timedelta(days=200),
        storage="shelf by the sink, dark", makes_ul=2 * LITRE,
        contents=[
            NewBottle(STOCK_A, LITRE, lot="A-205", hazards="H302, H317"),
            NewBottle(STOCK_B, LITRE, lot="B-205", hazards="H290, H314"),
            NewBottle(BLEACH, 2 * LITRE, lot="C-118", hazards="H302, H318, H410"),
        ], by=by, now=now,
    )  # fmt: skip
    take_in_kit(
        session, name="Powders 1", arrived_on=today - timedelta(days=20), expires_on=None,
        storage="chemicals cupboard", store_from_decicelsius=100, store_to_decicelsius=250,
        contents=[
            NewBottle("developing agent", 25 * GRAM, Measure.MASS, lot="M-17", hazards="H302, H317, H410"),
            NewBottle("ascorbic acid", 250 * GRAM, Measure.MASS, lot="C-3"),
            NewBottle("sodium carbonate", 1000 * GRAM, Measure.MASS, "Na2CO3·10H2O", lot="S-88", hazards="H319"),
            NewBottle("sodium hydroxide", 100 * GRAM, Measure.MASS, "NaOH", 985_000, hazards="H290, H314"),
        ], by=by, now=now,
    )  # fmt: skip
    box = take_in_plate_box(
        session, name="Box 1", plates=30, width_um=63_500, height_um=63_500, dose_uj_per_cm2=600,
        sees_red=True, sees_green=False, sees_blue=True, arrived_on=today - timedelta(days=20),
        expires_on=today + timedelta(days=90), warm_up_s=3600, by=by, now=now,
    )  # fmt: skip
    take_in_plate_box(
        session, name="Box 2", plates=30, width_um=63_500, height_um=63_500, dose_uj_per_cm2=600,
        sees_red=True, sees_green=False, sees_blue=True, arrived_on=today - timedelta(days=20),
        expires_on=today + timedelta(days=150), warm_up_s=3600, by=by, now=now,
    )  # fmt: skip
    open_plate_box(session, box.id, by=by, now=now - timedelta(hours=1))
    developer, bleach = (_mixed(session, solution, by=by, now=now) for solution in PLANNED_WITH)
    charge = pour_charge(
        session,
        batch_id=developer.id,
        place_id=list_trays(session, Bath.DEVELOPER)[0].id,
        volume_ul=200 * ML,
        by=by,
        now=now,
    )
    pour_charge(
        session,
        batch_id=bleach.id,
        place_id=list_trays(session, Bath.BLEACH)[0].id,
        volume_ul=200 * ML,
        by=by,
        now=now,
    )
    recipe = _recipes(session, by=by, now=now)
    add_usual_streams(session)
    beside = add_area(session, name="cabinet beside the tray line", kind=AreaKind.SATELLITE)
    add_area(session, name="waste store, ground floor", kind=AreaKind.CENTRAL)
    log_other_waste(
        session, course="Etching", contents="spent ferric chloride, acid", volume_ul=2 * LITRE, mass_mg=2_600 * GRAM,
        since=today - timedelta(days=5), area_id=beside.id, by=by, now=now,
    )  # fmt: skip
    containers = [
        set_out_container(
            session,
            stream_id=stream.id,
            name=f"{stream.name} 1",
            size_ul=size_ul,
            tare_mg=tare_mg,
            area_id=beside.id,
            by=by,
            now=now - timedelta(days=7),
        )
        for stream, (size_ul, tare_mg) in zip(
            list_streams(session),
            ((5 * LITRE, 320 * GRAM), (5 * LITRE, 320 * GRAM), (20 * LITRE, 1_200 * GRAM)),
            strict=True,
        )
    ]
    for container, stream in zip(containers, list_streams(session), strict=True):
        volume = 13_200 * ML if stream.takes == Source.RINSE else 1_400 * ML
        pour(
            session, container_id=container.id, volume_ul=volume, typed=f"{volume // ML} mL", method=Method.GRADUATE,
            source=Source(stream.takes), tablet_id=f"demo-{stream.takes}", by=by, now=now - timedelta(days=1), is_closed_again=True,
        )  # fmt: skip
    log_water(
        session, volume_ul=13_400 * ML, typed="13.4 L", rotation_id=None, drawn_at=now - timedelta(days=1), note="rinse trays, all of last week",
        tablet_id="demo-water", by=by, now=now - timedelta(days=1),
    )  # fmt: skip
    weighing = weigh_container(
        session, containers[2].id, gross_mg=14_420_000, tare_mg=1_200_000, step_mg=10_000, density_ug_per_ul=None, by=by,
        now=now,
    )  # fmt: skip
    _rules_of_waste(session, containers[0].id, beside.id, today=today, now=now)
    pickup = book_pickup(
        session, on_day=today + timedelta(days=10), request_day=today + timedelta(days=8), request_clock=time(12, 0),
        most_ul=60 * LITRE, zone=zone, by=by, now=now,
    )  # fmt: skip
    repeat_pickups(
        session, first_day=today + timedelta(days=24), every_weeks=2, until_day=today + timedelta(days=80), cut_off_days_before=2,
        cut_off_clock=time(12, 0), most_ul=60 * LITRE, zone=zone, by=by, now=now,
    )  # fmt: skip
    choose_containers(session, pickup.id, [containers[0].id], zone=zone, by=by, now=now)
    set_particulars(
        session, generator="Harbour Street College", address="Harbour Street 4, 20999 Northport", room="cellar, room K12",
        phone="555 0104", emergency_phone="555 0199", site_number="", contact="the technician, 8 to 16 o'clock",
        waste_office="555 0150, before the cut-off",
    )  # fmt: skip
    for station, irradiance in zip(stations, (60_000, 48_000), strict=True):
        record_reading(
            session, place_id=station, irradiance_nw_per_cm2=irradiance, tilt_deg=0, by=by, now=now
        )
    record_eyewash(
        session, ran_s=180, water_felt=WaterFelt.TEPID, in_order=True, found="", tablet_id="demo-eyewash", by=by,
        now=now - timedelta(days=3),
    )  # fmt: skip
    record_shelf_round(
        session,
        looks=[
            (container.id, {ShelfPoint.LABEL: "its start date is smudged"} if not place else {})
            for place, container in enumerate(containers)
        ],
        note="",
        tablet_id="demo-shelf-round",
        by=by,
        now=now - timedelta(days=2),
    )
    add_usual_activities(session, light_zone_id=None, still_zone_id=None)
    rotation = _first_rotation(
        session,
        section_id,
        day=today + timedelta(days=1),
        zone=zone,
        seconds=seconds,
        now=now,
    )
    draft = _second_rotation(
        session,
        section_id,
        station_id=stations[1],
        day=today + timedelta(days=8),
        zone=zone,
        now=now,
    )
    runs = [
        file_run(
            session, tablet_id=f"demo-run-{number}", section_id=section_id, group_id=group.id, plate_box_id=box.id,
            place_id=station, charge_id=charge.id, rotation_id=None, settle_s=60, exposure_s=10, develop_s=20,
            emulsion_by="a", object_kind=ObjectKind.COIN, object_tone=ObjectTone.PALE, bleach_clear_s=90, filed_by="b",
            incident=incident, comment=comment, exposed_at=now - timedelta(minutes=40 - 10 * number), by=group.name, now=now,
        )
        for number, (group, station, incident, comment) in enumerate(
            zip(
                list_groups(session, section_id), stations, (Incident.NONE, Incident.MOVED),
                ("trial run with the coin", "a chair was moved during the exposure"), strict=False,
            )
        )
    ]  # fmt: skip
    give_verdict(
        session, runs[0].id, verdict=2, comment="a little dim at one corner", darkening=Darkening.PALE,
        replay_colour=ReplayColour.GREEN, now=now,
    )  # fmt: skip
    slip = leave_to_dry(
        session,
        runs[-1].id,
        place_id=list_racks(session)[0].id,
        slot=1,
        by="G2",
        now=now - timedelta(minutes=10),
    )
    photos = _photos(session, runs[0], now=now)
    screen_id = _screens(session, box.id, by=by, now=now)
    today = day_at(now, zone)
    write_down_classes(
        session, name="the weeks after", section_id=section_id, first_day=today + timedelta(days=14),
        last_day=today + timedelta(days=63), every_days=7, groups=8, plates_per_group=1, other_plates=1,
        by=by, now=now,
    )  # fmt: skip
    record_order(
        session, what="plates", amount="30", expected_on=today + timedelta(days=10), by=by, zone=zone, now=now,
    )  # fmt: skip
    secret = add_address(session, label="technician's phone", section_id=None, now=now)
    return Furnished(
        station_ids=stations,
        kit_id=kit.id,
        plate_box_id=box.id,
        developer_batch_id=developer.id,
        charge_id=charge.id,
        rotation_id=rotation,
        draft_id=draft,
        run_id=runs[0].id,
        slip_id=slip.id,
        container_ids=tuple(container.id for container in containers),
        weighing_id=weighing.id,
        pickup_id=pickup.id,
        activity_id=list_activities(session)[0].id,
        address_id=list_addresses(session)[0].id,
        calendar_secret=secret,
        recipe_id=recipe,
        rubric_id=_marks(session, section_id, now=now),
        photo_id=photos[0],
        screen_id=screen_id,
    )
