"""What is written about an arrangement says what to do, never why."""

import re

# Beginnings of words that name a reason. Assumed and short: whoever writes one is asked, and nothing is dropped silently.
_REASONS = (
    "adhd", "allerg", "anxi", "asthma", "autis", "blind", "cancer", "condition", "deaf", "depress", "diabet", "diagnos",
    "disab", "disease", "disorder", "doctor", "dyslex", "epilep", "ill", "illness", "medic", "migraine", "patient", "phobi",
    "pregnan", "seizure", "sick", "suffer", "surgery", "syndrome", "therap", "trauma",
)  # fmt: skip
_WHOLE = {"ill", "sick"}


def reasons_in(text: str) -> tuple[str, ...]:
    """The words of a text that sound like a reason, as they were written, each once.

    >>> reasons_in("nitrile gloves, latex allergy")
    ('allergy',)
    >>> reasons_in("fill the tray for her")
    ()
    """
    words = dict.fromkeys(re.findall(r"[^\W\d_]+", text))
    return tuple(word for word in words if _sounds_like_one(word.casefold()))


def _sounds_like_one(word: str) -> bool:
    return any(word == one if one in _WHOLE else word.startswith(one) for one in _REASONS)
