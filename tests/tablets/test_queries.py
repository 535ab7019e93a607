"""The colour of every screen near the plates."""

from datetime import timedelta

from server.data.session import LabSession
from server.plates.actions import open_plate_box, take_in_plate_box
from server.plates.queries import get_plate_box
from server.tablets.queries import find_screen_colour
from tests.casts import MORNING


def _box(session: LabSession, name: str, *, sees_red: bool, sees_green: bool) -> int:
    return take_in_plate_box(
        session, name=name, plates=10, width_um=63_500, height_um=63_500, dose_uj_per_cm2=600,
        sees_red=sees_red, sees_green=sees_green, sees_blue=True, arrived_on=MORNING.date(), expires_on=None,
        warm_up_s=0, by="Tomas", now=MORNING,
    ).id  # fmt: skip


def test_the_screen_s_colour_follows_the_boxes_that_are_open(session: LabSession) -> None:
    assert find_screen_colour(session, MORNING) == "green"
    green_sensitive = _box(session, "first to be opened", sees_red=False, sees_green=True)
    assert find_screen_colour(session, MORNING) == "red"
    red_sensitive = _box(session, "second", sees_red=True, sees_green=False)
    open_plate_box(session, red_sensitive, by="Tomas", now=MORNING)
    assert find_screen_colour(session, MORNING) == "green"
    open_plate_box(session, green_sensitive, by="Tomas", now=MORNING)
    assert find_screen_colour(session, MORNING) == "none"


def test_while_no_box_is_known_to_be_open_every_box_that_a_plate_may_come_from_counts(
    session: LabSession,
) -> None:
    """A box is known to be open when somebody says so, or when its first run note arrives, which is after the exposure."""
    expired = get_plate_box(session, _box(session, "expired", sees_red=False, sees_green=True))
    expired.expires_on = MORNING.date() - timedelta(days=1)
    session.flush()
    assert find_screen_colour(session, MORNING) == "red"
    proposed = _box(session, "proposed", sees_red=True, sees_green=False)
    assert find_screen_colour(session, MORNING) == "none"
    open_plate_box(session, proposed, by="Tomas", now=MORNING)
    assert find_screen_colour(session, MORNING) == "green"
