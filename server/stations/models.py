"""The room: zones whose light and stillness are shared, and the places in them."""

from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, not_negative, one_of


class PlaceKind(StrEnum):
    STATION = "station"
    TRAY = "tray"
    DRYER = "dryer"
    BENCH = "bench"
    RACK = "rack"


class Bath(StrEnum):
    """What a tray holds; its role in the tray line."""

    DEVELOPER = "developer"
    RINSE = "rinse"
    BLEACH = "bleach"
    WASH = "wash"


class LightZone(LabOwned, table=True):
    """A space whose white light is shared. Its lamps glow on for `afterglow_s` seconds after they are switched off."""

    __tablename__ = "light_zone"
    __table_args__ = (UniqueConstraint("lab_id", "name"), not_negative("afterglow_s"))

    id: int = Field(default=None, primary_key=True)
    name: str
    afterglow_s: int = Field(default=0, sa_column_kwargs={"server_default": "0"})


class StillZone(LabOwned, table=True):
    """A table or floor whose vibration is shared."""

    __tablename__ = "still_zone"
    __table_args__ = (UniqueConstraint("lab_id", "name"),)

    id: int = Field(default=None, primary_key=True)
    name: str


class TrayLine(LabOwned, table=True):
    """Trays in a fixed order, from developer to wash."""

    __tablename__ = "tray_line"
    __table_args__ = (UniqueConstraint("lab_id", "name"),)

    id: int = Field(default=None, primary_key=True)
    name: str


class Place(LabOwned, table=True):
    """Anything with a capacity: a station, a tray, a dryer, a bench, a rack.

    `capacity` counts plates (or groups) at once, a rack's numbered slots. `settle_s` and `exposure_s` are a station's own times, `laser_warm_up_s` how long its laser
    is on before it is steady.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        one_of("kind", PlaceKind),
        CheckConstraint("capacity >= 1", name="capacity_at_least_one"),
        CheckConstraint("(kind = 'tray') = (bath IS NOT NULL)", name="a_tray_has_a_bath"),
        CheckConstraint("(kind = 'station') = (exposure_s IS NOT NULL)", name="a_station_has_an_exposure"),
        not_negative("laser_warm_up_s"),
    )

    id: int = Field(default=None, primary_key=True)
    name: str
    kind: str
    capacity: int = 1
    bath: str | None = None
    tray_line_id: int | None = Field(default=None, foreign_key="tray_line.id", index=True)
    light_zone_id: int | None = Field(default=None, foreign_key="light_zone.id", index=True)
    still_zone_id: int | None = Field(default=None, foreign_key="still_zone.id", index=True)
    settle_s: int | None = None
    exposure_s: int | None = None
    # Assumed: a quarter of an hour, as a helium-neon laser takes; a diode takes less.
    laser_warm_up_s: int = Field(default=900, sa_column_kwargs={"server_default": "900"})
    out_of_order: bool = False
