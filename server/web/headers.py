"""Headers that every answer carries."""

from functools import lru_cache

from starlette.datastructures import MutableHeaders

from server.web.dark_style import style_hashes

_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    # Not `no-referrer`: with it browsers send `Origin: null` and our own forms would look foreign.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


@lru_cache(maxsize=1)
def _policy() -> str:
    return (
        f"default-src 'none'; script-src 'self'; style-src 'self' {style_hashes()}; img-src 'self' data:; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    )


def add_headers(headers: MutableHeaders) -> None:
    """Add what is not there yet."""
    for name, value in {**_HEADERS, "Content-Security-Policy": _policy()}.items():
        headers.setdefault(name, value)
