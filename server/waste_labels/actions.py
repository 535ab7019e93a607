"""Entering which labels of waste containers were printed and put on."""

from collections.abc import Sequence
from datetime import datetime

from server.containers.actions import note_labelled
from server.containers.queries import get_container
from server.core.container_life import GONE, ContainerState, is_words
from server.data.session import LabSession
from server.labels.actions import keep_printed
from server.refusal import Refusal


def enter_labelled(
    session: LabSession,
    *,
    container_ids: Sequence[int],
    format: str,  # noqa: A002 - the word for a sheet's measures
    first: int,
    earlier_off: bool,
    by: str,
    now: datetime,
) -> None:
    """Say that these labels were printed, in this order, and stand on their containers, each alone."""
    containers = [get_container(session, one) for one in container_ids]
    for container in containers:
        if container.state in GONE:
            state = is_words(ContainerState(container.state))
            raise Refusal(f"“{container.name}” {state}, so no label goes on it. Leave it out.")
        if container.previous_contents and not earlier_off:
            raise Refusal(
                f"“{container.name}” held {container.previous_contents} before. Take the earlier label off or make it unreadable, tick "
                "that none is left, and send this again: two labels on one container are as bad as none."
            )
    for container in containers:
        note_labelled(session, container.id, now=now)
    things = [{"container_id": container.id} for container in containers]
    keep_printed(session, things, format=format, first=first, by=by, now=now)
