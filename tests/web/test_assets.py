"""What a page brings along is kept by the browser under an address that changes with its content."""

import re

from server.web.assets import STATIC, asset


def test_an_address_carries_the_version_of_its_content() -> None:
    found = asset("js/calling.js")

    assert re.fullmatch(r"/static/js/calling\.js\?v=[0-9a-f]{12}", found)
    assert found != asset("js/board.js").replace("board", "calling")
    assert (STATIC / "js" / "calling.js").exists()
