"""What a register's page says after something was kept: read from the address, so that reloading does no harm."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from urllib.parse import urlencode

from starlette.responses import RedirectResponse

from app.language.speech import N_, _
from app.texts import sentence
from app.use_cases.renew_sheets import Renewed

# Job numbers, and nothing else that an address could bring.
_NUMBERS = re.compile(r"[0-9-]{1,12}(?: [0-9-]{1,12}){0,19}")

WORDS = {
    "kept": N_("Kept."),
    "pin": N_("Kept. The new PIN works from now on."),
    "unlocked": N_("Kept. They can try their PIN again now."),
    "out": N_("Tagged out. It cannot be chosen on a sheet any more."),
    "back": N_("Back in use."),
    "entered": N_("Kept. It counts once another person has typed it from its source."),
    "counts": N_("Both readings agree. The figure counts now."),
    "differs": N_("The two readings differ. Neither counts: the foreman types it from the source now."),
    "withdrawn": N_("Withdrawn. It stays on record and counts no more."),
    "calibrated": N_("Kept. The tool stands as the certificate says."),
    "out_of_true": N_("Kept. It is out of true and tagged out. Below is what was tightened with it."),
    "set_right": N_("Kept. It may be used again. Below is what was tightened with it before it was set right."),
    "seen": N_("Kept. What you found is on its record."),
    "sheet_keep": N_("Kept on the edition before. Your reason stands beside it."),
    "sheet_renew": N_("Brought up to date. Your reason stands beside it."),
    "looked": N_("Looked at. Nothing is kept yet."),
    "imported": N_("Imported."),
    "renamed": N_("Kept. The tablet is listed under its new name from now on."),
    "retired": N_("Taken out of use. It is told nothing any more, and nothing is taken from it."),
    "reminder_done": N_("Marked done, with your name."),
    "again": N_("The letter goes out again."),
    "came_back": N_("Noted. Ask for the address that holds, and send the letter again."),
}


GAPS = ("thread_unknown", "strength_unknown")


def go(address: str, said: str, renewed: Renewed | None = None, gaps: Iterable[str] = ()) -> RedirectResponse:
    """Go on to a page that says what was done, what was not looked at, and which sheets could not follow."""
    asked: dict[str, str] = {"said": said}
    if renewed is not None and renewed.numbers:
        asked["sheets"] = str(len(renewed.numbers))
    if renewed is not None and renewed.not_possible:
        asked["behind"] = " ".join(renewed.not_possible[:20])
    if gap := next(iter(gaps), ""):
        asked["gap"] = gap
    return RedirectResponse(f"{address}{'&' if '?' in address else '?'}{urlencode(asked)}", 303)


def said_lines(query: Mapping[str, str]) -> list[str]:
    if query.get("said") not in WORDS:
        return []
    lines = [_(WORDS[query["said"]])]
    if query.get("gap") in GAPS:
        lines.append(sentence(query["gap"]))
    count = query.get("sheets", "")
    if count.isascii() and count.isdigit() and len(count) < 6:
        lines.append(
            _("Brought up to date: {count} open {what}.", count=count, what=_("sheet") if count == "1" else _("sheets"))
        )
    behind = query.get("behind", "")
    if _NUMBERS.fullmatch(behind):
        lines.append(
            _(
                "These sheets could not be brought up to date: {behind}. Open their jobs and see what is missing.",
                behind=behind,
            )
        )
    return lines
