"""What the pages of limits, of the site's months and of determinations show."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from server.charges.queries import find_size_at_hand
from server.containers.models import Stream, WasteContainer
from server.containers.queries import get_container, get_stream, list_streams
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.units import celsius_words, digits, mass_words, ph_words, volume_words
from server.core.waste_rules.carried import carried_into_rinse, chromium_mg_per_l, silver_mg_per_l
from server.core.waste_rules.characteristics import chromium, corrosivity, silver, strength_words
from server.core.waste_rules.clocks import months_after
from server.core.waste_rules.containment import containment
from server.core.waste_rules.finding import Finding, Verdict
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import RuleBook, RuleInForce
from server.core.waste_rules.totals import (
    CategoryFinding,
    Masses,
    area_acute_liquid,
    area_acute_solid,
    area_total,
    laboratory_acute_liquid,
    laboratory_acute_solid,
    laboratory_total,
    site_clock_total,
    site_month,
    site_total,
)
from server.data.session import LabSession
from server.limits.forms import (
    AskedCarried,
    AskedDissolved,
    NewCounting,
    NewDetermination,
    NewSiteMonth,
    NewTray,
)
from server.limits.models import CountsAs, Determination, SiteMonth
from server.limits.queries import (
    LABORATORY_MOST,
    AreaHeld,
    Measured,
    RunningClock,
    find_contribution,
    list_areas_held,
    list_clocks,
    list_countings,
    list_determinations,
    list_measured,
    list_site_months,
)
from server.rules.queries import KeptRules, find_rules
from server.shelves.pages import KIND_WORDS
from server.web.submitted import Submitted

# Assumed: a clock deserves a look from this many days before it is due.
SOON_DAYS = 7
# How many months the page of the site's months goes back.
_MONTHS_BACK = 12
# Assumed until the lab knows its plates: grams of silver on a square metre.
_ASSUMED_COVERAGE_G_PER_M2 = "3"
_STATES = {
    Verdict.OVER: "stop",
    Verdict.REACHED: "stop",
    Verdict.TOO_LITTLE: "stop",
    Verdict.MEASURE: "watch",
    Verdict.UNKNOWN: "watch",
    Verdict.RUNS: "watch",
}


@dataclass(frozen=True)
class RuleWords:
    title: str
    value: str
    edition: str
    source: str


@dataclass(frozen=True)
class FindingLine:
    """A check as a page shows it: `state` is well, watch, stop or plain; it opens to what went in, its formula and its rules."""

    title: str
    state: str
    verdict: str
    says: str
    given: Sequence[tuple[str, str]]
    formula: str
    rules: Sequence[RuleWords]


@dataclass(frozen=True)
class ClockLine:
    of: str
    address: str
    due: str
    left: str
    finding: FindingLine


@dataclass(frozen=True)
class AreaCard:
    name: str
    kind: str
    volume: str
    mass: str
    others: Sequence[str]
    findings: Sequence[FindingLine]


@dataclass(frozen=True)
class ContainerLine:
    id: int
    name: str
    stream: str
    area: str
    volume: str
    mass: str
    mass_why: str
    checks: Sequence[FindingLine]
    said: str


@dataclass(frozen=True)
class LimitsPage:
    """`wrong` counts the limits that are reached and the clocks that have run out."""

    rule_set: str
    is_chosen: bool
    wrong: int
    clocks: Sequence[ClockLine]
    areas: Sequence[AreaCard]
    laboratory: Sequence[FindingLine]
    site: Sequence[FindingLine]
    month: str
    contribution: str
    counted: str
    containers: Sequence[ContainerLine]
    area_options: Sequence[tuple[int, str]]
    stream_options: Sequence[tuple[int, str]]
    countings: Sequence[tuple[str, str]]
    tray_form: Submitted[NewTray]
    counting_form: Submitted[NewCounting]


def finding_line(finding: Finding, *, below: str = "plain") -> FindingLine:
    """A finding for a page; `below` is the state of a limit that is not reached."""
    is_below = finding.verdict in {Verdict.BELOW, Verdict.WITHIN, Verdict.ENOUGH}
    category = finding.category if isinstance(finding, CategoryFinding) else None
    return FindingLine(
        title=_begun(finding.title),
        state=below if is_below else _STATES.get(finding.verdict, "plain"),
        verdict=category or finding.verdict,
        says=finding.says,
        given=[(one.name, one.value) for one in finding.given],
        formula=finding.formula,
        rules=[
            RuleWords(_begun(rule.title), rule.words, rule.edition, rule.source) for rule in finding.rules
        ],
    )


def _begun(title: str) -> str:
    return title[0].upper() + title[1:]


def _said(rule: RuleInForce) -> bool:
    """Whether the set or the campus says anything of it, so that a page shows its check."""
    return rule.rule is not None or rule.override is not None


def _left(days: int) -> str:
    if days < 0:
        return f"{-days} {'day' if days == -1 else 'days'} over"
    if days == 0:
        return "due today"
    return f"{days} {'day' if days == 1 else 'days'} left"


def clock_state(days: int) -> tuple[str, str]:
    """State and words of a clock with so many days left."""
    if days < 0:
        return "stop", _left(days)
    return "watch" if days <= SOON_DAYS else "well", _left(days)


def _clock_line(running: RunningClock, today: date) -> ClockLine:
    state, left = clock_state((running.due - today).days)
    shown = finding_line(running.clock)
    finding = FindingLine(shown.title, state, left, shown.says, shown.given, shown.formula, shown.rules)
    return ClockLine(running.of, running.address, day_words(running.due), left, finding)


def _area_findings(book: RuleBook, held: AreaHeld) -> Iterator[FindingLine]:
    if not held.is_central:
        if _said(book.find(Key.AREA_MOST)):
            yield finding_line(area_total(book, volume_ul=held.volume_ul()), below="well")
        liquid, solid = held.volume_ul(CountsAs.ACUTE_LIQUID), held.mass_mg(CountsAs.ACUTE_SOLID)
        if liquid and _said(book.find(Key.AREA_ACUTE_LIQUID)):
            yield finding_line(area_acute_liquid(book, volume_ul=liquid), below="well")
        if solid and _said(book.find(Key.AREA_ACUTE_SOLID)):
            yield finding_line(area_acute_solid(book, mass_mg=solid), below="well")
    if held.capacities_ul:
        found = containment(book, capacities_ul=held.capacities_ul, tray_ul=held.tray_ul)
        yield finding_line(found, below="well")


def _area_card(book: RuleBook, held: AreaHeld) -> AreaCard:
    every = [held.volume_ul(one) for one in CountsAs], [held.mass_mg(one) for one in CountsAs]
    return AreaCard(
        name="Placed in no area" if held.area is None else held.area.name,
        kind="" if held.area is None else KIND_WORDS[held.area.kind],
        volume=volume_words(sum(every[0])),
        mass=mass_words(sum(every[1])),
        others=[
            f"{one.course}: {volume_words(one.volume_ul)} of {one.contents}, since {day_words(one.since)}"
            for one in held.other
        ],
        findings=list(_area_findings(book, held)),
    )


def _laboratory(book: RuleBook, held: Sequence[AreaHeld]) -> Iterator[FindingLine]:
    """Everything that stands in the lab counts as one; a central area is no part of it."""
    here = [area for area in held if not area.is_central]
    if _said(book.find(Key.LABORATORY_MOST)):
        total = sum(area.amount(LABORATORY_MOST) for area in here)
        yield finding_line(laboratory_total(book, volume_ul=total), below="well")
    liquid = sum(area.volume_ul(CountsAs.ACUTE_LIQUID) for area in here)
    solid = sum(area.mass_mg(CountsAs.ACUTE_SOLID) for area in here)
    if liquid and _said(book.find(Key.LABORATORY_ACUTE_LIQUID)):
        yield finding_line(laboratory_acute_liquid(book, volume_ul=liquid), below="well")
    if solid and _said(book.find(Key.LABORATORY_ACUTE_SOLID)):
        yield finding_line(laboratory_acute_solid(book, mass_mg=solid), below="well")


def _site(
    session: LabSession, rules: KeptRules, held: Sequence[AreaHeld], month: date, contribution: Masses
) -> Sequence[FindingLine]:
    """The site's category in a month, and what stands on it now as far as somebody said it last."""
    told = list_site_months(session)
    on_site = next((one.on_site_mg for one in reversed(told) if one.on_site_mg is not None), None)
    lab_mg = sum(area.mass_mg(one) for area in held for one in CountsAs)
    rest = next((_told_masses(one) for one in told if one.month == month), None)
    findings: list[Finding] = [site_month(rules.book, lab=contribution, rest=rest)]
    if _said(rules.book.find(Key.SITE_MOST)):
        findings.append(site_total(rules.book, lab_mg=lab_mg, rest_mg=on_site))
    if _said(rules.book.find(Key.SITE_FROM)):
        findings.append(site_clock_total(rules.book, lab_mg=lab_mg, rest_mg=on_site))
    return [finding_line(found, below="well") for found in findings]


def _told_masses(told: SiteMonth) -> Masses:
    return Masses(told.acute_mg, told.non_acute_mg, told.spill_mg)


def _checks(book: RuleBook, measured: Measured) -> Sequence[FindingLine]:
    """pH, silver and chromium of a container, each from its latest sample."""
    acid, silvery, chromic = measured.ph, measured.silver, measured.chromium
    found = (
        corrosivity(
            book,
            ph_hundredths=None if acid is None else acid.ph_hundredths,
            temperature_decicelsius=None if acid is None else acid.temperature_decicelsius,
            poured_since_ul=measured.came_in_since_ul(acid),
        ),
        silver(
            book,
            ug_per_l=None if silvery is None else silvery.silver_ug_per_l,
            poured_since_ul=measured.came_in_since_ul(silvery),
        ),
        chromium(
            book,
            ug_per_l=None if chromic is None else chromic.chromium_ug_per_l,
            poured_since_ul=measured.came_in_since_ul(chromic),
        ),
    )
    return [finding_line(one) for one in found]


def _mass_why(container: WasteContainer, stream: Stream) -> str:
    density = f"{Decimal(stream.density_ug_per_ul) / 1000:.3f}"
    assumed = ", which is assumed until it is measured" if stream.density_assumed else ""
    return (
        f"Net mass of its entries, without the container: weighed where they were weighed, otherwise volume × {density} g/mL{assumed}. "
        f"{volume_words(container.held_ul)} come to {mass_words(container.held_mg)}."
    )


def _container_lines(
    book: RuleBook, held: Sequence[AreaHeld], session: LabSession
) -> Iterator[ContainerLine]:
    measured = list_measured(session, [one.container.id for area in held for one in area.standing])
    for area in held:
        for one in area.standing:
            found = measured[one.container.id]
            yield ContainerLine(
                id=one.container.id,
                name=one.container.name,
                stream=one.stream.name,
                area="" if area.area is None else area.area.name,
                volume=volume_words(one.container.held_ul),
                mass=mass_words(one.container.held_mg),
                mass_why=_mass_why(one.container, one.stream),
                checks=_checks(book, found) if one.container.held_ul else [],
                said="" if found.said is None else found.said.said,
            )


def limits_page(
    session: LabSession,
    *,
    now: datetime,
    zone: str,
    tray_form: Submitted[NewTray] | None = None,
    counting_form: Submitted[NewCounting] | None = None,
) -> LimitsPage:
    today = day_at(now, zone)
    month = today.replace(day=1)
    rules = find_rules(session, today)
    held = list_areas_held(session)
    clocks = [_clock_line(one, today) for one in list_clocks(session, today, zone=zone)]
    areas = [_area_card(rules.book, area) for area in held]
    laboratory = list(_laboratory(rules.book, held))
    containers = list(_container_lines(rules.book, held, session))
    contribution = find_contribution(session, month, rules=rules, zone=zone)
    site = _site(session, rules, held, month, contribution)
    shown = [
        *(one.finding for one in clocks),
        *(finding for area in areas for finding in area.findings),
        *laboratory,
        *site,
        *(check for container in containers for check in container.checks),
    ]
    countings = list_countings(session)
    return LimitsPage(
        rule_set=rules.book.rule_set.title,
        is_chosen=rules.choice is not None,
        wrong=sum(finding.state == "stop" for finding in shown),
        clocks=clocks,
        areas=areas,
        laboratory=laboratory,
        site=site,
        month=f"{month:%B %Y}",
        contribution=_contribution_words(contribution),
        counted=_counted_words(rules),
        containers=containers,
        area_options=[(area.area.id, area.name) for area in held if area.area is not None],
        stream_options=[
            (one.id, f"{one.name} (counts as {countings.get(one.id, CountsAs.NON_ACUTE)})")
            for one in list_streams(session)
        ],
        countings=[(one.value, one.value) for one in CountsAs],
        tray_form=tray_form or Submitted(),
        counting_form=counting_form or Submitted(),
    )


def _contribution_words(masses: Masses) -> str:
    extra = [
        f"{mass_words(mass)} {words}"
        for mass, words in ((masses.acute_mg, "of acute waste"), (masses.spill_mg, "of acute spills"))
        if mass
    ]
    return "; ".join([mass_words(masses.non_acute_mg), *extra])


def _counted_words(rules: KeptRules) -> str:
    counted = rules.book.rule_set.counts_when_determined
    return (
        "What the waste office determined in that month counts, whenever it was poured."
        if counted
        else "What was poured in that month counts, less pours that were taken back. Transfers, samples and what dried up change nothing of it."
    )


@dataclass(frozen=True)
class MonthLine:
    month: str
    contribution: str
    rest: str
    on_site: str
    told: str
    is_known: bool
    finding: FindingLine


@dataclass(frozen=True)
class MonthsPage:
    rule_set: str
    counted: str
    months: Sequence[MonthLine]
    this_month: str
    form: Submitted[NewSiteMonth]


def months_page(
    session: LabSession, *, now: datetime, zone: str, form: Submitted[NewSiteMonth] | None = None
) -> MonthsPage:
    """The site's months, this one first. Each is judged by the rules of its own last day, or of today in this one."""
    today = day_at(now, zone)
    this_month = today.replace(day=1)
    return MonthsPage(
        rule_set=find_rules(session, today).book.rule_set.title,
        counted=_counted_words(find_rules(session, today)),
        months=_months(session, this_month, today, zone),
        this_month=f"{this_month:%Y-%m}",
        form=form or Submitted(),
    )


def _months(session: LabSession, this_month: date, today: date, zone: str) -> Sequence[MonthLine]:
    """The months back to the first of which anything is known, this one at least."""
    back = [months_after(this_month, -months) for months in range(_MONTHS_BACK)]
    lines = [_month_line(session, month, today, zone) for month in back]
    known = [number for number, line in enumerate(lines, start=1) if line.is_known]
    return lines[: max(known, default=1)]


def _month_line(session: LabSession, month: date, today: date, zone: str) -> MonthLine:
    last_day = min(today, months_after(month, 1) - timedelta(days=1))
    rules = find_rules(session, last_day)
    told = next((one for one in list_site_months(session) if one.month == month), None)
    rest = None if told is None else _told_masses(told)
    contribution = find_contribution(session, month, rules=rules, zone=zone)
    return MonthLine(
        month=f"{month:%B %Y}",
        contribution=_contribution_words(contribution),
        rest="" if rest is None else _contribution_words(rest),
        on_site="" if told is None or told.on_site_mg is None else mass_words(told.on_site_mg),
        is_known=told is not None or contribution != Masses(),
        told="" if told is None else f"{told.note}; {moment_words(told.entered_at, zone)}, {told.entered_by}",
        finding=finding_line(site_month(rules.book, lab=contribution, rest=rest), below="well"),
    )


@dataclass(frozen=True)
class DeterminationLine:
    when: str
    measured: Sequence[str]
    said: str
    held: str
    origin: str
    note: str
    entered: str


@dataclass(frozen=True)
class DeterminationsPage:
    container_id: int
    name: str
    stream: str
    held: str
    rule_set: str
    checks: Sequence[FindingLine]
    codes: Sequence[str]
    lines: Sequence[DeterminationLine]
    today: str
    clock: str
    form: Submitted[NewDetermination]


def determinations_page(
    session: LabSession,
    container_id: int,
    *,
    now: datetime,
    zone: str,
    form: Submitted[NewDetermination] | None = None,
) -> DeterminationsPage:
    container = get_container(session, container_id)
    rules = find_rules(session, day_at(now, zone))
    measured = list_measured(session, [container_id])[container_id]
    return DeterminationsPage(
        container_id=container_id,
        name=container.name,
        stream=get_stream(session, container.stream_id).name,
        held=f"{volume_words(container.held_ul)}, {mass_words(container.held_mg)} net",
        rule_set=rules.book.rule_set.title,
        checks=_checks(rules.book, measured),
        codes=rules.book.find(Key.CODES).lines,
        lines=[_determination_line(one, zone) for one in list_determinations(session, container_id)],
        today=day_at(now, zone).isoformat(),
        clock=clock_at(now, zone),
        form=form or Submitted(),
    )


def _determination_line(one: Determination, zone: str) -> DeterminationLine:
    measured = []
    if one.ph_hundredths is not None and one.temperature_decicelsius is not None:
        measured.append(f"{ph_words(one.ph_hundredths)} at {celsius_words(one.temperature_decicelsius)}")
    if one.silver_ug_per_l is not None:
        measured.append(f"silver {strength_words(one.silver_ug_per_l)}")
    if one.chromium_ug_per_l is not None:
        measured.append(f"chromium {strength_words(one.chromium_ug_per_l)}")
    return DeterminationLine(
        when=moment_words(one.sampled_at, zone),
        measured=measured,
        said=_said_words(one),
        held=f"{volume_words(one.held_ul)}, {mass_words(one.held_mg)}",
        origin=one.origin,
        note=one.note,
        entered=f"{moment_words(one.entered_at, zone)}, {one.entered_by}",
    )


def _said_words(one: Determination) -> str:
    return one.said if one.determined_on is None else f"{one.said}, on {day_words(one.determined_on)}"


@dataclass(frozen=True)
class Estimate:
    """What may come of it, how it was reckoned, and what to do. It never says that a limit is not reached."""

    figure: str
    words: str
    formula: str
    source: str


@dataclass(frozen=True)
class EstimatesPage:
    carried_form: Submitted[AskedCarried]
    dissolved_form: Submitted[AskedDissolved]
    carried: Estimate | None
    dissolved: Estimate | None
    plate: str
    coverage: str


def estimates_page(
    session: LabSession,
    *,
    now: datetime,
    zone: str,
    carried_form: Submitted[AskedCarried] | None = None,
    dissolved_form: Submitted[AskedDissolved] | None = None,
) -> EstimatesPage:
    book = find_rules(session, day_at(now, zone)).book
    carried, dissolved = carried_form or Submitted(), dissolved_form or Submitted()
    return EstimatesPage(
        carried_form=carried,
        dissolved_form=dissolved,
        carried=None if carried.clean is None else _carried(book, carried.clean),
        dissolved=None if dissolved.clean is None else _dissolved(session, book, dissolved.clean),
        plate=find_size_at_hand(session).words,
        coverage=_ASSUMED_COVERAGE_G_PER_M2,
    )


def _strength(mg_per_l: Decimal) -> str:
    return f"{digits(Fraction(mg_per_l), most=3)} mg/L"


def _carried(book: RuleBook, asked: AskedCarried) -> Estimate:
    is_silver = asked.bath_of == "silver"
    name, rule = ("silver", book.find(Key.SILVER)) if is_silver else ("chromium", book.find(Key.CHROMIUM))
    bath = (
        chromium_mg_per_l(dichromate_g_per_l=asked.strength)
        if asked.bath_of == "dichromate"
        else asked.strength
    )
    formula = (
        f"plates × carried volume × bath ÷ rinse = plates × {volume_words(asked.carried_ul)} × {_strength(bath)} ÷ "
        f"{volume_words(asked.rinse_ul)}, as if nothing left the rinse again"
    )
    if asked.bath_of == "dichromate":
        formula += (
            f"; bath: 2 × 51.996 ÷ 294.18 of {digits(Fraction(asked.strength))} g/L of dichromate is chromium"
        )
    limit = rule.amount
    if limit is None:
        return Estimate(
            "Ask", f"the waste office: this rule set names no limit for {name}.", formula, rule.source
        )
    found = carried_into_rinse(
        bath_mg_per_l=bath,
        carried_ul_per_plate=asked.carried_ul,
        rinse_ul=asked.rinse_ul,
        limit_mg_per_l=limit.number,
    )
    source = f"{rule.edition}, {limit.words}"
    if found.first_plate is None:
        return Estimate(
            "None",
            f"of the {name} comes from this bath. Other baths may bring some: have it measured.",
            formula,
            source,
        )
    return Estimate(
        f"Plate {found.first_plate}",
        f"may bring the rinse to {limit.words} of {name}, at {_strength(found.per_plate_mg_per_l)} a plate. Collect it, and have it measured.",
        formula,
        source,
    )


def _dissolved(session: LabSession, book: RuleBook, asked: AskedDissolved) -> Estimate:
    size, rule = find_size_at_hand(session), book.find(Key.SILVER)
    strength = silver_mg_per_l(
        coverage_mg_per_m2=asked.coverage_g_per_m2 * 1000,
        plate_mm2=Decimal(size.width_um) * size.height_um / 1_000_000,
        plates=asked.plates,
        dissolved_percent=asked.dissolved_percent,
        volume_ul=asked.bath_ul,
    )
    words = "of silver may be in the bath. "
    if rule.amount is not None and strength >= rule.amount.number:
        words += f"That reaches {rule.amount.words}: "
    return Estimate(
        _strength(strength),
        words + "have it measured, and ask the waste office.",
        f"coverage × area × plates × share dissolved ÷ volume = {digits(Fraction(asked.coverage_g_per_m2))} g/m² × {size.words} × "
        f"{asked.plates} × {digits(Fraction(asked.dissolved_percent))} % ÷ {volume_words(asked.bath_ul)}",
        rule.edition,
    )
