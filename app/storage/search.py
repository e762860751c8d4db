"""What jobs and vehicles are found by, in the databases: one row of words each, beside an index over them.

The rows are kept by the registers they are made from (`sql.Watched`) and by the sheets, in the same transaction. SQLite
keeps an FTS5 table over them by triggers, PostgreSQL a GIN index; both are given whole words in a-z and 0-9 alone, and
asked for their beginnings, so that they cannot differ in what they find.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any

from sqlalchemy import and_, bindparam, case, column, literal_column, or_, select, table, text, update

from app.domain import records
from app.domain.estimate import Estimate
from app.domain.search_words import job_words, noted_on, noted_words, vehicle_words
from app.ports import Hit
from app.storage import mapping, tables
from app.storage.mapping import Values, table_of

if TYPE_CHECKING:
    from app.storage.sql import SqlUnit

_TEXTS = table_of(tables.SearchTextRow)
# As the index of the migration says it, or PostgreSQL would not use that.
LEXEMES = "array_to_tsvector(array_remove(string_to_array(words || ' ' || noted, ' '), ''))"


def hit_of(job: records.Job | None, vehicle: records.Vehicle, customer: records.Customer | None) -> Hit:
    name = customer.name if customer is not None else ""
    of_vehicle = (vehicle.id, vehicle.plate, vehicle.vin, vehicle.model, name)
    if job is None:
        return Hit("", "", "", None, "", "", *of_vehicle)
    return Hit(job.id, job.number, job.state.value, job.opened_at, job.complaint, job.comeback_of, *of_vehicle)


class SqlSearch:
    def __init__(self, unit: SqlUnit) -> None:
        self._unit = unit

    @property
    def _statements(self) -> SearchStatements:
        return self._unit.statements.search

    def find(self, words: Sequence[str], limit: int) -> Sequence[Hit]:
        if not words:
            return ()
        asked = self._statements.asked(words)
        rows = self._unit.read(self._statements.find, {"asked": asked, "most": limit}).all()
        return tuple(Hit(*tuple(row)) for row in rows)

    def rebuild(self) -> None:
        if self._unit.statements.name == "sqlite":
            self._unit.write(text("INSERT INTO search_index (search_index) VALUES ('rebuild')"))
        wanted = self._wanted()
        gone = [key for key in self._kept() if key not in wanted]
        for row in wanted.values():
            self._put(row)
            self._unit.write(self._statements.note, {"to_id": row["id"], "to_noted": row["noted"]})
        for key in gone:
            self._unit.write(self._statements.drop, {"gone": key})

    def is_behind(self) -> bool:
        if self._unit.read(self._statements.any_text).first() is not None:
            return False
        return self._unit.read(self._statements.any_vehicle).first() is not None

    def amiss(self) -> Sequence[str]:
        wanted, kept = self._wanted(), self._kept()
        changed = [key for key, row in wanted.items() if kept.get(key) != (row["words"], row["noted"])]
        return tuple(key.split(" ", 1)[1] for key in (*changed, *(key for key in kept if key not in wanted)))

    # What the registers and the sheets say when they have changed

    def keep_jobs(self, jobs: Iterable[records.Job]) -> None:
        for job in jobs:
            vehicle, customer = self._unit.vehicles.get(job.vehicle), self._unit.customers.get(job.customer)
            self._put(_job_row(job, vehicle, customer, self._unit.estimates.where(job=job.id)))

    def keep_vehicles(self, vehicles: Iterable[records.Vehicle]) -> None:
        for vehicle in vehicles:
            self._put(_vehicle_row(vehicle, self._unit.customers.get(vehicle.customer)))
            self.keep_jobs(self._unit.jobs.where(vehicle=vehicle.id))

    def keep_customers(self, customers: Iterable[records.Customer]) -> None:
        for customer in customers:
            for vehicle in self._unit.vehicles.where(customer=customer.id):
                self._put(_vehicle_row(vehicle, customer))
            self.keep_jobs(self._unit.jobs.where(customer=customer.id))

    def keep_estimates(self, estimates: Iterable[Estimate]) -> None:
        for estimate in estimates:
            job = self._unit.jobs.get(estimate.job)
            self.keep_jobs((job,) if job is not None else ())

    def keep_noted(self, job: str, texts: Collection[str]) -> None:
        self._unit.write(self._statements.note, {"to_id": f"job {job}", "to_noted": noted_words(texts)})

    def _put(self, row: Values) -> None:
        self._unit.write(self._statements.put, {name: row[name] for name in ("id", "vehicle", "job", "words")})

    def _kept(self) -> Mapping[str, tuple[str, str]]:
        return {row.id: (row.words, row.noted) for row in self._unit.read(self._statements.all)}

    def _wanted(self) -> Mapping[str, Values]:
        """Every row as it ought to be, by its id."""
        customers = {one.id: one for one in self._unit.customers.all()}
        vehicles = {one.id: one for one in self._unit.vehicles.all()}
        estimates: dict[str, list[Estimate]] = {}
        for estimate in self._unit.estimates.all():
            estimates.setdefault(estimate.job, []).append(estimate)
        rows = [_vehicle_row(one, customers.get(one.customer)) for one in vehicles.values()]
        for job in self._unit.jobs.all():
            row = _job_row(job, vehicles.get(job.vehicle), customers.get(job.customer), estimates.get(job.id, ()))
            sheet = self._unit.sheets.get(job.id)
            rows.append(row | {"noted": noted_words(noted_on(sheet)) if sheet is not None else ""})
        return {row["id"]: row for row in rows}


def _job_row(
    job: records.Job,
    vehicle: records.Vehicle | None,
    customer: records.Customer | None,
    estimates: Iterable[Estimate],
) -> Values:
    words = job_words(job, vehicle, customer, estimates)
    return {"id": f"job {job.id}", "vehicle": job.vehicle, "job": job.id, "words": words, "noted": ""}


def _vehicle_row(vehicle: records.Vehicle, owner: records.Customer | None) -> Values:
    words = vehicle_words(vehicle, owner)
    return {"id": f"vehicle {vehicle.id}", "vehicle": vehicle.id, "job": "", "words": words, "noted": ""}


class SearchStatements:
    """The statements for one dialect, built once."""

    def __init__(self, dialect: str, insert: Any) -> None:
        self._sqlite = dialect == "sqlite"
        self._insert = insert

    def asked(self, words: Sequence[str]) -> str:
        """Every word, as a beginning, in the engine's own language. Words have no sign in them that could mean more."""
        return " ".join(f'"{one}"*' for one in words) if self._sqlite else " & ".join(f"'{one}':*" for one in words)

    any_text = select(_TEXTS.c.position).limit(1)
    any_vehicle = select(mapping.VEHICLES.table.c.position).limit(1)
    all = select(_TEXTS.c.id, _TEXTS.c.words, _TEXTS.c.noted)
    note = (
        update(_TEXTS)
        .where(_TEXTS.c.id == bindparam("to_id"), _TEXTS.c.noted != bindparam("to_noted"))
        .values(noted=bindparam("to_noted"))
    )
    drop = _TEXTS.delete().where(_TEXTS.c.id == bindparam("gone"))

    @cached_property
    def put(self) -> Any:
        statement = self._insert(_TEXTS).values(noted="")
        new = statement.excluded
        return statement.on_conflict_do_update(
            index_elements=["id"],
            set_={"words": new.words, "vehicle": new.vehicle},
            where=or_(_TEXTS.c.words != new.words, _TEXTS.c.vehicle != new.vehicle),
        )

    @cached_property
    def find(self) -> Any:
        """The rows that fit, what was added last first, each with the job, the vehicle and the customer it is about."""
        jobs, vehicles, customers = (one.table.columns for one in (mapping.JOBS, mapping.VEHICLES, mapping.CUSTOMERS))
        fit = self._fit.subquery("fit")
        is_job = _TEXTS.c.job != ""
        none: Any = literal_column("''")
        return (
            select(
                _TEXTS.c.job, *(case((is_job, one), else_=none) for one in (jobs.number, jobs.state)), jobs.opened_at,
                *(case((is_job, one), else_=none) for one in (jobs.complaint, jobs.comeback_of)),
                vehicles.id, vehicles.plate, vehicles.vin, vehicles.model, customers.name,
            )
            .join_from(fit, _TEXTS, _TEXTS.c.position == fit.c.position)
            .outerjoin(mapping.JOBS.table, and_(is_job, jobs.id == _TEXTS.c.job))
            .join(mapping.VEHICLES.table, vehicles.id == _TEXTS.c.vehicle)
            .join(mapping.CUSTOMERS.table, customers.id == case((is_job, jobs.customer), else_=vehicles.customer))
            .order_by(fit.c.position.desc())
        )  # fmt: skip

    @property
    def _fit(self) -> Any:
        if self._sqlite:
            index = table("search_index", column("rowid"))
            position = index.c.rowid.label("position")
            asked = select(position).where(text("search_index MATCH :asked")).order_by(index.c.rowid.desc())
            return asked.limit(bindparam("most"))
        place = _TEXTS.c.position
        fits = text(f"{LEXEMES} @@ CAST(:asked AS tsquery)")
        return select(place).where(fits).order_by(place.desc()).limit(bindparam("most"))
