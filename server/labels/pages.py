"""What the pages of labels show."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from urllib.parse import urlencode, urlsplit

import segno

from server.charges.pages import override_words
from server.charges.queries import TrayCharge, find_size_at_hand, get_tray_charge, list_charges
from server.chemistry.models import Batch
from server.chemistry.queries import (
    composition_of,
    get_batch,
    list_checks,
    list_ingredients,
    list_live_batches,
    usable_until,
)
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
    CORROSIVE_RULE,
    SIZES_RULE,
    SMALL_RULE,
    TEXT_RULE,
    USE_RULE,
    Part,
    Rule,
    is_for_immediate_use,
    least_letter_um,
    letter_um_read_from,
    size_for,
    small_container,
)
from server.core.label_words import Acidity, Ingredient, hazard_lines
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.recipe import PURE_PPM, Measure, amount_words
from server.core.units import plates_words, volume_words
from server.core.working_solution import plates_within
from server.data.session import LabSession
from server.kits.models import Bottle, Kit
from server.kits.queries import (
    get_bottle,
    get_kit,
    list_bottle_entries,
    list_every_bottle,
)
from server.labels.forms import Sheet, Use
from server.labels.models import PrintedLabel
from server.labels.queries import find_last_printed, list_printed_labels
from server.people.queries import get_lab
from server.recipes.models import Solution
from server.recipes.queries import get_edition, get_recipe
from server.web.submitted import Submitted

ROLES = {
    Solution.DEVELOPER: "first bath of the tray line",
    Solution.BLEACH: "third bath of the tray line",
    Solution.STOCK: "to mix baths from",
    Solution.OTHER: "other bath",
}
CAUTIONS = {
    Solution.DEVELOPER: "Caustic: burns skin and eyes. See the SDS of each ingredient.",
    Solution.BLEACH: "May be acid, stains and irritates; keep away from developer. See the SDS of each ingredient.",
    Solution.STOCK: "See the SDS of each ingredient.",
    Solution.OTHER: "See the SDS of each ingredient.",
}
WHY_TRAY = "Several people use this tray, so it is not for immediate use and carries a label."
WHY_BOTH = "The label that the bottle came with stays on and is not written over (29 CFR 1910.1200(f)(9)); this one stands beside it."
WASTE = "Not for the drain: into its own waste container."

UM_PER_MM = 1000
ONE_METRE_UM = 1_000_000
TRAY_LETTERS = letter_um_read_from(distance_um=ONE_METRE_UM) / UM_PER_MM
PPM_PER_PERCENT = 10_000
# How much room a powder takes: assumed, a millilitre a gram.
POWDER_UL_PER_MG = 1
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
    """`printed` says when its label was printed last; empty where it never was."""

    id: int
    title: str
    state: str
    address: str
    printed: str


@dataclass(frozen=True)
class LabelsPage:
    batches: Sequence[Choice]
    charges: Sequence[Choice]
    bottles: Sequence[Choice]
    formats: Sequence[tuple[str, str]]
    format: str
    first: int
    form: Submitted[Sheet]
    use_form: Submitted[Use]
    use: str


@dataclass(frozen=True)
class LabelPage:
    """One label, drawn on the first format that is large enough, with everything it says in words.

    `kind` is the field by which the form at `sheet` knows it; `every` is the page where labels are chosen.
    `opens_only_here` is the address that its code holds where no phone reaches it, otherwise empty.
    """

    title: str
    kind: str
    id: int
    every: tuple[str, str]
    sheet: str
    origin: tuple[str, str]
    paper: PaperView
    format_name: str
    lines: Sequence[Line]
    pictograms: Sequence[Pictogram]
    warnings: Sequence[Warned]
    why: Sequence[str]
    rules: Sequence[Rule]
    formats: Sequence[tuple[str, str]]
    opens_only_here: str
    form: Submitted[Sheet]


@dataclass(frozen=True)
class DrawnSheet:
    """Labels on their pages, what is to be said of them, and, where something is, the formats that are large enough."""

    papers: Sequence[PaperView]
    warnings: Sequence[Warned]
    fitting: Sequence[Format]


@dataclass(frozen=True)
class SheetPage:
    """`opens_only_here` is the address that its codes hold where no phone reaches it, otherwise empty."""

    papers: Sequence[PaperView]
    asked: Sheet
    format_name: str
    labels: int
    warnings: Sequence[Warned]
    fitting: Sequence[tuple[str, str]]
    opens_only_here: str


def opens_only_here(base: str) -> str:
    """A server's address where it means whatever machine reads it, so that a phone would look on itself; otherwise empty."""
    return base if urlsplit(base).hostname in {"localhost", "127.0.0.1", "::1"} else ""


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


def _hazards(session: LabSession, batches: Sequence[Batch]) -> tuple[list[Line], tuple[Pictogram, ...]]:
    """Of everything that is in these batches, which stand in one vessel."""
    inside = [part for batch in batches for part in composition_of(session, batch)]
    ingredients = [Ingredient(part.name, part.strength_said, part.hazards) for part in inside]
    measured = [acidity for batch in batches if (acidity := _last_measured(session, batch))]
    lines, pictograms = hazard_lines(list(dict.fromkeys(ingredients)), measured)
    return [Line(Part.CAUTION, CAUTIONS[Solution(batches[0].solution)]), *lines], pictograms


def _last_measured(session: LabSession, batch: Batch) -> Acidity | None:
    measured = [
        Acidity(check.ph_hundredths, check.temperature_decicelsius)
        for check in list_checks(session, batch.id)
        if check.ph_hundredths is not None and check.temperature_decicelsius is not None
    ]
    return measured[-1] if measured else None


def _headed(words: str) -> str:
    """With a capital at the beginning, and whatever capitals stand in it already."""
    return words[:1].upper() + words[1:]


def _role(batch: Batch) -> str:
    """What it is for, and first what it is where its name doesn't say so."""
    role = ROLES[Solution(batch.solution)]
    return _headed(role if batch.name.casefold() == batch.solution else f"{batch.solution}, {role}")


def _made_lines(session: LabSession, batch: Batch, zone: str) -> Iterator[Line]:
    yield Line(Part.WASTE, WASTE)
    ready = f"; ready {clock_at(batch.ready_at, zone)}" if batch.ready_at > batch.mixed_at else ""
    yield Line(Part.MADE, f"Made {moment_words(batch.mixed_at, zone)}, by {batch.mixed_by}{ready}.")
    if batch.edition_id is not None:
        edition = get_edition(session, batch.edition_id)
        yield Line(
            Part.EDITION, f"Recipe {get_recipe(session, edition.recipe_id).name}, edition {edition.number}."
        )
    for one in list_ingredients(session, batch.number):
        lot = f", lot {one.lot}" if one.lot else ""
        yield Line(Part.FROM, f"From {amount_words(one.amount, one.measure)} {one.name} ({one.source}{lot}).")
    if batch.water_ul:
        yield Line(Part.FROM, f"From {volume_words(batch.water_ul)} water.")


def _labelled_batch(session: LabSession, batch_id: int, zone: str, base: str, vessel_ul: int = 0) -> Labelled:
    batch = get_batch(session, batch_id)
    hazards, pictograms = _hazards(session, [batch])
    lines = [
        Line(Part.NAME, _headed(batch.name), bold=True, grows=1.6),
        Line(Part.ROLE, f"{_role(batch)}."),
        Line(Part.NUMBER, f"Batch {batch.number}", bold=True, grows=1.3),
        Line(Part.ENDS, f"Ends {moment_words(usable_until(batch), zone)} ({zone})", bold=True, grows=1.15),
        *hazards,
        *_made_lines(session, batch, zone),
        Line(Part.VOLUME, f"{volume_words(batch.volume_ul)} made."),
        Line(Part.LAB, get_lab(session).name),
    ]
    return make_label(
        f"Batch {batch.number}, {batch.name}", f"/labels/batches/{batch_id}", lines, pictograms,
        vessel_ul=max(batch.volume_ul, vessel_ul), opens=f"{base}/chemistry/batches/{batch_id}",
    )  # fmt: skip


def _labelled_charge(session: LabSession, charge_id: int, zone: str, base: str) -> Labelled:
    """The batch that ends first speaks for what was poured to it too: it is the same solution."""
    found, size = get_tray_charge(session, charge_id), find_size_at_hand(session)
    batch, tray, charge = found.first_ending.batch, found.tray, found.charge
    serves = plates_within(area_mm2=charge.area_at_most_mm2 + charge.allowed_mm2, plate_mm2=size.area_mm2)
    batches = {part.batch.id: part.batch for part in found.parts}
    hazards, pictograms = _hazards(session, [batch, *(one for one in batches.values() if one.id != batch.id)])
    lines = [
        Line(Part.NAME, _headed(batch.name), bold=True, least=TRAY_LETTERS),
        Line(Part.NUMBER, f"{tray.name}, {found.batches}", bold=True, grows=1.3),
        Line(Part.ENDS, f"Ends {clock_at(found.ends_at, zone)}", bold=True, least=TRAY_LETTERS),
        Line(Part.ENDS, f"{day_words(day_at(found.ends_at, zone))} ({zone})."),
        Line(Part.ROLE, f"{_role(batch)}; at most {plates_words(serves)} of {size.words}."),
        *(Line(Part.ROLE, f"{override_words(override, zone)}.") for override in found.overrides),
        *_poured_lines(found, zone),
        *hazards,
        *_made_lines(session, batch, zone),
        Line(Part.LAB, get_lab(session).name),
    ]  # fmt: skip
    return make_label(
        f"{tray.name}, {found.batches}", f"/labels/charges/{charge_id}", lines, pictograms,
        vessel_ul=charge.volume_ul, opens=f"{base}/chemistry/batches/{batch.id}",
    )  # fmt: skip


def _poured_lines(found: TrayCharge, zone: str) -> Iterator[Line]:
    for index, part in enumerate(found.parts):
        done = "Topped up" if index else "Poured"
        what = f"{volume_words(part.volume_ul)} of batch {part.batch.number}"
        yield Line(Part.MADE, f"{done} {moment_words(part.poured_at, zone)}, by {part.poured_by}: {what}.")


def _labelled_bottle(session: LabSession, bottle_id: int, zone: str, base: str) -> Labelled:
    bottle = get_bottle(session, bottle_id)
    kit = get_kit(session, bottle.kit_id)
    measure = Measure(bottle.measure)
    arrived = list_bottle_entries(session, bottle_id)[0].change
    hazards, pictograms = hazard_lines([Ingredient(bottle.substance, "", bottle.hazards)], ())
    opened = f"Opened {moment_words(bottle.opened_at, zone)}." if bottle.opened_at else "Opened: ____________"
    purity = f", {Decimal(bottle.purity_ppm) / PPM_PER_PERCENT:f} %" if bottle.purity_ppm < PURE_PPM else ""
    lines = [
        Line(Part.NAME, _headed(bottle.substance), bold=True, grows=1.6),
        *([Line(Part.CONTENTS, f"{bottle.formula}{purity}")] if bottle.formula or purity else []),
        Line(Part.NUMBER, _lot(bottle, kit), bold=True, grows=1.3),
        Line(Part.ENDS, _good_until(kit), bold=True, grows=1.15),
        Line(Part.MADE, opened),
        *hazards,
        Line(Part.MADE, f"Arrived {day_words(kit.arrived_on)}."),
        *([Line(Part.ROLE, f"Stands: {kit.storage}.")] if kit.storage else []),
        Line(Part.VOLUME, f"{amount_words(arrived, measure)} when it arrived."),
        Line(Part.LAB, get_lab(session).name),
    ]
    return make_label(
        f"{bottle.substance} of {kit.name}", f"/labels/bottles/{bottle_id}", lines, pictograms,
        vessel_ul=arrived if measure == Measure.VOLUME else arrived * POWDER_UL_PER_MG, opens=f"{base}/stock/kits/{kit.id}",
    )  # fmt: skip


def _lot(bottle: Bottle, kit: Kit) -> str:
    return f"{kit.name}, lot {bottle.lot}" if bottle.lot else kit.name


def _good_until(kit: Kit) -> str:
    return f"Good until {day_words(kit.expires_on)}" if kit.expires_on else "No day of expiry is known"


def make_label(
    title: str,
    address: str,
    lines: Sequence[Line],
    pictograms: Sequence[Pictogram],
    *,
    vessel_ul: int,
    opens: str,
) -> Labelled:
    code = code_of(opens)
    content = Content(lines, pictograms, code.squares, f"More: see the sheet of {title}.")
    return Labelled(title, address, vessel_ul, content, code)


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
    if not drawing.from_afar:
        yield _warned("watch", "Its name and end can't be read from a metre. Choose a larger format.")
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


def draw_sheet(labelled: Sequence[Labelled], one: Format, *, first: int) -> DrawnSheet:
    """The labels on as many pages of a format as they take."""
    papers = _papers(labelled, one, first=first)
    views = [view for paper in papers for view in paper.labels]
    warnings = [
        warned
        for each, view in zip(labelled, views, strict=True)
        for warned in _warnings(each, one, view.drawing)
    ]
    return DrawnSheet(papers, warnings, _fitting(labelled) if warnings else ())


def format_options() -> Sequence[tuple[str, str]]:
    return [(one.key, one.name) for one in FORMATS]


def _fitting(labelled: Sequence[Labelled]) -> Sequence[Format]:
    """The formats that are large enough for each of the labels: those that leave nothing off, or all where none does."""
    sizes = {size_for(each.vessel_ul) for each in labelled}
    large = [one for one in FORMATS if all(is_large_enough(one, size) for size in sizes)]
    return [one for one in large if not any(_drawn(each, one).left_off for each in labelled)] or large


def _sheet_address(asked: Sheet, one: Format) -> str:
    """The same labels on another format, from its first label on."""
    chosen = asked.model_dump(include={"batch_ids", "charge_ids", "bottle_ids"})
    volume = {"vessel_ul": f"{asked.vessel_ul} µL"} if asked.vessel_ul else {}
    return "/labels/sheet?" + urlencode({"format": one.key, **volume, **chosen}, doseq=True)


def labels_page(
    session: LabSession,
    now: datetime,
    zone: str,
    form: Submitted[Sheet] | None = None,
    use: Submitted[Use] | None = None,
) -> LabelsPage:
    printed = list_printed_labels(session)
    batches = {one.batch_id: one for one in printed if one.batch_id}
    charges = {one.charge_id: one for one in printed if one.charge_id}
    bottles = {one.bottle_id: one for one in printed if one.bottle_id}
    last = find_last_printed(session)
    labels = (find_format(last.format) or FORMATS[0]).labels if last else 1
    return LabelsPage(
        batches=[
            Choice(
                batch.id,
                f"Batch {batch.number}, {batch.name}",
                f"{volume_words(batch.volume_ul)}, ends {moment_words(usable_until(batch), zone)}",
                f"/labels/batches/{batch.id}",
                printed_words(batches.get(batch.id), zone),
            )
            for batch in list_live_batches(session, now)
        ],
        charges=[
            Choice(
                found.charge.id,
                f"{found.tray.name}, {found.charge.solution}",
                f"{volume_words(found.charge.volume_ul)} of {found.batches}, ends {moment_words(found.ends_at, zone)}",
                f"/labels/charges/{found.charge.id}",
                printed_words(charges.get(found.charge.id), zone),
            )
            for found in list_charges(session)
        ],
        bottles=[
            Choice(
                bottle.id,
                f"{bottle.substance} of {kit.name}",
                _good_until(kit),
                f"/labels/bottles/{bottle.id}",
                printed_words(bottles.get(bottle.id), zone),
            )
            for bottle, kit in list_every_bottle(session)
            if bottle.left
        ],
        formats=format_options(),
        format=last.format if last else FORMATS[0].key,
        first=last.place % labels + 1 if last else 1,
        form=form or Submitted(),
        use_form=use or Submitted(),
        use=_use_words(use.clean) if use and use.clean else "",
    )


def printed_words(printed: PrintedLabel | None, zone: str) -> str:
    return f"printed {moment_words(printed.printed_at, zone)}, by {printed.printed_by}" if printed else ""


def _use_words(use: Use) -> str:
    immediate = is_for_immediate_use(
        only_by_who_filled_it=not use.by_others, within_the_shift=not use.past_the_shift
    )
    return (
        "It is for immediate use and needs no label, as long as nobody else takes it up and it is empty when the shift ends."
        if immediate
        else "It is not for immediate use and needs a label."
    )


def label_page_of(
    labelled: Labelled,
    kind: str,
    row_id: int,
    origin: tuple[str, str],
    why: Sequence[str],
    base: str,
    *,
    every: tuple[str, str] = ("/labels", "Labels"),
) -> LabelPage:
    """The page of one label; sheets of such labels are shown below the page `every`."""
    fitting = _fitting([labelled])
    best = fitting[-1] if _drawn(labelled, fitting[0]).left_off else fitting[0]
    drawing = _drawn(labelled, best)
    single = LabelView(labelled.title, 0.0, 0.0, drawing, labelled.code)
    return LabelPage(
        title=labelled.title,
        kind=kind,
        id=row_id,
        every=every,
        sheet=f"{every[0]}/sheet",
        origin=origin,
        paper=PaperView("preview", drawing.width, drawing.height, [single]),
        format_name=best.name,
        lines=labelled.content.lines,
        pictograms=labelled.content.pictograms,
        warnings=list(_warnings(labelled, best, drawing)),
        why=why,
        rules=(SIZES_RULE, TEXT_RULE, SMALL_RULE, CORROSIVE_RULE, USE_RULE),
        formats=[(best.key, best.name), *((one.key, one.name) for one in FORMATS if one != best)],
        opens_only_here=opens_only_here(base),
        form=Submitted(),
    )


def why_size(labelled: Labelled) -> str:
    size = size_for(labelled.vessel_ul)
    return (
        f"A vessel for {volume_words(labelled.vessel_ul)} asks for a label of at least {millimetres(size.long_um)} × "
        f"{millimetres(size.short_um)} mm with pictograms of {millimetres(size.side_um)} mm."
    )


def batch_label_page(session: LabSession, batch_id: int, zone: str, base: str) -> LabelPage:
    labelled = _labelled_batch(session, batch_id, zone, base)
    origin = (f"/chemistry/batches/{batch_id}", f"Batch {get_batch(session, batch_id).number}")
    return label_page_of(labelled, "batch_ids", batch_id, origin, [why_size(labelled)], base)


def charge_label_page(session: LabSession, charge_id: int, zone: str, base: str) -> LabelPage:
    labelled = _labelled_charge(session, charge_id, zone, base)
    return label_page_of(
        labelled, "charge_ids", charge_id, ("/charges", "Trays"), [WHY_TRAY, why_size(labelled)], base
    )


def bottle_label_page(session: LabSession, bottle_id: int, zone: str, base: str) -> LabelPage:
    labelled = _labelled_bottle(session, bottle_id, zone, base)
    kit = get_kit(session, get_bottle(session, bottle_id).kit_id)
    origin = (f"/stock/kits/{kit.id}", kit.name)
    return label_page_of(labelled, "bottle_ids", bottle_id, origin, [WHY_BOTH, why_size(labelled)], base)


def sheet_page(session: LabSession, asked: Sheet, zone: str, base: str) -> SheetPage:
    labelled = [
        *(_labelled_batch(session, one, zone, base, asked.vessel_ul) for one in asked.batch_ids),
        *(_labelled_charge(session, one, zone, base) for one in asked.charge_ids),
        *(_labelled_bottle(session, one, zone, base) for one in asked.bottle_ids),
    ]
    one = find_format(asked.format) or FORMATS[0]
    sheet = draw_sheet(labelled, one, first=asked.first)
    return SheetPage(
        papers=sheet.papers,
        asked=asked,
        format_name=one.name,
        labels=len(labelled),
        warnings=sheet.warnings,
        fitting=[(each.name, _sheet_address(asked, each)) for each in sheet.fitting],
        opens_only_here=opens_only_here(base),
    )


def page_sizes() -> str:
    """The style sheet that gives each format's page its size on paper."""
    return "".join(
        f"@page {one.key} {{ size: {millimetres(one.page_width_um)}mm {millimetres(one.page_height_um)}mm; margin: 0; }}\n"
        f"@media print {{ .paper-{one.key} {{ page: {one.key}; width: {millimetres(one.page_width_um)}mm; "
        f"height: {millimetres(one.page_height_um)}mm; }} }}\n"
        for one in FORMATS
    )
