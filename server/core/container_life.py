"""A waste container's life: which state may follow which, and why another may not.

One life is one filling. A vessel that is filled anew begins another, under a name of its own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum


class ContainerState(StrEnum):
    """A container's life. An open one has its lid off, a closed one takes more when it is opened, a full one takes no more."""

    ORDERED = "ordered"
    EMPTY = "empty"
    OPEN = "open"
    CLOSED = "closed"
    FULL = "full"
    REQUESTED = "requested"
    COLLECTED = "collected"
    WASHED = "washed"
    REUSABLE = "reusable"
    RETIRED = "retired"


# What a container must be to take a pour.
TAKES_MORE = (ContainerState.EMPTY, ContainerState.OPEN, ContainerState.CLOSED)
# A container that stands in the lab with waste in it, or may get some.
IN_USE = (*TAKES_MORE, ContainerState.FULL, ContainerState.REQUESTED)
# Its filling has left the lab.
GONE = (ContainerState.COLLECTED, ContainerState.WASHED, ContainerState.REUSABLE, ContainerState.RETIRED)

# What a vessel must be to be filled anew.
REFILLABLE = (ContainerState.WASHED, ContainerState.REUSABLE)


class AreaKind(StrEnum):
    """What a place where waste stands is to the rules: beside the work, a store of the site, or a laboratory as a whole."""

    SATELLITE = "satellite"
    CENTRAL = "central"
    LABORATORY = "laboratory"


@dataclass(frozen=True)
class Move:
    """A change of state. `words` is what a person does; one that is not `by_hand` comes with an entry of the ledger or with a pickup."""

    words: str
    needs_reason: bool = False
    needs_emptiness: bool = False
    by_hand: bool = True


_O, _E = ContainerState.ORDERED, ContainerState.EMPTY
_OPEN, _CLOSED, _FULL = ContainerState.OPEN, ContainerState.CLOSED, ContainerState.FULL
_REQUESTED, _COLLECTED = ContainerState.REQUESTED, ContainerState.COLLECTED
_WASHED, _REUSABLE, _RETIRED = ContainerState.WASHED, ContainerState.REUSABLE, ContainerState.RETIRED

_COLLECT = Move("Hand it over", by_hand=False)
_REQUEST = Move("Request its pickup", by_hand=False)
_WASH = Move("Washed: dry, its old label off", needs_emptiness=True)
_RETIRE = Move("Retire it: it takes no waste again", needs_reason=True, needs_emptiness=True)

# What may follow what. Every pair that is not here is refused.
MOVES: Mapping[tuple[ContainerState, ContainerState], Move] = {
    (_O, _E): Move("It has come: set it out, empty and labelled"),
    (_O, _RETIRED): Move("It does not come", needs_reason=True),
    (_E, _OPEN): Move("Take the lid off"),
    (_E, _RETIRED): _RETIRE,
    (_OPEN, _CLOSED): Move("Shut the lid"),
    (_OPEN, _FULL): Move("Full: shut the lid, it takes no more"),
    (_OPEN, _COLLECTED): _COLLECT,
    (_OPEN, _WASHED): _WASH,
    (_OPEN, _RETIRED): _RETIRE,
    (_CLOSED, _OPEN): Move("Take the lid off"),
    (_CLOSED, _FULL): Move("Full: it takes no more"),
    (_CLOSED, _REQUESTED): _REQUEST,
    (_CLOSED, _COLLECTED): _COLLECT,
    (_CLOSED, _WASHED): _WASH,
    (_CLOSED, _RETIRED): _RETIRE,
    (_FULL, _CLOSED): Move("Not full after all: it takes more", needs_reason=True),
    (_FULL, _REQUESTED): _REQUEST,
    (_FULL, _COLLECTED): _COLLECT,
    (_FULL, _WASHED): _WASH,
    (_FULL, _RETIRED): _RETIRE,
    (_REQUESTED, _CLOSED): Move("Taken off the request: it takes more", needs_reason=True),
    (_REQUESTED, _FULL): Move("Taken off the request: it stays full", needs_reason=True),
    (_REQUESTED, _COLLECTED): _COLLECT,
    (_COLLECTED, _WASHED): Move("It came back and is washed: dry, its old label off"),
    (_COLLECTED, _REUSABLE): Move("It came back unwashed: fit for the same stream only"),
    (_COLLECTED, _RETIRED): Move("It does not come back", needs_reason=True),
    (_WASHED, _REUSABLE): Move("Fit to be filled anew"),
    (_WASHED, _RETIRED): _RETIRE,
    (_REUSABLE, _WASHED): Move("Washed: dry, its old label off"),
    (_REUSABLE, _RETIRED): _RETIRE,
}

# What a container is in each state, as words that follow its name, and what to do about it.
_IS: Mapping[ContainerState, tuple[str, str]] = {
    _O: ("is ordered and hasn't come yet", "Note first that it has come."),
    _E: ("is empty", "Pour into it, or retire it."),
    _OPEN: ("stands open", "Shut its lid first."),
    _CLOSED: ("is closed and takes more when it is opened", "Note what really happens to it."),
    _FULL: (
        "is full",
        "Pour into another container of this stream; if there is room after all, note that with the reason.",
    ),
    _REQUESTED: (
        "is on a pickup's request with what it holds now",
        "Pour into another container of this stream, or take it off the request with the reason.",
    ),
    _COLLECTED: ("was collected", "Its ledger stays as it is; set out another container."),
    _WASHED: ("is washed", "Fill it anew, under a name of its own."),
    _REUSABLE: ("waits to be filled again", "Fill it anew, under a name of its own."),
    _RETIRED: ("is retired", "Nothing more becomes of it; set out another container."),
}

_COMES_AFTER: Mapping[ContainerState, str] = {
    _O: "Ordered is only what hasn't come yet.",
    _E: "Empty is only what was never filled.",
    _OPEN: "A lid is taken off an empty or a closed container.",
    _CLOSED: "Closed is what was open, or what was called full or requested and takes more after all.",
    _FULL: "Full is what was open, closed or requested.",
    _REQUESTED: "A pickup is requested for a container that is closed or full.",
    _COLLECTED: "A pickup collects what stands in the lab with waste in it.",
    _WASHED: "Washed is what came back from a pickup, or holds nothing any more.",
    _REUSABLE: "Filled again is what came back from a pickup or was washed.",
    _RETIRED: "Retired is what holds nothing.",
}


def is_words(state: ContainerState) -> str:
    """Return what a container is, in words that follow its name: `stands open`."""
    return _IS[state][0]


def why_not(
    *, name: str, before: ContainerState, after: ContainerState, held_ul: int, reason: str
) -> str | None:
    """Return why a container can't come from one state to another, as a sentence that says what to do, or None where it can."""
    move = MOVES.get((before, after))
    if move is None:
        what, do = _IS[before]
        if before is after:
            return f"“{name}” {what} already. There is nothing to note."
        return f"“{name}” {what}. {_COMES_AFTER[after]} {do}"
    if move.needs_emptiness and held_ul and before not in GONE:
        return f"“{name}” still holds waste. Have it collected, or transfer what is in it; then note this."
    if move.needs_reason and not reason:
        return "Please write why: whoever reads this later asks."
    return None


def why_takes_nothing(*, name: str, state: ContainerState) -> str | None:
    """Return why nothing may be poured into a container, or None where it takes more."""
    what, do = _IS[state]
    return None if state in TAKES_MORE else f"“{name}” {what} and takes nothing. {do}"


def why_nothing_leaves(*, name: str, state: ContainerState, is_transfer: bool) -> str | None:
    """Return why nothing may be taken out of a container, or None where it may.

    What a pickup was requested for is not transferred any more; a spill, a sample or what dried up is written down whenever it happens.
    """
    what, do = _IS[state]
    if state not in IN_USE:
        return f"“{name}” {what}: nothing of its filling is here. {do}"
    if is_transfer and state is _REQUESTED:
        return f"“{name}” {what}. Take it off the request first, with the reason."
    return None


def moves_from(state: ContainerState) -> Sequence[tuple[ContainerState, Move]]:
    """Return what a person may note of a container in this state, in the order of its life."""
    return [(after, move) for (before, after), move in MOVES.items() if before is state and move.by_hand]
