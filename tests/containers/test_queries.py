"""What the audit finds."""

from server.containers.queries import list_unbalanced
from server.data.session import LabSession
from tests.containers.bench import LITRE, Bench


def test_a_planted_difference_is_found(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=LITRE)
    bench.rinse_carboy(session, name="Rinse 2")
    session.flush()
    assert list_unbalanced(session) == []

    carboy.held_ul += 1
    session.flush()
    assert list_unbalanced(session) == [
        "Waste container “Rinse 1” is said to hold 1 L, but its entries add up to 1 L: a difference of 1 µL."
    ]
