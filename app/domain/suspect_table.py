"""The table of suspects, `shared/rules/suspects.json`, in types: parts, signs, the complaint, what is ruled out first.

Reading the file is the caller's. Every weight in it is this project's own judgement, and the file says so. Weights are
whole thousandths here, as in the file; `trade.suspects` reckons with them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StrictBool, model_validator

from app.domain.bounce import Trait

Chance = Annotated[int, Field(strict=True, ge=1, le=999)]
Share = Annotated[int, Field(strict=True, ge=1, le=1_000)]


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class PartRow(_Row):
    """A family of parts: there is one at each corner, or one on the axle, where the inspection has a step of its own.

    work: the procedures that renew it. suspension: False for what has to be ruled out first.
    """

    at: Literal["corner", "axle"]
    prior: Chance
    there_with: tuple[str, ...]
    work: tuple[str, ...] = ()
    suspension: StrictBool = True


class SignRow(_Row):
    """A sign of a step: the choices it shows itself by, those that say it did not, and the parts it hangs on.

    readings: values that show it, over their limit. traces: what a recorded bounce shows it by, whatever was chosen
    but one of `unless`; one sign for both, so that the same bounce does not count twice.
    """

    shows: tuple[str, ...]
    clean: tuple[str, ...]
    leak: Chance
    links: Mapping[str, Chance]
    readings: tuple[str, ...] = ()
    traces: tuple[Trait, ...] = ()
    unless: tuple[str, ...] = ()


class KindRow(_Row):
    leak: Chance
    links: Mapping[str, Chance]


class AnswerRows(_Row):
    """For each answer the families whose complaint it fits; None fits all."""

    step: str
    fits: Mapping[str, tuple[str, ...] | None]


class WhereRows(_Row):
    """For each answer an axle and a side ("" for both); None is anywhere."""

    step: str
    beside: Share
    other_axle: Share
    places: Mapping[str, tuple[str, str] | None]


class ComplaintRows(_Row):
    kind: str
    kinds: Mapping[str, KindRow]
    misfit: Share
    when: AnswerRows
    changes: AnswerRows
    where: WhereRows

    @property
    def steps(self) -> tuple[str, ...]:
        return (self.kind, self.when.step, self.where.step, self.changes.step)


class SuspectTable(_Row):
    about: tuple[str, ...]
    v: Literal[1]
    apart: Chance
    rule_out: Mapping[str, tuple[str, ...]]
    stand_ins: Mapping[str, tuple[str, ...]]
    parts: Mapping[str, PartRow]
    signs: Mapping[str, tuple[SignRow, ...]]
    complaint: ComplaintRows

    @model_validator(mode="after")
    def _names_are_known(self) -> SuspectTable:
        named = {part for rows in self.signs.values() for row in rows for part in row.links}
        named |= {part for row in self.complaint.kinds.values() for part in row.links}
        for answers in (self.complaint.when, self.complaint.changes):
            named |= {part for fits in answers.fits.values() for part in fits or ()}
        named |= {*self.stand_ins, *(part for parts in self.stand_ins.values() for part in parts)}
        unknown = sorted(named - self.parts.keys())
        if unknown:
            raise ValueError(f"parts that the table does not have: {', '.join(unknown)}")
        return self

    @property
    def ruled_out_first(self) -> frozenset[str]:
        """Steps of what has to be looked at before a finding at the suspension counts."""
        return frozenset(step for steps in self.rule_out.values() for step in steps)


def suspects_from(data: Mapping[str, Any]) -> SuspectTable:
    """Raises: pydantic.ValidationError for a table that does not hold together."""
    return SuspectTable.model_validate(data)
