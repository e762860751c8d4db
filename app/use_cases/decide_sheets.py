"""A verified figure was corrected: the foreman decides, sheet by sheet, whether it is brought up to date.

A correction says that something may be wrong, not what it means for work half done. So the sheets that rest on the
edition before keep it, are listed, and wait for a named person's word and reason. A withdrawal is different: nothing
may be tightened to it any more, so it reaches every sheet at once (`keep_figure.withdraw_figure`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from app.domain.problems import NotAllowed, NotFound, Problem, Refused
from app.domain.records import Choice, FigureChoice, FigureRecord, Job, JobState, Role, Vehicle
from app.ports import Unit
from app.use_cases.office import Office
from app.use_cases.open_job import bring_up_to_date
from app.use_cases.rests_on import is_pinned, kept_by, own_figures

REASON_LIMIT = 300


def ask_about_sheets(office: Office, unit: Unit, person: str, made: Sequence[FigureRecord]) -> None:
    """Note each open job whose sheet rests on a verified figure that one of these new editions corrects.

    To be called in the transaction that adds them: no sheet may be pinned anew in between.
    """
    by_model: dict[str, list[FigureRecord]] = {}
    for one in made:
        by_model.setdefault(one.model, []).append(one)
    for model, figures in by_model.items():
        for job, vehicle in _open_jobs(unit, model):
            before = _verified_before(unit, model, job, {one.id for one in figures})
            for one in figures:
                old = before.get((one.axle.value, one.place_key))
                if old is not None and is_pinned(office.book, unit, job.id, vehicle, old):
                    unit.figure_choices.add(
                        FigureChoice(office.new_id(), job.id, old.id, one.id, person, office.clock())
                    )


def _open_jobs(unit: Unit, model: str) -> list[tuple[Job, Vehicle]]:
    vehicles = {one.id: one for one in unit.vehicles.where(model=model)}
    return [(job, vehicles[job.vehicle]) for job in unit.jobs.where(state=JobState.OPEN) if job.vehicle in vehicles]


def _verified_before(unit: Unit, model: str, job: Job, new: set[str]) -> dict[tuple[str, str], FigureRecord]:
    """What the job rested on before these editions: what it keeps, else the verified edition."""
    kept = kept_by(unit.figure_choices.where(job=job.id))
    found: dict[tuple[str, str], FigureRecord] = {}
    for one in unit.figures.where(model=model):
        key = (one.axle.value, one.place_key)
        if one.id in new or not one.is_verified:
            continue
        if one.id in kept or (one.counts and key not in found):
            found[key] = one
    return found


@dataclass(frozen=True, slots=True)
class Undecided:
    """A sheet that rests on `figure` while `newer` is there. `choice` is asked, or keep: that can still be changed."""

    choice: FigureChoice
    job: Job
    figure: FigureRecord
    newer: FigureRecord


def undecided(unit: Unit, *, kept_too: bool = False) -> list[Undecided]:
    """What waits for the foreman's word; with `kept_too` also what was kept and could still be brought up to date."""
    last: dict[tuple[str, str], FigureChoice] = {}
    for choice in unit.figure_choices.all():
        last[choice.job, choice.figure] = choice
    found = []
    for choice in last.values():
        if choice.choice is Choice.ASKED or (kept_too and choice.choice is Choice.KEEP):
            one = _still_open(unit, choice)
            if one is not None:
                found.append(one)
    return found


def _still_open(unit: Unit, choice: FigureChoice) -> Undecided | None:
    """None once the job is closed, the old edition withdrawn, or the correction taken back."""
    job, figure = unit.jobs.get(choice.job), unit.figures.get(choice.figure)
    if job is None or job.state is not JobState.OPEN or figure is None or not figure.is_verified:
        return None
    newest = own_figures(unit, figure.model).get((figure.axle, figure.place_key))
    if newest is None or newest.id == figure.id:
        return None
    return Undecided(choice, job, figure, newest)


def decide_sheet(office: Office, person: str, choice_id: str, said: str, reason: str) -> tuple[Choice, str]:
    """Keep the edition before on this sheet, or bring the sheet up to date. Gives the choice and the job's number.

    Raises: NotAllowed for anyone but a foreman; NotFound; Refused with every problem found. Where the sheet cannot be
            pinned anew (`sheet_not_renewed`), the decision stands and the sheet keeps what it has until it can.
    """
    with office.store.writing() as unit:
        found = unit.people.get(person)
        if found is None or Role.FOREMAN not in found.roles:
            raise NotAllowed("only a foreman decides about a sheet")
        row = unit.figure_choices.get(choice_id)
        if row is None:
            raise NotFound("figure_choice", choice_id)
        problems = _problems(said, reason)
        if problems:
            raise Refused(problems)
        open_ = _still_open(unit, row)
        last = [one for one in unit.figure_choices.where(job=row.job) if one.figure == row.figure][-1]
        if open_ is None or last.id != row.id or row.choice is Choice.RENEW:
            raise Refused([Problem("sheet_settled")])
        decided = replace(row, choice=Choice(said), decided_by=person, decided_at=office.clock(), reason=reason.strip())
        if row.choice is Choice.ASKED:
            unit.figure_choices.save(decided)
        else:
            unit.figure_choices.add(replace(decided, id=office.new_id()))
        unit.commit()
    if decided.choice is Choice.RENEW:
        try:
            bring_up_to_date(office, person, row.job)
        except (Refused, NotFound) as error:
            raise Refused([Problem("sheet_not_renewed", details={"number": open_.job.number})]) from error
    return decided.choice, open_.job.number


def _problems(said: str, reason: str) -> list[Problem]:
    problems = []
    if said not in (Choice.KEEP, Choice.RENEW):
        problems.append(Problem("sheet_choice_missing", "choice"))
    if not reason.strip():
        problems.append(Problem("sheet_reason_missing", "reason"))
    if len(reason.strip()) > REASON_LIMIT:
        problems.append(Problem("too_long", "reason", {"limit": REASON_LIMIT}))
    return problems
