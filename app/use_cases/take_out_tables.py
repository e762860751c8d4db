"""The main tables of a take-out as CSV, for a spreadsheet: names instead of ids, amounts in the units people use.

They are there to be read. `take-in` reads the records alone; what a table leaves out is in them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime

from app.domain.canonical import LARGEST_WHOLE
from app.domain.records import ToolKind
from app.ports import Unit
from app.trade.labour import Money
from app.use_cases.figure_csv import COLUMNS, TOLD, cells_of, file_of

Row = Mapping[str, str]
# By which spreadsheets tell UTF-8.
_MARK = "\ufeff".encode()

_HEADS: Mapping[str, tuple[str, ...]] = {
    "customers": ("name", "email", "phone", "language"),
    "vehicles": ("plate", "model", "year", "colour", "vin", "tyre_front", "tyre_rear", "customer"),
    "jobs": (
        "number", "state", "plate", "model", "customer", "complaint", "odometer_km", "lines", "opened_at", "opened_by",
        "promised_at", "comeback_of",
    ),
    "torques": (
        "job", "plate", "place", "signed_at", "signed_by", "kind", "wrench", "read", "at_fastener_nm", "low_nm",
        "high_nm", "stands",
    ),
    "estimates": (
        "job", "edition", "line", "labour", "parts", "other", "tax", "total", "currency", "made_at", "made_by",
    ),
    "answers": ("job", "edition", "said_at", "name", "way", "line", "agreed", "recorded_by"),
    "tools": ("tag", "kind", "name", "checked_on", "due_on", "fault"),
    "calibrations": ("tag", "done_on", "done_by", "document", "passes", "adjusted", "due_on", "file"),
    "letters": ("job", "to", "subject", "state", "made_at", "sent_at", "last_answer"),
    "photos": ("job", "file", "here"),
    "handbacks": ("job", "edition", "language", "subject", "made_at", "made_by", "why", "not_mailed", "file"),
    "reminders": ("job", "plate", "kind", "what", "due_on", "due_km", "done_at", "done_by", "done_words"),
}  # fmt: skip


def tables(unit: Unit) -> Iterator[tuple[str, bytes]]:
    """Each table's path and bytes."""
    rows = _Rows(unit)
    for name, head in _HEADS.items():
        yield f"tables/{name}.csv", _csv(head, getattr(rows, name)())
    yield "tables/spec_book.csv", _csv((*COLUMNS, *TOLD), rows.spec_book())


def _csv(head: Iterable[str], rows: Iterable[Row]) -> bytes:
    return _MARK + file_of(head, rows).encode()


class _Rows:
    """The rows of each table, in the order their records were added in."""

    def __init__(self, unit: Unit) -> None:
        self._unit = unit
        self._people = {one.id: one.name for one in unit.people.all()}
        self._customers = {one.id: one.name for one in unit.customers.all()}
        self._vehicles = {one.id: one for one in unit.vehicles.all()}
        self._jobs = {one.id: one for one in unit.jobs.all()}
        self._tags = {one.id: one.tag for one in unit.tools.all()}

    def customers(self) -> Iterator[Row]:
        for one in self._unit.customers.all():
            yield {"name": one.name, "email": one.email, "phone": one.phone, "language": one.language}

    def vehicles(self) -> Iterator[Row]:
        for one in self._vehicles.values():
            yield {
                "plate": one.plate, "model": one.model, "year": _text(one.year), "colour": one.colour, "vin": one.vin,
                "tyre_front": one.tyre_front, "tyre_rear": one.tyre_rear,
                "customer": self._customers.get(one.customer, ""),
            }  # fmt: skip

    def jobs(self) -> Iterator[Row]:
        for one in self._jobs.values():
            vehicle = self._vehicles.get(one.vehicle)
            lines = "; ".join(" ".join(filter(None, (line.procedure, line.axle, line.corner))) for line in one.lines)
            yield {
                "number": one.number, "state": one.state.value, "plate": vehicle.plate if vehicle else "",
                "model": vehicle.model if vehicle else "", "customer": self._customers.get(one.customer, ""),
                "complaint": one.complaint, "odometer_km": _text(one.odometer_km), "lines": lines,
                "opened_at": _when(one.opened_at), "opened_by": self._people.get(one.opened_by, ""),
                "promised_at": _when(one.promised_at), "comeback_of": self._number(one.comeback_of),
            }  # fmt: skip

    def torques(self) -> Iterator[Row]:
        for one in self._unit.uses.between(0, LARGEST_WHOLE):
            yield {
                "job": self._number(one.job), "plate": self._plate(one.job), "place": one.place,
                "signed_at": _when(datetime.fromtimestamp(one.heard_at_ms / 1_000, UTC)), "signed_by": one.name,
                "kind": one.kind, "wrench": one.tool, "read": one.text, "at_fastener_nm": _newton_metres(one.value),
                "low_nm": _newton_metres(one.low), "high_nm": _newton_metres(one.high),
                "stands": "yes" if one.replaced_by is None else "no",
            }  # fmt: skip

    def estimates(self) -> Iterator[Row]:
        for one in self._unit.estimates.all():
            for line in one.lines:
                tax = sum(part.amount_minor for part in line.taxes)
                minor = (line.labour_minor, line.parts_minor, line.other_minor, tax, line.total_minor)
                amounts = (f"{Money(one.currency, each).amount:f}" for each in minor)
                yield {
                    "job": one.number, "edition": str(one.edition), "line": line.title,
                    **dict(zip(("labour", "parts", "other", "tax", "total"), amounts, strict=True)),
                    "currency": one.currency, "made_at": _when(one.made_at), "made_by": one.made_by_name,
                }  # fmt: skip

    def answers(self) -> Iterator[Row]:
        titles = {
            (one.job, one.edition, line.line): line.title for one in self._unit.estimates.all() for line in one.lines
        }
        for one in self._unit.answers.all():
            for line in one.answers:
                yield {
                    "job": self._number(one.job), "edition": str(one.edition), "said_at": _when(one.said_at),
                    "name": one.name, "way": one.way.value, "line": titles.get((one.job, one.edition, line.line), ""),
                    "agreed": "yes" if line.yes else "no", "recorded_by": one.recorded_by_name,
                }  # fmt: skip

    def tools(self) -> Iterator[Row]:
        for one in self._unit.tools.all():
            yield {
                "tag": one.tag, "kind": ToolKind(one.kind).value, "name": one.name, "checked_on": _text(one.checked_on),
                "due_on": _text(one.due_on), "fault": one.fault,
            }  # fmt: skip

    def calibrations(self) -> Iterator[Row]:
        for one in self._unit.calibrations.all():
            yield {
                "tag": self._tags.get(one.tool, ""), "done_on": _text(one.done_on), "done_by": one.done_by,
                "document": one.document, "passes": "yes" if one.passes else "no",
                "adjusted": "yes" if one.adjusted else "no", "due_on": _text(one.due_on), "file": one.certificate,
            }  # fmt: skip

    def letters(self) -> Iterator[Row]:
        for one in self._unit.outbox.all():
            yield {
                "job": self._number(one.job), "to": one.to, "subject": one.subject, "state": one.state.value,
                "made_at": _when(one.made_at), "sent_at": _when(one.sent_at), "last_answer": one.last_answer,
            }  # fmt: skip

    def photos(self) -> Iterator[Row]:
        for one in self._unit.photos.all():
            yield {"job": self._number(one.job), "file": one.sha256, "here": "yes" if one.here else "no"}

    def handbacks(self) -> Iterator[Row]:
        printed = {one.id: one.pdf for one in self._unit.handback_prints.all()}
        for one in self._unit.handbacks.all():
            yield {
                "job": self._number(one.job), "edition": str(one.edition), "language": one.language,
                "subject": one.subject, "made_at": _when(one.made_at), "made_by": one.made_by_name, "why": one.why,
                "not_mailed": one.not_mailed, "file": printed.get(one.id, ""),
            }  # fmt: skip

    def reminders(self) -> Iterator[Row]:
        for one in self._unit.reminders.all():
            yield {
                "job": self._number(one.job), "plate": self._plate(one.job), "kind": one.kind.value, "what": one.what,
                "due_on": _text(one.due_on), "due_km": _text(one.due_km), "done_at": _when(one.done_at),
                "done_by": self._people.get(one.done_by or "", ""), "done_words": one.done_words,
            }  # fmt: skip

    def spec_book(self) -> Iterator[Row]:
        for one in self._unit.figures.all():
            state = (
                "withdrawn" if one.withdrawn else "replaced" if one.replaced else "counts" if one.counts else "waits"
            )
            yield {
                **cells_of(one), "edition": str(one.edition), "state": state,
                "typed_by": self._people.get(one.typed_by, ""), "typed_at": _when(one.typed_at),
                "compared_by": self._people.get(one.compared_by or "", ""), "compared_at": _when(one.compared_at),
            }  # fmt: skip

    def _number(self, job: str) -> str:
        found = self._jobs.get(job)
        return found.number if found is not None else ""

    def _plate(self, job: str) -> str:
        found = self._jobs.get(job)
        vehicle = self._vehicles.get(found.vehicle) if found is not None else None
        return vehicle.plate if vehicle is not None else ""


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _when(at: datetime | None) -> str:
    """An instant in UTC, to the second, as spreadsheets read it."""
    return "" if at is None else at.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S")


def _newton_metres(torque_mnm: int | None) -> str:
    """Exactly, without a float: 45_500 is 45.5."""
    if torque_mnm is None:
        return ""
    whole, rest = divmod(abs(torque_mnm), 1_000)
    tail = f"{rest:03d}".rstrip("0")
    return f"{'-' if torque_mnm < 0 else ''}{whole}{'.' + tail if tail else ''}"
