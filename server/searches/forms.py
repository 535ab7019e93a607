"""What is chosen about a search."""

from typing import Annotated

from pydantic import Field

from server.web.submitted import Form


class SearchTime(Form):
    """How long to search at most; nothing chosen is the installation's usual time."""

    seconds: Annotated[int, Field(ge=1, le=600)] | None = None
