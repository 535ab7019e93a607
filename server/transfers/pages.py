"""What the pages of transfers and losses show."""

from dataclasses import dataclass

from server.containers.models import WasteEntryKind
from server.containers.pages import Options, fill_words
from server.containers.queries import get_container, list_containers
from server.core.container_life import TAKES_MORE
from server.core.units import volume_words
from server.data.session import LabSession
from server.pours.pages import METHODS, TURNS, fresh_id
from server.transfers.forms import NewLoss, NewTransfer
from server.web.submitted import Submitted

KINDS = [
    (WasteEntryKind.SAMPLE.value, "a sample was taken"),
    (WasteEntryKind.SPILL.value, "some was spilled"),
    (WasteEntryKind.EVAPORATION.value, "some has dried up"),
]


@dataclass(frozen=True)
class TransferPage:
    id: int
    name: str
    fill: str
    everything: str
    targets: Options
    methods: Options
    turns: Options
    tablet_id: str
    form: Submitted[NewTransfer]


@dataclass(frozen=True)
class LossPage:
    id: int
    name: str
    fill: str
    kinds: Options
    methods: Options
    turns: Options
    tablet_id: str
    form: Submitted[NewLoss]


def transfer_page(
    session: LabSession, container_id: int, form: Submitted[NewTransfer] | None = None
) -> TransferPage:
    """The form; it offers containers of the same stream that take more."""
    source = get_container(session, container_id)
    return TransferPage(
        id=source.id,
        name=source.name,
        fill=fill_words(source),
        everything=volume_words(source.held_ul),
        targets=[
            (container.id, f"{container.name}: {fill_words(container)}")
            for container in list_containers(session)
            if container.state in TAKES_MORE
            and container.stream_id == source.stream_id
            and container.id != source.id
        ],
        methods=METHODS,
        turns=TURNS,
        tablet_id=fresh_id(),
        form=form or Submitted(),
    )


def loss_page(session: LabSession, container_id: int, form: Submitted[NewLoss] | None = None) -> LossPage:
    container = get_container(session, container_id)
    return LossPage(
        id=container.id,
        name=container.name,
        fill=fill_words(container),
        kinds=KINDS,
        methods=METHODS,
        turns=TURNS,
        tablet_id=fresh_id(),
        form=form or Submitted(),
    )
