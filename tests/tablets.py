"""A tablet before the office, for tests of the exchange: it speaks by its credential and knows nothing of the store."""

from __future__ import annotations

import itertools
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fastapi import FastAPI
from starlette.testclient import TestClient

from app.bootstrap import Wired, app_of
from app.domain import entry as e
from app.mail.folder import FolderPostman
from app.settings import Settings
from app.use_cases.enrol_tablet import enrol_tablet, make_code
from tests.builders import ADA, FAY, JOB, Someone
from tests.offices import PIN, Workshop


def the_whole_app(here: Workshop) -> FastAPI:
    """The application as served, with the exchange, around this workshop."""
    settings = Settings(_env_file=None)  # type: ignore[call-arg]
    return app_of(Wired(settings, here.office, here.hub, FolderPostman(settings.mail_folder)))


@dataclass
class ATablet:
    """`seq` is the last number it used; `oldest` the lowest it keeps; what it says can be set to anything."""

    here: Workshop
    client: TestClient
    id: str
    secret: str
    seq: int = 0
    have: dict[str, list[Any]] = field(default_factory=dict)
    packets: list[str] = field(default_factory=list)
    work: dict[str, str] = field(default_factory=dict)

    @property
    def header(self) -> str:
        return f"Tablet {self.id}.{self.secret}"

    def posts(self, path: str, body: Any, **headers: str) -> Any:
        """Post what can be put as JSON, or bytes as they are, by this tablet's credential."""
        content = body if isinstance(body, bytes) else json.dumps(body).encode()
        return self.client.post(path, content=content, headers={"Authorization": self.header, **headers})

    def entry(self, body: e.Body | None = None, who: Someone = ADA, **over: Any) -> dict[str, Any]:
        """The next entry it makes: by default a note."""
        if "seq" not in over:
            self.seq += 1
        body = body or e.NoteAdded(f"Note {self.seq}")
        fields = {
            "v": 1, "id": f"{self.id}-{over.get('seq', self.seq)}", "tablet": self.id, "seq": self.seq, "job": JOB,
            "kind": str(e.kind_of(body)), "body": e.body_json(body), "person": who.id,
            "noted_at_ms": self.here.office.now_ms, **over,
        }  # fmt: skip
        return e.entry_json(e.Entry(**fields))

    def sends(self, *entries: Any) -> Any:
        return self.posts("/sync/entries", {"tablet": self.id, "entries": list(entries)})

    def answers(self, *entries: Any) -> list[dict[str, Any]]:
        answer = self.sends(*entries)
        assert answer.status_code == 200, answer.text
        found: list[dict[str, Any]] = answer.json()["answers"]
        return found

    def contact(self, waiting: Sequence[int] = (), oldest: int | None = None, **over: Any) -> dict[str, Any]:
        """What it says at a contact. waiting: the numbers of what it has not sent."""
        begins = waiting[0] if waiting else 0
        return {
            "tablet": self.id, "bundle": "b" * 16, "said_seq": self.seq, "now_ms": self.here.office.now_ms,
            "oldest": begins if oldest is None else oldest,
            "waiting": {"count": len(waiting), "from": begins}, "photos_waiting": 0, "signed_in": "",
            "have": self.have, "pictures": self.packets, "work": self.work, **over,
        }  # fmt: skip

    def meets(self, waiting: Sequence[int] = (), **over: Any) -> dict[str, Any]:
        """One contact, and keep what came, as a tablet does."""
        answer = self.posts("/sync/contact", self.contact(waiting, **over))
        assert answer.status_code == 200, answer.text
        told: dict[str, Any] = answer.json()
        for job, one in told["jobs"].items():
            self.have[job] = [one["hash"], one["packet"], one["texts_mark"], one["about_hash"]]
        self.packets += told["packets"]
        for job in told["gone"]:
            self.have.pop(job, None)
        self.work |= {person: one["hash"] for person, one in told["work"].items()}
        return told

    def signs_in(self, who: Someone = ADA, pin: str = PIN) -> Any:
        return self.posts("/sync/sign-in", {"tablet": self.id, "person": who.id, "pin": pin})


def a_tablet(here: Workshop, app: FastAPI | None = None, name: str = "Bench", was: str = "") -> ATablet:
    """A tablet that a foreman has just enrolled."""
    code = a_code(here)
    enrolled = enrol_tablet(here.office, code, name, lambda: f"secret-of-{code}", was)
    client = TestClient(app or the_whole_app(here), base_url="http://office.test", raise_server_exceptions=False)
    return ATablet(here, client, enrolled.tablet.id, enrolled.secret)


_codes = itertools.count()


def a_code(here: Workshop, who: Someone = FAY) -> str:
    """A one-time code that this foreman has just had shown."""
    letters = iter(f"{next(_codes):010}".translate(str.maketrans("01", "AB")))
    return make_code(here.office, who.id, lambda _: next(letters)).code


def nothing_in(told: Mapping[str, Any]) -> bool:
    """Whether a contact's answer brought nothing."""
    return not any(told[part] for part in ("jobs", "packets", "pictures", "gone", "work", "more"))
