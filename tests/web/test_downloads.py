"""Files to keep: how they are called."""

from email.message import Message

import pytest

from server.web.downloads import download


@pytest.mark.parametrize(
    ("name", "plain"),
    [
        ("Tuesday 2027-02-16 visits.csv", "Tuesday 2027-02-16 visits.csv"),
        ("Jeudi été.csv", "Jeudi _t_.csv"),
        ('a"b\\c/d;e.csv', "a_b_c_d_e.csv"),
        ("実習.csv", "__.csv"),
    ],
)
def test_a_file_keeps_its_name_in_whatever_letters(name: str, plain: str) -> None:
    """RFC 6266: `filename*` holds the name itself, `filename` what older programs can read. Read by Python's own parser."""
    answer = download("x", name=name, media_type="text/csv")
    header = Message()
    header["Content-Disposition"] = answer.headers["content-disposition"]
    told = dict(part.strip().split("=", 1) for part in header["Content-Disposition"].split(";")[1:])

    assert told["filename"] == f'"{plain}"'
    assert header.get_filename() in {name, plain}
    header.replace_header(
        "Content-Disposition", answer.headers["content-disposition"].replace(f'filename="{plain}"; ', "")
    )
    assert header.get_filename() == name
    assert answer.headers["cache-control"] == "no-store"
