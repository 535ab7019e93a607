"""Forming groups and reading pasted names."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.grouping import NameList, form_groups, read_names


@given(st.lists(st.integers(), max_size=60), st.integers(1, 12))
def test_everybody_is_in_exactly_one_group_in_the_order_of_the_list(members: list[int], size: int) -> None:
    groups = form_groups(members, size=size)

    assert [member for group in groups for member in group] == members


@given(st.integers(2, 60), st.integers(2, 12))
def test_nobody_works_alone_and_sizes_differ_by_at_most_one(students: int, size: int) -> None:
    sizes = [len(group) for group in form_groups(range(students), size=size)]

    assert min(sizes) >= 2
    assert max(sizes) - min(sizes) <= 1


@given(st.integers(1, 20), st.integers(2, 12))
def test_a_number_that_divides_evenly_gives_groups_of_exactly_that_size(groups: int, size: int) -> None:
    assert {len(group) for group in form_groups(range(groups * size), size=size)} == {size}


def test_a_list_of_lines_is_read() -> None:
    assert read_names("Ada Quist\n\n  Bo   Lind \n").names == ("Ada Quist", "Bo Lind")


def test_a_csv_list_with_a_heading_is_read() -> None:
    text = 'Number,Name,Mail\n1,"Quist, Ada",a@x.example\n2,Bo Lind,b@x.example\n'

    assert read_names(text).names == ("Quist, Ada", "Bo Lind")


def test_first_and_last_names_are_joined() -> None:
    text = "Last name;First name\nQuist;Ada\nLind;Bo\n"

    assert read_names(text).names == ("Ada Quist", "Bo Lind")


def test_a_pasted_table_with_tabs_is_read() -> None:
    assert read_names("Name\tRoom\nAda Quist\t3\nBo Lind\t4\n").names == ("Ada Quist", "Bo Lind")


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("\ufeffName\nAda Quist", ("Ada Quist",)),
        ("Name;Note\nAda Quist;likes red, green", ("Ada Quist",)),
        ("Name\tNumber\nQuist, Ada\t3", ("Quist, Ada",)),
        ("Surname,Name\nQuist,Ada", ("Ada Quist",)),
        ("Student name,Number\nAda Quist,3", ("Ada Quist",)),
        ("Name,First name,Last name\naq,Ada,Quist", ("Ada Quist",)),
        ('"Quist, Ada"\n"Lind, Bo"', ("Quist, Ada", "Lind, Bo")),
        ("Ada Quist,\nBo Lind,", ("Ada Quist", "Bo Lind")),
    ],
)
def test_lists_as_spreadsheets_save_and_paste_them_are_read(text: str, names: tuple[str, ...]) -> None:
    assert read_names(text) == NameList(names, ())


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("Quist, Ada\nLind, Bo", "Line 1 has several columns. Write a heading line"),
        ('Ada Quist\n"Bo Lind\nCleo Varga', "Line 2 opens a quotation mark"),
        ("Name,Number\n", "There is no name in this list."),
        ("Ada\u202eQuist", "Line 1 has a character in it that can't be printed"),
    ],
)
def test_what_would_lose_part_of_a_name_is_a_fault(text: str, sentence: str) -> None:
    assert sentence in read_names(text).faults[0]


def test_a_name_twice_is_a_fault_with_both_lines() -> None:
    found = read_names("Ada Quist\nBo Lind\nada quist")

    assert found.faults == ("“ada quist” stands on line 1 and on line 3; make the two differ.",)


def test_a_missing_and_an_overlong_name_are_faults() -> None:
    found = read_names("Name,Room\n,3\n" + "x" * 81 + ",4\n")

    assert found.faults[0] == "Line 2 has no name."
    assert "longer than 80" in found.faults[1]


def test_more_names_than_a_section_takes_is_a_fault() -> None:
    assert "at most 400" in read_names("\n".join(f"Student {number}" for number in range(401))).faults[0]


@given(st.text(max_size=300))
def test_any_text_gets_an_answer(text: str) -> None:
    found = read_names(text)

    assert all(name.strip() == name and name for name in found.names)
