"""From the command to a running page, and to its end."""

from __future__ import annotations

import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import uvicorn

from limbfe.errors import CaseError
from limbfe.page.app import make_app
from limbfe.page.guard import Guard
from limbfe.page.room import open_room

LOOPBACK = "127.0.0.1"


def serve_page(
    folder: Path,
    first: str | None,
    *,
    port: int = 0,
    browser: bool = True,
    say: Callable[[str], None],
) -> None:
    """Serve the page until it is ended from the terminal.

    Parameters
    ----------
    folder : Path
        Whose cases it may read and write; nothing outside it.
    first : str or None
        Bare name of the case it opens with.
    port : int
        A free one by default.
    browser : bool
        Whether to open the address in the user's browser.
    say : callable
        Told the address.

    Raises
    ------
    CaseError
        If the port is taken.
    """
    listening = _listen(port)
    port = listening.getsockname()[1]
    token = secrets.token_urlsafe(24)
    address = f"http://{LOOPBACK}:{port}/{token}/"
    with open_room(folder, first) as room, listening:
        config = uvicorn.Config(
            Guard(make_app(room), token, port),
            log_level="warning",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            ws="none",
            lifespan="off",
            timeout_graceful_shutdown=1,
        )
        server = _Server(config)
        server.ended = room.close
        say(address)
        # the child loads its libraries while the browser opens
        threading.Thread(target=room.drawer.start, daemon=True).start()
        if browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
        server.run(sockets=[listening])


class _Server(uvicorn.Server):
    """A server that ends what is computed as soon as it is told to end, since it waits for it."""

    ended: Callable[[], None]

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Answer Ctrl-C; called in the midst of anything, so that the work is done beside it."""
        threading.Thread(target=self.ended, daemon=True).start()
        super().handle_exit(sig, frame)


def _listen(port: int) -> socket.socket:
    """Return a socket on the loopback address: nothing outside this machine can reach it."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((LOOPBACK, port))
        listening.listen()  # a browser that comes first waits and is not refused
    except (OSError, OverflowError) as error:
        listening.close()
        raise CaseError(
            f"--port {port}: cannot be used ({error}); leave it out for a free one"
        ) from None
    return listening
