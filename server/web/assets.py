"""Files that pages bring along: an address with the version of its content may be kept by the browser for good."""

from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

STATIC = Path(__file__).resolve().parents[2] / "static"


@lru_cache(maxsize=64)
def asset(name: str) -> str:
    """The address of a file of ours that changes with its content, for pages that are loaded again without a network."""
    version = sha256((STATIC / name).read_bytes()).hexdigest()[:12]
    return f"/static/{name}?v={version}"


class Assets(StaticFiles):
    def file_response(self, *args: Any, **options: Any) -> Response:
        response = super().file_response(*args, **options)
        scope: Scope = options.get("scope") or next(one for one in args if isinstance(one, dict))
        if scope["query_string"].startswith(b"v="):
            response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        return response
