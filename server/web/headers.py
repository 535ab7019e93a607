"""Headers that every answer carries."""

from starlette.datastructures import MutableHeaders

_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)

_HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    # Not `no-referrer`: with it browsers send `Origin: null` and our own forms would look foreign.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


def add_headers(headers: MutableHeaders) -> None:
    """Add what is not there yet."""
    for name, value in _HEADERS.items():
        headers.setdefault(name, value)
