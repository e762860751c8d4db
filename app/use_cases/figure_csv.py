"""The spec book as a file: what its columns are, how a file of bytes becomes lines, and how figures become a file.

Nothing here knows whether a line is right; `import_figures` does. What a spreadsheet could take for a formula leaves
with an apostrophe in front (OWASP, "CSV Injection", from memory) and loses it on the way in, so that what was written
out comes back the same.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from app.domain.packet import Stage
from app.domain.problems import Problem
from app.domain.records import FigureKind, FigureRecord
from app.language.speech import N_
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.trade.units import parse_quantity, show
from app.use_cases.keep_figure import CONDITIONS, FigureWanted
from app.use_cases.read_figure import STAGES, FigureTyped, Shape

BYTES_LIMIT = 10 * 1024 * 1024
LINES_LIMIT = 50_000
CELL_LIMIT = 2_000

# Each column, and what stands in it. `README.md` and the page show this very list.
COLUMNS: Mapping[str, str] = {
    "model": N_("kind of vehicle, as on the vehicle's page"),
    "axle": N_("front, rear, or both for waiting times"),
    "place": N_("key of the place; the page lists them"),
    "shape": N_("for a joint: single, range or stages; empty for everything else"),
    "unit": N_("unit of bare numbers on this line, as printed"),
    "low": N_("lower end, as printed"),
    "target": N_("the figure, as printed"),
    "high": N_("upper end, as printed"),
    "tolerance": N_("how far the figure may be off, as printed: 5 N·m or 4 %"),
    "stages": N_("for stages: 50 N·m | 90° ±5°, each with its unit and tolerance"),
    "tyre": N_("for a ride height: the tyre it is given for"),
    "point": N_("for a ride height: what the source measures to"),
    "thread": N_("for a joint, if known: M12x1.25, 1/2-20"),
    "strength": N_("for a joint, if known: 8.8, 10.9, 12.9; inch: 5, 8"),
    "condition": N_("for a joint, if known: dry, lubricated, zinc, cadmium, anti_seize, black_dry"),
    "lubrication": N_("for a joint: lubrication in the source's words"),
    "one_time": N_("yes when the part is new every time"),
    "critical": N_("yes when a second person reads the torque too"),
    "document": N_("the source"),
    "page": N_("page or section"),
    "document_date": N_("its date or edition; no date when none is printed"),
    "confirmed_because": N_("why it is right although it looks odd; only where the import asks"),
}
# Written out beside, and not read: what the office says of each figure.
TOLD: Mapping[str, str] = {
    "edition": N_("number of the edition"),
    "state": "counts, waits, differs",
    "typed_by": N_("who typed it"),
    "typed_at": "when, UTC",
    "compared_by": N_("who typed it again"),
    "compared_at": "when, UTC",
}
NEEDED = ("model", "axle", "place", "document", "page", "document_date")
NUMBERS = ("low", "target", "high", "tolerance", "stages")
SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_NUMBER = re.compile(r"[+\-−±]?\s*[0-9½¼¾.,]")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a file: its number as an editor counts, and its cells by column."""

    number: int
    cells: Mapping[str, str]

    def cell(self, name: str) -> str:
        return self.cells.get(name, "")


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file as read: its lines, the lines that are none (with the reason), and how it was read, in words."""

    lines: tuple[Line, ...] = ()
    broken: tuple[tuple[int, Problem], ...] = ()
    note: str = ""


# --- Bytes to text ---------------------------------------------------------------------------------------------------


def text_of(data: bytes) -> tuple[str, str] | Problem:
    """The text of a file and, in words, what it was taken for; or why it is none."""
    if not data.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        return Problem("file_empty", "file")
    if len(data) > BYTES_LIMIT:
        return Problem("file_large", "file", {"limit": BYTES_LIMIT // 1024 // 1024})
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF")):
        return Problem("file_no_text", "file")
    encoding, words = _encoding_of(data)
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        at = data.count(b"\n", 0, error.start) + 1
        return Problem("file_encoding", "file", {"line": at, "encoding": words})
    text = text.removeprefix("\ufeff")
    if "\0" in text:
        return Problem("file_no_text", "file")
    return text, words


def _encoding_of(data: bytes) -> tuple[str, str]:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16", "UTF-16"
    if data.startswith(b"\xef\xbb\xbf"):
        return "utf-8", "UTF-8"
    head = data[:4_000]
    for offset, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        if len(head) > 3 and head[offset::2].count(0) > len(head) // 4:
            return name, "UTF-16"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", "Windows-1252"
    return "utf-8", "UTF-8"


# --- Text to lines ---------------------------------------------------------------------------------------------------


def lines_of(text: str) -> Sheet | Problem:
    """The lines under a file's header. Order and number of the columns are free; blank lines are left out."""
    separator = separator_of(text)
    if separator is None:
        return Problem("header_unknown", "file", {"needed": ", ".join(NEEDED)})
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    lines: list[Line] = []
    broken: list[tuple[int, Problem]] = []
    header: list[str] = []
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if not header:
                header = [_name(cell) for cell in cells]
                problem = _header_problem(header)
                if problem is not None:
                    return problem
                continue
            if len(lines) + len(broken) >= LINES_LIMIT:
                return Problem("file_lines", "file", {"limit": LINES_LIMIT})
            found = _line(reader.line_num, header, cells, separator)
            broken.append((reader.line_num, found)) if isinstance(found, Problem) else lines.append(found)
    except csv.Error:
        return Problem("file_quotes", "file", {"line": reader.line_num})
    if not lines and not broken:
        return Problem("file_no_lines", "file")
    return Sheet(tuple(lines), tuple(broken), SEPARATORS[separator])


def separator_of(text: str) -> str | None:
    """The separator with which the first line that is not blank has the columns that are needed."""
    first = next((line for line in text.splitlines() if line.strip(" \t,;")), "")
    for separator in sorted(SEPARATORS, key=first.count, reverse=True):
        names = {_name(cell) for cell in first.split(separator)}
        if len(names & COLUMNS.keys()) > 1:
            return separator
    return None


def _name(cell: str) -> str:
    return cell.strip().strip('"').strip().casefold().replace(" ", "_")


def _header_problem(header: list[str]) -> Problem | None:
    lacking = [name for name in NEEDED if name not in header]
    if lacking:
        return Problem("header_lacks", "file", {"names": ", ".join(lacking)})
    twice = sorted({name for name in header if name and header.count(name) > 1})
    if twice:
        return Problem("header_twice", "file", {"names": ", ".join(twice)})
    strange = [name for name in header if name and name not in COLUMNS and name not in TOLD]
    return Problem("header_strange", "file", {"names": ", ".join(strange)[:200]}) if strange else None


def _line(number: int, header: list[str], cells: list[str], separator: str) -> Line | Problem:
    # With commas a decimal comma shifts what follows, and an empty cell at the end is all that shows it.
    if len(cells) > len(header) and (separator == "," or any(cell.strip() for cell in cells[len(header) :])):
        code = "line_cells_comma" if separator == "," else "line_cells"
        return Problem(code, "", {"got": len(cells), "wanted": len(header)})
    if any(len(cell) > CELL_LIMIT for cell in cells):
        return Problem("cell_long", "", {"limit": CELL_LIMIT})
    found = {name: undo(cell.strip()) for name, cell in zip(header, cells, strict=False) if name in COLUMNS}
    formula = next((name for name in NUMBERS if is_formula(found.get(name, ""))), "")
    if formula:
        return Problem("cell_formula", formula, {"column": formula, "typed": found[formula][:40]})
    return Line(number, found)


def is_formula(cell: str) -> bool:
    """Whether a cell where a number is due looks like a spreadsheet's formula."""
    if cell[:1] in ("=", "@"):
        return True
    return cell[:1] in ("+", "-") and not _NUMBER.match(cell)


# --- A line to what was typed, and back ------------------------------------------------------------------------------

YES = frozenset({"yes", "y", "true", "1", "x"})
NO = frozenset({"", "no", "n", "false", "0"})


def wanted_of(line: Line) -> FigureWanted | Problem:
    """What a line says, as if it had been typed on the page."""
    for name in ("one_time", "critical"):
        if line.cell(name).casefold() not in YES | NO:
            return Problem("yes_no_unclear", name, {"column": name, "typed": line.cell(name)[:40]})
    stages = [part.strip() for part in line.cell("stages").split("|")] if line.cell("stages") else []
    if len(stages) > STAGES:
        return Problem("stages_many", "stages", {"limit": STAGES})
    plain = {name: line.cell(name) for name in ("unit", "low", "target", "high", "tolerance", "tyre")}
    if not plain["unit"] and line.cell("shape"):
        plain["unit"] = _torque_unit(plain["target"] or plain["low"] or _stage_cells(next(iter(stages), ""))[0])
    typed = FigureTyped(
        shape=line.cell("shape").casefold(), stages=tuple(_stage_cells(part) for part in stages), **plain
    )
    names = (
        "model", "thread", "strength", "condition", "lubrication", "document", "page", "document_date", "point",
        "confirmed_because",
    )  # fmt: skip
    return FigureWanted(
        axle=line.cell("axle").casefold(),
        place_key=line.cell("place"),
        typed=typed,
        one_time=line.cell("one_time").casefold() in YES,
        critical=line.cell("critical").casefold() in YES,
        **{name: line.cell(name) for name in names},
    )


def _torque_unit(text: str) -> str:
    """The unit that a joint's first torque carries; "" where it has none, so that it is asked for."""
    try:
        return parse_quantity(text, Dimension.TORQUE).unit
    except TradeProblem:
        return ""


def _stage_cells(part: str) -> tuple[str, str]:
    value, _, tolerance = part.partition("±")
    return value.strip(), tolerance.strip()


def cells_of(figure: FigureRecord) -> dict[str, str]:
    """A figure's cells as whoever typed it would have typed them on a line."""
    condition = next((key for key, words in CONDITIONS.items() if words == figure.lubrication), "")
    return {
        "model": figure.model,
        "axle": figure.axle.value,
        "place": figure.place_key,
        **figure_cells(figure),
        "unit": figure.unit,
        "tyre": figure.tyre,
        "point": figure.point,
        "thread": figure.thread,
        "strength": figure.strength,
        "condition": condition,
        "lubrication": "" if condition else figure.lubrication,
        "one_time": "yes" if figure.one_time else "",
        "critical": "yes" if figure.critical else "",
        "document": figure.document,
        "page": figure.page,
        "document_date": figure.document_date,
        "confirmed_because": figure.confirmed_because,
    }


def figure_cells(figure: FigureRecord) -> dict[str, str]:
    """The cells that hold the figure itself."""
    if figure.kind is not FigureKind.FASTENER:
        return _amount_cells(figure)
    if len(figure.stages) > 1:
        return {"shape": Shape.STAGES.value, "stages": " | ".join(_printed(one) for one in figure.stages)}
    stage = figure.stages[0] if figure.stages else Stage()
    if stage.target_mnm is None:
        low, _, high = stage.text.partition(" to ")
        return {"shape": Shape.RANGE.value, "low": low, "high": high}
    target, tolerance = _stage_cells(_printed(stage))
    return {"shape": Shape.SINGLE.value, "target": target, "tolerance": tolerance}


def _amount_cells(figure: FigureRecord) -> dict[str, str]:
    """Read back from the text, which `read_figure` made: "A to B, target C", "at most B", "A ±B", "C"."""
    if "±" in figure.text:
        target, tolerance = _stage_cells(figure.text)
        return {"target": target, "tolerance": tolerance}
    ends, _, target = figure.text.partition(", target ")
    if not target and figure.low is None and figure.high is None:
        return {"target": ends}
    low, _, high = ends.partition(" to ")
    if ends.startswith("at most "):
        low, high = "", ends.removeprefix("at most ")
    elif ends.startswith("at least "):
        low, high = ends.removeprefix("at least "), ""
    return {"low": low, "target": target, "high": high}


def _printed(stage: Stage) -> str:
    """A stage with its tolerance: as printed, the house's left out, any other in the small unit's own words."""
    if "±" in stage.text:
        return stage.text
    if stage.target_mdeg is not None:
        off = Quantity(Dimension.ANGLE, (stage.high_mdeg or 0) - stage.target_mdeg)
        return f"{stage.text} ±{show(off, '°', 3)}"
    target = stage.target_mnm or 0
    house = (target * 96 // 100, -(-target * 104 // 100))
    low, high = stage.low_mnm or 0, stage.high_mnm or 0
    if abs(low - house[0]) <= 1 and abs(high - house[1]) <= 1:
        return stage.text
    return f"{stage.text} ±{show(Quantity(Dimension.TORQUE, high - target), 'mN·m', 0)}"


# --- Out -------------------------------------------------------------------------------------------------------------


def file_of(header: Iterable[str], rows: Iterable[Mapping[str, str]]) -> str:
    """A file with semicolons, which decimal commas do not disturb; UTF-8 with its mark is the caller's to add."""
    names = list(header)
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=";", lineterminator="\r\n")
    writer.writerow(names)
    for row in rows:
        writer.writerow([harmless(row.get(name, "")) for name in names])
    return out.getvalue()


def harmless(cell: str) -> str:
    """A cell that no spreadsheet reckons: what begins as a formula does gets an apostrophe in front."""
    return f"'{cell}" if _FORMULA.match(cell) else cell


def undo(cell: str) -> str:
    """The cell as it was before `harmless`."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell
