"""Answering with a file."""

from collections.abc import AsyncIterator, Mapping
from urllib.parse import quote

from fastapi import Request
from starlette.responses import Response, StreamingResponse


def download(text: str | bytes, *, name: str, media_type: str) -> Response:
    """The text in UTF-8, or the bytes as they are, as a file called `name`."""
    return Response(text, media_type=media_type, headers=_offered(name))


def long_download(pieces: AsyncIterator[str], *, name: str, media_type: str) -> Response:
    """The same for a text that is written while it is sent, so that it is nowhere as a whole."""
    return StreamingResponse(pieces, media_type=media_type, headers=_offered(name))


def unchanging(request: Request, content: bytes, *, tag: str, media_type: str) -> Response:
    """What a page shows, such as a picture: the browser may keep it for its user alone, and asks each time whether it may still be shown.

    `tag` is another for any other content.
    """
    quoted = f'"{tag}"'
    headers = {"Cache-Control": "private, no-cache", "ETag": quoted}
    if quoted in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return Response(content, media_type=media_type, headers=headers)


def _offered(name: str) -> Mapping[str, str]:
    """A file's name in whatever letters (RFC 6266, 4.3; RFC 8187)."""
    plain = "".join(sign if sign.isascii() and (sign.isalnum() or sign in " .-_") else "_" for sign in name)
    return {
        "Content-Disposition": f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}",
        "Cache-Control": "no-store",
    }
