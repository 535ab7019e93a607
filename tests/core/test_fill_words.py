"""What the forecast says in words, on the worked examples of a teaching lab."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from server.core.fill_forecast import Band, StreamFill
from server.core.fill_options import (
    BookEarlier,
    EmptyEarlier,
    KeepCharge,
    Shelf,
    StillBaths,
    UsualNotice,
    book_earlier,
    more_on_request,
    requests,
    set_out,
    still_baths,
)
from server.core.fill_words import Telling, band_words, chance_words, headline, tell
from server.core.waste_forecast import Addition, InTray, PlatesAhead
from tests.core.test_fill_forecast import (
    BERLIN,
    LITRE,
    SEVEN,
    TUESDAY,
    carboy,
    one_stream,
    pickup,
    three_sections,
    weekly,
)
from tests.core.test_fill_options import RINSE, WEDNESDAY_NOON, sections, shelf_of


def _told(fill: StreamFill, *, has_container: bool = True) -> Telling:
    return Telling("Rinse", has_container, fill, SEVEN, date(2027, 3, 30), BERLIN, RINSE)


def _on_shelf(shelf: Shelf) -> Telling:
    return replace(_told(shelf.fill(0)), now=shelf.now)


def test_the_headline_is_the_first_day_without_room() -> None:
    found = headline(_told(one_stream([carboy(13_200_000)], three_sections())))

    assert (found.state, found.figure) == ("stop", "Tue 16 Feb")
    assert found.words == "no room for 1.7 L of “Rinse”: section 3, 14:00"


def test_the_headline_tells_of_the_worst_where_it_is_expected_to_hold() -> None:
    """By hand: 11 + 6.5 = 17.5 L stay below the line of 18 L, and the band of 1.94 L reaches 1.44 L over it."""
    found = headline(_told(one_stream([carboy(11 * LITRE)], three_sections())))

    assert (found.state, found.figure) == ("watch", "Tue 16 Feb")
    assert found.words.startswith("at worst no room for 1.4")
    assert found.words.endswith("section 3, 14:00; as expected it holds")


def test_the_headline_says_until_when_it_holds() -> None:
    found = headline(_told(one_stream([carboy()], three_sections())))

    assert (found.state, found.figure) == ("well", "Holds")
    assert found.words == "until Tue 30 Mar 2027, as far as anything is planned"


def test_a_second_carboy_is_told_with_its_room_size_and_time() -> None:
    shelf = shelf_of(13_200_000, three_sections())
    way = set_out(shelf, 0)
    assert way is not None
    told = tell(way, _on_shelf(shelf))

    assert told.sentence.startswith(
        "Set out another labelled container for Rinse before Tue 16 Feb 2027, 14:00, with room for 1.7 L or more below its fill line; "
        "at worst before Tue 16 Feb 2027, 11:00 and for 3.6"
    )
    assert told.sentence.endswith("a size of 4.5 L.")
    assert (told.state, told.outcome) == ("well", "holds until Tue 30 Mar 2027, at worst too")


def test_a_stream_without_a_container_needs_one_now() -> None:
    shelf = Shelf((replace(shelf_of(0, ()).feeds[0], containers=(), additions=(Addition("rest", SEVEN, LITRE),)),), (), SEVEN)  # fmt: skip
    way = set_out(shelf, 0)
    assert way is not None

    assert tell(way, replace(_on_shelf(shelf), has_container=False)).sentence == (
        "Set out a labelled container for Rinse now, with room for 1 L or more below its fill line: a size of 1.5 L."
    )


def _earlier(shelf: Shelf, notice: UsualNotice | None = WEDNESDAY_NOON) -> str:
    way = book_earlier(shelf, 0, notice=notice, zone=BERLIN)
    assert isinstance(way, BookEarlier)
    return tell(way, _on_shelf(shelf)).sentence


def test_an_earlier_pickup_is_told_with_its_day_and_its_cut_off() -> None:
    shelf = shelf_of(6_400_000, weekly(6))
    friday = pickup(date(2027, 3, 26))

    assert _earlier(shelf) == (
        "Have what is here collected before Tue 23 Mar 2027, 09:00: ask your waste office for one on Mon 22 Mar 2027 at the latest, "
        "and request it by Fri 19 Mar 2027, 12:00, as your cut-offs usually are."
    )
    assert _earlier(shelf, None).endswith("for one on Mon 22 Mar 2027 at the latest, and for its cut-off.")
    assert "the pickup of Fri 26 Mar 2027 comes too late; " in _earlier(shelf.with_pickups([friday]))
    sunday = Shelf(shelf.feeds, (), SEVEN + timedelta(days=33)).with_additions(0, weekly(6)[5:] * 6)
    assert _earlier(sunday).endswith(
        "By your usual notice its cut-off was Fri 19 Mar 2027, 12:00: call them."
    )
    assert "no full working day is left" in _earlier(shelf_of(13_200_000, three_sections()))


def test_still_baths_are_told_with_what_they_save_and_a_warning() -> None:
    shelf = shelf_of(13_200_000, three_sections())
    way = still_baths(shelf, 0, ahead=sections(), rinse=RINSE)
    assert isinstance(way, StillBaths)
    told = tell(way, _on_shelf(shelf))

    assert told.sentence == (
        "Rinse in still baths of 1 L, changed after 10 plates: 100.0 mL a plate instead of 166.7 mL, 2.6 L less in all."
    )
    assert told.outcome.startswith("holds until Tue 30 Mar 2027 as expected; at worst no room for")
    assert "ask your waste office" in told.why[-1]


def test_a_request_is_told_with_its_cut_off_and_what_happens_without_it() -> None:
    shelf = shelf_of(6_400_000, weekly(6), pickup(date(2027, 3, 19), requested=False))
    [way] = requests(shelf, 0)
    told = tell(way, _on_shelf(shelf))

    assert told.sentence == "Request the pickup of Fri 19 Mar 2027 by Wed 17 Mar 2027, 12:00."
    assert told.outcome == "without it no room for 2.2 L: section 6, Tue 23 Mar 2027, 09:00"
    assert told.pickup == 1


def test_what_is_missing_on_a_request_is_told() -> None:
    shelf = shelf_of(6_400_000, weekly(6), replace(pickup(date(2027, 3, 19)), only=frozenset({99})))
    [way] = more_on_request(shelf, 0)

    assert tell(way, _on_shelf(shelf)).sentence == (
        "Put every container of Rinse that can be spared on the request of the pickup of Fri 19 Mar 2027, by Wed 17 Mar 2027, 12:00."
    )


def test_a_way_that_is_not_enough_says_so() -> None:
    fill = one_stream([carboy(17 * LITRE)], three_sections())
    way = StillBaths(LITRE, 12, 83_333, 3_250_000, fill)

    told = tell(way, _told(fill))
    assert (told.state, told.outcome) == (
        "stop",
        "not enough: no room for 1.5 L: section 1, Tue 16 Feb 2027, 09:00",
    )


def test_a_charge_to_keep_and_a_rest_to_pour_out_are_named() -> None:
    fill, friday = one_stream([carboy()], ()), pickup(date(2027, 2, 19))
    ahead = PlatesAhead("noon", TUESDAY, SEVEN, SEVEN + timedelta(hours=1), 12)
    keep = KeepCharge(InTray("charge now in tray 1", 200_000, SEVEN + timedelta(hours=2), 9), 9, ahead, 200_000, fill)  # fmt: skip
    empty = EmptyEarlier((Addition("rest of batch 3", SEVEN, LITRE),), friday, fill)

    assert tell(keep, _told(fill)).sentence == (
        "Keep the charge now in tray 1 for noon (9 plates): it may be used until Tue 16 Feb 2027, 10:00 and for 9 plates more. "
        "That saves 200 mL of fresh charges."
    )
    assert tell(empty, _told(fill)).sentence == (
        "Pour out rest of batch 3 before the pickup of Fri 19 Feb 2027, so that it goes with it."
    )


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "less than 1 of 100"),
        (0.345, "about 34 of 100"),
        (0.99, "about 99 of 100"),
        (0.999, "more than 99 of 100"),
    ],
)
def test_a_chance_is_told_in_hundredths(chance: float, words: str) -> None:
    assert chance_words(chance) == words


def test_a_band_without_width_is_not_told() -> None:
    assert band_words(Band(LITRE, LITRE, LITRE)) == ""
    assert band_words(Band(1_234_567, 2 * LITRE, 3 * LITRE)) == "1.235 L to 3 L"


def test_nothing_is_said_to_be_harmless() -> None:
    shelf = shelf_of(13_200_000, three_sections())
    way = set_out(shelf, 0)
    assert way is not None

    told = tell(way, _on_shelf(shelf))
    assert "safe" not in " ".join((told.sentence, told.outcome, *told.why))
