"""Calendar files, against the examples that RFC 5545 prints and against an independent reader."""

from datetime import UTC, datetime, timedelta
from typing import Any

import icalendar
from hypothesis import given
from hypothesis import strategies as st

from server.core.calendar_file import Appointment, escaped, folded, write_calendar

# What a TEXT value may hold: no control characters but line breaks (RFC 5545, 3.3.11, and 3.1, CONTROL).
TEXTS = st.text(st.characters(exclude_categories=("Cs", "Cc")) | st.just("\n"), max_size=120)
INSTANTS = st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1), timezones=st.just(UTC)).map(  # noqa: DTZ001
    lambda instant: instant.replace(microsecond=0)
)


def unfolded(text: str) -> list[str]:
    """RFC 5545, 3.1: CR LF followed by one white-space character is removed."""
    return text.replace("\r\n ", "").split("\r\n")


def test_a_text_is_escaped_as_in_the_standard_s_examples() -> None:
    """RFC 5545: 3.3.11, the example; 3.8.1.7, the first example; 3.8.1.5, the example."""
    assert (
        escaped("Project XYZ Final Review\nConference Room - 3B\nCome Prepared.")
        == r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    )
    assert escaped("Conference Room - F123, Bldg. 002") == r"Conference Room - F123\, Bldg. 002"
    assert (
        escaped('Meeting to provide technical review for "Phoenix" design.\nHappy Face Conference Room.')
        == r'Meeting to provide technical review for "Phoenix" design.\nHappy Face Conference Room.'
    )


def test_backslash_semicolon_and_every_line_break_are_escaped() -> None:
    """RFC 5545, 3.3.11, ESCAPED-CHAR."""
    assert escaped("a\\b;c,d:e\r\nf\rg\nh") == r"a\\b\;c\,d:e\nf\ng\nh"


def test_the_standard_s_folded_line_means_what_we_write() -> None:
    """RFC 5545, 3.1: the long description in one line and in three."""
    one = "DESCRIPTION:This is a long description that exists on a long line."
    three = "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line."

    assert unfolded(three) == [one]
    assert folded(one) == one
    assert folded(one * 2) == f"{(one * 2)[:75]}\r\n {(one * 2)[75:]}"


def test_the_standard_s_first_calendar_is_written() -> None:
    """RFC 5545, section 4, the first example: the lines of its event that we write."""
    example = [
        "DTSTAMP:19960704T120000Z",
        "UID:uid1@example.com",
        "DTSTART:19960918T143000Z",
        "DTEND:19960920T220000Z",
        "DESCRIPTION:Networld+Interop Conference and Exhibit\\nAtlanta World Congress Center\\nAtlanta\\, Georgia",
        "SUMMARY:Networld+Interop Conference",
    ]
    event = Appointment(
        "uid1@example.com",
        datetime(1996, 7, 4, 12, tzinfo=UTC),
        datetime(1996, 9, 18, 14, 30, tzinfo=UTC),
        datetime(1996, 9, 20, 22, tzinfo=UTC),
        "Networld+Interop Conference",
        "Networld+Interop Conference and Exhibit\nAtlanta World Congress Center\nAtlanta, Georgia",
    )

    lines = unfolded(write_calendar([event]))

    assert sorted(lines[4:-3]) == sorted([*example, "LAST-MODIFIED:19960704T120000Z", "SEQUENCE:0"])
    assert lines[:2] == ["BEGIN:VCALENDAR", "VERSION:2.0"]
    assert lines[-3:] == ["END:VEVENT", "END:VCALENDAR", ""]


@given(st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=400))
def test_no_piece_of_a_line_is_longer_than_75_octets(line: str) -> None:
    """RFC 5545, 3.1; a character of several octets stays whole."""
    pieces = folded(line).encode().split(b"\r\n")

    assert all(len(piece) <= 75 for piece in pieces)
    assert b"".join([pieces[0], *(piece[1:] for piece in pieces[1:])]).decode() == line
    assert all(piece[:1] == b" " and piece.decode() for piece in pieces[1:])


def test_a_calendar_that_is_fetched_has_a_name_and_says_when_to_look_again() -> None:
    """RFC 7986, 5.1 (NAME) and 5.7 (REFRESH-INTERVAL, a DURATION that says so); recalled from memory."""
    text = write_calendar([], name="Tuesday, Cellar lab", look_again=timedelta(hours=1))
    calendar: Any = icalendar.Calendar.from_ical(text)

    assert unfolded(text)[3:5] == [
        r"NAME:Tuesday\, Cellar lab",
        "REFRESH-INTERVAL;VALUE=DURATION:PT60M",
    ]
    assert calendar["REFRESH-INTERVAL"].dt == timedelta(hours=1)
    assert "NAME" not in write_calendar([])


@given(
    st.lists(
        st.tuples(TEXTS.filter(bool), TEXTS.filter(bool), INSTANTS, INSTANTS, st.integers(0, 2**31 - 1)),
        max_size=4,
    )
)
def test_an_independent_reader_reads_what_was_written(
    written: list[tuple[str, str, datetime, datetime, int]],
) -> None:
    appointments = [
        Appointment(
            f"period-{number}", stamped, starts, starts + timedelta(hours=1), words, more, words, sequence
        )
        for number, (words, more, stamped, starts, sequence) in enumerate(written)
    ]

    events: Any = icalendar.Calendar.from_ical(write_calendar(appointments)).walk("VEVENT")

    assert [
        Appointment(
            str(event["UID"]), event["DTSTAMP"].dt, event["DTSTART"].dt, event["DTEND"].dt,
            str(event["SUMMARY"]), str(event["DESCRIPTION"]), str(event["LOCATION"]), int(event["SEQUENCE"]),
        )
        for event in events
    ] == appointments  # fmt: skip
    assert all(event["LAST-MODIFIED"].dt == event["DTSTAMP"].dt for event in events)
