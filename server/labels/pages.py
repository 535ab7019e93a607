"""What the pages of labels show."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import segno

from server.charges.models import Charge
from server.charges.queries import get_charge, list_charges
from server.chemistry.models import Batch
from server.chemistry.queries import get_batch, list_live_batches
from server.core.hazard_statements import Pictogram
from server.core.label_drawing import Content, LabelDrawing, Line, Measures, draw_label
from server.core.label_sheets import (
    FORMATS,
    Format,
    find_format,
    is_large_enough,
    millimetres,
    spots,
)
from server.core.label_sizes import (
    SIZES_RULE,
    TEXT_RULE,
    USE_RULE,
    Part,
    Rule,
    least_letter_um,
    letter_um_read_from,
    size_for,
    small_container,
)
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.shelf import held_words
from server.core.units import volume_words
from server.data.session import LabSession
from server.kits.queries import list_entries_into_batch
from server.labels.forms import Sheet
from server.people.queries import get_lab
from server.recipes.models import Solution
from server.stations.queries import get_place
from server.web.submitted import Submitted

ROLES = {
    Solution.DEVELOPER: "first bath of the tray line",
    Solution.BLEACH: "third bath of the tray line",
    Solution.STOCK: "to mix baths from",
    Solution.OTHER: "other bath",
}
CAUTIONS = {
    Solution.DEVELOPER: "Caustic: burns skin and eyes. See the SDS of stock A and of stock B.",
    Solution.BLEACH: "May be acid, stains and irritates; keep away from developer. See the SDS of the bleach.",
    Solution.STOCK: "See the SDS of each ingredient.",
    Solution.OTHER: "See the SDS of each ingredient.",
}
CLASSIFICATION = "Classification of the mixture: ask your safety office."
WHY_TRAY = "Several people use this tray, so it is not for immediate use and carries a label."
WASTE = "Not for the drain: into its own waste container."

UM_PER_MM = 1000
ONE_METRE_UM = 1_000_000
TRAY_LETTERS = letter_um_read_from(distance_um=ONE_METRE_UM) / UM_PER_MM
# Clear squares around a code.
CLEAR = 4


@dataclass(frozen=True)
class CodeDrawing:
    """A code's dark squares as a path, and how many squares it has on a side with the clear border."""

    path: str
    squares: int


@dataclass(frozen=True)
class Labelled:
    """One vessel with what its label says. `address` is the page of its label."""

    title: str
    address: str
    vessel_ul: int
    content: Content
    code: CodeDrawing


@dataclass(frozen=True)
class Warned:
    """`kind` is the shape of the note: stop or watch."""

    kind: str
    sentence: str
    address: str
    title: str


@dataclass(frozen=True)
class LabelView:
    """A label with its corner on the page, in millimetres."""

    title: str
    x: float
    y: float
    drawing: LabelDrawing
    code: CodeDrawing


@dataclass(frozen=True)
class PaperView:
    """One page of labels. `key` names its size in the style sheet of page sizes."""

    key: str
    width: float
    height: float
    labels: Sequence[LabelView]


@dataclass(frozen=True)
class Choice:
    id: int
    title: str
    state: str
    address: str


@dataclass(frozen=True)
class LabelsPage:
    batches: Sequence[Choice]
    charges: Sequence[Choice]
    formats: Sequence[tuple[str, str]]
    form: Submitted[Sheet]


@dataclass(frozen=True)
class LabelPage:
    """One label, drawn on the first format that is large enough, with everything it says in words."""

    title: str
    kind: str
    id: int
    origin: tuple[str, str]
    paper: PaperView
    format_name: str
    lines: Sequence[Line]
    pictograms: Sequence[Pictogram]
    warnings: Sequence[Warned]
    why: Sequence[str]
    rules: Sequence[Rule]
    formats: Sequence[tuple[str, str]]
    form: Submitted[Sheet]


@dataclass(frozen=True)
class SheetPage:
    papers: Sequence[PaperView]
    format_name: str
    labels: int
    warnings: Sequence[Warned]
    fitting: Sequence[str]


def code_of(address: str) -> CodeDrawing:
    """The code that a phone opens to an address."""
    rows = segno.make(address, micro=False).matrix
    runs = "".join(
        f"M{x + CLEAR} {y + CLEAR}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, dark in enumerate(row)
        if dark
    )
    return CodeDrawing(runs, len(rows) + 2 * CLEAR)


def _batch_lines(session: LabSession, batch: Batch, zone: str) -> Iterator[Line]:
    solution = Solution(batch.solution)
    yield Line(Part.CAUTION, CAUTIONS[solution])
    yield Line(Part.CLASSIFICATION, CLASSIFICATION)
    yield Line(Part.WASTE, WASTE)
    yield Line(Part.MADE, f"Made {moment_words(batch.mixed_at, zone)}, by {batch.mixed_by}.")
    for entry, bottle, kit in list_entries_into_batch(session, batch.number):
        yield Line(
            Part.FROM, f"From {held_words(-entry.change, bottle.measure)} {bottle.substance} ({kit.name})."
        )


def _labelled_batch(session: LabSession, batch: Batch, zone: str, link: str, vessel_ul: int = 0) -> Labelled:
    title = f"Batch {batch.number}"
    lines = [
        Line(Part.NAME, batch.solution.capitalize(), bold=True, grows=1.6),
        Line(Part.ROLE, f"{ROLES[Solution(batch.solution)].capitalize()}."),
        Line(Part.NUMBER, title, bold=True, grows=1.3),
        Line(Part.ENDS, f"Ends {moment_words(batch.ends_at, zone)} ({zone})", bold=True, grows=1.15),
        *_batch_lines(session, batch, zone),
        Line(Part.VOLUME, f"{volume_words(batch.volume_ul)} made."),
        Line(Part.LAB, get_lab(session).name),
    ]
    code = code_of(f"{link}{batch.id}")
    return Labelled(
        title=f"{title}, {batch.solution}",
        address=f"/labels/batches/{batch.id}",
        vessel_ul=max(batch.volume_ul, vessel_ul),
        content=Content(lines, (), code.squares, f"More: see the sheet of {title[0].lower()}{title[1:]}."),
        code=code,
    )


def _labelled_charge(session: LabSession, charge: Charge, zone: str, link: str) -> Labelled:
    batch, tray = get_batch(session, charge.batch_id), get_place(session, charge.place_id)
    ends = clock_at(batch.ends_at, zone)
    lines = [
        Line(Part.NAME, batch.solution.capitalize(), bold=True, least=TRAY_LETTERS),
        Line(Part.NUMBER, f"{tray.name}, batch {batch.number}", bold=True, grows=1.3),
        Line(Part.ENDS, f"Ends {ends}", bold=True, least=TRAY_LETTERS),
        Line(Part.MADE, f"{day_words(day_at(batch.ends_at, zone))} ({zone})."),
        Line(Part.MADE, f"Poured {moment_words(charge.poured_at, zone)}: {volume_words(charge.volume_ul)}."),
        Line(Part.ROLE, f"{ROLES[Solution(batch.solution)].capitalize()}; at most {charge.plates_at_most} plates."),
        *_batch_lines(session, batch, zone),
        Line(Part.LAB, get_lab(session).name),
    ]  # fmt: skip
    code = code_of(f"{link}{batch.id}")
    return Labelled(
        title=f"{tray.name}, batch {batch.number}",
        address=f"/labels/charges/{charge.id}",
        vessel_ul=charge.volume_ul,
        content=Content(lines, (), code.squares, f"More: see the sheet of batch {batch.number}."),
        code=code,
    )


def _drawn(labelled: Labelled, one: Format) -> LabelDrawing:
    size = size_for(labelled.vessel_ul)
    return draw_label(
        labelled.content,
        Measures(
            width=one.width_um / UM_PER_MM,
            height=one.height_um / UM_PER_MM,
            letters=least_letter_um(labelled.vessel_ul) / UM_PER_MM,
            pictogram=size.side_um / UM_PER_MM,
            pictogram_least=size.pictogram_least_um / UM_PER_MM,
        ),
    )


def _warnings(labelled: Labelled, one: Format, drawing: LabelDrawing) -> Iterator[Warned]:
    size = size_for(labelled.vessel_ul)

    def _warned(kind: str, sentence: str) -> Warned:
        return Warned(kind, sentence, labelled.address, labelled.title)

    if not is_large_enough(one, size):
        yield _warned(
            "stop",
            f"The label is smaller than {millimetres(size.long_um)} × {millimetres(size.short_um)} mm, "
            f"which a vessel for {volume_words(labelled.vessel_ul)} asks for. Choose a larger format.",
        )
    rule = small_container(labelled.vessel_ul)
    off = [line for line in drawing.left_off if line.part in rule.must]
    if off or (labelled.content.pictograms and not drawing.signs):
        wanting = "; ".join(line.words.rstrip(".") for line in off) or "the pictograms"
        yield _warned(
            "stop",
            f"There is no room for what must stand on it: {wanting}. A vessel of this size carries {rule.words}. "
            "Choose a larger format.",
        )
    rest = [line for line in drawing.left_off if line.part not in rule.must]
    if rest:
        yield _warned(
            "watch",
            f"Left off for want of room: {'; '.join(line.words.rstrip('.') for line in rest)}. "
            "The label refers to the sheet; print it too, or choose a larger format.",
        )
    if drawing.signs and drawing.side * UM_PER_MM < size.side_um:
        yield _warned(
            "watch",
            f"The pictograms are {drawing.side:g} mm wide; {millimetres(size.side_um)} mm are wanted where possible.",
        )


def _papers(labelled: Sequence[Labelled], one: Format, *, first: int) -> Sequence[PaperView]:
    papers: dict[int, list[LabelView]] = {}
    for each, spot in zip(labelled, spots(one, labels=len(labelled), first=first), strict=True):
        view = LabelView(
            each.title, spot.x_um / UM_PER_MM, spot.y_um / UM_PER_MM, _drawn(each, one), each.code
        )
        papers.setdefault(spot.page, []).append(view)
    size = one.page_width_um / UM_PER_MM, one.page_height_um / UM_PER_MM
    return [PaperView(one.key, *size, views) for views in papers.values()]


def _formats() -> Sequence[tuple[str, str]]:
    return [(one.key, one.name) for one in FORMATS]


def _fitting(labelled: Sequence[Labelled]) -> Sequence[Format]:
    """The formats that are large enough for each of the labels."""
    sizes = [size_for(each.vessel_ul) for each in labelled]
    return [one for one in FORMATS if all(is_large_enough(one, size) for size in sizes)]


def labels_page(
    session: LabSession, now: datetime, zone: str, form: Submitted[Sheet] | None = None
) -> LabelsPage:
    return LabelsPage(
        batches=[
            Choice(
                batch.id,
                f"Batch {batch.number}, {batch.solution}",
                f"{volume_words(batch.volume_ul)}, ends {moment_words(batch.ends_at, zone)}",
                f"/labels/batches/{batch.id}",
            )
            for batch in list_live_batches(session, now)
        ],
        charges=[
            Choice(
                charge.id,
                f"{tray.name}, {batch.solution}",
                f"{volume_words(charge.volume_ul)} of batch {batch.number}, ends {moment_words(batch.ends_at, zone)}",
                f"/labels/charges/{charge.id}",
            )
            for charge, batch, tray in list_charges(session)
        ],
        formats=_formats(),
        form=form or Submitted(),
    )


def _label_page(
    labelled: Labelled, kind: str, row_id: int, origin: tuple[str, str], why: Sequence[str]
) -> LabelPage:
    fitting = _fitting([labelled])
    best = next((one for one in fitting if not _drawn(labelled, one).left_off), fitting[-1])
    drawing = _drawn(labelled, best)
    single = LabelView(labelled.title, 0.0, 0.0, drawing, labelled.code)
    return LabelPage(
        title=labelled.title,
        kind=kind,
        id=row_id,
        origin=origin,
        paper=PaperView("preview", drawing.width, drawing.height, [single]),
        format_name=best.name,
        lines=labelled.content.lines,
        pictograms=labelled.content.pictograms,
        warnings=list(_warnings(labelled, best, drawing)),
        why=why,
        rules=(SIZES_RULE, TEXT_RULE, USE_RULE),
        formats=[(best.key, best.name), *((one.key, one.name) for one in FORMATS if one != best)],
        form=Submitted(),
    )


def _why_size(labelled: Labelled) -> str:
    size = size_for(labelled.vessel_ul)
    return (
        f"A vessel for {volume_words(labelled.vessel_ul)} asks for a label of at least {millimetres(size.long_um)} × "
        f"{millimetres(size.short_um)} mm with pictograms of {millimetres(size.side_um)} mm."
    )


def batch_label_page(session: LabSession, batch_id: int, zone: str, link: str) -> LabelPage:
    batch = get_batch(session, batch_id)
    labelled = _labelled_batch(session, batch, zone, link)
    origin = (f"/chemistry/batches/{batch_id}", f"Batch {batch.number}")
    return _label_page(labelled, "batch", batch_id, origin, [_why_size(labelled)])


def charge_label_page(session: LabSession, charge_id: int, zone: str, link: str) -> LabelPage:
    labelled = _labelled_charge(session, get_charge(session, charge_id), zone, link)
    return _label_page(labelled, "charge", charge_id, ("/charges", "Trays"), [WHY_TRAY, _why_size(labelled)])


def sheet_page(session: LabSession, asked: Sheet, zone: str, link: str) -> SheetPage:
    batches = [
        _labelled_batch(session, get_batch(session, batch_id), zone, link, asked.vessel_ul)
        for batch_id in asked.batch
    ]
    charges = [
        _labelled_charge(session, get_charge(session, charge_id), zone, link) for charge_id in asked.charge
    ]
    labelled = [*batches, *charges]
    one = find_format(asked.format) or FORMATS[0]
    papers = _papers(labelled, one, first=asked.first)
    return SheetPage(
        papers=papers,
        format_name=one.name,
        labels=len(labelled),
        warnings=[
            warned
            for each, view in zip(labelled, [view for paper in papers for view in paper.labels], strict=True)
            for warned in _warnings(each, one, view.drawing)
        ],
        fitting=[one.name for one in _fitting(labelled)],
    )


def page_sizes() -> str:
    """The style sheet that gives each format's page its size on paper."""
    return "".join(
        f"@page {one.key} {{ size: {millimetres(one.page_width_um)}mm {millimetres(one.page_height_um)}mm; margin: 0; }}\n"
        f"@media print {{ .paper-{one.key} {{ page: {one.key}; width: {millimetres(one.page_width_um)}mm; "
        f"height: {millimetres(one.page_height_um)}mm; }} }}\n"
        for one in FORMATS
    )
