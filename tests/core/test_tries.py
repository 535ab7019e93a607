"""Waiting after tries in vain."""

from hypothesis import given
from hypothesis import strategies as st

from server.core.tries import FOR_ADDRESS, FOR_SECRET, HOUR_S, network_of, wait_s


def test_the_first_tries_wait_for_nothing_and_each_further_one_twice_as_long() -> None:
    waits = [wait_s(FOR_SECRET, times=times, since_s=0) for times in range(12)]

    assert waits == [0, 0, 0, 0, 0, 15, 30, 60, 120, 240, 300, 300]


def test_an_hour_later_all_is_forgotten() -> None:
    assert wait_s(FOR_ADDRESS, times=10**9, since_s=HOUR_S) == 0


@given(st.integers(0, 10**9), st.integers(0, 10**6))
def test_nobody_ever_waits_longer_than_five_minutes(times: int, since: int) -> None:
    assert 0 <= wait_s(FOR_SECRET, times=times, since_s=since) <= 300


def test_a_household_is_one_network() -> None:
    assert network_of("2001:db8:1:2:aaaa::1") == network_of("2001:db8:1:2::9")
    assert network_of("2001:db8:1:2::1") != network_of("2001:db8:1:3::1")
    assert network_of("192.0.2.7") == "192.0.2.7"
    assert network_of("somewhere") == "somewhere"
