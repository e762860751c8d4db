"""Serving over HTTPS with the workshop's own certificates, renewing them meanwhile, and handing the authority out."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import uvicorn
from starlette.applications import Starlette

from app.trust.authority import CertificatesBroken
from app.trust.certify import Certificates, reload_chain, renew_if_due

DAY_S = 86_400.0


def serve_pages(server: uvicorn.Server, keeper: Callable[[ssl.SSLContext], Iterator[float]] | None = None) -> None:
    """Run the server until it is told to stop; with HTTPS, the keeper beside it.

    The keeper is run in the loop that also begins connections: OpenSSL does not promise that a context may be
    changed by one thread while another begins a connection with it.
    """
    if not server.config.loaded:
        server.config.load()
    with contextlib.suppress(KeyboardInterrupt), asyncio.Runner(loop_factory=server.config.get_loop_factory()) as loop:
        loop.run(_with_keeper(server, keeper))


async def _with_keeper(server: uvicorn.Server, keeper: Callable[[ssl.SSLContext], Iterator[float]] | None) -> None:
    context = server.config.ssl
    beside = asyncio.create_task(_keep(keeper(context))) if keeper and context else None
    try:
        await server.serve()
    finally:
        if beside:
            beside.cancel()


async def _keep(waits: Iterator[float]) -> None:
    for seconds in waits:
        await asyncio.sleep(seconds)


def renewing(
    folder: Path, clock: Callable[[], datetime], tell: Callable[[str], None], every_s: float = DAY_S
) -> Callable[[ssl.SSLContext], Iterator[float]]:
    """A keeper: looks once a day whether the office's certificate is due, and puts a new one into the same context.

    What cannot be renewed is told and tried again the next day; the pages stay served meanwhile.
    """

    def keeper(context: ssl.SSLContext) -> Iterator[float]:
        while True:
            yield every_s
            try:
                if renew_if_due(folder, clock()):
                    reload_chain(context, folder)
            except (CertificatesBroken, OSError) as error:
                tell(f"The office's certificate was not renewed: {error}")

    return keeper


@contextmanager
def handing_out(app: Starlette, host: str, port: int, tell: Callable[[str], None]) -> Iterator[int]:
    """Serve the little application from a thread of its own for as long as this lasts; gives its port, 0 if none.

    A port that is taken is told and does not keep the pages from being served.
    """
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        listening = socket.create_server((host, port), family=family)
    except OSError as error:
        tell(f"The page for new tablets is not served: port {port} cannot be used ({error.strerror or error}).")
        yield 0
        return
    # Few people ever open this page at once; whoever holds connections open is let go soon.
    config = uvicorn.Config(
        app, log_level="warning", lifespan="off", access_log=False, limit_concurrency=20, timeout_keep_alive=2,
        timeout_graceful_shutdown=1, server_header=False,
    )  # fmt: skip
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, name="hand-out", daemon=True)
    thread.start()
    try:
        yield listening.getsockname()[1]
    finally:
        server.should_exit = True
        thread.join(timeout=5)
        listening.close()


def https_address(certificates: Certificates, port: int) -> str:
    return f"https://{certificates.name}" if port == 443 else f"https://{certificates.name}:{port}"


def hand_out_address(certificates: Certificates, port: int) -> str:
    return f"http://{certificates.name}" if port == 80 else f"http://{certificates.name}:{port}"
