"""What stands on a board beyond what is called: the plates that can be made again."""

from datetime import timedelta

from server.callings.pages import call_page, told
from server.charges.actions import count_plate_through, pour_charge
from server.charges.queries import list_charges
from server.chemistry.actions import set_usual_quantities
from server.core.calling import EventKind
from server.data.session import LabSession
from server.people.access import Signed
from server.people.models import Role
from server.stations.models import Bath
from server.stations.queries import list_trays
from tests.callings.calls import ZONE, at, called, published, said
from tests.casts import MORNING, Cast
from tests.chemistry import mixing


def _mira(cast: Cast) -> Signed:
    return Signed(cast.lab_id, "Cellar lab", ZONE, Role.INSTRUCTOR, "Mira", person_id=1)


def test_the_plates_made_last_are_offered_to_be_made_again_first(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)
    assert call_page(session, rotation, _mira(cast), at(8)).repeats == []
    for minutes in (8, 9.5, 12.5):
        called(session, rotation, minutes)
    said(session, rotation, EventKind.REPEAT, 13.5, repeats=["1 0 G2"])

    page = call_page(session, rotation, _mira(cast), at(14))

    assert [choice.words for choice in page.repeats] == ["G1, plate 1", "G2, plate 1", "G3, plate 1"]
    assert page.undo_words == "Repeat: G2"


def test_the_large_control_says_what_is_next_in_every_state(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)

    def words(minutes: float) -> str:
        return call_page(session, rotation, _mira(cast), at(minutes)).words

    assert words(8) == "Lights off, load"
    called(session, rotation, 8)
    said(session, rotation, EventKind.PAUSED, 8.5)
    assert words(8.6) == "Go on"
    said(session, rotation, EventKind.STOPPED, 9)
    assert words(9.1) == "All clear"
    said(session, rotation, EventKind.CLEAR, 9.5)
    assert words(9.6) == "Take up again"
    said(session, rotation, EventKind.TAKEN_UP, 10)
    assert words(10.1) == "Hold still, settle"


def test_whoever_comes_late_to_a_class_may_catch_up_with_its_plan(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)

    assert not call_page(session, rotation, _mira(cast), at(8.1)).can_catch_up
    assert call_page(session, rotation, _mira(cast), at(15)).can_catch_up
    said(session, rotation, EventKind.CAUGHT_UP, 15)
    assert not call_page(session, rotation, _mira(cast), at(15)).can_catch_up


def test_the_wall_s_clock_changes_with_the_lab_s_in_the_middle_of_a_class(
    session: LabSession, cast: Cast
) -> None:
    """Berlin is one hour ahead of UTC in February and two in April."""
    rotation = published(session, cast.section_id)

    assert told(session, rotation, at(0), ZONE).now["wall"] == 3_600_000
    assert told(session, rotation, at(0) + timedelta(days=50), ZONE).now["wall"] == 7_200_000


def _poured(session: LabSession, *, life_s: int, plates_per_charge: int = 12) -> None:
    """200 mL of developer, mixed and poured at eight, an hour before the class."""
    set_usual_quantities(
        session, developer_life_s=life_s, bleach_life_s=86_400, stock_life_s=86_400, other_life_s=86_400, developer_charge_ul=200_000,
        bleach_charge_ul=200_000, plates_per_charge=plates_per_charge, plate_width_um=63_500, plate_height_um=63_500,
        rinse_ul_per_plate=100_000, test_plates_per_station=0,
    )  # fmt: skip
    batch = mixing.developer(session, 200_000)
    tray = list_trays(session, Bath.DEVELOPER)[0].id
    pour_charge(session, batch_id=batch.id, place_id=tray, volume_ul=200_000, by="Tomas", now=MORNING)


def _dangers(session: LabSession, rotation: int, minutes: float) -> list[str]:
    return list(told(session, rotation, at(minutes), ZONE).now["dangers"])


def test_developer_that_really_stands_in_the_tray_is_what_plates_are_held_against(
    session: LabSession, cast: Cast
) -> None:
    """The plan knows of no mix. What was mixed at 08:00 ends at 09:30; the last plates leave it at 09:34:30."""
    rotation = published(session, cast.section_id)
    assert _dangers(session, rotation, 5) == []
    _poured(session, life_s=5400)

    (life,) = _dangers(session, rotation, 5)
    assert life.startswith("developer, line 1 is past its life at 09:30; G")
    assert life.endswith("would leave it 4 min 30 s later.")
    assert _dangers(session, rotation, 36) == []


def test_a_charge_without_room_for_the_class_is_told_before_its_plates_come(
    session: LabSession, cast: Cast
) -> None:
    rotation = published(session, cast.section_id)
    _poured(session, life_s=6 * 3600, plates_per_charge=10)

    (short,) = _dangers(session, rotation, 5)
    assert short == (
        "developer, line 1 has room for 10 plates of this class, and 12 are to go through it; G2 is the first too many. "
        "Pour a fresh charge before."
    )
    count_plate_through(session, list_charges(session)[0].charge.id, through_at=at(15), now=at(16))
    assert _dangers(session, rotation, 17) == [short]


def test_what_stands_in_a_tray_is_nobody_s_before_the_class_is_near(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)
    _poured(session, life_s=5400)

    assert _dangers(session, rotation, -113) == []
    assert len(_dangers(session, rotation, -111)) == 1
