"""Answering with a file to keep."""

from urllib.parse import quote

from starlette.responses import Response


def download(text: str | bytes, *, name: str, media_type: str) -> Response:
    """The text in UTF-8, or the bytes as they are, as a file called `name`, in whatever letters (RFC 6266, 4.3; RFC 8187)."""
    plain = "".join(sign if sign.isascii() and (sign.isalnum() or sign in " .-_") else "_" for sign in name)
    offered = {
        "Content-Disposition": f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}",
        "Cache-Control": "no-store",
    }
    return Response(text, media_type=media_type, headers=offered)
