"""The page that hands the authority out: three things and nothing else, over plain HTTP, from a port of its own."""

from __future__ import annotations

import base64
import hashlib
import plistlib
import re
import socket
import urllib.request
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography import x509
from starlette.testclient import TestClient

from app.bootstrap import hand_out_page
from app.settings import Settings
from app.trust.certify import Certificates, certify
from app.trust.hand_out import profile_of
from app.trust.serving import handing_out
from tests.trusted import NAME

NOON = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)


@pytest.fixture
def certificates(tmp_path: Path) -> Certificates:
    return certify(tmp_path, NAME, NOON).certificates


@pytest.fixture
def visitor(certificates: Certificates) -> TestClient:
    settings = Settings(_env_file=None)  # type: ignore[call-arg]
    return TestClient(hand_out_page(settings, certificates), base_url=f"http://{NAME}:8766")


def test_the_page_shows_the_mark_the_steps_and_where_the_pages_are(
    visitor: TestClient, certificates: Certificates
) -> None:
    answer = visitor.get("/")

    words = re.sub(r"<[^>]+>", " ", answer.text)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert certificates.fingerprint.replace(":", " ") in " ".join(words.split())
    assert f"https://{NAME}:8765/readiness" in answer.text
    assert f"http://{NAME}:8766" in words
    for kind in ("Android", "iPadOS", "Windows", "Linux, with Chromium"):
        assert f"<summary>{kind}</summary>" in answer.text
    assert len(re.findall("<svg", answer.text)) == 1


def test_the_page_may_load_and_run_nothing(visitor: TestClient) -> None:
    """Its one style is allowed by its hash, which is taken here from the page as sent."""
    answer = visitor.get("/")

    (style,) = re.findall(r"<style>(.*?)</style>", answer.text, re.DOTALL)
    allowed = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert answer.headers["content-security-policy"].startswith(f"default-src 'none'; style-src 'sha256-{allowed}';")
    assert "<script" not in answer.text
    assert 'style="' not in answer.text
    assert not re.search(r'(?:src|href)="(?!/authority|https://)', answer.text)


def test_the_root_comes_as_a_certificate_file(visitor: TestClient, certificates: Certificates) -> None:
    answer = visitor.get("/authority.crt")

    assert answer.headers["content-type"] == "application/x-x509-ca-cert"
    assert x509.load_der_x509_certificate(answer.content) == certificates.root
    # What the page tells people to compare on Windows and Linux is the file's own hash.
    assert hashlib.sha256(answer.content).hexdigest().upper() == certificates.fingerprint.replace(":", "")


def test_the_root_comes_as_a_configuration_profile(visitor: TestClient, certificates: Certificates) -> None:
    answer = visitor.get("/authority.mobileconfig")

    profile = plistlib.loads(answer.content)
    (inside,) = profile["PayloadContent"]
    assert answer.headers["content-type"] == "application/x-apple-aspen-config"
    assert "content-disposition" not in answer.headers
    assert (profile["PayloadType"], inside["PayloadType"]) == ("Configuration", "com.apple.security.root")
    assert x509.load_der_x509_certificate(inside["PayloadContent"]) == certificates.root
    assert profile["PayloadUUID"] != inside["PayloadUUID"]


def test_the_same_root_gives_the_same_profile_and_another_root_another(
    certificates: Certificates, tmp_path: Path
) -> None:
    other = certify(tmp_path / "other", NAME, NOON).certificates

    assert profile_of(certificates) == profile_of(certificates)
    assert plistlib.loads(profile_of(other))["PayloadUUID"] != plistlib.loads(profile_of(certificates))["PayloadUUID"]


@pytest.mark.parametrize(
    "path",
    ["/authority.key", "/office.pem", "/../authority.key", "/%2e%2e/authority.key", "/sign-in", "/static/css/main.css",
     "/health", "/authority.crt/", "/sync/entries", "/index.html"],
)  # fmt: skip
def test_there_is_nothing_else(visitor: TestClient, path: str) -> None:
    answer = visitor.get(path, follow_redirects=False)

    assert answer.status_code in (404, 307)
    assert b"PRIVATE" not in answer.content
    if answer.status_code == 307:  # a slash too many leads to the certificate itself
        assert answer.headers["location"].endswith("/authority.crt")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS"])
@pytest.mark.parametrize("path", ["/", "/authority.crt", "/authority.mobileconfig"])
def test_nothing_is_taken(visitor: TestClient, method: str, path: str) -> None:
    assert visitor.request(method, path, content=b"x").status_code == 405


def test_it_listens_on_a_port_of_its_own_while_it_is_wanted(certificates: Certificates) -> None:
    page = hand_out_page(Settings(_env_file=None), certificates)  # type: ignore[call-arg]
    with (
        handing_out(page, "127.0.0.1", 0, pytest.fail) as port,
        urllib.request.urlopen(f"http://127.0.0.1:{port}/authority.crt", timeout=10) as answer,
    ):
        assert x509.load_der_x509_certificate(answer.read()) == certificates.root
    with pytest.raises(OSError, match="refused"):
        urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=10)


def test_a_port_that_is_taken_is_told_and_the_pages_are_served_without_it(certificates: Certificates) -> None:
    told: list[str] = []
    page = hand_out_page(Settings(_env_file=None), certificates)  # type: ignore[call-arg]
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with handing_out(page, "127.0.0.1", port, told.append) as there:
            assert there == 0
    assert told[0].startswith(f"The page for new tablets is not served: port {port} cannot be used")
