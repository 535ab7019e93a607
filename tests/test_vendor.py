"""Vendored files are what their list says they are."""

import hashlib
import re

from server.web.show import ROOT

VENDOR = ROOT / "static" / "vendor"


def test_every_vendored_file_has_its_version_and_checksum() -> None:
    listed = dict(re.findall(r"\| ([\w.-]+) \|.*\| ([0-9a-f]{64}) \|", (VENDOR / "SOURCES.md").read_text()))
    found = {
        file.name: hashlib.sha256(file.read_bytes()).hexdigest()
        for file in VENDOR.iterdir()
        if file.name != "SOURCES.md"
    }

    assert found == listed
    assert all(re.search(r"-\d+\.\d+\.\d+\.", name) for name in found)


def test_the_pages_load_the_vendored_version() -> None:
    base = (ROOT / "templates" / "base.html").read_text()

    for name in re.findall(r"/static/vendor/([\w.-]+)", base):
        assert (VENDOR / name).is_file()
