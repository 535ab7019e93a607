"""All rule sets, by their keys."""

from collections.abc import Mapping

from server.core.waste_rules.european_union import EUROPEAN_UNION
from server.core.waste_rules.rule import RuleSet
from server.core.waste_rules.united_kingdom import UNITED_KINGDOM
from server.core.waste_rules.united_states import ACADEMIC_LABORATORIES, LARGE, SMALL, VERY_SMALL
from server.core.waste_rules.waste_office import WASTE_OFFICE

RULE_SETS: Mapping[str, RuleSet] = {
    one.key: one
    for one in (
        WASTE_OFFICE,
        VERY_SMALL,
        SMALL,
        LARGE,
        ACADEMIC_LABORATORIES,
        EUROPEAN_UNION,
        UNITED_KINGDOM,
    )
}
