"""The worked rota of nine pairs at three stations, 09:00 to 09:50, talk of 8 min, four waves of 6 min (common practice, house figures).

Second 0 is 09:00. A wave: load 1.5 min, settle 3, card lifted 0.5, expose 0.25, cover and carry 0.5. The tray line works in
another still zone: developer 2.5 min from the next wave's start on, rinse 0.5, bleach 2, rinse 3, wetting bath 1.
"""

from server.core.cues import CueVisit, EndsBy
from server.core.standing import ClassPlan

NINE = 9 * 3600
STATIONS = ("S1", "S2", "S3")
WAVE_S = 360
FIRST_WAVE_S = 480
PERIOD = (FIRST_WAVE_S, 45 * 60)

_PASS = (
    ("load", 0, 90, "dark", "moves", EndsBy.CALL),
    ("settle", 90, 270, "dark", "still", EndsBy.CALL),
    ("lift", 270, 300, "dark", "still", EndsBy.CALL),
    ("expose", 300, 315, "dark", "still", EndsBy.SHUTTER),
    ("cover", 315, 330, "dark", "moves", EndsBy.CALL),
    ("carry", 330, 345, "any", "moves", EndsBy.CALL),
    ("develop", 360, 510, "dark", "any", EndsBy.BATH),
    ("rinse", 510, 540, "dark", "any", EndsBy.BATH),
    ("bleach", 540, 660, "any", "any", EndsBy.BATH),
    ("wash", 660, 840, "any", "any", EndsBy.BATH),
    ("wet", 840, 900, "any", "any", EndsBy.BATH),
)
WAITS = {"carry": 120}


def wave(number: int, groups: tuple[str, ...], *, spare: bool = False) -> list[CueVisit]:
    """The visits of the wave of this number, counted from 0: a group at each station."""
    begins_s = FIRST_WAVE_S + WAVE_S * number
    return [
        CueVisit(
            group,
            1,
            step,
            station if start < WAVE_S else "trays",
            begins_s + start,
            begins_s + end,
            light,
            still,
            ends_by,
            "room",
            WAITS.get(step),
            spare=spare,
        )
        for group, station in zip(groups, STATIONS, strict=True)
        for step, start, end, light, still, ends_by in _PASS
    ]


def rota(*, spare: bool = True) -> tuple[CueVisit, ...]:
    """Three waves of the pairs, and a spare one for repeats."""
    waves = [wave(number, tuple(f"P{3 * number + one}" for one in (1, 2, 3))) for number in range(3)]
    if spare:
        waves.append(wave(3, ("R1", "R2", "R3"), spare=True))
    return tuple(visit for one in waves for visit in one)


def class_plan(*, spare: bool = True, afterglow_s: int = 300) -> ClassPlan:
    return ClassPlan(rota(spare=spare), (PERIOD,), afterglow_s)


def clock(second: float) -> str:
    """The wall clock of a second, such as `09:09:30`."""
    whole = NINE + round(second)
    return f"{whole // 3600:02}:{whole % 3600 // 60:02}:{whole % 60:02}"
