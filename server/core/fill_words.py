"""The forecast of waste in words: when a stream has no room, and what to do about it, with what each way brings.

Nothing here says that a waste is safe or harmless; what it counts as is for the waste office to say.
"""

from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction

from server.core.fill_forecast import Band, Step, StreamFill
from server.core.fill_options import (
    AskForMore,
    BookEarlier,
    EmptyEarlier,
    KeepCharge,
    RequestPickup,
    SetOut,
    StillBaths,
    WayOut,
)
from server.core.headspace import USUAL_FILL_PERCENT
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.rinse_history import RinsePerPlate
from server.core.units import digits, near_volume_words, plates_words, volume_words

# A chance below or above this many of 100 is told as less or more than it.
_HARDLY, _NEARLY = 1, 99


@dataclass(frozen=True)
class Telling:
    """What the words need beside the numbers: the stream's name, whether it has a container, its forecast, which goes from `now` to the end
    of `last`, and the lab's time zone.
    """

    stream: str
    has_container: bool
    fill: StreamFill
    now: datetime
    last: date
    zone: str
    rinse: RinsePerPlate


@dataclass(frozen=True)
class Headline:
    """The one thing a screen is about: the first day that something has no room, or that everything holds. `state` is well, watch or stop."""

    state: str
    figure: str
    words: str


@dataclass(frozen=True)
class Way:
    """One thing to do, what it brings, and how that was worked out. `pickup` is the pickup whose sheet it is about."""

    sentence: str
    state: str
    outcome: str
    why: tuple[str, ...]
    pickup: int | None = None


def band_words(band: Band) -> str:
    """Such as `1.6 L to 2.4 L`; empty where the band has no width."""
    low, high = (near_volume_words(Fraction(one)) for one in (band.low, band.high))
    return "" if band.low == band.high else f"{low} to {high}"


def chance_words(chance: float) -> str:
    """A chance in whole hundredths: `about 35 of 100`.

    >>> chance_words(0.004)
    'less than 1 of 100'
    """
    of_100 = round(100 * chance)
    if of_100 < _HARDLY:
        return f"less than {_HARDLY} of 100"
    return f"more than {_NEARLY} of 100" if of_100 > _NEARLY else f"about {of_100} of 100"


def _during(step: Step, told: Telling, *, with_day: bool = True) -> str:
    """What has no room, and when, unless that is now."""
    assert step.addition is not None
    if step.at <= told.now:
        return step.addition.name
    at = moment_words(step.at, told.zone) if with_day else clock_at(step.at, told.zone)
    return f"{step.addition.name}, {at}"


def headline(told: Telling) -> Headline:
    """The first day on which the stream has no room, or may have none at worst; or that it holds."""
    likely, worst = told.fill.first_over, told.fill.first_over_at_worst
    step = likely or worst
    if step is None:
        return Headline("well", "Holds", f"until {day_words(told.last)}, as far as anything is planned")
    day = day_at(max(step.at, told.now), told.zone)
    during, figure = _during(step, told, with_day=False), f"{day:%a} {day.day} {day:%b}"
    if likely is not None:
        over = volume_words(likely.likely.over_ul)
        return Headline("stop", figure, f"no room for {over} of “{told.stream}”: {during}")
    over = near_volume_words(Fraction(step.high.over_ul))
    return Headline(
        "watch", figure, f"at worst no room for {over} of “{told.stream}”: {during}; as expected it holds"
    )


def _outcome(fill: StreamFill, told: Telling) -> tuple[str, str]:
    """What a forecast with a way out says: well, watch or stop, and the words."""
    likely, worst, last = fill.first_over, fill.first_over_at_worst, day_words(told.last)
    if likely is not None:
        return "stop", f"not enough: no room for {_over(likely, told)}"
    if worst is not None:
        return (
            "watch",
            f"holds until {last} as expected; at worst no room for {_over_at_worst(worst, told)}",
        )
    return "well", f"holds until {last}, at worst too"


def _over(step: Step, told: Telling) -> str:
    return f"{volume_words(step.likely.over_ul)}: {_during(step, told)}"


def _over_at_worst(step: Step, told: Telling) -> str:
    return f"{near_volume_words(Fraction(step.high.over_ul))}: {_during(step, told)}"


def _before(at: datetime, told: Telling) -> str:
    return "now" if at <= told.now else f"before {moment_words(at, told.zone)}"


def _again(what: str) -> str:
    return f"The forecast was worked out again {what}."


def _request(way: RequestPickup, told: Telling) -> Way:
    likely, worst = way.without.first_over, way.without.first_over_at_worst
    over = ""
    if likely is not None:
        over = f"no room for {_over(likely, told)}"
    elif worst is not None:
        over = f"at worst no room for {_over_at_worst(worst, told)}"
    return Way(
        f"Request the pickup of {day_words(way.pickup.day)} by {moment_words(way.pickup.request_by, told.zone)}.",
        "watch",
        f"without it {over}",
        (
            _again("without this pickup"),
            (
                "A pickup comes only when it is requested before its cut-off. What is on its request takes no more until it is collected, "
                "so a container that something must still go into stays off it."
            ),
        ),
        way.pickup.key,
    )


def _ask_for_more(way: AskForMore, told: Telling) -> Way:
    return Way(
        f"Put every container of {told.stream} that can be spared on the request of the pickup of {day_words(way.pickup.day)}, "
        f"by {moment_words(way.pickup.request_by, told.zone)}.",
        *_outcome(way.fill, told),
        (_again("with them on it"), "A pickup takes only what is on its request."),
        way.pickup.key,
    )


def _set_out(way: SetOut, told: Telling) -> Way:
    another = "another labelled" if told.has_container else "a labelled"
    room, size = volume_words(way.room_ul), volume_words(way.size_ul)
    at_worst = near_volume_words(Fraction(way.room_at_worst_ul))
    sentence = f"Set out {another} container for {told.stream} {_before(way.before, told)}"
    if way.room_ul:
        sentence += f", with room for {room} or more below its fill line"
    if way.room_at_worst_ul > way.room_ul:
        sentence += f"; at worst {_before(way.before_at_worst, told)} and for {at_worst}"
    return Way(
        f"{sentence}: a size of {size}.",
        *_outcome(way.fill, told),
        (
            _again(
                f"with one more container after the others; the most that then stands in it is {at_worst} at worst"
            ),
            (
                f"Size: that ÷ {digits(Fraction(way.fill_percent))} % for its fill line, "
                f"{'which is assumed' if way.fill_percent == USUAL_FILL_PERCENT else 'by the rules of the lab'}, rounded up to half a litre. "
                "Several smaller ones do as well."
            ),
        ),
    )


def _book_earlier(way: BookEarlier, told: Telling) -> Way:
    late = told.fill.next_pickup
    sentence = f"Have what is here collected {_before(way.before, told)}: "
    if late is not None and late.at > way.before:
        sentence += f"the pickup of {day_words(late.day)} comes too late; "
    if way.on_day is None:
        sentence += "no full working day is left, so ask your waste office whether it can come before that."
        said = _again("with a pickup just before that, which takes everything")
    else:
        on = f"one on {day_words(way.on_day)} at the latest"
        said = _again("with a pickup at the end of that day, which takes everything")
        sentence += f"ask your waste office for {on}" + _by_notice(way, told)
    return Way(
        sentence,
        *_outcome(way.fill, told),
        (
            said,
            "Nobody knows the hour of a pickup, so its day counts in full. None is taken to come on a Saturday or a Sunday.",
        ),
    )


def _by_notice(way: BookEarlier, told: Telling) -> str:
    if way.request_by is None:
        return ", and for its cut-off."
    by = moment_words(way.request_by, told.zone)
    if way.is_too_late:
        return f". By your usual notice its cut-off was {by}: call them."
    return f", and request it by {by}, as your cut-offs usually are."


def _still_baths(way: StillBaths, told: Telling) -> Way:
    per_plate, now = (f"{one / 1000:.1f} mL" for one in (way.rinse_ul_per_plate, told.rinse.mean_ul))
    bath = volume_words(way.bath_ul)
    return Way(
        f"Rinse in still baths of {bath}, changed after {plates_words(way.plates)}: {per_plate} a plate instead of {now}, "
        f"{volume_words(way.saves_ul)} less in all.",
        *_outcome(way.fill, told),
        (
            f"{bath} ÷ {way.plates} plates = {per_plate} a plate.",
            _again("with it, and with the same spread in percent"),
            (
                "Such a bath washes less and holds more of everything. Try one plate first, and ask your waste office whether what it has "
                "determined of your rinse still fits."
            ),
        ),
    )


def _keep_charge(way: KeepCharge, told: Telling) -> Way:
    return Way(
        f"Keep the {way.tray.name} for {way.until.name} ({plates_words(way.plates)}): it may be used until "
        f"{moment_words(way.tray.ends_at, told.zone)} and for {plates_words(way.tray.room_plates)} more. "
        f"That saves {volume_words(way.saves_ul)} of fresh charges.",
        *_outcome(way.fill, told),
        (
            _again("with it emptied after that class"),
            "Only a charge that lives to the end of the class and has capacity left is named here.",
        ),
    )


def _empty_earlier(way: EmptyEarlier, told: Telling) -> Way:
    names = " and ".join(one.name for one in way.additions)
    return Way(
        f"Pour out {names} before the pickup of {day_words(way.pickup.day)}, so that it goes with it.",
        *_outcome(way.fill, told),
        (_again("with it poured out now"), "No published class needs it before its life ends."),
    )


def tell(way: WayOut, told: Telling) -> Way:
    """A way out in words."""
    match way:
        case RequestPickup():
            return _request(way, told)
        case AskForMore():
            return _ask_for_more(way, told)
        case SetOut():
            return _set_out(way, told)
        case BookEarlier():
            return _book_earlier(way, told)
        case StillBaths():
            return _still_baths(way, told)
        case KeepCharge():
            return _keep_charge(way, told)
        case EmptyEarlier():
            return _empty_earlier(way, told)
