"""What is typed about the trays. A field is named as it is typed, its clean value carries the kept unit."""

from typing import Annotated

from pydantic import Field

from server.web.submitted import Form, RowId
from server.web.typed import SomeVolume


class NewCharge(Form):
    batch_id: RowId
    place_id: RowId
    volume_ul: Annotated[SomeVolume, Field(validation_alias="charge_volume")]
