"""Rules of waste law as data, by jurisdiction and day, and what they say of a lab's waste.

- `rule.py` what a rule, a rule set and a campus's own value are; `quantity.py` numbers in a rule's own unit
- `united_states.py`, `european_union.py`, `united_kingdom.py`, `waste_office.py` the sets themselves; `rule_sets.py` all of them
- `rule_book.py` a set as it stands on a day, with the campus's own values laid over it
- `finding.py` what a check answers; `totals.py`, `clocks.py`, `characteristics.py`, `containment.py`, `shipping.py`, `container_label.py`
  the checks; `carried.py` what comes into a rinse from a bath whose contents are known

A check compares in the rule's own unit, exactly. None of them ever concludes that a waste is not hazardous.
"""
