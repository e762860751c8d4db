"""The page that hands out the authority, over plain HTTP on a port of its own, since no tablet trusts us before it.

It serves three things and nothing else: the page, the certificate as a file, the certificate as a configuration
profile. It holds no key and knows nothing of the shop but its name. What comes over plain HTTP can be tampered with on
its way: that is why the page asks to compare the fingerprint with the one on the office's own screen.
"""

from __future__ import annotations

import base64
import hashlib
import plistlib
import re
import uuid
from collections.abc import Callable
from dataclasses import dataclass

import segno
from cryptography.hazmat.primitives.serialization import Encoding
from jinja2 import Environment
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from app.trust.certify import Certificates

CERTIFICATE_PATH, PROFILE_PATH = "/authority.crt", "/authority.mobileconfig"
TEMPLATE = "trust/hand_out.html"
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)


@dataclass(frozen=True, slots=True)
class HandOutPage:
    """What the page says: where the pages are, the fingerprint, when it ends, and this page's own address as QR code.

    qr: SVG made by segno, which is markup and not to be escaped.
    """

    name: str
    office: str
    here: str
    fingerprint: list[str]
    until: str
    qr: str


def make_hand_out(certificates: Certificates, office: str, here: str, environment: Environment) -> Starlette:
    """The little application. office: where the pages are; here: where this page is, for the QR code."""
    files = {
        CERTIFICATE_PATH: ("application/x-x509-ca-cert", certificates.root.public_bytes(Encoding.DER), "crt"),
        PROFILE_PATH: ("application/x-apple-aspen-config", profile_of(certificates), "mobileconfig"),
    }
    body = environment.get_template(TEMPLATE).render(page=page_of(certificates, office, here))
    headers = {**HEADERS, "Content-Security-Policy": policy_for(body)}

    def page(_: Request) -> Response:
        return Response(body, media_type="text/html", headers=headers)

    def gives(kind: str, content: bytes, ending: str) -> Callable[[Request], Response]:
        # A profile has to open, not to be stored: no "attachment" for it. The certificate is stored on most tablets.
        named = {"Content-Disposition": f'attachment; filename="cotterpin-authority.{ending}"'}
        headers = {**HEADERS, **(named if ending == "crt" else {})}
        return lambda _: Response(content, media_type=kind, headers=headers)

    routes = [Route("/", page), *(Route(path, gives(*file)) for path, file in files.items())]
    return Starlette(routes=routes, exception_handlers={404: _nothing_here, 405: _nothing_here})


HEADERS = {"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cache-Control": "no-store"}


def _nothing_here(request: Request, error: Exception) -> Response:
    status = int(getattr(error, "status_code", 404))
    words = "Only the office's certificate is here. The page about it is at the address without anything after it."
    return PlainTextResponse(words, status, HEADERS)


def page_of(certificates: Certificates, office: str, here: str) -> HandOutPage:
    pairs = certificates.fingerprint.split(":")
    return HandOutPage(
        name=certificates.name,
        office=office,
        here=here,
        fingerprint=[" ".join(pairs[at : at + 8]) for at in range(0, len(pairs), 8)],
        until=f"{certificates.root.not_valid_after_utc:%Y-%m-%d}",
        qr=segno.make(here, error="m", micro=False).svg_inline(scale=6, border=4, omitsize=True, light="#fff"),
    )


def policy_for(body: str) -> str:
    """Nothing may run or load on this page; its own style is allowed by its hash."""
    styles = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(found.encode()).digest()).decode()}'"
        for found in _STYLE.findall(body)
    )
    return f"default-src 'none'; style-src {styles}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"


def profile_of(certificates: Certificates) -> bytes:
    """The root as a configuration profile. The same root gives the same profile, so installing twice is one.

    Source: Apple, "Configuration Profile Reference", payload type com.apple.security.root (from memory).
    """
    root = certificates.root.public_bytes(Encoding.DER)
    about = f"Lets this tablet trust {certificates.name}, the workshop's own office, and nothing else."
    return plistlib.dumps({
        "PayloadType": "Configuration",
        "PayloadVersion": 1,
        "PayloadIdentifier": f"cotterpin.{certificates.name}",
        "PayloadUUID": _uuid(root, "profile"),
        "PayloadDisplayName": f"Workshop office {certificates.name}",
        "PayloadDescription": about,
        "PayloadContent": [{
            "PayloadType": "com.apple.security.root",
            "PayloadVersion": 1,
            "PayloadIdentifier": f"cotterpin.{certificates.name}.root",
            "PayloadUUID": _uuid(root, "root"),
            "PayloadDisplayName": f"Authority of {certificates.name}",
            "PayloadDescription": about,
            "PayloadCertificateFileName": "cotterpin-authority.crt",
            "PayloadContent": root,
        }],
    })  # fmt: skip


def _uuid(root: bytes, what: str) -> str:
    return str(uuid.uuid5(uuid.NAMESPACE_URL, f"cotterpin:{what}:{hashlib.sha256(root).hexdigest()}")).upper()
