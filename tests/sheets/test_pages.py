"""What request sheets say."""

from datetime import date, timedelta

from server.charges.actions import pour_charge
from server.charges.models import Charge
from server.containers.actions import set_out_container
from server.containers.models import OtherWaste, Source, WasteContainer
from server.containers.queries import list_streams
from server.core.measuring import Method
from server.core.waste_rules.rule import Establishment
from server.data.session import LabSession
from server.handovers.actions import hand_over
from server.pickups.models import Pickup, Vessel
from server.pours.actions import pour, reverse_entry
from server.rules.actions import choose_rule_set
from server.sheets.actions import set_particulars, tell_of_container
from server.sheets.pages import SheetPage, sheet_page, told_page
from server.stations.actions import add_tray_line
from server.stations.models import Bath
from server.stations.queries import list_trays
from tests.casts import MORNING
from tests.chemistry import from_powder, mixing
from tests.containers.bench import LITRE, Bench
from tests.pickups.booked import BERLIN, asked, booked

ON_FRIDAY = MORNING + timedelta(days=3)


def _sheet(session: LabSession, pickup: Pickup) -> SheetPage:
    return sheet_page(session, pickup.id, now=MORNING, zone=BERLIN, lab="Cellar lab")


def _tell(
    session: LabSession,
    pickup: Pickup,
    container: WasteContainer,
    *,
    composition: str = "",
    ph_hundredths: int | None = None,
    gross_mg: int | None = None,
    tare_mg: int | None = None,
    handling: str = "",
) -> None:
    tell_of_container(
        session, pickup.id, container.id, vessel=Vessel.PLASTIC_CAN, contents="spent developer", composition=composition,
        physical_state="liquid", ph_hundredths=ph_hundredths, temperature_decicelsius=None if ph_hundredths is None else 205,
        read_ul=None, gross_mg=gross_mg, tare_mg=tare_mg, handling=handling, by="Tomas", now=MORNING,
    )  # fmt: skip


def _bottle(session: LabSession, bench: Bench, takes: Source, name: str) -> WasteContainer:
    known = {Source(stream.takes): stream.id for stream in list_streams(session)} or bench.streams(session)
    return set_out_container(
        session, stream_id=known[takes], name=name, size_ul=5 * LITRE, by="Tomas", now=MORNING
    )


def _pour(
    session: LabSession,
    container: WasteContainer,
    volume_ul: int,
    source: Source,
    *,
    charge: Charge | None = None,
    method: Method = Method.GRADUATE,
) -> int:
    return pour(
        session, container_id=container.id, volume_ul=volume_ul, typed="typed", method=method, source=source,
        charge_id=None if charge is None else charge.id, tablet_id=f"{container.name}-{volume_ul}-{source}", by="Tomas", now=MORNING,
    ).id  # fmt: skip


def _charge(session: LabSession) -> Charge:
    """200 mL of a developer that holds 2 g/L metol, 12.5 ascorbic acid, 35 sodium carbonate and 7.5 sodium hydroxide."""
    from_powder.recipes(session)
    from_powder.powders(session)
    mixing.by_name(session, "stock A", 500_000)
    mixing.by_name(session, "stock B", 500_000)
    batch = mixing.developer(session, 400_000)
    add_tray_line(session, name="line", capacity=1, light_zone_id=None, still_zone_id=None)
    [tray] = list_trays(session, Bath.DEVELOPER)
    charge = pour_charge(
        session, batch_id=batch.id, place_id=tray.id, volume_ul=200_000, by="Tomas", now=MORNING
    )
    session.flush()
    return charge


def test_a_sheet_tells_net_tare_and_gross_apart_and_rounds_to_whole_units(
    session: LabSession, bench: Bench
) -> None:
    """20.6 L is 21 L on a manifest: “round to nearest whole unit”, instructions to EPA Form 8700-22, item 11."""
    carboy = bench.rinse_carboy(session, held_ul=13_200_000)
    pickup = asked(session, booked(session), carboy.id)
    _tell(
        session,
        pickup,
        carboy,
        ph_hundredths=1231,
        gross_mg=15_100_000,
        tare_mg=1_200_000,
        handling="cap leaks",
    )
    [entry] = _sheet(session, pickup).entries

    assert (entry.net, entry.tare, entry.gross) == ("13.9 kg", "1.2 kg", "15.1 kg")
    assert (entry.volume, entry.whole_litres, entry.whole_kilograms) == ("13.9 L", "14 L", "14 kg")
    assert entry.working == "weighed: 15.1 kg gross − 1.2 kg tare = 13.9 kg net"
    assert (entry.ph, entry.vessel, entry.size) == ("pH 12.31 at 20.5 °C", "plastic can or carboy", "20 L")
    assert (entry.started, entry.full, entry.handling) == ("Tue 16 Feb 2027", "", "cap leaks")


def test_sums_are_added_up_before_they_are_rounded(session: LabSession, bench: Bench) -> None:
    """Three times 0.4 L are 1.2 L: 1 L, and neither nothing nor three."""
    containers = [bench.rinse_carboy(session, held_ul=400_000, name=f"Rinse {number}") for number in range(3)]
    pickup = asked(session, booked(session), *(one.id for one in containers))
    _tell(session, pickup, containers[0])
    page = _sheet(session, pickup)

    assert [entry.whole_litres for entry in page.entries] == ["under 1 L"] * 3
    [total] = page.totals
    assert (total.whole_litres, total.whole_kilograms, total.exact) == ("1 L", "1 kg", "1.2 L, 1.2 kg")
    assert total.containers == "1 × plastic can or carboy, 2 × container, kind not said"


def test_what_was_only_estimated_is_said(session: LabSession, bench: Bench) -> None:
    bottle = _bottle(session, bench, Source.DEVELOPER, "Developer 1")
    _pour(session, bottle, 2 * LITRE, Source.DEVELOPER)
    _pour(session, bottle, 500_000, Source.DEVELOPER, method=Method.ESTIMATE)
    [entry] = _sheet(session, asked(session, booked(session), bottle.id)).entries

    assert entry.working == (
        "added up from the entries: 2.5 L and 2.625 kg by its ledger; of what came in 500 mL were estimated"
    )


def test_composition_is_proposed_from_the_batches_where_all_of_them_are_known(
    session: LabSession, bench: Bench
) -> None:
    """2, 12.5, 35 and 7.5 g in a litre that weighs 1050 g are 0.19, 1.19, 3.33 and 0.71 %; the rest is water."""
    charge = _charge(session)
    bottle = _bottle(session, bench, Source.DEVELOPER, "Developer 1")
    _pour(session, bottle, 190_000, Source.DEVELOPER, charge=charge)
    pickup = asked(session, booked(session), bottle.id)
    page = told_page(session, pickup.id, bottle.id)

    assert page.proposed.splitlines() == [
        "water 94.58 %",
        "sodium carbonate 3.33 %",
        "ascorbic acid 1.19 %",
        "sodium hydroxide 0.71 %",
        "metol 0.19 %",
    ]
    assert page.before["composition"] == page.proposed
    assert "what reacted in use" in page.known
    _tell(session, pickup, bottle, composition="water 100 %")
    assert told_page(session, pickup.id, bottle.id).before["composition"] == "water 100 %"


def test_nothing_is_proposed_where_a_part_is_unknown(session: LabSession, bench: Bench) -> None:
    """190 mL are of a known batch, 110 mL of nobody knows what; what was reversed counts for nothing."""
    charge = _charge(session)
    bottle = _bottle(session, bench, Source.DEVELOPER, "Developer 1")
    _pour(session, bottle, 190_000, Source.DEVELOPER, charge=charge)
    _pour(session, bottle, 110_000, Source.DEVELOPER)
    mistaken = _pour(session, bottle, 80_000, Source.DEVELOPER)
    reverse_entry(session, bottle.id, mistaken, reason="spilled", by="Tomas", now=MORNING)
    rinse = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = asked(session, booked(session), bottle.id, rinse.id)

    page = told_page(session, pickup.id, bottle.id)
    assert (page.proposed, page.before["composition"]) == ("", "")
    assert "190 mL of 300 mL came from batches" in page.known
    assert "nothing can be proposed" in told_page(session, pickup.id, rinse.id).known


def test_what_must_stand_apart_and_stands_near_is_named(session: LabSession, bench: Bench) -> None:
    developer = _bottle(session, bench, Source.DEVELOPER, "Developer 1")
    bleach = _bottle(session, bench, Source.BLEACH, "Bleach 1")
    empty = _bottle(session, bench, Source.BLEACH, "Bleach 2")
    _pour(session, developer, LITRE, Source.DEVELOPER)
    _pour(session, bleach, LITRE, Source.BLEACH)
    [entry] = _sheet(session, asked(session, booked(session), developer.id)).entries

    [near] = entry.near
    assert near.startswith("Bleach (“Bleach 1”): ")
    assert "heat" in near
    assert empty.name not in near
    assert "caustics" in entry.groups


def test_the_particulars_stand_on_the_sheet_and_blanks_are_named(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    pickup = asked(session, booked(session), carboy.id)
    assert [words for words, _address in _sheet(session, pickup).missing] == [
        "Of the lab: the name of the site, its address, a phone number, an emergency phone number",
        "Of “Rinse 1”: what it is made of, what kind of container",
    ]

    for room in ("cellar", "cellar, K12"):
        set_particulars(
            session, generator="Harbour College", address="Harbour Street 4", room=room, phone="555 0104", emergency_phone="555 0199",
            site_number="", contact="the technician", waste_office="555 0150",
        )  # fmt: skip
    _tell(session, pickup, carboy, composition="water 100 %")
    page = _sheet(session, pickup)
    assert page.missing == []
    assert (page.particulars.generator, page.particulars.room) == ("Harbour College", "cellar, K12")
    assert page.requested == "Tue 16 Feb 2027, 08:00, by Tomas"


def test_other_courses_waste_stands_on_the_sheet_while_it_is_there(session: LabSession, bench: Bench) -> None:
    for course, gone_on in (
        ("Ceramics", None),
        ("Etching", date(2027, 2, 16)),
    ):
        session.add(
            OtherWaste(
                course=course, contents="rinse", volume_ul=LITRE, mass_mg=LITRE, since=date(2027, 2, 1), gone_on=gone_on,
                entered_at=MORNING, entered_by="Tomas",
            )
        )  # fmt: skip
    pickup = asked(session, booked(session), bench.rinse_carboy(session, held_ul=LITRE).id)

    assert [words.split(":")[0] for words in _sheet(session, pickup).others] == ["Ceramics"]


def test_after_the_hand_over_the_sheet_is_of_what_was_taken(session: LabSession, bench: Bench) -> None:
    first = bench.rinse_carboy(session, held_ul=13_200_000)
    second = bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup = asked(session, booked(session), first.id, second.id)
    hand_over(session, pickup.id, [first.id], left={second.id: "no label"}, by="Tomas", now=ON_FRIDAY)
    page = _sheet(session, pickup)

    assert [(entry.name, entry.whole_litres) for entry in page.entries] == [("Rinse 1", "13 L")]
    assert page.missing == []


def test_what_goes_with_a_container_that_leaves_is_told_by_the_lab_s_rules(
    session: LabSession, bench: Bench
) -> None:
    """40 CFR 262.32(b): the words on a container of up to 119 gallons."""
    pickup = asked(session, booked(session), bench.rinse_carboy(session, held_ul=LITRE).id)
    assert _sheet(session, pickup).on_leaving == ()
    choose_rule_set(
        session, rule_set="us-small", establishment=Establishment.UNIVERSITY, is_far=False, from_day=date(2027, 1, 1), by="Mira", now=MORNING
    )  # fmt: skip

    page = _sheet(session, pickup)
    assert page.on_leaving[0] == "HAZARDOUS WASTE – Federal Law Prohibits Improper Disposal"
    assert "40 CFR 262.32(b)" in page.on_leaving_source
