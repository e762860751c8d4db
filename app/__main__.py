"""The commands. Argument parsing only: `python -m app --help`."""

from __future__ import annotations

import argparse
import getpass
import sys
from pathlib import Path

from app import commands


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m app", description="Cotterpin: work orders for suspension repair.")
    choose = parser.add_subparsers(dest="command", required=True, metavar="command")
    serve = choose.add_parser("serve", help="serve the pages")
    serve.add_argument("--host", help="address to listen on instead of the setting's")
    serve.add_argument("--port", type=int, help="port to listen on instead of the setting's")
    choose.add_parser("migrate", help="bring the database to this version's form")
    first = choose.add_parser("first-person", help="add the first foreman, who adds everyone else")
    first.add_argument("--name", required=True)
    first.add_argument("--pin-file", type=Path, help="file with the PIN; asked for when absent")
    certify = choose.add_parser("certify", help="make the workshop's own authority and the office's certificate")
    certify.add_argument("--name", help="the name tablets know the office by, for ever: office.larkfield.test")
    certify.add_argument("--renew", action="store_true", help="make a new certificate of the office now")
    choose.add_parser("verify", help="walk the ledger's chain, replay it, compare with the stored sheets")
    choose.add_parser("rebuild", help="write the stored sheets anew from the ledger")
    backup = choose.add_parser("backup", help="copy a SQLite database while it is in use, and check the copy")
    backup.add_argument("path", type=Path)
    out = choose.add_parser("take-out", help="take everything out into a new folder: records, ledger, photos, papers")
    out.add_argument("folder", type=Path)
    into = choose.add_parser("take-in", help="take in what was taken out, into an installation that is empty")
    into.add_argument("folder", type=Path)
    bundle = choose.add_parser("bundle", help="make what tablets carry, and print its hash")
    bundle.add_argument("--check", action="store_true", help="print each part's size; fail where a limit is not kept")
    choose.add_parser("language", help="bring the catalogues up to date; tell what has no translation yet")
    procedures = choose.add_parser("procedures", help="check the procedure files: each mistake with its file and line")
    procedures.add_argument(
        "folder", type=Path, nargs="?", help="a folder like shared/, which is the one read when left out"
    )
    given = parser.parse_args(words)
    return commands.plainly(lambda: _run(given))


def _run(given: argparse.Namespace) -> int:
    match given.command:
        case "serve":
            return commands.serve(given.host, given.port)
        case "migrate":
            return commands.migrate()
        case "first-person":
            typed = None if given.pin_file else getpass.getpass("PIN (4 to 8 digits): ")
            return commands.first_person(given.name, commands.read_pin(given.pin_file) if typed is None else typed)
        case "certify":
            return commands.certify(given.name, given.renew)
        case "verify":
            return commands.verify_ledger()
        case "bundle":
            return commands.bundle(given.check)
        case "language":
            return commands.bring_catalogues_up_to_date()
        case "procedures":
            return commands.check_procedures(given.folder)
        case "take-out":
            return commands.take_out(given.folder)
        case "take-in":
            return commands.take_in(given.folder)
        case "rebuild":
            return commands.rebuild_sheets()
        case _:
            return commands.backup(given.path)


if __name__ == "__main__":
    sys.exit(main())
