"""Whether waste may be carried from one area to another."""

from server.core.container_life import AreaKind
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import RuleBook


def why_not_carried(
    book: RuleBook, *, name: str, before: AreaKind | None, after: AreaKind, held_ul: int
) -> str | None:
    """Return why waste may not be carried from one area to another, or None where no rule of the lab hinders it.

    Where the lab's rules say so, what holds waste leaves a satellite area for a central one only. From a central area it goes to another
    central one only where a clock begins with its arrival: away from there it would look as if none ran. What is empty is no waste yet.
    """
    if not held_ul or after is AreaKind.CENTRAL:
        return None
    carrying = book.find(Key.CARRYING)
    if before is AreaKind.SATELLITE and carrying.lines:
        return (
            f"“{name}” holds waste and stands in a satellite area. Waste isn't carried from one satellite area to another "
            f"({carrying.edition}): it stays at the place where it comes from until it goes to a central area or is collected. "
            "Choose a central area, or ask your waste office."
        )
    clock = next(
        (rule for key in (Key.CENTRAL_DAYS, Key.DETERMINATION_DAYS) if (rule := book.find(key)).amount), None
    )
    if before is AreaKind.CENTRAL and clock is not None:
        return (
            f"“{name}” holds waste and stands in a central area, where its time runs: {clock.words} ({clock.edition}). That time doesn't "
            "stop elsewhere, so waste isn't carried back. Choose another central area, or ask your waste office."
        )
    return None
