"""Why a plate came out as it did: from what was seen and what is known of the run to likely causes, and what to change next.

`CAUSES` is the table; nothing here is certain, and every cause says what speaks for it and where that is known from.
"""

from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from enum import StrEnum


class Defect(StrEnum):
    """What can be seen of a dry plate beside its image, each a yes or a no."""

    FOG_VEIL = "fog veil"
    STAIN = "stain"
    SCRATCH = "scratch"
    DARK_BANDS = "dark bands"
    OBJECT_BLACK = "object black"
    PEELED = "peeled"
    WRONG_COLOUR = "wrong colour"
    EDGE_STRIPES = "edge stripes"


class Darkening(StrEnum):
    """How dark the plate went in the developer."""

    CLEAR = "stayed clear"
    PALE = "pale"
    NORMAL = "normal"
    TOO_DARK = "too dark"


class Sign(StrEnum):
    """One thing that speaks for a cause, in the words of its reason."""

    NO_IMAGE = "no image at all"
    WEAK = "a dim image, or one at a single angle only"
    STAYED_CLEAR = "the plate stayed clear in the developer"
    PALE = "the plate stayed pale in the developer"
    NORMALLY_DARK = "the plate darkened normally"
    TOO_DARK = "the plate went too dark, or too quickly"
    FOG_VEIL = "a grey veil"
    STAIN = "a stain"
    SCRATCH = "a scratch or a fingerprint"
    DARK_BANDS = "dark bands"
    OBJECT_BLACK = "a part of the object is black"
    PEELED = "the emulsion came off"
    WRONG_COLOUR = "the wrong colour"
    EDGE_STRIPES = "stripes along an edge"
    MOVED = "the note says that something moved"
    LIGHT = "the note says stray light"
    DROPPED = "the note says that the plate was dropped"
    LIGHT_REACHED = "a light incident may have reached the plate"
    DEVELOPER_DEAD = "the developer was past its life"
    DEVELOPER_ALLOWED = "the developer was used past a limit, as an instructor allowed"
    EXPOSED_LONG = "exposed for much longer than planned"
    EXPOSED_SHORT = "exposed for much less than planned"
    SETTLED_SHORT = "it settled for less than the station's time"
    SIDE_UNCHECKED = "nobody checked the emulsion side"
    OBJECT_DARK = "the object is dark"


# A verdict up to this one is a weak image.
WEAK_UP_TO = 2
# Tens of percent are hardly noticed, ±30 % are tolerated (hololaser.kwaoo.me/holography/exposures.html).
TOLERANCE_PERCENT = 30
# An exposure is changed by no more than this in one step, up or down: the table of practice, common to the trade.
MOST_MORE_PERCENT, MOST_LESS_PERCENT = 40, 30


@dataclass(frozen=True)
class Cause:
    """A line of the table. It is likely when all signs of one of `when` are there and none of `unless`; `also` speak for it too.

    `reason` says why these signs mean it, `change` what to do next, `source` where that is known from. `exposure_percent` is by how
    much the next exposure changes at most, 0 where its time is not at fault. `is_movement`: the plate says nothing about light.
    """

    name: str
    reason: str
    change: str
    source: str
    when: tuple[AbstractSet[Sign], ...]
    also: AbstractSet[Sign] = frozenset()
    unless: AbstractSet[Sign] = frozenset()
    exposure_percent: int = 0
    is_movement: bool = False

    @property
    def every_sign(self) -> AbstractSet[Sign]:
        return frozenset(self.also).union(*self.when)


CAUSES = (
    Cause(
        "The plate was dropped",
        "It may not have been exposed at all, so it says nothing about light or baths.",
        "Pick up the pieces with the lamp on and gloves, never by touch. Take the next plate as planned.",
        "common practice",
        ({Sign.DROPPED},),
    ),
    Cause(
        "Something moved during the exposure",
        "The developer found light, so the plate was exposed; without an image the fringes were smeared, by a movement "
        "of a quarter to half a wavelength or more.",
        "Settle longer, rest the object and the plate on three points, and keep everybody still until the shutter is closed.",
        "a published lesson (holography.ru, les6eng), the size of the movement common practice",
        ({Sign.NO_IMAGE, Sign.NORMALLY_DARK}, {Sign.MOVED}),
        also={Sign.SETTLED_SHORT, Sign.WEAK},
        is_movement=True,
    ),
    Cause(
        "The object moved",
        "What moves against the plate during the exposure leaves no fringes and is black, while what stood still is clear.",
        "Take a rigid object, or fix it to its base: no paper, cloth or loose parts.",
        "a published lesson (holography.ru, les6eng)",
        ({Sign.OBJECT_BLACK},),
        also={Sign.MOVED, Sign.SETTLED_SHORT},
        is_movement=True,
    ),
    Cause(
        "Slow drift during the exposure",
        "A drift of the plate, the object or the air shifts the fringes a little more from place to place, which shows as bands.",
        "Settle longer, take warm hands away early, and look for draughts and heaters.",
        "from memory",
        ({Sign.DARK_BANDS},),
        also={Sign.MOVED, Sign.SETTLED_SHORT},
        is_movement=True,
    ),
    Cause(
        "No light reached the plate",
        "A plate that stays clear in a good developer has not been exposed.",
        "Look at the beam, the shutter and the card with a white card in the plate's place, and make sure of the box and its dose.",
        "common practice",
        ({Sign.STAYED_CLEAR},),
        also={Sign.NO_IMAGE, Sign.EXPOSED_SHORT},
        unless={Sign.DEVELOPER_DEAD, Sign.DEVELOPER_ALLOWED},
    ),
    Cause(
        "Exposed too little",
        "Too little light leaves a pale, thin image.",
        "Expose for longer.",
        "common practice; the step is assumed",
        ({Sign.PALE}, {Sign.WEAK, Sign.EXPOSED_SHORT}, {Sign.NO_IMAGE, Sign.EXPOSED_SHORT}),
        unless={Sign.TOO_DARK, Sign.STAYED_CLEAR, Sign.NORMALLY_DARK, Sign.EXPOSED_LONG},
        exposure_percent=MOST_MORE_PERCENT,
    ),
    Cause(
        "The developer was old, used up or cold",
        "A weak developer darkens a well exposed plate too little.",
        "Take a fresh charge and look at its age, its plates and its temperature before the exposure is changed.",
        "common practice",
        (
            {Sign.PALE},
            {Sign.WEAK, Sign.DEVELOPER_DEAD},
            {Sign.WEAK, Sign.DEVELOPER_ALLOWED},
            {Sign.STAYED_CLEAR, Sign.DEVELOPER_DEAD},
            {Sign.STAYED_CLEAR, Sign.DEVELOPER_ALLOWED},
        ),
        unless={Sign.TOO_DARK},
    ),
    Cause(
        "Exposed too much",
        "Too much light darkens the whole plate quickly and hazes the image.",
        "Expose for less.",
        "common practice; the step is assumed",
        ({Sign.TOO_DARK}, {Sign.FOG_VEIL, Sign.EXPOSED_LONG}, {Sign.WEAK, Sign.EXPOSED_LONG}),
        also={Sign.FOG_VEIL},
        unless={Sign.PALE, Sign.STAYED_CLEAR, Sign.EXPOSED_SHORT},
        exposure_percent=-MOST_LESS_PERCENT,
    ),
    Cause(
        "The plate was fogged",
        "Density without an image, up to the rim that no beam reached, comes from stray light, a screen, or age.",
        "Make a fog test with a plate of the same box before the next exposure, and look for the light.",
        "common practice",
        (
            {Sign.FOG_VEIL},
            {Sign.TOO_DARK, Sign.LIGHT},
            {Sign.TOO_DARK, Sign.LIGHT_REACHED},
            {Sign.WEAK, Sign.LIGHT},
            {Sign.WEAK, Sign.LIGHT_REACHED},
            {Sign.NO_IMAGE, Sign.LIGHT},
            {Sign.NO_IMAGE, Sign.LIGHT_REACHED},
        ),
        also={Sign.TOO_DARK},
    ),
    Cause(
        "The beam entered an edge of the plate",
        "Light that runs inside the glass from an edge draws stripes along it.",
        "Put the black strip on the edge that faces the beam.",
        "a published lesson (holography.ru, les8eng)",
        ({Sign.EDGE_STRIPES},),
    ),
    Cause(
        "The plate was touched while wet",
        "Wet gelatin takes every touch for good, and lifts where it is rubbed.",
        "Hold plates by their edges only, and let nothing rest on the emulsion until it is dry.",
        "a published lesson (holography.ru, les10eng)",
        ({Sign.SCRATCH}, {Sign.PEELED}),
    ),
    Cause(
        "Bleach or silver was left in the plate",
        "What was not washed out browns or darkens in the light later.",
        "Leave the plate in the bleach until no dark patch remains, and wash it for longer.",
        "from memory",
        ({Sign.STAIN},),
    ),
    Cause(
        "The gelatin shrank or swelled",
        "The fringes' distance sets the colour, and the gelatin's thickness sets the distance.",
        "Keep the baths' times and temperatures alike, dry slowly and not hot, and rate when quite dry.",
        "from memory",
        ({Sign.WRONG_COLOUR},),
    ),
    Cause(
        "The plate was the wrong way round, or is looked at from its back",
        "With the emulsion away from the object the image is poor and its depth reversed.",
        "Turn the plate over under the lamp first. At the next one two people look at the emulsion side.",
        "from memory",
        ({Sign.WEAK, Sign.SIDE_UNCHECKED},),
    ),
    Cause(
        "The object sent back too little light",
        "A dark object is weak against the beam that falls on the plate directly.",
        "Take a pale object.",
        "common practice",
        ({Sign.WEAK, Sign.OBJECT_DARK},),
    ),
)


@dataclass(frozen=True)
class Suggestion:
    """A likely cause with the signs that speak for it; `next_exposure_s` only where the exposure's time is at fault."""

    cause: Cause
    signs: tuple[Sign, ...]
    next_exposure_s: int | None = None


@dataclass(frozen=True)
class Diagnosis:
    """Likely causes, the one that explains most signs first, and signs that none of them explains."""

    causes: tuple[Suggestion, ...]
    unexplained: tuple[Sign, ...]


_OF_DARKENING = {
    Darkening.CLEAR: Sign.STAYED_CLEAR,
    Darkening.PALE: Sign.PALE,
    Darkening.NORMAL: Sign.NORMALLY_DARK,
    Darkening.TOO_DARK: Sign.TOO_DARK,
}
# What is no fault by itself needs no cause.
_FAULTLESS = {
    Sign.NORMALLY_DARK,
    Sign.SETTLED_SHORT,
    Sign.SIDE_UNCHECKED,
    Sign.OBJECT_DARK,
    Sign.DEVELOPER_ALLOWED,
}


def signs_of(
    *,
    verdict: int | None,
    defects: AbstractSet[Defect],
    darkening: Darkening | None,
    exposure_s: int,
    planned_exposure_s: int | None,
    settle_s: int,
    planned_settle_s: int | None,
) -> frozenset[Sign]:
    """What the plate and its times show. What else is known of the run (its incident, light, developer, object) is added to it."""
    found = {Sign[Defect(defect).name] for defect in defects}
    if verdict == 0:
        found.add(Sign.NO_IMAGE)
    elif verdict is not None and verdict <= WEAK_UP_TO:
        found.add(Sign.WEAK)
    if darkening is not None:
        found.add(_OF_DARKENING[darkening])
    if planned_exposure_s is not None:
        # In whole percents of the planned time, so that exactly 30 % off still counts as on time.
        off = (exposure_s - planned_exposure_s) * 100
        if off > TOLERANCE_PERCENT * planned_exposure_s:
            found.add(Sign.EXPOSED_LONG)
        elif off < -TOLERANCE_PERCENT * planned_exposure_s:
            found.add(Sign.EXPOSED_SHORT)
    if planned_settle_s is not None and settle_s < planned_settle_s:
        found.add(Sign.SETTLED_SHORT)
    return frozenset(found)


def next_exposure_s(exposure_s: int, *, percent: int, planned_s: int | None) -> int:
    """The next exposure in whole seconds, changed by `percent` at most: rounded towards the exposure as it was.

    Where the exposure was not the planned one, it goes back to that and no further.

    >>> next_exposure_s(10, percent=40, planned_s=None), next_exposure_s(10, percent=-30, planned_s=None)
    (14, 7)
    >>> next_exposure_s(13, percent=-30, planned_s=11)
    11
    """
    if percent >= 0:
        step = exposure_s * (100 + percent) // 100
        return min(step, planned_s) if planned_s is not None and planned_s > exposure_s else step
    step = -(-exposure_s * (100 + percent) // 100)
    return max(step, planned_s) if planned_s is not None and planned_s < exposure_s else step


def diagnose(
    signs: AbstractSet[Sign], *, exposure_s: int, planned_exposure_s: int | None = None
) -> Diagnosis:
    """Rank the causes by how many of the signs they explain; equals stand in the table's order."""
    found = []
    for cause in CAUSES:
        if cause.unless & signs or not any(need <= signs for need in cause.when):
            continue
        time_s = None
        if cause.exposure_percent:
            planned_s = planned_exposure_s if {Sign.EXPOSED_LONG, Sign.EXPOSED_SHORT} & signs else None
            time_s = next_exposure_s(exposure_s, percent=cause.exposure_percent, planned_s=planned_s)
        spoken = tuple(sign for sign in Sign if sign in cause.every_sign & signs)
        found.append(Suggestion(cause, spoken, time_s))
    found.sort(key=lambda one: -len(one.signs))
    explained = {sign for one in found for sign in one.signs}
    return Diagnosis(
        tuple(found), tuple(sign for sign in Sign if sign in signs - explained and sign not in _FAULTLESS)
    )


def is_movement(signs: AbstractSet[Sign]) -> bool:
    """Whether something that moved is a likely cause: then the plate says nothing about its exposure."""
    return any(one.cause.is_movement for one in diagnose(signs, exposure_s=1).causes)
