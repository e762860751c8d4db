"""What puts the office on a tablet's home screen: the manifest, open to all, and its icons."""

from __future__ import annotations

import struct
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.web.home_screen import ICON_SIZES, PAPER
from app.web.rendering import STATIC
from tests.offices import an_app, an_office


@pytest.fixture(scope="module")
def client() -> TestClient:
    return TestClient(an_app(an_office()))


@pytest.fixture(scope="module")
def manifest(client: TestClient) -> dict[str, Any]:
    answer = client.get("/manifest.webmanifest")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/manifest+json"
    found: dict[str, Any] = answer.json()
    return found


def test_a_page_names_the_manifest_before_anybody_has_signed_in(client: TestClient) -> None:
    assert '<link rel="manifest" href="/manifest.webmanifest">' in client.get("/sign-in").text


def test_it_opens_on_my_work_as_a_page_of_its_own(manifest: dict[str, Any]) -> None:
    """/work is the tablet's own page: it opens with or without the office."""
    assert (manifest["start_url"], manifest["scope"], manifest["display"]) == ("/work", "/", "standalone")
    assert manifest["name"] == manifest["short_name"] == "Cotterpin"


def test_every_icon_is_there_and_as_large_as_it_says(client: TestClient, manifest: dict[str, Any]) -> None:
    sizes = {one["sizes"]: one for one in manifest["icons"]}
    assert set(sizes) == {"any", *(f"{size}x{size}" for size in ICON_SIZES)}
    for size in ICON_SIZES:
        one = sizes[f"{size}x{size}"]
        answer = client.get(one["src"])
        assert (answer.status_code, answer.headers["content-type"], one["type"]) == (200, "image/png", "image/png")
        assert answer.content[:8] == b"\x89PNG\r\n\x1a\n"
        assert struct.unpack(">II", answer.content[16:24]) == (size, size)
    assert client.get(sizes["any"]["src"]).headers["content-type"].startswith("image/svg+xml")
    assert client.get("/static/icons/192.png").status_code == 200


def test_its_colours_are_the_pages_own() -> None:
    assert f"--raw-paper: {PAPER};" in (STATIC / "css" / "tokens.css").read_text("utf-8")
