"""How long somebody waits who has tried a secret in vain again and again. Nobody is locked out for good."""

from dataclasses import dataclass
from enum import StrEnum
from ipaddress import IPv6Address, ip_address

HOUR_S = 3600


class Secret(StrEnum):
    """What a secret that is tried belongs to."""

    EMAIL = "e-mail address"
    PERSON = "person"
    CLASS_CODE = "class code"


@dataclass(frozen=True)
class Patience:
    """`free` tries wait for nothing; each further one doubles the wait, from `first_wait_s` up to `longest_wait_s`.

    What was not tried for `forgotten_after_s` seconds is forgotten.
    """

    free: int
    first_wait_s: int = 15
    longest_wait_s: int = 300
    forgotten_after_s: int = HOUR_S


# Assumed: who mistypes does so a few times; behind one address a whole class may sit. From all networks together a secret is
# tried so often only by many who guess it; one network alone, which waits by itself, takes days for that.
FOR_SECRET = Patience(free=5)
FOR_SECRET_ANYWHERE = Patience(free=1000)
FOR_ADDRESS = Patience(free=30)


def wait_s(patience: Patience, *, times: int, since_s: int) -> int:
    """Seconds still to wait before the next try, `since_s` seconds after the last of `times` that were in vain.

    >>> [wait_s(FOR_SECRET, times=times, since_s=0) for times in (4, 5, 6, 7, 20)]
    [0, 15, 30, 60, 300]
    >>> wait_s(FOR_SECRET, times=6, since_s=20)
    10
    """
    over = times - patience.free
    if over < 0 or since_s >= patience.forgotten_after_s:
        return 0
    asked = min(patience.first_wait_s << min(over, 32), patience.longest_wait_s)
    return max(0, asked - since_s)


def network_of(address: str) -> str:
    """Where a try came from: the address itself, or for the long kind the network of its first half, of which one household has all."""
    try:
        known = ip_address(address)
    except ValueError:
        return address
    return str(int(known) >> 64) if isinstance(known, IPv6Address) else address
