"""What is typed about tablets."""

from typing import Literal

from server.web.submitted import Form
from server.web.typed import Line


class Leaving(Form):
    """Somebody says that this screen is out of the dark room, and goes on to `next`."""

    next: Line = "/"
    is_sure: Literal["", "yes"] = ""
