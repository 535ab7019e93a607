"""A wire between one device and the server, which a test cuts and mends: what is on its way breaks off, and nothing gets through."""

import socket
import threading
from contextlib import suppress
from dataclasses import dataclass, field


@dataclass
class Wire:
    """Forwards whatever connects to `port` to the server on `server_port`, both on this machine."""

    server_port: int
    whole: bool = True
    swallows_answers: bool = False
    _open: list[socket.socket] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def cut(self) -> None:
        self.whole = False
        ends, self._open = self._open, []
        for end in ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def mend(self) -> None:
        self.whole, self.swallows_answers = True, False

    def lose_answers(self) -> None:
        """What is sent arrives, what is answered does not, until it is mended."""
        self.swallows_answers = True

    def close(self) -> None:
        self.cut()
        self._listener.close()

    def _serve(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            if not self.whole:
                near.close()
                continue
            try:
                far = socket.create_connection(("127.0.0.1", self.server_port))
            except OSError:  # the server is down
                near.close()
                continue
            self._open += [near, far]
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self._carry, args=(one, other, one is far), daemon=True).start()

    def _carry(self, one: socket.socket, other: socket.socket, is_answer: bool) -> None:
        with suppress(OSError):
            while data := one.recv(65536):
                if not (is_answer and self.swallows_answers):
                    other.sendall(data)
        for end in (one, other):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()
