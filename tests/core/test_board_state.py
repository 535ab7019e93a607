"""The colour a screen may show near open plates."""

from server.core.board_state import BoxSight, screen_colour


def test_the_screen_shows_a_colour_no_open_box_sees() -> None:
    red_sensitive = BoxSight(sees_red=True, sees_green=False)
    green_sensitive = BoxSight(sees_red=False, sees_green=True)
    panchromatic = BoxSight(sees_red=True, sees_green=True)

    assert screen_colour([]) == "green"
    assert screen_colour([red_sensitive]) == "green"
    assert screen_colour([green_sensitive]) == "red"
    assert screen_colour([panchromatic]) == "none"
    assert screen_colour([red_sensitive, green_sensitive]) == "none"
