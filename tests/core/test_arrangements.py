"""What sounds like a reason in what is arranged."""

import pytest

from server.core.arrangements import reasons_in


@pytest.mark.parametrize(
    "text", ["", "nitrile gloves", "fill the tray for her", "a chair at S2", "silly putty kept away"]
)
def test_what_says_what_to_do_is_no_reason(text: str) -> None:
    assert reasons_in(text) == ()


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Epilepsy: no flashing", ("Epilepsy",)),
        ("is pregnant, ill, pregnant", ("pregnant", "ill")),
        ("latex allergies", ("allergies",)),
    ],
)
def test_a_reason_is_found_however_it_is_written(text: str, found: tuple[str, ...]) -> None:
    assert reasons_in(text) == found
