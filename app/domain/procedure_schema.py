"""The shape of procedures, gates and layouts as people write them in `shared/`. Shape only.

Whether names used in one file exist in another, and where a mistake stands, is `procedure`'s business; how they become
a packet is `compiling`'s. Every model refuses keys it does not know.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainValidator, StrictBool, StrictInt, StrictStr

from app.domain.conditions import Condition, read_condition
from app.domain.packet import CheckKind, Pass, Signal, Support
from app.trade.quantity import Dimension

Words: TypeAlias = Annotated[StrictStr, Field(min_length=1, max_length=1_500)]
Key: TypeAlias = Annotated[StrictStr, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
KeyPattern: TypeAlias = Annotated[StrictStr, Field(pattern=r"^[a-z{][a-z0-9_{}]*$", max_length=80)]
When: TypeAlias = Annotated[Condition, PlainValidator(read_condition)]

SupportSet: TypeAlias = Literal["work", "joint", "held", "hanging", "ride_height", "any", "bench"]
LoadSet: TypeAlias = Literal["step", "ride_height", "hanging", "any"]
ReckonName: TypeAlias = Literal[
    "stand_load",
    "stand_inboard",
    "vehicle_mass",
    "spring_force",
    "spring_energy",
    "compressor_rating",
    "jack_load",
    "hv_wait",
    "airbag_wait",
]


class FileText(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


def _named_or_reckoned(raw: object) -> object:
    if isinstance(raw, str) and raw.strip().startswith("reckon:"):
        return {"reckon": raw.split(":", 1)[1].strip()}
    return raw


class Reckon(FileText):
    """A limit that is computed when the packet is made."""

    reckon: ReckonName


Limit: TypeAlias = Annotated[Words | Reckon, BeforeValidator(_named_or_reckoned)]


class ChoiceText(FileText):
    """One observation. `passes` may depend on the axle; `when` hides it where it cannot be seen."""

    key: Key
    words: Words
    passes: StrictBool | When
    when: When | None = None


# Kinds of the tool crib that a gate asks for by tag: those that bear what can fall or fly.
GateTool: TypeAlias = Literal["stands", "lift", "spring_compressor", "jack"]


class CheckText(FileText):
    """`tool`: its choices are the crib's tools of this kind, and which of them bear what `bears` comes to."""

    id: Key
    kind: CheckKind
    ask: Words
    otherwise: Words
    choices: tuple[ChoiceText, ...] = ()
    dimension: Dimension | None = None
    unit: StrictStr = ""
    at_least: Limit | None = None
    at_most: Limit | None = None
    halve_unless: tuple[Key, Key] | None = None
    tool: GateTool | None = None
    bears: ReckonName | None = None
    when: When | None = None


class GateText(FileText):
    """A gate of trade practice. Times in minutes; `shop` takes the shop's own."""

    title: Words
    signal: Signal
    symbol: Key
    intro: Words
    scope: Literal["axle", "step", "sheet"]
    follows_support: StrictBool
    stale: Literal["shop"] | Annotated[StrictInt, Field(ge=1, le=240)]
    checks: Annotated[tuple[CheckText, ...], Field(min_length=1)]
    supports: tuple[Support, ...] = ()
    brings: tuple[Key, ...] = ()
    shows: tuple[ReckonName, ...] = ()
    when: When | None = None


class GatesFile(FileText):
    gates: dict[Key, GateText]


SpringOn: TypeAlias = Literal["lower_arm", "upper_arm", "strut", "axle", "beam", "link", "as_place"]
Kind: TypeAlias = Literal["arms", "strut", "solid", "beam", "multilink", "air"]


class Layout(FileText):
    """One way an axle is hung. An `as_place` layout takes what it leaves out from the layout it stands in for."""

    name: Words
    kind: Kind
    spring_on: SpringOn
    spring_kind: Literal["coil", "torsion_bar", "leaf", "air"]
    load_joint: Literal["lower", "upper", "none", "axle", "link_outer", "as_place"]
    spring_release_words: Words
    joints: tuple[Literal["lower", "upper"], ...] = ()
    joint_support: tuple[Support, ...] = ()
    joint_stand_words: StrictStr = ""
    work_support: tuple[Support, ...] = ()
    work_stand_words: StrictStr = ""
    arm_stand_words: StrictStr = ""


class FactKind(FileText):
    """A fact about an axle, with the question that asks for it and the answers it may have.

    of:       whose it is; of a vehicle's, either axle's record answers.
    only:     where it is worth asking.
    upper_of: in a line about the upper joint it answers for that other fact.
    """

    ask: Words
    choices: dict[Key, Words]
    of: Literal["axle", "vehicle"] = "axle"
    only: When | None = None
    upper_of: Key | None = None


class LayoutsFile(FileText):
    layouts: dict[Key, Layout]
    facts: dict[Key, FactKind]


class OptionText(FileText):
    """What is chosen when a line is opened; `when` says on which axles it is asked at all."""

    ask: Words
    choices: Annotated[dict[Key, Words], Field(min_length=1)]
    when: When | None = None


class Refusal(FileText):
    when: When
    says: Words


class MeasureText(FileText):
    """A value to record. `at_least` and `at_most` only where a regulation or the shop's rule gives one (`source`)."""

    id: KeyPattern
    ask: Words
    dimension: Dimension
    unit: StrictStr
    must: StrictBool = False
    required: StrictBool = True
    at_least: Words | None = None
    at_most: Words | None = None
    source: StrictStr = ""
    when: When | None = None


class FastenerText(FileText):
    """One pass over a joint. No torque stands here: figures come from the vehicle's own documents."""

    id: Key
    figure: KeyPattern
    place: Words
    tighten: Pass = Pass.FINAL
    load: LoadSet | tuple[Support, ...] = "step"
    one_time: StrictBool = False
    critical: StrictBool = False
    castellated: StrictBool = False
    when: When | None = None


class OneTimeText(FileText):
    id: Key
    what: Words
    when: When | None = None


class TrialText(FileText):
    part: Words
    choices: Annotated[tuple[ChoiceText, ...], Field(min_length=2)]
    against: StrictStr = ""


class StepText(FileText):
    """One step. `after` left out means: after the step before it that applies.

    per_side, per_axle: the step is there once for each side, or axle, that the line concerns.
    weight_on: the closing step that puts the weight on the wheels; what waits for ride height comes right after it.
    """

    key: Key
    title: Words
    do: Words
    why: Words
    support: SupportSet | Annotated[tuple[Support, ...], Field(min_length=1)]
    caution: StrictStr = ""
    when: When | None = None
    per_side: StrictBool = False
    per_axle: StrictBool = False
    joint: Literal["lower", "upper"] | None = None
    gates: tuple[Key, ...] = ()
    measures: tuple[MeasureText, ...] = ()
    fasteners: tuple[FastenerText, ...] = ()
    one_time: tuple[OneTimeText, ...] = ()
    tools: tuple[Words, ...] = ()
    reckon: tuple[ReckonName, ...] = ()
    after: tuple[Key, ...] | None = None
    countersign: StrictBool = False
    photo: StrictStr = ""
    trial: TrialText | None = None
    weight_on: StrictBool = False


class Procedure(FileText):
    """One kind of job. Family `inspection` only looks; `opening` and `closing` go round every job that has work."""

    procedure: Key
    title: Words
    family: Key
    version: Annotated[StrictInt, Field(ge=1)]
    scope: Literal["corner", "axle", "vehicle"]
    steps: Annotated[tuple[StepText, ...], Field(min_length=1)]
    options: dict[Key, OptionText] = {}
    needs_facts: tuple[Key, ...] = ()
    pairs: StrictBool = False
    refuse: tuple[Refusal, ...] = ()

    @property
    def is_work(self) -> bool:
        return self.family not in ("inspection", "opening", "closing", "recheck")

    @property
    def is_recheck(self) -> bool:
        """Whether it goes over joints of other procedures again: opened from Tracing, not chosen at the desk."""
        return self.family == "recheck"

    @property
    def is_frame(self) -> bool:
        """Whether it is added to a job by itself, not chosen."""
        return self.family in ("opening", "closing")
