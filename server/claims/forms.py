"""What is typed about plates left to dry."""

from server.runs.forms import Slot
from server.web.submitted import Form, RowId


class LeftToDry(Slot):
    run_id: RowId


class HandedOut(Form):
    """The slips that were ticked."""

    slip_ids: tuple[RowId, ...] = ()
