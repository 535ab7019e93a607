"""The pages of the rules over HTTP."""

from tests.conftest import Visitor, words

DAY = "2027-02-16"


def _keep(mira: Visitor, **changed: str) -> tuple[int, str]:
    typed = {"establishment": "university", "rule_set": "us-small", "kept_from": DAY, **changed}
    answer = mira.post("/waste/rules", data=typed)
    return answer.status_code, words(answer)


def _lay(mira: Visitor, **changed: str) -> tuple[int, str]:
    typed = {
        "rule": "fill",
        "value": "80 %",
        "reason": "the waste office's leaflet",
        "laid_from": DAY,
        **changed,
    }
    answer = mira.post("/waste/rules/campus", data=typed)
    return answer.status_code, words(answer)


def test_an_instructor_chooses_the_set_and_every_rule_shows_its_edition_and_source(mira: Visitor) -> None:
    status, text = _keep(mira)

    assert status == 200
    assert "US small quantity generator with satellite areas" in text
    assert "Kept from Tue 16 Feb 2027 on." in text
    assert "55 gal" in text
    assert "Edition: 40 CFR 262.15(a)" in text
    assert "Source: word-for-word adoptions of Utah" in text


def test_without_a_choice_every_limit_of_law_asks_the_waste_office(tomas: Visitor) -> None:
    text = words(tomas.get("/waste/rules"))

    assert "Ask my waste office" in text
    assert "No rule set is chosen yet" in text
    assert "An instructor chooses it" in text


def test_a_secondary_school_is_told_beside_the_field(mira: Visitor) -> None:
    status, text = _keep(mira, establishment="school", rule_set="us-academic")

    assert status == 422
    assert "a secondary school can't choose them" in text
    assert "Ask my waste office" in text


def test_a_campus_rule_stands_beside_the_set_s_own_value(mira: Visitor) -> None:
    _keep(mira)
    status, text = _lay(mira)

    assert status == 200
    assert "80 % campus rule" in text
    assert "Campus rule: the waste office's leaflet, from Tue 16 Feb 2027. The set itself: 90 %." in text


def test_a_looser_campus_rule_is_pointed_out(mira: Visitor) -> None:
    _keep(mira)
    _status, text = _lay(mira, rule="area-most", value="300 L")

    assert "campus rule, looser than the set" in text
    assert "Looser than the set: The most non-acute waste in one area." in text


def test_what_was_typed_stays_with_the_sentence_beside_it(mira: Visitor) -> None:
    status, text = _lay(mira, rule="full-days", value="two weeks", reason="")

    assert status == 422
    assert "“two weeks” is not a number" in text
    assert "two weeks" in text
    assert "Please fill this in." in text


def test_a_technician_lays_nothing_over(tomas: Visitor) -> None:
    assert _lay(tomas)[0] == 403
    assert _keep(tomas)[0] == 403


def test_a_set_can_be_looked_at_before_it_is_chosen(tomas: Visitor) -> None:
    text = words(tomas.get("/waste/rules/us-academic"))

    assert "Only for an accredited college or university" in text
    assert "12 months" in text
    assert "Earlier editions" in text
    assert "6 months. 40 CFR 262.208(a), 2015 edition" in text
    assert tomas.get("/waste/rules/moon").status_code == 404


def test_the_form_begins_with_the_rule_that_was_asked_for(mira: Visitor) -> None:
    page = mira.get("/waste/rules?rule=silver")

    assert '<option value="silver" selected>' in page.text.replace("  ", " ")
    assert mira.get("/waste/rules?rule=moon").status_code == 200


def test_what_another_lab_keeps_is_not_seen(mira: Visitor, petra: Visitor) -> None:
    _keep(mira)

    assert "No rule set is chosen yet" in words(petra.get("/waste/rules"))
