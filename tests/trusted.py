"""A workshop's certificates and a server that speaks HTTPS with them, for the tests that need a real one."""

from __future__ import annotations

import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from http.client import HTTPResponse
from pathlib import Path
from typing import Any

import uvicorn

from app.trust.serving import serve_pages

NAME = "office.larkfield.test"


def now() -> datetime:
    """Real time: the servers and browsers these certificates are shown to go by it."""
    return datetime.now(UTC)


@contextmanager
def served_over_https(app: Any, chain: Path, keeper: Callable[[ssl.SSLContext], Iterator[float]] | None = None) -> Any:
    """The application over HTTPS on a free port of this machine, as `serve` runs it; gives the port."""
    config = uvicorn.Config(app, host="127.0.0.1", port=0, log_level="critical", lifespan="off", ssl_certfile=chain)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=serve_pages, args=(server, keeper), daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not server.started:
        assert time.monotonic() < until, "the server did not start"
        time.sleep(0.02)
    try:
        yield server.servers[0].sockets[0].getsockname()[1]
    finally:
        server.should_exit = server.force_exit = True
        thread.join(timeout=10)


def connected(port: int, name: str, root: Path | None) -> ssl.SSLSocket:
    """A connection to the server under this name, checked against this root alone (none: the system's).

    Raises: ssl.SSLCertVerificationError.
    """
    context = ssl.create_default_context(cafile=root)
    raw = socket.create_connection(("127.0.0.1", port), timeout=10)
    try:
        return context.wrap_socket(raw, server_hostname=name)
    except BaseException:
        raw.close()
        raise


def asked(connection: ssl.SSLSocket, path: str = "/sign-in", name: str = NAME) -> str:
    """One answer's first line, over a connection that stays open."""
    connection.sendall(f"GET {path} HTTP/1.1\r\nHost: {name}\r\n\r\n".encode())
    answer = HTTPResponse(connection)
    answer.begin()
    answer.read()
    return f"{answer.status} {answer.reason}"


def serial_of(connection: ssl.SSLSocket) -> str:
    shown = connection.getpeercert()
    assert shown is not None
    return str(shown["serialNumber"])
