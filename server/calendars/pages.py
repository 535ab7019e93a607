"""What the calendars page shows."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.calendars.forms import NewAddress
from server.calendars.queries import list_addresses
from server.core.moments import day_at, day_words
from server.data.session import LabSession
from server.people.queries import list_section_names
from server.web.submitted import Submitted


@dataclass(frozen=True)
class AddressLine:
    id: int
    label: str
    of_what: str
    made: str


@dataclass(frozen=True)
class CalendarsPage:
    """`shown` is the whole address that was made just now, which is shown this once; else empty."""

    addresses: Sequence[AddressLine]
    sections: Sequence[tuple[int, str]]
    form: Submitted[NewAddress]
    shown: str


def calendars_page(
    session: LabSession, zone: str, form: Submitted[NewAddress] | None = None, shown: str = ""
) -> CalendarsPage:
    sections = list_section_names(session)
    return CalendarsPage(
        addresses=[
            AddressLine(
                address.id,
                address.label,
                "all sections" if address.section_id is None else sections[address.section_id],
                day_words(day_at(address.made_at, zone)),
            )
            for address in list_addresses(session)
        ],
        sections=sorted(sections.items(), key=lambda section: section[1]),
        form=form or Submitted(),
        shown=shown,
    )
