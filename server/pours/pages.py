"""What the pages of pours show."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass

from server.containers.models import Source
from server.containers.pages import TAKES, Options, charge_options, fill_words
from server.containers.queries import (
    find_charge_in_tray,
    get_container,
    get_stream,
    list_containers,
    list_streams,
    source_of,
)
from server.core.container_life import TAKES_MORE
from server.core.measuring import Method
from server.core.units import volume_words
from server.data.session import LabSession
from server.pours.forms import NewPour
from server.web.submitted import Submitted

METHODS = [
    (Method.GRADUATE.value, "read off a graduate"),
    (Method.SCALE.value, "weighed on a scale"),
    (Method.ESTIMATE.value, "estimated"),
]


@dataclass(frozen=True)
class PourPage:
    containers: Options
    charges: Options
    sources: Options
    streams: Options
    methods: Options
    prefilled: Mapping[str, object]
    form: Submitted[NewPour]


def _prefilled(session: LabSession, container_id: int | None, charge_id: int | None) -> dict[str, object]:
    """What a link to the form already says: the container's source, or the charge's source, volume and first open container."""
    if container_id is not None:
        container = get_container(session, container_id)
        stream = get_stream(session, container.stream_id)
        of = {"of_stream_id": stream.id} if stream.takes == Source.OTHER else {}
        return {"container_id": container_id, "source": stream.takes, **of}
    found = None if charge_id is None else find_charge_in_tray(session, charge_id)
    if found is None:
        return {}
    source = source_of(found.charge)
    takes = {stream.id: stream.takes for stream in list_streams(session)}
    suited = [
        container.id
        for container in list_containers(session)
        if container.state in TAKES_MORE and takes[container.stream_id] == source
    ]
    first = {"container_id": suited[0]} if suited else {}
    volume = volume_words(found.charge.volume_ul)
    return {"charge_id": charge_id, "source": source.value, "volume": volume, **first}


def pour_page(
    session: LabSession,
    *,
    container_id: int | None = None,
    charge_id: int | None = None,
    form: Submitted[NewPour] | None = None,
) -> PourPage:
    streams = {stream.id: stream.name for stream in list_streams(session)}
    return PourPage(
        containers=[
            (container.id, f"{container.name} ({streams[container.stream_id]}): {fill_words(container)}")
            for container in list_containers(session)
            if container.state in TAKES_MORE
        ],
        charges=charge_options(session),
        sources=TAKES,
        streams=list(streams.items()),
        methods=METHODS,
        prefilled={"tablet_id": str(uuid.uuid4()), **_prefilled(session, container_id, charge_id)},
        form=form or Submitted(),
    )
