"""One server process on the database that STILLROOM_DATABASE_URL names, at the port that is given or at a free one; prints its
address once it answers.
"""

import socket
import sys

import uvicorn

from server.app import Serving, create_app
from server.settings import Settings
from tests.casts import MORNING


class _Telling(Serving):
    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        print(f"http://127.0.0.1:{self.servers[0].sockets[0].getsockname()[1]}", flush=True)  # noqa: T201


if __name__ == "__main__":
    app = create_app(Settings(), clock=lambda: MORNING)
    _Telling(
        uvicorn.Config(
            app, host="127.0.0.1", port=int(sys.argv[1]) if len(sys.argv) > 1 else 0, log_level="error"
        )
    ).run()
