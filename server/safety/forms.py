"""What is typed about a safety round."""

from typing import Annotated

from pydantic import Field

from server.safety.models import SafetyCheck
from server.web.submitted import Form


class NewRound(Form):
    check_kind: SafetyCheck
    in_order: bool
    found: Annotated[str, Field(max_length=1000)] = ""
