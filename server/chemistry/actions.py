"""Mixing batches, drawing from them, checking them, and what becomes of their rest."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from sqlmodel import func, select

from server.chemistry.forms import Chosen
from server.chemistry.models import (
    Batch,
    BatchCheck,
    BatchEntry,
    BatchEntryKind,
    BatchOverride,
    UsualQuantities,
)
from server.chemistry.queries import (
    Making,
    Source,
    find_source,
    get_usual_quantities,
    life_of,
    list_ingredients,
    usable_until,
)
from server.core.mixing import Steps, Supply, Taken, end_of_batch, fill_up, take
from server.core.moments import moment_words
from server.core.recipe import Component, Measure, amount_words
from server.core.units import LARGEST_VOLUME_UL, volume_words
from server.data.session import LabSession
from server.kits.actions import draw_from_bottle
from server.people.models import Lab
from server.people.queries import get_lab
from server.refusal import NotFound, Refusal

USUAL_STEPS = Steps()
LONGEST_AGO = timedelta(hours=24)


def _moment(session: LabSession, instant: datetime) -> str:
    return moment_words(instant, get_lab(session).time_zone)


def _next_number(session: LabSession) -> int:
    """The lab's row is kept from others until the transaction ends: two mixings at once must not get one number."""
    session.exec(select(Lab.id).where(Lab.id == session.lab_id).with_for_update(key_share=True)).one()
    return (session.exec(select(func.max(Batch.number))).one() or 0) + 1


def hold_batch(session: LabSession, batch_id: int) -> Batch:
    """The batch as it is now, kept from others until the transaction ends."""
    batch = session.hold(Batch, batch_id)
    if batch is None:
        raise NotFound("There is no such batch in this lab. Choose one from Chemistry.")
    return batch


def _refuse_odd_time(session: LabSession, mixed_at: datetime, now: datetime) -> None:
    if mixed_at > now:
        raise Refusal(
            f"{_moment(session, mixed_at)} is still to come. Write the time at which it was mixed, now or earlier."
        )
    if now - mixed_at > LONGEST_AGO:
        raise Refusal(
            f"{_moment(session, mixed_at)} is more than 24 hours ago. A batch is entered on the day it is mixed."
        )


def _enter(
    session: LabSession,
    batch: Batch,
    kind: BatchEntryKind,
    change_ul: int,
    *,
    by: str,
    now: datetime,
    charge_id: int | None = None,
    into_batch_number: int | None = None,
    note: str = "",
) -> None:
    batch.left_ul += change_ul
    session.add(
        BatchEntry(
            batch_id=batch.id,
            kind=kind,
            change_ul=change_ul,
            charge_id=charge_id,
            into_batch_number=into_batch_number,
            note=note,
            entered_at=now,
            entered_by=by,
        )
    )
    session.flush()  # the database refuses a balance below nothing here, not at the end


def _refuse_twice(session: LabSession, name: str, drawn: Mapping[str, int], mixed_at: datetime) -> None:
    """A button that was pressed twice must not empty the bottles twice; times are typed to the minute."""
    same = select(Batch.number).where(Batch.name == name, Batch.mixed_at == mixed_at)
    for number in session.exec(same).all():
        if {part.key: part.amount for part in list_ingredients(session, number)} == drawn:
            raise Refusal(
                f"Batch {number} is entered with the same bottles, volume and time. Look at it; "
                "if you mixed one more like it, write a time of its own."
            )


def _sources(session: LabSession, component: Component, chosen: Sequence[Chosen]) -> Sequence[Source]:
    keys = [one.source for one in chosen if one.component.casefold() == component.name.casefold()]
    if not keys:
        raise Refusal(f"Nothing is chosen for {component.name}. Choose a bottle or a batch of it.")
    if len(set(keys)) < len(keys):
        raise Refusal(f"The same is chosen twice for {component.name}. Choose two different ones, or one.")
    sources = []
    for key in keys:
        source = find_source(session, component, key)
        if source is None:
            raise Refusal(f"What is chosen for {component.name} is something else. Choose {component.name}.")
        sources.append(source)
    return sources


def _supplies(component: Component, sources: Sequence[Source], chosen: Sequence[Chosen]) -> Sequence[Supply]:
    """The sources with what was really measured of each, in the unit that each is kept in."""
    measured = {
        one.source: one.measured for one in chosen if one.component.casefold() == component.name.casefold()
    }
    supplies = []
    for source in sources:
        amount, measure = measured[source.key] or (None, source.supply.measure)
        if measure != source.supply.measure:
            raise Refusal(
                f"{component.name} out of {source.name} is kept by its {source.supply.measure}. "
                f"Write {'g' if source.supply.measure == Measure.MASS else 'mL'}."
            )
        supplies.append(replace(source.supply, measured=amount))
    return supplies


def _refuse_off(component: Component, taken: Taken) -> None:
    """What differs from the recipe by more than the measuring does is asked back, once."""
    if not taken.off:
        return
    measure = Measure.MASS if component.measure == Measure.MASS else Measure.VOLUME
    given, called_for = (amount_words(round(amount), measure) for amount in (taken.given, taken.called_for))
    much = "more" if taken.error > 0 else "less"
    raise Refusal(
        f"{component.name} would be {given}, which is {abs(float(taken.error)):.0%} {much} than the {called_for} called for. "
        "Add a second bottle, or mend the amount; if it is what went in, tick “as really measured” and enter it again."
    )


def _take_all(
    session: LabSession,
    making: Making,
    chosen: Sequence[Chosen],
    *,
    volume_ul: int,
    steps: Steps,
    as_measured: bool,
) -> Sequence[tuple[Source, int]]:
    """What is drawn from which source, in the order of the recipe."""
    drawn = []
    for component in making.formula.components:
        sources = _sources(session, component, chosen)
        called_for = making.formula.share(component) * volume_ul
        taken = take(called_for=called_for, supplies=_supplies(component, sources, chosen), steps=steps)
        if not as_measured:
            _refuse_off(component, taken)
        drawn += [(source, amount) for source, amount in zip(sources, taken.amounts, strict=True) if amount]
    return drawn


def mix_batch(
    session: LabSession,
    making: Making,
    chosen: Sequence[Chosen],
    *,
    volume_ul: int,
    mixed_at: datetime,
    by: str,
    now: datetime,
    edition: int | None = None,
    steps: Steps = USUAL_STEPS,
    temperature_decicelsius: int | None = None,
    as_measured: bool = False,
) -> Batch:
    """Mix so many microlitres of a solution from bottles and other batches. Its life begins at `mixed_at`.

    It never outlives what it was mixed from. An amount that is off what the recipe calls for is refused unless `as_measured`.
    `edition` is the number of the one that was read for it, 0 where there is no recipe, None where nobody read it.
    """
    if edition not in {None, 0 if making.edition is None else making.edition.number}:
        raise Refusal(f"The recipe of {making.name} was changed meanwhile. Look at its amounts once more.")
    _refuse_odd_time(session, mixed_at, now)
    number = _next_number(session)
    drawn = _take_all(session, making, chosen, volume_ul=volume_ul, steps=steps, as_measured=as_measured)
    _refuse_twice(session, making.name, {source.key: amount for source, amount in drawn}, mixed_at)
    liquids_ul = sum(amount for source, amount in drawn if source.supply.measure == Measure.VOLUME)
    filled = fill_up(making.formula, volume_ul=volume_ul, liquids_ul=liquids_ul)
    if filled is None or not drawn or not 0 < filled.volume_ul <= LARGEST_VOLUME_UL:
        raise Refusal(
            f"{volume_words(volume_ul)} of {making.name} can't be made of {volume_words(liquids_ul)} of liquids. "
            "Check the volume and the amounts."
        )
    for source, amount in drawn:
        _draw(session, source, amount, number=number, mixed_at=mixed_at, by=by, now=now)
    batch = Batch(
        number=number,
        name=making.name,
        solution=making.solution,
        edition_id=None if making.edition is None else making.edition.id,
        volume_ul=filled.volume_ul,
        water_ul=filled.water_ul,
        left_ul=0,
        temperature_decicelsius=temperature_decicelsius,
        mixed_at=mixed_at,
        ready_at=mixed_at + timedelta(seconds=making.stand_s),
        ends_at=end_of_batch(
            mixed_at=mixed_at,
            life_s=life_of(making, get_usual_quantities(session)),
            ends_of_sources=[source.ends_at for source, _amount in drawn if source.ends_at is not None],
        ),
        mixed_by=by,
    )
    session.add(batch)
    session.flush()  # its entries name its id
    _enter(session, batch, BatchEntryKind.MIXED, batch.volume_ul, by=by, now=now)
    return batch


def _draw(
    session: LabSession,
    source: Source,
    amount: int,
    *,
    number: int,
    mixed_at: datetime,
    by: str,
    now: datetime,
) -> None:
    if source.bottle_id is not None:
        draw_from_bottle(session, source.bottle_id, amount=amount, batch_number=number, by=by, now=now)
        return
    assert source.batch_id is not None
    batch = hold_batch(session, source.batch_id)
    refuse_ended(session, batch, now)
    if mixed_at < batch.ready_at:
        raise Refusal(
            f"Batch {batch.number} was not ready before {_moment(session, batch.ready_at)}. Check the time of mixing."
        )
    if amount > batch.left_ul:
        raise Refusal(
            f"Batch {batch.number} has {volume_words(batch.left_ul)} left, not {volume_words(amount)}. "
            "Take less, or add a second bottle or batch."
        )
    _enter(session, batch, BatchEntryKind.DRAWN, -amount, by=by, now=now, into_batch_number=number)


def refuse_ended(session: LabSession, batch: Batch, now: datetime) -> None:
    """Nothing is made with what has ended."""
    end = usable_until(batch)
    if now >= end:
        raise Refusal(
            f"Batch {batch.number} ended {_moment(session, end)}. Discard its rest and mix a new one."
        )


def draw_into_charge(
    session: LabSession, batch: Batch, *, volume_ul: int, charge_id: int, tray: str, by: str, now: datetime
) -> None:
    """Draw microlitres of a held batch into the charge of a tray."""
    _enter(
        session,
        batch,
        BatchEntryKind.CHARGED,
        -volume_ul,
        by=by,
        now=now,
        charge_id=charge_id,
        note=f"into {tray}",
    )


def check_batch(
    session: LabSession,
    batch_id: int,
    *,
    passed: bool,
    by: str,
    now: datetime,
    ph_hundredths: int | None = None,
    temperature_decicelsius: int | None = None,
    look: str = "",
    note: str = "",
) -> BatchCheck:
    """Keep what was measured or seen. A failed check ends the batch now; one that passes later does not bring it back."""
    batch = hold_batch(session, batch_id)
    if ph_hundredths is None and not look:
        raise Refusal("Nothing was checked. Write the pH, or what the solution looks like.")
    check = BatchCheck(
        batch_id=batch.id,
        ph_hundredths=ph_hundredths,
        temperature_decicelsius=temperature_decicelsius,
        look=look,
        passed=passed,
        note=note,
        checked_at=now,
        checked_by=by,
    )
    session.add(check)
    if not passed and now < usable_until(batch):
        batch.failed_at, batch.overridden_until = now, None
    session.flush()  # the database refuses a pH off its scale here
    return check


def override_end(
    session: LabSession, batch_id: int, *, until: datetime, reason: str, by: str, now: datetime
) -> BatchOverride:
    """An instructor's decision that the batch may be used until another time than its life or a failed check says."""
    batch = hold_batch(session, batch_id)
    if until <= now:
        raise Refusal(f"{_moment(session, until)} is past. Write a time to come.")
    if until <= usable_until(batch):
        raise Refusal(
            f"Batch {batch.number} may be used until {_moment(session, usable_until(batch))} as it is. "
            "There is nothing to decide."
        )
    override = BatchOverride(batch_id=batch.id, until=until, reason=reason, decided_at=now, decided_by=by)
    session.add(override)
    batch.overridden_until = until
    session.flush()  # the row and the batch's own end are written together
    return override


def note_labelled(session: LabSession, batch_id: int, *, now: datetime) -> None:
    """Say that a label for the batch was printed."""
    hold_batch(session, batch_id).labelled_at = now


def discard_batch(session: LabSession, batch_id: int, *, by: str, now: datetime, note: str = "") -> int:
    """Write off what is left of a batch, and say how much it was. A pour into a waste container discards it with its own entry."""
    batch = hold_batch(session, batch_id)
    left_ul = batch.left_ul
    if left_ul == 0:
        raise Refusal(f"Nothing is left of batch {batch.number}. There is nothing to discard.")
    _enter(session, batch, BatchEntryKind.DISCARDED, -left_ul, by=by, now=now, note=note)
    return left_ul


def put_back_batch(
    session: LabSession, batch_id: int, *, volume_ul: int, note: str, by: str, now: datetime
) -> None:
    """Undo a discard that was entered by mistake, with an entry of its own."""
    batch = hold_batch(session, batch_id)
    _enter(session, batch, BatchEntryKind.CORRECTION, volume_ul, by=by, now=now, note=note)


def correct_batch(
    session: LabSession, batch_id: int, *, measured_ul: int, reason: str, by: str, now: datetime
) -> None:
    """Set what is left to what was measured, by an entry of the difference that carries its reason."""
    batch = hold_batch(session, batch_id)
    if measured_ul == batch.left_ul:
        raise Refusal(f"The ledger already says {volume_words(measured_ul)}. There is nothing to correct.")
    if measured_ul > batch.volume_ul:
        raise Refusal(
            f"Batch {batch.number} was made as {volume_words(batch.volume_ul)}, so {volume_words(measured_ul)} can't be left of it. "
            "Check the unit; if more was mixed than was entered, enter the rest as a batch of its own."
        )
    _enter(
        session, batch, BatchEntryKind.CORRECTION, measured_ul - batch.left_ul, by=by, now=now, note=reason
    )


def set_mixing_times(session: LabSession, *, mix_lead_s: int, late_start_s: int, change_s: int) -> None:
    """Say how long before class developer is mixed, how late a class may start, and how long changing a charge takes."""
    usual = get_usual_quantities(session)
    usual.mix_lead_s, usual.late_start_s, usual.change_s = mix_lead_s, late_start_s, change_s
    session.add(usual)


def set_usual_quantities(
    session: LabSession,
    *,
    developer_life_s: int,
    bleach_life_s: int,
    stock_life_s: int,
    other_life_s: int,
    developer_charge_ul: int,
    bleach_charge_ul: int,
    plates_per_charge: int,
    plate_width_um: int,
    plate_height_um: int,
    rinse_ul_per_plate: int,
    test_plates_per_station: int,
) -> UsualQuantities:
    """Set the lab's own figures. Batches and charges that exist keep what they were made with."""
    usual = get_usual_quantities(session)
    usual.developer_life_s, usual.bleach_life_s = developer_life_s, bleach_life_s
    usual.stock_life_s, usual.other_life_s = stock_life_s, other_life_s
    usual.developer_charge_ul, usual.bleach_charge_ul = developer_charge_ul, bleach_charge_ul
    usual.plates_per_charge, usual.rinse_ul_per_plate = plates_per_charge, rinse_ul_per_plate
    usual.plate_width_um, usual.plate_height_um = plate_width_um, plate_height_um
    usual.test_plates_per_station = test_plates_per_station
    usual.assumed = False
    session.add(usual)
    session.flush()  # a second transaction at once meets the one row per lab here
    return usual
