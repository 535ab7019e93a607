"""The lab's particulars for papers."""

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned


class Particulars(LabOwned, table=True):
    """What papers say of the lab: one row a lab, empty texts where nobody has said.

    `generator` is the name of the site whose waste it is, `site_number` the number that an authority gave it, `contact` whom to ask,
    `waste_office` how to reach the people who book pickups.
    """

    __tablename__ = "particulars"
    __table_args__ = (UniqueConstraint("lab_id"),)

    id: int = Field(default=None, primary_key=True)
    generator: str = ""
    address: str = ""
    room: str = ""
    phone: str = ""
    emergency_phone: str = ""
    site_number: str = ""
    contact: str = ""
    waste_office: str = ""
