"""What the commands do, for `__main__` and for the demo. Each gives an exit code and prints plain sentences."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import uvicorn
from pydantic import ValidationError
from sqlalchemy.exc import DBAPIError

from app.bootstrap import (
    SHARED,
    certificates_to_serve,
    clock,
    enclosed,
    every_text,
    hand_out_page,
    host_of,
    is_sqlite,
    make_app,
    over_https,
    store_for,
    the_bundle,
    wire,
)
from app.bundle.bundle import LIMIT, SCRIPT_LIMIT, NotWhole, beyond_limits
from app.domain.chain import row_hash
from app.domain.problems import AlreadyThere, CotterpinError, NoRoom, Problem, Refused
from app.domain.procedure import BookProblem, load_book
from app.domain.records import Role
from app.domain.wording import texts_of
from app.language.catalogue import ENGLISH, INTERFACE, LANGUAGES, PROCEDURES
from app.language.gather import bring_up_to_date, complaints, known_in
from app.settings import Settings
from app.storage.backup import back_up
from app.storage.chest import FolderChest
from app.storage.migrate import newest, upgrade
from app.texts import say
from app.trust.authority import CertificatesBroken
from app.trust.certify import certify as make_certificates
from app.trust.leaf import days_left
from app.trust.serving import hand_out_address, handing_out, https_address, renewing, serve_pages
from app.use_cases.keep_person import PersonWanted, add_person
from app.use_cases.take_everything_in import take_everything_in
from app.use_cases.take_everything_out import take_out as take_everything_out
from app.use_cases.verify import catch_up, rebuild, verify


def serve(host: str | None = None, port: int | None = None) -> int:
    given = {name: value for name, value in (("host", host), ("port", port)) if value is not None}
    settings = Settings().model_copy(update=given)
    certificates = certificates_to_serve(settings)
    if certificates is not None:
        settings = over_https(settings, certificates)
    migrate(settings)
    print(f"Open {host_of(settings)}", flush=True)
    # Open pages listen to events that never end by themselves; without a limit, stopping would wait for every one.
    config = uvicorn.Config(
        make_app(settings), host=settings.host, port=settings.port, log_level="warning", timeout_graceful_shutdown=2,
        ssl_certfile=certificates.leaf_file if certificates else None,
    )  # fmt: skip
    if certificates is None:
        serve_pages(uvicorn.Server(config))
        return 0
    page = hand_out_page(settings, certificates)
    with handing_out(page, settings.host, settings.hand_out_port, _tell) as there:
        if there:
            print(f"New tablets: {hand_out_address(certificates, there)}", flush=True)
        serve_pages(uvicorn.Server(config), renewing(certificates.folder, clock, _tell))
    return 0


def certify(name: str | None, renew: bool) -> int:
    """Make the authority and the office's certificate, or say what is there."""
    settings = Settings()
    try:
        done = make_certificates(settings.certificate_folder, name, clock(), renew=renew)
    except Refused as refused:
        return _no(" ".join(say(problem) for problem in refused.problems))
    there = done.certificates
    print(
        "Made." if done.made else "The office's certificate is a new one." if done.renewed else "Nothing was changed."
    )
    print(f"Name:         {there.name}")
    print(f"Folder:       {there.folder} (keep it in the backups; nobody else may read the keys)")
    print(f"Authority:    until {there.root.not_valid_after_utc:%Y-%m-%d}; SHA-256 fingerprint, to compare on tablets:")
    for at in (0, 48):
        print(f"              {there.fingerprint[at : at + 47]}")
    left = days_left(there.leaf, clock())
    print(f"Certificate:  until {there.leaf.not_valid_after_utc:%Y-%m-%d} ({left} days); `serve` renews it by itself")
    print(
        f"Next: let the network's DNS lead {there.name} to this computer, run `serve` with COTTERPIN_HOST=0.0.0.0, and "
        f"open {hand_out_address(there, settings.hand_out_port)} on each tablet. The pages are then at "
        f"{https_address(there, settings.port)}, always by that name."
    )
    return 0


def _tell(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


def migrate(settings: Settings | None = None) -> int:
    settings = settings or Settings()
    if is_sqlite(settings):
        Path(settings.database_url.split("///", 1)[1]).parent.mkdir(parents=True, exist_ok=True)
    upgrade(settings.database_url)
    catch_up(store_for(settings))
    return 0


def first_person(name: str, pin: str) -> int:
    office = wire(Settings()).office
    with office.store.reading() as unit:
        if any(one.active and Role.FOREMAN in one.roles for one in unit.people.all()):
            return _no("There is a foreman already. Sign in as the foreman and add people on the Desk.")
    try:
        add_person(office, PersonWanted(name=name, roles=frozenset({Role.FOREMAN, Role.DESK}), pin=pin, pin_again=pin))
    except Refused as refused:
        return _no(" ".join(say(problem) for problem in refused.problems))
    print(f"{name} can sign in now.")
    return 0


def verify_ledger() -> int:
    found = verify(wire(Settings()).office)
    for breach in found.breaches:
        print(breach.words)
    if found.breaches:
        return _no(f"{len(found.breaches)} breaches in {found.rows} entries of {found.jobs} jobs.")
    print(f"{found.rows} entries of {found.jobs} jobs: the chain is whole and every sheet is what its entries lead to.")
    return 0


def rebuild_sheets() -> int:
    print(f"{rebuild(wire(Settings()).office)} sheets written anew from the ledger.")
    return 0


def backup(path: Path) -> int:
    settings = Settings()
    if not is_sqlite(settings):
        return _no("This copies SQLite databases. PostgreSQL has pg_dump.")
    try:
        copy = back_up(settings.database_url, path, row_hash)
    except CotterpinError as error:
        return _no(f"No backup was made: {error}")
    print(f"{copy.path}: {copy.entries} entries, opened and checked.")
    return 0


def take_out(folder: Path) -> int:
    """Put everything into a new folder, and say what it came to."""
    wired = wire(Settings())
    chest = FolderChest(folder)
    try:
        chest.need_empty()
        taken = take_everything_out(wired.office, chest, newest(), enclosed())
    except AlreadyThere:
        return _no(say(Problem("taken_folder_full", details={"folder": str(folder)})))
    except NoRoom as full:
        return _no(say(Problem("taken_no_room", details={"what": str(full)})))
    print(f"{folder}: {taken.files} files, {taken.bytes:,} bytes, {taken.entries} entries in the ledger.")
    print(f"Mark: {taken.mark}")
    print("It has names, addresses and the hashes of PINs: keep it as you keep the keys.")
    for path in taken.missing:
        print(f"Not taken out, because it is not there or not whole: {path}")
    return 0


def take_in(folder: Path) -> int:
    """Fill an empty installation from a take-out, or say why not."""
    if not folder.is_dir():
        return _no(say(Problem("taken_no_folder", details={"folder": str(folder)})))
    settings = Settings()
    migrate(settings)
    try:
        taken = take_everything_in(wire(settings).office, FolderChest(folder), newest())
    except Refused as refused:
        return _no("\n".join(say(problem) for problem in refused.problems) + "\nNothing was taken in.")
    except NoRoom as full:
        return _no(f"{full}. Nothing was taken in. Make room and try again.")
    print(f"{taken.entries} entries of {taken.jobs} jobs taken in. The chain is whole and every sheet was made anew.")
    print(f"Mark: {taken.mark}. Taking out again now gives the same one.")
    print("PINs are as they were. Everyone signs in again, and each tablet is enrolled again under Desk, Tablets.")
    if taken.waiting:
        letters = "1 letter waits" if taken.waiting == 1 else f"{taken.waiting} letters wait"
        print(f"{letters} in the outbox and will be sent from here as soon as this office serves.")
    for path in taken.missing:
        print(f"Missing already when it was taken out: {path}")
    for path in taken.beside:
        print(f"Not part of the take-out, and left where it is: {path}")
    for breach in taken.breaches[:20]:
        print(f"As where it came from: {breach.words}")
    if len(taken.breaches) > 20:
        print(f"And {len(taken.breaches) - 20} more; `verify` tells all of them.")
    return 0


def bundle(check: bool) -> int:
    """Print the bundle's hash; with `check` each part's size too, and whether the limits are kept."""
    try:
        made = the_bundle()
    except NotWhole as error:
        return _no("\n".join(error.lines))
    if check:
        for part in made.parts.values():
            print(f"{len(part.packed):>7,}  of {len(part.body):>7,}  {part.path}")
        print(f"{made.packed_bytes():>7,}  bytes compressed, limit {LIMIT:,}")
        print(f"{made.packed_bytes(scripts_only=True):>7,}  of these are script, limit {SCRIPT_LIMIT:,}")
    print(made.hash)
    beyond = beyond_limits(made) if check else []
    return _no("\n".join(beyond)) if beyond else 0


def bring_catalogues_up_to_date() -> int:
    """Put every text that can be shown into each language's catalogues; name what is not right there."""
    parts = {INTERFACE: every_text(), PROCEDURES: texts_of(load_book(SHARED))}
    lines = []
    for language in LANGUAGES:
        for domain, found in parts.items() if language != ENGLISH else ():
            lines += [f"{domain}{language}: {one}" for one in complaints(found, known_in(language, domain))]
            bring_up_to_date(language, found, domain)
    print(f"{len(parts[INTERFACE])} texts of pages and letters, {len(parts[PROCEDURES])} of procedures.")
    return _no("\n".join(lines)) if lines else 0


def check_procedures(folder: Path | None) -> int:
    """Read the layouts, gates and procedures of a folder and check them against each other."""
    book = load_book(folder or SHARED)
    for procedure in book.procedures.values():
        print(f"{procedure.procedure:<16} version {procedure.version}, {len(procedure.steps)} steps: {procedure.title}")
    print(f"{len(book.procedures)} procedures, {len(book.gates)} gates, {len(book.layouts)} layouts: no mistake found.")
    return 0


class PinUnread(CotterpinError):
    """The file that ought to hold a PIN cannot be read."""


def read_pin(file: Path) -> str:
    """Raises: PinUnread."""
    try:
        return file.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise PinUnread(f"The file {file} cannot be read. Name one that holds the PIN and nothing else.") from error


def plainly(command: Callable[[], int]) -> int:
    """Run a command; what can go wrong before it begins ends in plain sentences instead of a traceback."""
    try:
        return command()
    except BookProblem as wrong:
        many = "1 mistake" if len(wrong.mistakes) == 1 else f"{len(wrong.mistakes)} mistakes"
        return _no(f"{wrong}\n{many} in the procedure files. Nothing was started or changed; mend them and try again.")
    except ValidationError as wrong:
        if wrong.title != Settings.__name__:
            raise
        return _no("\n".join(_setting_words(one["loc"], one["msg"], one["input"]) for one in wrong.errors()))
    except (PinUnread, CertificatesBroken) as wrong:
        return _no(str(wrong))
    except DBAPIError as wrong:
        return _no(
            f"The database cannot be used: {wrong.orig}. Look at COTTERPIN_DATABASE_URL; if the database is new, run "
            "`python -m app migrate` first."
        )


def _setting_words(at: tuple[int | str, ...], says: str, given: object) -> str:
    name = f"COTTERPIN_{'_'.join(str(one) for one in at).upper()}"
    shown = "" if "PASSWORD" in name else f" is {given!r}"
    return f"{name}{shown}: {says[:1].lower()}{says[1:]}."


def _no(words: str) -> int:
    print(words, file=sys.stderr)
    return 1
