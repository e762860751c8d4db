"""The one place that wires real parts together; the only module that may import everything."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import IO, Any
from urllib.parse import urlsplit

from fastapi import APIRouter, FastAPI
from starlette.applications import Starlette

from app.bundle.bundle import SCRIPT, Bundle, Spoken, build_bundle
from app.bundle.serving import make_router as bundle_router
from app.domain.packet import Packet
from app.domain.pictures import pictures_for, words_of_pictures
from app.domain.problems import NoRoom
from app.domain.procedure import load_book
from app.domain.rule_table import table_from
from app.domain.rules import Rules
from app.domain.spec_places import OTHER_PLACES
from app.ids import new_id
from app.language.catalogue import ENGLISH, LANGUAGES
from app.language.gather import Found, in_python, in_templates, together
from app.language.speech import known, speaking
from app.mail.folder import FolderPostman
from app.mail.render import write_letter
from app.mail.runner import running_post
from app.mail.smtp import SmtpPostman, SmtpRoad
from app.pins import ArgonPins
from app.ports import Letter, Postman, Store
from app.print.printer import TypstPrinter
from app.settings import ROOT, Settings
from app.storage.chest import ZipChest
from app.storage.engine import make_engine
from app.storage.migrate import newest
from app.storage.papers import FolderPapers
from app.storage.photos import FolderPhotos
from app.storage.recent import Recent
from app.storage.sql import SqlStore
from app.sync import contact, entries, photos, readiness, sign_in
from app.sync.exchange import SignInCookie
from app.texts import SENTENCES, WORDS, table, word
from app.trust.authority import read_root
from app.trust.certify import Certificates, certificates_in, renew_if_due
from app.trust.hand_out import make_hand_out
from app.trust.serving import hand_out_address, https_address
from app.use_cases.handback_editions import enclosures_of
from app.use_cases.in_language import texts_in_packet
from app.use_cases.office import Office, the_shop
from app.use_cases.tablet_credential import tablet_of
from app.use_cases.take_everything_out import take_out
from app.web import patterns
from app.web.application import create_app
from app.web.desk.take_out import make_router as take_out_pages
from app.web.hub import Hub
from app.web.reckoner.catalogue import texts as texts_of_sums
from app.web.rendering import ASSETS, environment
from app.web.security import COOKIE
from app.web.tablet.work import work_page

SHARED = ROOT / "shared"


@dataclass(frozen=True, slots=True)
class Wired:
    """The parts a command may need."""

    settings: Settings
    office: Office
    hub: Hub
    postman: Postman


def letter_of(facts: object) -> Letter:
    """A letter in the language of who gets it."""
    return write_letter(environment(known(getattr(facts, "language", ENGLISH))), facts)


def clock() -> datetime:
    return datetime.now(UTC)


def wire(settings: Settings, store: Store | None = None, now: Callable[[], datetime] = clock) -> Wired:
    """Put the office together for these settings (on the given store, else on the settings' database)."""
    hub = Hub()
    office = Office(
        store=store or store_for(settings),
        rules=read_rules(),
        book=load_book(SHARED),
        clock=now,
        new_id=new_id,
        pins=ArgonPins(),
        papers=FolderPapers(settings.papers_folder),
        photos=FolderPhotos(settings.photos_folder),
        announce=hub.announce,
        write_letter=letter_of,
        message_domain=settings.mail_sender.rpartition("@")[2],
        printer=TypstPrinter(),
        word=word,
    )
    return Wired(settings, office, hub, postman_for(settings))


def store_for(settings: Settings) -> SqlStore:
    return SqlStore(make_engine(settings.database_url))


def pack(wired: Wired, office: Office, name: str) -> IO[bytes]:
    """Everything as a ZIP file without a name of its own, on the disk where photos lie. Raises: NoRoom."""
    beside = wired.settings.photos_folder.parent
    try:
        beside.mkdir(parents=True, exist_ok=True)
        # It is handed on open: whoever sends it closes it.
        file = tempfile.TemporaryFile(dir=beside)  # noqa: SIM115
    except OSError as error:
        raise NoRoom(str(error.strerror or error)) from error
    try:
        with ZipChest(file, name) as chest:
            take_out(office, chest, newest(), enclosed())
    except BaseException:
        file.close()
        raise
    return file


def enclosed() -> list[tuple[str, bytes]]:
    """What explains a take-out to whoever finds one: its form in words, and as JSON Schema."""
    names = ("take_out.md", "take_out.schema.json", "entry.schema.json", "packet.schema.json")
    return [(f"form/{name}", (SHARED / "contracts" / name).read_bytes()) for name in names]


def read_rules() -> Rules:
    with (SHARED / "rules" / "entries.json").open(encoding="utf-8") as file:
        return Rules(table_from(json.load(file)))


def postman_for(settings: Settings) -> Postman:
    if settings.mail_road == "folder":
        return FolderPostman(settings.mail_folder)
    return SmtpPostman(
        SmtpRoad(
            host=settings.smtp_host,
            port=settings.smtp_port,
            security=settings.smtp_security,
            user=settings.smtp_user,
            password=settings.smtp_password.get_secret_value(),
            timeout_s=settings.smtp_timeout_s,
            ca_file=settings.smtp_ca_file,
        )
    )


def make_app(settings: Settings | None = None) -> FastAPI:
    """The application as `serve` runs it: with the post going out beside it."""
    wired = wire(settings or Settings())
    return app_of(wired, lambda: _post(wired))


def app_of(wired: Wired, background: Callable[[], AbstractContextManager[object]] | None = None) -> FastAPI:
    """The application around wired parts: the pages, and the tablets' exchange."""
    more = [
        *exchange(wired),
        bundle_router(the_bundle()),
        take_out_pages(lambda office, name: pack(wired, office, name)),
    ]
    if wired.settings.development:
        more.append(patterns.make_router(examples))
        return create_app(wired.office, wired.settings, wired.hub, background, more)
    return create_app(wired.office, wired.settings, wired.hub, background, more, carried_assets())


def carried_assets() -> dict[str, str]:
    """Where pages find what they load: the bundle's own addresses, so that a tablet fetches nothing twice."""
    bundle = the_bundle()
    # The script of the tablet has the pocket in it.
    return {name: bundle.address(SCRIPT if name == "pocket" else path) for name, path in ASSETS.items()}


def examples() -> Iterable[patterns.Found]:
    """Every part in every state, out of the invented workshop, which is fetched for that alone."""
    from demo.examples.parts import examples as found

    return found()


def exchange(wired: Wired) -> list[APIRouter]:
    """Everything tablets ask for, by their own credential."""
    office = wired.office
    cookie = SignInCookie(COOKIE, secure=wired.settings.secure_cookies)
    return [
        entries.make_router(office),
        contact.make_router(office, cookie, the_bundle().hash, work_view, pictures_of, texts_beside),
        sign_in.make_router(office, cookie),
        photos.make_router(office),
        readiness.make_router(office, lambda header: tablet_of(office, header)),
    ]


def work_view(office: Office, person: str) -> dict[str, object]:
    """My work of a person as plain data, for the tablet's own page, in that person's language."""
    with office.store.reading() as unit:
        known_as = unit.people.get(person)
        language = (known_as.language if known_as is not None else "") or the_shop(unit).language
    with speaking(language):
        return asdict(work_page(office, person))


def pictures_of(packet: Packet) -> dict[str, Any]:
    """The drawings of a packet with their words in English, made once for as long as they are asked for."""
    return _pictures_in(packet, ENGLISH)


def texts_beside(packet: Packet, language: str) -> dict[str, dict[str, str]]:
    """What a packet and its drawings say in a language, by the English."""
    drawn = words_of_pictures(_pictures_in(packet, ENGLISH), _pictures_in(packet, language))
    return {"packet": texts_in_packet(packet, language), "pictures": drawn}


def _pictures_in(packet: Packet, language: str) -> dict[str, Any]:
    key = f"{packet.hash} {language}"
    made = _pictures.get(key)
    if made is None:
        with speaking(language):
            made = pictures_for(packet, lambda group, key: word(f"{group}.{key}"))
        _pictures.keep(key, made)
    return made


_pictures: Recent[dict[str, Any]] = Recent(64)


@lru_cache(maxsize=1)
def the_bundle() -> Bundle:
    """What tablets carry, made once. A mistake in a template is told here, when the office starts."""
    others = {language: Spoken(environment(language), table_in(language)) for language in LANGUAGES}
    here = others.pop(ENGLISH)
    return build_bundle(ROOT, here.environment, here.texts, others)


def table_in(language: str) -> dict[str, object]:
    with speaking(language):
        return table()


def every_text() -> Found:
    """Every text of the interface that a catalogue has to have, with where it is said."""
    ours = {text: {"app/texts.py"} for text in (*SENTENCES.values(), *WORDS.values())}
    sums = {text: {"app/web/reckoner"} for text in texts_of_sums() if any(one.isalpha() for one in text)}
    places = {place.words: {"app/domain/spec_places.py"} for place in OTHER_PLACES.values()}
    return together([in_templates(environment()), in_python(ROOT / "app"), ours, sums, places])


@contextmanager
def _post(wired: Wired) -> Iterator[None]:
    settings = wired.settings
    with running_post(
        wired.office.store,
        wired.postman,
        clock=wired.office.clock,
        sender=settings.mail_sender,
        every_s=settings.mail_every_s,
        tries=settings.mail_tries,
        announce=wired.hub.announce,
        enclosures=lambda message: enclosures_of(wired.office, message),
    ):
        yield


def certificates_to_serve(settings: Settings) -> Certificates | None:
    """The certificates `serve` speaks HTTPS with, the office's own renewed if it is due; None before `certify`.

    Raises: CertificatesBroken for what is there and cannot be used: never plain HTTP in the place of HTTPS.
    """
    if read_root(settings.certificate_folder) is None:
        return None
    renew_if_due(settings.certificate_folder, clock())
    return certificates_in(settings.certificate_folder)


def over_https(settings: Settings, certificates: Certificates) -> Settings:
    """The settings as they are when the pages are served with these certificates."""
    address = settings.base_url or https_address(certificates, settings.port)
    return settings.model_copy(update={"secure_cookies": True, "base_url": address})


def hand_out_page(settings: Settings, certificates: Certificates) -> Starlette:
    """The little application that hands the authority out."""
    here = hand_out_address(certificates, settings.hand_out_port)
    return make_hand_out(certificates, https_address(certificates, settings.port), here, environment())


def host_of(settings: Settings) -> str:
    """The address people open. This machine has a name for itself, under which a browser on it can be enrolled."""
    host = "localhost" if settings.host == "127.0.0.1" else settings.host
    return settings.base_url or f"http://{host}:{settings.port}"


def is_sqlite(settings: Settings) -> bool:
    return urlsplit(settings.database_url).scheme.startswith("sqlite")
