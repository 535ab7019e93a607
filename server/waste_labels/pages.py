"""What the pages of waste containers' labels show."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from urllib.parse import urlencode

from server.chemistry.queries import composition_of
from server.containers.models import Source, Stream, WasteArea, WasteContainer
from server.containers.pages import started_words
from server.containers.queries import (
    find_area,
    find_last_batch_of,
    get_container,
    get_stream,
    list_containers,
)
from server.core.hazard_statements import Pictogram, read_hazards
from server.core.label_drawing import Line
from server.core.label_sheets import FORMATS, Format, find_format
from server.core.label_sizes import Part
from server.core.label_words import CLASSIFICATION, Ingredient, hazard_lines
from server.core.moments import day_at, day_words
from server.core.units import volume_words
from server.core.waste_rules.container_label import ContainerLabel, container_label
from server.data.session import LabSession
from server.labels.pages import (
    Choice,
    Labelled,
    LabelPage,
    PaperView,
    Warned,
    draw_sheet,
    format_options,
    label_page_of,
    make_label,
    opens_only_here,
    printed_words,
    why_size,
)
from server.labels.queries import find_last_printed, list_printed_labels
from server.people.queries import get_lab
from server.rules.queries import find_rules
from server.waste_labels.forms import ContainerSheet
from server.web.submitted import Submitted

EVERY = ("/waste/labels", "Waste labels")
# What is written on by hand.
BLANK = "____________"
ASK = "Which hazards it has and how it is classified: ask your waste office."
CLOSED = "Keep closed; a funnel in the neck is an open lid. Never mix with another stream."
CONTENTS = {
    Source.DEVELOPER: "Spent photographic developer in water",
    Source.BLEACH: "Spent photographic bleach in water",
    Source.RINSE: "Rinse water from photographic plates",
}


@dataclass(frozen=True)
class WasteLabelsPage:
    containers: Sequence[Choice]
    formats: Sequence[tuple[str, str]]
    format: str
    first: int
    form: Submitted[ContainerSheet]


@dataclass(frozen=True)
class WasteSheetPage:
    """`held_before` names the containers that had another label; `opens_only_here` is as on every page of labels."""

    papers: Sequence[PaperView]
    asked: ContainerSheet
    format_name: str
    labels: int
    warnings: Sequence[Warned]
    fitting: Sequence[tuple[str, str]]
    held_before: Sequence[str]
    opens_only_here: str
    form: Submitted[ContainerSheet]


def contents_words(stream: Stream) -> str:
    """The contents in words, for somebody who knows nothing of the lab."""
    return CONTENTS.get(Source(stream.takes), f"{stream.name}, from processing photographic plates")


def _hazards(session: LabSession, stream: Stream) -> tuple[list[Line], tuple[Pictogram, ...]]:
    """What the lab says of the stream, and the hazards of everything in the batch mixed last of what it takes."""
    said = read_hazards(stream.hazards)
    batch = find_last_batch_of(session, stream)
    inside = () if batch is None else composition_of(session, batch)
    ingredients = [Ingredient(part.name, part.strength_said, part.hazards) for part in inside]
    if said.codes:
        ingredients.insert(0, Ingredient(stream.name, "", " ".join(said.codes)))
    lines, pictograms = hazard_lines(list(dict.fromkeys(ingredients)), ())
    told = [replace(line, words=ASK) if line.words == CLASSIFICATION else line for line in lines]
    words = said.words if said.codes else stream.hazards.rstrip(".")
    words = f"{words[:1].upper()}{words[1:]}." if words else "Hazards: ask your waste office."
    return [Line(Part.CAUTION, words), *told], pictograms


def _dates(container: WasteContainer, asked: ContainerLabel, zone: str) -> Iterator[Line]:
    started = BLANK if container.first_pour_at is None else started_words(container, zone)
    yield Line(Part.START, f"Start date (first drop): {started}", bold=True, grows=1.15)
    if container.full_at is not None:
        yield Line(Part.START, f"Full: {day_words(day_at(container.full_at, zone))}")
    if asked.dating:
        yield Line(Part.START, f"Over the limit of its place since: {BLANK}")
    if asked.codes:
        yield Line(Part.START, f"Waste code: {BLANK}")


def _place_words(area: WasteArea | None) -> str:
    return f"Stands: {BLANK}" if area is None else f"Stands: {area.name} ({area.kind} area)."


def _asked(session: LabSession, container: WasteContainer, now: datetime, zone: str) -> ContainerLabel:
    """What the lab's rules of today ask for on this container."""
    return container_label(find_rules(session, day_at(now, zone)).book, vessel_ul=container.size_ul)


def _labelled(session: LabSession, container_id: int, now: datetime, zone: str, base: str) -> Labelled:
    container = get_container(session, container_id)
    stream = get_stream(session, container.stream_id)
    asked = _asked(session, container, now, zone)
    hazards, pictograms = _hazards(session, stream)
    size, line = volume_words(container.size_ul), volume_words(container.fill_line_ul)
    lines = [
        Line(Part.RULE_WORDS, asked.words, bold=True, grows=1.8),
        *([] if asked.is_by_rule else [Line(Part.RULE_WORDS, f"Words that the waste office asks for: {BLANK}")]),
        Line(Part.NAME, contents_words(stream), bold=True, grows=1.4),
        Line(Part.NUMBER, f"{container.name}; stream: {stream.name}", bold=True, grows=1.3),
        *_dates(container, asked, zone),
        *hazards,
        Line(Part.FILL_LINE, f"Fill to {line} at most; {size} to the brim."),
        Line(Part.WASTE, CLOSED),
        Line(Part.AREA, _place_words(find_area(session, container))),
        *([Line(Part.AREA, f"Earlier label taken off: {BLANK}")] if container.previous_contents else []),
        Line(Part.LAB, get_lab(session).name),
    ]  # fmt: skip
    return make_label(
        container.name, f"/waste/containers/{container_id}/label", lines, pictograms,
        vessel_ul=container.size_ul, opens=f"{base}/waste/containers/{container_id}",
    )  # fmt: skip


def _why(session: LabSession, container: WasteContainer, now: datetime, zone: str) -> Iterator[str]:
    asked = _asked(session, container, now, zone)
    for rule in asked.rules:
        words = f": {'; '.join(rule.lines)}" if rule.lines else ""
        yield f"{rule.title[:1].upper()}{rule.title[1:]}{words}. {rule.says} {rule.edition}; source: {rule.source}."
    if not asked.is_by_rule:
        yield "The rules that this lab keeps name no words for the label. Your waste office does: write them on it."
    batch = find_last_batch_of(session, get_stream(session, container.stream_id))
    if batch is not None:
        yield (
            f"Ingredients and their hazards are those of batch {batch.number}, which was mixed last of what this stream takes. What was "
            "poured before may have held others."
        )


def waste_label_page(
    session: LabSession, container_id: int, *, now: datetime, zone: str, base: str
) -> LabelPage:
    container = get_container(session, container_id)
    labelled = _labelled(session, container_id, now, zone, base)
    return label_page_of(
        labelled,
        "container_ids",
        container_id,
        (f"/waste/containers/{container_id}", container.name),
        [*_why(session, container, now, zone), why_size(labelled)],
        base,
        every=EVERY,
    )


def waste_labels_page(
    session: LabSession, *, zone: str, form: Submitted[ContainerSheet] | None = None
) -> WasteLabelsPage:
    printed = {one.container_id: one for one in list_printed_labels(session) if one.container_id}
    last = find_last_printed(session)
    labels = (find_format(last.format) or FORMATS[0]).labels if last else 1
    return WasteLabelsPage(
        containers=[
            Choice(
                container.id,
                f"{container.name}, {get_stream(session, container.stream_id).name}",
                f"{volume_words(container.size_ul)}, {container.state}",
                f"/waste/containers/{container.id}/label",
                printed_words(printed.get(container.id), zone),
            )
            for container in list_containers(session)
        ],
        formats=format_options(),
        format=last.format if last else FORMATS[0].key,
        first=last.place % labels + 1 if last else 1,
        form=form or Submitted(),
    )


def waste_sheet_page(
    session: LabSession,
    asked: ContainerSheet,
    *,
    now: datetime,
    zone: str,
    base: str,
    form: Submitted[ContainerSheet] | None = None,
) -> WasteSheetPage:
    one = find_format(asked.format) or FORMATS[0]
    labelled = [_labelled(session, container_id, now, zone, base) for container_id in asked.container_ids]
    sheet = draw_sheet(labelled, one, first=asked.first)
    containers = [get_container(session, container_id) for container_id in asked.container_ids]
    return WasteSheetPage(
        papers=sheet.papers,
        asked=asked,
        format_name=one.name,
        labels=len(labelled),
        warnings=sheet.warnings,
        fitting=[(each.name, _sheet_address(asked, each)) for each in sheet.fitting],
        held_before=[container.name for container in containers if container.previous_contents],
        opens_only_here=opens_only_here(base),
        form=form or Submitted(),
    )


def _sheet_address(asked: ContainerSheet, one: Format) -> str:
    """The same labels on another format, from its first label on."""
    return f"{EVERY[0]}/sheet?" + urlencode(
        {"format": one.key, "container_ids": asked.container_ids}, doseq=True
    )
