"""Short names of sections and letters in groups."""

from hypothesis import given
from hypothesis import strategies as st

from server.core.student_codes import LONGEST, free_letter, names_in, short_name, student_code, with_codes


def test_a_code_reads_section_group_letter() -> None:
    assert student_code("Tue2", "G4", "b") == "Tue2-G4-b"


def test_the_first_free_letter_is_taken() -> None:
    assert [free_letter(taken) for taken in ("", "ab", "bc", "abcdefghijklmnopqrstuvwxyz")] == [
        "a",
        "c",
        "a",
        "",
    ]


def test_a_number_makes_room_for_itself() -> None:
    taken = ["Tue", *(f"Tue{number}" for number in range(2, 1000))]

    assert short_name("Tuesday", taken) == "Tu1000"


def test_a_name_is_found_between_words_and_not_inside_a_longer_one() -> None:
    text = "ADA QUIST's plate; Bo Lindgren; (Uma Kahn)\nAda\nQuist"

    assert names_in(text, ("Ada Quist", "Bo Lind", "Uma Kahn", "Ed")) == {"Ada Quist", "Uma Kahn"}


def test_codes_take_the_place_of_whole_names_only_and_of_the_longer_first() -> None:
    codes = {"Ada Quist": "Tue-G1-a", "Ada Quist Lund": "Tue-G1-b"}

    told = with_codes("Ada Quist Lund, ada quist; Ada Quistgaard and Ada", codes)

    assert told == "Tue-G1-b, Tue-G1-a; Ada Quistgaard and Ada"


@given(st.lists(st.text(max_size=12), max_size=40))
def test_whatever_sections_are_called_their_short_names_differ(names: list[str]) -> None:
    taken: list[str] = []
    for name in names:
        found = short_name(name, taken)
        assert found.isascii()
        assert found.isalnum()
        assert len(found) <= LONGEST
        taken.append(found)

    assert len({one.casefold() for one in taken}) == len(taken)
