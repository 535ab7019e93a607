"""What the pages of plate boxes show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from server.core.good_until import GoodUntil, good_until
from server.core.ledger import LedgerLine, ledger_lines
from server.core.moments import day_at, day_words, moment_words
from server.core.units import duration_words
from server.data.session import LabSession
from server.plates.forms import COLOURS, CountedPlates, DrawnPlates, LostPlates, NewPlateBox, Opening
from server.plates.models import PlateBox
from server.plates.queries import find_safelight, get_plate_box, list_plate_boxes, list_plate_entries
from server.web.submitted import Submitted

SEES_OPTIONS = (
    ("red blue", "red and blue: green safelight"),
    ("green blue", "green and blue: red safelight"),
    ("blue", "blue only: red safelight"),
    ("red", "red only: green safelight"),
    ("red green blue", "every colour: no safelight at all"),
)


@dataclass(frozen=True)
class BoxLine:
    id: int
    name: str
    plates_left: int
    size: str
    sees: str
    safelight: str
    dose: str
    warm_up: str
    opened: str
    good_until: GoodUntil


@dataclass(frozen=True)
class PlateShelf:
    """The plate boxes of the lab; `used` are the empty ones."""

    full: Sequence[BoxLine]
    used: Sequence[BoxLine]


@dataclass(frozen=True)
class PlateBoxesPage:
    boxes: PlateShelf
    sees_options: Sequence[tuple[str, str]]
    today: str
    box_form: Submitted[NewPlateBox]


@dataclass(frozen=True)
class PlateBoxPage:
    box: BoxLine
    arrived: str
    is_open: bool
    is_cold: bool
    lines: Sequence[LedgerLine]
    total: int
    opening_form: Submitted[Opening]
    test_form: Submitted[DrawnPlates]
    lost_form: Submitted[LostPlates]
    count_form: Submitted[CountedPlates]


def _millimetres(length_um: int) -> str:
    return f"{(Decimal(length_um) / 1000).normalize():f}"


def _sees(box: PlateBox) -> str:
    seen = [colour for colour in COLOURS if getattr(box, f"sees_{colour}")]
    return " and ".join([", ".join(seen[:-1]), seen[-1]]) if seen[1:] else seen[0]


def _box_line(box: PlateBox, day: date, zone: str) -> BoxLine:
    return BoxLine(
        id=box.id,
        name=box.name,
        plates_left=box.plates_left,
        size=f"{_millimetres(box.width_um)} × {_millimetres(box.height_um)} mm",
        sees=_sees(box),
        safelight=find_safelight(box) or "none, complete dark",
        dose=f"{box.dose_uj_per_cm2} µJ/cm²",
        warm_up=duration_words(box.warm_up_s) if box.warm_up_s else "none",
        opened=f"opened {moment_words(box.opened_at, zone)}" if box.opened_at else "sealed",
        good_until=good_until(box.expires_on, day),
    )


def plate_shelf(session: LabSession, day: date, zone: str) -> PlateShelf:
    boxes = [_box_line(box, day, zone) for box in list_plate_boxes(session)]
    return PlateShelf(
        [box for box in boxes if box.plates_left], [box for box in boxes if not box.plates_left]
    )


def plate_boxes_page(
    session: LabSession, now: datetime, zone: str, box_form: Submitted[NewPlateBox] | None = None
) -> PlateBoxesPage:
    day = day_at(now, zone)
    return PlateBoxesPage(
        plate_shelf(session, day, zone), SEES_OPTIONS, day.isoformat(), box_form or Submitted()
    )


def plate_box_page(
    session: LabSession,
    plate_box_id: int,
    now: datetime,
    zone: str,
    opening_form: Submitted[Opening] | None = None,
    test_form: Submitted[DrawnPlates] | None = None,
    lost_form: Submitted[LostPlates] | None = None,
    count_form: Submitted[CountedPlates] | None = None,
) -> PlateBoxPage:
    box = get_plate_box(session, plate_box_id)
    lines, total = ledger_lines(
        ((entry, entry.change, entry.kind) for entry in list_plate_entries(session, plate_box_id)), zone, str
    )
    return PlateBoxPage(
        box=_box_line(box, day_at(now, zone), zone),
        arrived=day_words(box.arrived_on),
        is_open=box.opened_at is not None,
        is_cold=box.warm_up_s > 0,
        lines=lines,
        total=total,
        opening_form=opening_form or Submitted(),
        test_form=test_form or Submitted(),
        lost_form=lost_form or Submitted(),
        count_form=count_form or Submitted(),
    )
