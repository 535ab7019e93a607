"""Which rotation a run belongs to."""

from datetime import datetime, timedelta

import pytest

from server.data.session import LabSession
from server.rotations.models import Period, Rotation, RotationPlan, RotationState, Visit
from server.runs.queries import find_rotation_at
from tests.casts import MORNING, Cast


def _rotation(
    session: LabSession, cast: Cast, starts_at: datetime, state: RotationState = RotationState.PUBLISHED
) -> int:
    """A rotation of one hour with one visit."""
    rotation = Rotation(section_id=cast.section_id, name="Week 3", state=state, made_at=MORNING)
    session.add(rotation)
    session.flush()  # its parts name its id
    session.add(Period(rotation_id=rotation.id, starts_at=starts_at, ends_at=starts_at + timedelta(hours=1)))
    plan = RotationPlan(
        rotation_id=rotation.id,
        status="optimal",
        makespan_s=3600,
        bound_s=3600,
        plates_planned=1,
        plates_unplaced=0,
        class_file="{}",
        seed=1,
        starts_at=starts_at,
        made_at=MORNING,
    )
    session.add(plan)
    session.flush()  # its visit names its id
    session.add(
        Visit(
            plan_id=plan.id,
            group_id=cast.group_ids[0],
            pass_no=1,
            step="expose",
            place="S1",
            light="dark",
            still="still",
            starts_at=starts_at,
            ends_at=starts_at + timedelta(hours=1),
        )
    )
    session.flush()  # the query reads the database
    return rotation.id


@pytest.mark.parametrize(
    ("after_start", "belongs"),
    [
        (timedelta(seconds=-1), False),
        (timedelta(0), True),
        (timedelta(minutes=59), True),
        (timedelta(hours=2, minutes=59), True),
        (timedelta(hours=3), False),
    ],
)
def test_a_run_belongs_to_the_rotation_that_is_going_on(
    session: LabSession, cast: Cast, after_start: timedelta, belongs: bool
) -> None:
    """It is planned to end after an hour, and takes notes for two more."""
    rotation_id = _rotation(session, cast, MORNING)

    found = find_rotation_at(session, cast.section_id, MORNING + after_start)

    assert found == (rotation_id if belongs else None)


def test_of_two_rotations_the_one_that_has_begun_last_takes_the_run(session: LabSession, cast: Cast) -> None:
    _rotation(session, cast, MORNING)
    second = _rotation(session, cast, MORNING + timedelta(hours=2))

    assert find_rotation_at(session, cast.section_id, MORNING + timedelta(hours=2, minutes=30)) == second


def test_a_rotation_that_is_not_published_takes_no_runs(session: LabSession, cast: Cast) -> None:
    _rotation(session, cast, MORNING, RotationState.PLANNED)

    assert find_rotation_at(session, cast.section_id, MORNING) is None


def test_another_sections_rotation_takes_no_runs(session: LabSession, cast: Cast) -> None:
    _rotation(session, cast, MORNING)

    assert find_rotation_at(session, cast.section_id + 1, MORNING) is None
