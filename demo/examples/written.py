"""States of partials that the invented workshop is never in by itself: written down here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from app.domain.drawing_compared import Stack, shims_picture
from app.texts import word
from app.web.pages.figure_files import ReportLine
from app.web.pages.figures import SheetLine

LINES = [
    ReportLine(
        "4", "refused", "cannot be taken", "Kestle saloon, front, ball joint to knuckle", "“5O N·m” is no torque."
    ),
    ReportLine("5", "typed", "typed once", "Kestle saloon, front, wheel nuts", ""),
]
SHEET = SheetLine(
    id="sheet-1", job="26-0005", job_at="/jobs/26-0005", what="Ball joint to knuckle, front", place_at="/desk/figures",
    before="50 N·m, edition 1", now="54 N·m, edition 2", state_words="waits", decided="",
    decide_at="/desk/figures/sheets",
)  # fmt: skip
DECIDED = SheetLine(
    id="sheet-2", job="26-0006", job_at="/jobs/26-0006", what="Wheel nuts, front", place_at="/desk/figures",
    before="110 N·m, edition 1", now="120 N·m, edition 2", state_words="kept", decided="Ottilie Brand, 12 May 10:40",
    decide_at="/desk/figures/sheets",
)  # fmt: skip


def written() -> Iterator[tuple[str, Mapping[str, Any], str]]:
    """Template, context, and what state it is."""
    yield "desk/_report_lines.html", {"lines": LINES}, "a file with a line that cannot be taken"
    yield "desk/_sheet_choice.html", {"one": SHEET}, "a sheet that waits for the foreman's word"
    yield "desk/_sheet_choice.html", {"one": DECIDED}, "a sheet that was decided on"
    shims = shims_picture(
        (
            Stack("front bolt", (3_000,), (3_000, 1_500), "3 mm", "3 mm, 1.5 mm"),
            Stack("rear bolt", (1_500,), (), "1.5 mm", ""),
        ),
        lambda kind, key: word(f"{kind}.{key}"),
    )
    yield "drawings/_shims.html", {"shims": shims}, "a shim more at one bolt, none left at the other"
    other = {"link": "/sign-in?after=/jobs/26-0004/sheet"}
    yield "tablet/_other_person.html", {"view": {"other_person": other}}, "a second person has to sign here"
