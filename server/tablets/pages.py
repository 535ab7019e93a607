"""What the pages of screens near plates show: the screen's own, the staff's, and what a screen is told meanwhile."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from server.core.board_state import Colour
from server.core.moments import day_words
from server.core.screen_light import (
    LEVELS,
    NEAREST_MM,
    Channel,
    Level,
    Screening,
    Stage,
    Trust,
    contrast_of_level,
    fog_dose,
    of_channel,
    palette,
    relative_luminance,
    safe_s,
)
from server.core.units import duration_words
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.plates.models import PlateBox
from server.plates.queries import list_plate_boxes
from server.tablets.forms import MM_OF_CM, Estimate, NewScreen, NewTest, ThisScreen
from server.tablets.models import ScreenTest
from server.tablets.queries import (
    find_screen,
    find_screen_colour,
    get_screen,
    list_boxes_near,
    list_every_screen_test,
    list_screen_tests,
    list_screens,
    screening_of,
)
from server.web.submitted import Submitted

Options = Sequence[tuple[str | int, str]]

# Below these a letter is a shape for large type only, or no more than a hint of one (WCAG 2.2, 1.4.3 and 1.4.11).
_READS_FROM, _SEEN_FROM = 4.5, 3.0
_STATES = {Trust.PASSED: "well", Trust.FAILED: "stop", Trust.UNTESTED: "watch"}
_MINUTE_S = 60


@dataclass(frozen=True)
class LevelChoice:
    value: int
    words: str
    detail: str


@dataclass(frozen=True)
class BoxLine:
    """What the tests of a screen say of it beside a box: one word, and more words; `state` is a state of paper pages."""

    box: str
    verdict: str
    words: str
    state: str


@dataclass(frozen=True)
class TestLine:
    made: str
    box: str
    light: str
    stage: str
    result: str
    safe: str
    by: str
    note: str


@dataclass(frozen=True)
class TestChoices:
    """What a test's form offers, and what it begins with."""

    boxes: Options
    box: str
    colours: Options
    colour: str
    levels: Options
    level: int
    stages: Options
    day: str


@dataclass(frozen=True)
class ScreenPage:
    """The screen's own page: `name` is empty until it has one, `known` are the lab's screens to choose from."""

    light: Colour
    level: int
    levels: Sequence[LevelChoice]
    name: str
    known: Options
    boxes: Sequence[BoxLine]
    tests: Sequence[TestLine]
    choices: TestChoices
    name_form: Submitted[ThisScreen]
    test_form: Submitted[NewTest]


@dataclass(frozen=True)
class ScreenLine:
    id: int
    name: str
    boxes: Sequence[BoxLine]
    tests: int
    newest: str


@dataclass(frozen=True)
class Dose:
    """An estimate with its inputs: each a name and words."""

    words: str
    inputs: Sequence[tuple[str, str]]
    formula: str


@dataclass(frozen=True)
class TabletsPage:
    screens: Sequence[ScreenLine]
    colours: Options
    levels: Options
    dose: Dose | None
    form: Submitted[NewScreen]
    estimate: Submitted[Estimate]


@dataclass(frozen=True)
class OneTabletPage:
    id: int
    name: str
    named: str
    boxes: Sequence[BoxLine]
    tests: Sequence[TestLine]
    choices: TestChoices
    name_form: Submitted[NewScreen]
    test_form: Submitted[NewTest]


def _colour_words(colour: Colour) -> str:
    return {"green": "green only", "red": "red only", "none": "nothing"}[colour]


def _level_choices(colour: Colour) -> Sequence[LevelChoice]:
    channel: Channel = "red" if colour == "red" else "green"
    found = []
    for level in LEVELS:
        ratio = contrast_of_level(channel, level)
        reads = (
            "reads well"
            if ratio >= _READS_FROM
            else "large letters only"
            if ratio >= _SEEN_FROM
            else "hardly read"
        )
        value = palette(channel, level).ink
        found.append(LevelChoice(level, f"{level}", f"{channel} {value} of 255, {ratio:.1f} : 1, {reads}"))
    return found


def _screening_words(found: Screening) -> str:
    if found.made_on is None:
        return "no fog test at this brightness in this colour"
    long = "only" if found.trust is Trust.FAILED else "at a time"
    far, made = f"{found.distance_mm // MM_OF_CM} cm", day_words(found.made_on)
    return f"safe for {duration_words(found.safe_s)} {long}, from {far} away on, by its fog test of {made}"


def _box_lines(
    boxes: Sequence[PlateBox], tests: Sequence[ScreenTest], colour: Colour, level: int
) -> Sequence[BoxLine]:
    lines = []
    for box in boxes:
        found = screening_of(tests, box_id=box.id, colour=colour, level=level)
        lines.append(BoxLine(box.name, found.trust, _screening_words(found), _STATES[found.trust]))
    return lines


def _test_lines(tests: Sequence[ScreenTest], boxes: dict[int, str]) -> Sequence[TestLine]:
    return [
        TestLine(
            made=day_words(test.made_on),
            box=boxes[test.plate_box_id],
            light=f"{test.colour}, brightness {test.level}, {test.distance_mm // MM_OF_CM} cm away",
            stage=test.stage,
            result=f"no mark up to {duration_words(test.last_clear_s)}"
            if test.last_clear_s
            else f"a mark from {duration_words(test.step_s)} on",
            safe=duration_words(safe_s(test.last_clear_s)),
            by=test.noted_by,
            note=test.note,
        )
        for test in tests
    ]


def _choices(session: LabSession, now: datetime, colour: Colour, level: int) -> TestChoices:
    near = list_boxes_near(session, now)
    boxes = [box for box in list_plate_boxes(session) if box.plates_left or box in near]
    return TestChoices(
        boxes=[(box.id, box.name) for box in boxes],
        box=str(near[0].id) if near else "",
        colours=_COLOURS,
        colour="red" if colour == "red" else "green",
        levels=_LEVELS,
        level=level,
        stages=[(stage.value, words) for stage, words in _STAGE_WORDS.items()],
        day=day_in_lab(session, now).isoformat(),
    )


_COLOURS: Options = [("green", "green"), ("red", "red")]
_LEVELS: Options = [(level, f"{level}") for level in LEVELS]
_STAGE_WORDS = {
    Stage.AFTER: "after exposure, or pre-flashed",
    Stage.BEFORE: "before exposure, fresh",
}


def screen_page(
    session: LabSession,
    device: str,
    level: Level,
    now: datetime,
    *,
    is_staff: bool,
    name_form: Submitted[ThisScreen] | None = None,
    test_form: Submitted[NewTest] | None = None,
) -> ScreenPage:
    """`is_staff` says whose hands it is in: a tablet's group takes no name that has tests of another screen."""
    screen, colour = find_screen(session, device), find_screen_colour(session, now)
    tested = list_every_screen_test(session)
    free = [one for one in list_screens(session) if is_staff or one.id not in tested]
    tests = [] if screen is None else list_screen_tests(session, screen.id)
    names = {box.id: box.name for box in list_plate_boxes(session)}
    return ScreenPage(
        light=colour,
        level=level,
        levels=_level_choices(colour),
        name="" if screen is None else screen.name,
        known=[(one.id, one.name) for one in free if one != screen],
        boxes=_box_lines(list_boxes_near(session, now), tests, colour, level),
        tests=_test_lines(tests, names),
        choices=_choices(session, now, colour, level),
        name_form=name_form or Submitted(),
        test_form=test_form or Submitted(),
    )


def tablets_page(
    session: LabSession,
    level: Level,
    now: datetime,
    estimate: Submitted[Estimate],
    form: Submitted[NewScreen] | None = None,
) -> TabletsPage:
    """Every screen of the lab; what its tests say is told for the usual brightness."""
    colour, near = find_screen_colour(session, now), list_boxes_near(session, now)
    every_test = list_every_screen_test(session)
    lines = []
    for screen in list_screens(session):
        tests = every_test.get(screen.id, [])
        newest: date | None = tests[0].made_on if tests else None
        lines.append(
            ScreenLine(
                screen.id,
                screen.name,
                _box_lines(near, tests, colour, level),
                len(tests),
                "none yet" if newest is None else day_words(newest),
            )
        )
    dose = None if estimate.clean is None else _dose(estimate.clean)
    return TabletsPage(lines, _COLOURS, _LEVELS, dose, form or Submitted(), estimate)


def one_tablet_page(
    session: LabSession,
    screen_id: int,
    level: Level,
    now: datetime,
    *,
    name_form: Submitted[NewScreen] | None = None,
    test_form: Submitted[NewTest] | None = None,
) -> OneTabletPage:
    screen, colour = get_screen(session, screen_id), find_screen_colour(session, now)
    tests = list_screen_tests(session, screen.id)
    names = {box.id: box.name for box in list_plate_boxes(session)}
    return OneTabletPage(
        id=screen.id,
        name=screen.name,
        named=f"Named by {screen.named_by}.",
        boxes=_box_lines(list_boxes_near(session, now), tests, colour, level),
        tests=_test_lines(tests, names),
        choices=_choices(session, now, colour, level),
        name_form=name_form or Submitted(),
        test_form=test_form or Submitted(),
    )


def _dose(asked: Estimate) -> Dose:
    channel: Channel = asked.colour
    level = next(level for level in LEVELS if level == asked.level)
    luminance = relative_luminance(of_channel(channel, palette(channel, level).ink)) * asked.lit_percent / 100
    found = fog_dose(
        channel=channel,
        mean_luminance=luminance,
        white_cd_per_m2=asked.white_cd_per_m2,
        screen_mm2=asked.width_cm * asked.height_cm * MM_OF_CM**2,
        distance_mm=asked.distance_cm * MM_OF_CM,
        seconds=asked.minutes * _MINUTE_S,
        sensitivity=asked.sensitivity_percent / 100,
    )
    return Dose(
        f"{found.lux:.2g} lux and {found.uw_per_cm2:.2g} µW/cm² at the plate; {found.uj_per_cm2:.2g} µJ/cm² arrive, "
        f"of which {found.counted_uj_per_cm2:.2g} µJ/cm² count.",
        [
            ("Brightness", f"{level}: {channel} {palette(channel, level).ink} of 255"),
            ("White of the screen as it is set", f"{asked.white_cd_per_m2:g} cd/m²"),
            ("Lit share", f"{asked.lit_percent:g} %"),
            ("Mean luminance beside that white", f"{luminance:.2g}"),
            ("Screen", f"{asked.width_cm:g} cm by {asked.height_cm:g} cm"),
            ("Distance", f"{asked.distance_cm:g} cm, on the screen's axis"),
            ("Time", f"{asked.minutes:g} min"),
            ("Sensitivity beside the laser's light", f"{asked.sensitivity_percent:g} %"),
        ],
        "lux = mean luminance × white × area ÷ distance²; µW/cm² = lux ÷ (683 × V) × 100, with V 0.862 for green "
        "(530 nm) and 0.381 for red (620 nm); µJ/cm² = µW/cm² × seconds; what counts = that × sensitivity.",
    )


@dataclass(frozen=True)
class LightTold:
    """What a screen is told while a page is open: the colour it may show near the plates, its brightness, and one short warning."""

    colour: Colour
    level: Level
    warning: str


def light_told(session: LabSession, device: str, level: Level, now: datetime) -> LightTold:
    """The warning is of the first box near the screen that no passed test answers for, or none from near enough."""
    colour, screen = find_screen_colour(session, now), find_screen(session, device)
    near = list_boxes_near(session, now)
    if colour == "none" or not near:
        return LightTold(colour, level, "")
    if screen is None:
        return LightTold(
            colour, level, f"▲ This screen has no name, so no fog test for {near[0].name}. See “Screen”."
        )
    tests = list_screen_tests(session, screen.id)
    for box in near:
        found = screening_of(tests, box_id=box.id, colour=colour, level=level)
        if found.trust is Trust.FAILED:
            return LightTold(
                colour, level, f"▲ {screen.name} failed its fog test for {box.name}: keep it away."
            )
        if found.trust is Trust.UNTESTED:
            return LightTold(colour, level, f"▲ {screen.name} has no fog test for {box.name}.")
        if found.distance_mm > NEAREST_MM:
            far = f"{found.distance_mm // MM_OF_CM} cm"
            return LightTold(
                colour, level, f"▲ {screen.name} was tested {far} from {box.name}: keep it as far away."
            )
    return LightTold(colour, level, "")
