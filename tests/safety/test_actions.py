"""Rounds of the waste shelf and of the eyewash, and what is put right."""

from collections.abc import Mapping
from datetime import datetime, timedelta

import pytest

from server.containers.models import WasteContainer
from server.core.container_life import ContainerState
from server.data.session import LabSession
from server.refusal import NotFound, Refusal
from server.safety.actions import put_right, record_eyewash, record_shelf_round
from server.safety.models import SafetyCheck, SafetyRound, ShelfPoint, WaterFelt
from server.safety.queries import list_checks, list_findings, list_looks_at, list_open_findings, list_rounds
from tests.casts import MORNING
from tests.containers.bench import Bench


def _looked(
    session: LabSession,
    found: Mapping[int, Mapping[ShelfPoint, str]],
    *,
    tablet_id: str = "round-0001",
    now: datetime = MORNING,
) -> SafetyRound:
    return record_shelf_round(
        session, looks=list(found.items()), note="", tablet_id=tablet_id, by="Tomas", now=now
    )


@pytest.fixture
def carboys(session: LabSession, bench: Bench) -> list[WasteContainer]:
    return [bench.rinse_carboy(session, name=name) for name in ("Rinse 1", "Rinse 2")]


def test_a_round_keeps_every_point_of_every_container(
    session: LabSession, carboys: list[WasteContainer]
) -> None:
    first, second = carboys
    kept = _looked(session, {first.id: {}, second.id: {ShelfPoint.LABEL: "torn", ShelfPoint.LEAK: "a drop"}})
    looks = list_findings(session, first_round=kept.id, last_round=kept.id)

    assert not kept.in_order
    assert len(looks) == 2 * len(ShelfPoint)
    assert [
        (one.container.name, one.finding.point, one.finding.found) for one in looks if one.finding.found
    ] == [
        ("Rinse 2", "label", "torn"),
        ("Rinse 2", "leak", "a drop"),
    ]


def test_a_round_in_which_nothing_was_found_is_in_order(
    session: LabSession, carboys: list[WasteContainer]
) -> None:
    assert _looked(session, {one.id: {} for one in carboys}).in_order
    assert list_open_findings(session) == []


def test_a_container_that_stands_there_is_not_left_out(
    session: LabSession, carboys: list[WasteContainer]
) -> None:
    first, second = carboys
    with pytest.raises(Refusal, match="Not looked at: “Rinse 2”"):
        _looked(session, {first.id: {}})

    second.state = ContainerState.ORDERED
    session.flush()
    assert _looked(session, {first.id: {}}).in_order


def test_a_container_that_was_taken_away_meanwhile_may_have_been_looked_at(
    session: LabSession, carboys: list[WasteContainer]
) -> None:
    carboys[1].state = ContainerState.COLLECTED
    session.flush()

    assert _looked(session, {one.id: {} for one in carboys}).in_order


def test_the_same_round_sent_twice_is_one_round(session: LabSession, carboys: list[WasteContainer]) -> None:
    found = {one.id: {ShelfPoint.CLOSED: "a funnel in the neck"} for one in carboys}
    first, second = _looked(session, found), _looked(session, found)

    assert first.id == second.id
    assert len(list_open_findings(session)) == 2


def test_a_finding_stays_open_until_somebody_says_what_was_done(
    session: LabSession, carboys: list[WasteContainer]
) -> None:
    first, second = carboys
    _looked(session, {first.id: {ShelfPoint.LABEL: "torn"}, second.id: {}})
    _looked(session, {first.id: {}, second.id: {}}, tablet_id="round-0002", now=MORNING + timedelta(days=7))
    [found] = list_open_findings(session)
    state = next(one for one in list_checks(session, MORNING.date()) if one.check is SafetyCheck.WASTE_SHELF)
    assert state.still_open == 1

    put_right(session, found.finding.id, how="new label", by="Mira", now=MORNING + timedelta(days=8))

    assert list_open_findings(session) == []
    kept = next(one.finding for one in list_looks_at(session, first.id) if one.finding.found)
    assert (kept.found, kept.put_right_by, kept.put_right_how) == ("torn", "Mira", "new label")
    assert kept.put_right_at == MORNING + timedelta(days=8)


def test_a_finding_is_put_right_once_and_only_where_something_was_found(
    session: LabSession, carboys: list[WasteContainer]
) -> None:
    kept = _looked(session, {carboys[0].id: {ShelfPoint.LABEL: "torn"}, carboys[1].id: {}})
    looks = list_findings(session, first_round=kept.id, last_round=kept.id)
    torn = next(one.finding for one in looks if one.finding.found)
    well = next(one.finding for one in looks if not one.finding.found)
    put_right(session, torn.id, how="new label", by="Mira", now=MORNING)

    with pytest.raises(Refusal, match="Mira put this right already: new label"):
        put_right(session, torn.id, how="again", by="Tomas", now=MORNING)
    with pytest.raises(Refusal, match="nothing to put right"):
        put_right(session, well.id, how="again", by="Tomas", now=MORNING)
    with pytest.raises(NotFound):
        put_right(session, 999, how="again", by="Tomas", now=MORNING)


def _ran(session: LabSession, **changed: object) -> SafetyRound:
    told = {
        "ran_s": 180, "water_felt": WaterFelt.TEPID, "in_order": True, "found": "", "tablet_id": "eyewash-0001", "by": "Tomas",
        "now": MORNING,
    } | changed  # fmt: skip
    return record_eyewash(session, **told)  # type: ignore[arg-type]


def test_an_eyewash_round_keeps_how_long_it_ran_and_how_warm_it_was(session: LabSession) -> None:
    first, again = _ran(session), _ran(session)

    assert first.id == again.id
    [kept] = list_rounds(session)
    assert (kept.check_kind, kept.ran_s, kept.water_felt) == ("eyewash", 180, "tepid")


@pytest.mark.parametrize("felt", [WaterFelt.COLD, WaterFelt.HOT])
def test_cold_or_hot_water_is_not_in_order(session: LabSession, felt: WaterFelt) -> None:
    """16 to 38 °C: summaries of ANSI/ISEA Z358.1."""
    with pytest.raises(Refusal, match=f"{felt.capitalize()} water is not in order"):
        _ran(session, water_felt=felt)

    assert not _ran(session, water_felt=felt, in_order=False, found="the mixer is stuck").in_order


def test_an_eyewash_that_is_not_in_order_must_say_why(session: LabSession) -> None:
    with pytest.raises(Refusal, match="Say what was not in order"):
        _ran(session, in_order=False)
