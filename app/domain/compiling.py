"""Makes a packet from procedures and one vehicle's facts: pure, and the same bytes every time.

The order of the house:
* an *opening* line (what is measured before) comes before, and a *closing* line after, every line of work;
* steps of a work line that need the weight on the wheels after work in the air wait for the closing's step that puts
  it there: "snug now, torque at ride height";
* a fact nobody has given is asked for; a figure nobody has given stays absent; nothing is guessed.

What a line may be opened on, and what figures the procedures want, is in `offering` and named here as well, so that the
desk asks the same rules as the packet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeAlias

from app.domain.conditions import Subject, judge
from app.domain.crib import CribTool, tool_choices
from app.domain.grounds import (
    JOINT_IS_WORDS,
    LAYOUT_WORDS,
    BookFault,
    axle_subject,
    distinct,
    facts_of,
    fill,
    for_each,
    ground_of,
    joint_is,
    merged_subject,
)
from app.domain.joining import CLOSING_LINE, OPENING_LINE, RIDE_HEIGHT, Befores, Draft, Plan, Spot, joined
from app.domain.offering import (
    FigurePlace,
    Offer,
    asked_options,
    figure_keys,
    procedures_for,
    why_not,
    with_options,
)
from app.domain.packet import (
    Axle,
    Check,
    Choice,
    Fastener,
    Figure,
    Gate,
    Line,
    Measure,
    OneTime,
    Packet,
    Pass,
    Reckoned,
    Step,
    Support,
    Trial,
    Wrench,
)
from app.domain.problems import Problem
from app.domain.procedure import Book
from app.domain.procedure_schema import (
    CheckText,
    ChoiceText,
    FastenerText,
    MeasureText,
    Procedure,
    Reckon,
    StepText,
)
from app.domain.reckoning import Reckoning, reckon
from app.domain.records import JobLine, Shop, Vehicle, found_first
from app.trade.units import parse_quantity

__all__ = [
    "Book",
    "BookFault",
    "FigurePlace",
    "Offer",
    "Order",
    "Window",
    "compile_packet",
    "figure_keys",
    "procedures_for",
    "why_not",
]

PACKET_FORM = 1
SIDES = ("left", "right")

HANGING = (Support.LIFT_FRAME, Support.STANDS_FRAME)


@dataclass(frozen=True, slots=True)
class Window:
    """The maker's limits for a measure, in its dimension's small unit, with where they came from."""

    low: int | None
    high: int | None
    text: str
    source: str


@dataclass(frozen=True)
class Order:
    """What a packet is made from.

    figures: by `f"{axle}/{figure key}"`; windows: by `f"{axle}/{family}/{measure id}"`.
    tools: the crib's stands, lifts, jacks and compressors; of a kind it has none of, no tag is asked for.
    previous: the edition before, whose unchanged steps keep their revision.
    """

    job: str
    number: str
    edition: int
    vehicle: Vehicle
    lines: tuple[JobLine, ...]
    figures: Mapping[str, Figure]
    wrenches: tuple[Wrench, ...]
    shop: Shop
    previous: Packet | None = None
    windows: Mapping[str, Window] = field(default_factory=dict)
    tools: tuple[CribTool, ...] = ()


def compile_packet(book: Book, order: Order) -> Packet | tuple[Problem, ...]:
    """Give the packet of a job, or everything that keeps it from being made.

    Problems: lines_missing, line_twice, unknown_procedure, unknown_layout, place_missing, axle_wrong, corner_missing,
              corner_unneeded, option_missing, option_unknown, fact_unknown, not_for_layout (detail `says`),
              fact_missing (detail `ask`). The field is the line's id, or `front.FACT` for a fact.
    """
    problems = [*_vehicle_problems(book, order.vehicle), *_line_problems(order.lines)]
    plans = []
    for line in found_first(order.lines):
        plan = _plan(book, order, line)
        if isinstance(plan, Plan):
            plans.append(plan)
        else:
            problems += plan
    if problems:
        return _once(problems)
    framed = _frame(book, order, tuple(plans))
    compiler = _Compiler(book, order, framed)
    drafts = compiler.drafts()
    steps, compiler.late_work = joined(framed, drafts)
    gates = compiler.gates()
    if compiler.problems:
        return _once(compiler.problems)
    _each_final_once(steps)
    return _packet(book, order, framed, steps, gates)


# --- Plans: a line with what is known about it --------------------------------------------------------------------


def _plan(book: Book, order: Order, line: JobLine) -> Plan | tuple[Problem, ...]:
    procedure = book.procedures.get(line.procedure)
    if procedure is None or procedure.is_frame:
        return (Problem("unknown_procedure", line.id, {"procedure": line.procedure}),)
    axles = (Axle.FRONT, Axle.REAR) if line.axle is Axle.BOTH else (line.axle,)
    if any(_vehicle_problems(book, order.vehicle)):
        return ()
    subjects = [axle_subject(book, facts_of(order.vehicle, axle)) for axle in axles]
    asked = asked_options(procedure, subjects, dict(line.options))
    problems = [*_place_problems(procedure, line), *_option_problems(procedure, asked, line)]
    if problems:
        return tuple(problems)
    options = dict(line.options)
    spot = Spot(line.axle, line.corner)
    sides = (spot,) if line.corner else tuple(Spot(axle, side) for axle in axles for side in SIDES)
    for axle in axles:
        refused = why_not(book, line.procedure, facts_of(order.vehicle, axle), options)
        if refused is not None:
            return (replace(refused, field=line.id),)
    plan = Plan(
        Line(line.id, line.procedure, procedure.version, "", line.axle, line.corner), procedure, spot, sides, options
    )
    title = fill(procedure.title, _Compiler(book, order, (plan,)).words(plan, spot))
    return replace(plan, line=replace(plan.line, title=title))


def _vehicle_problems(book: Book, vehicle: Vehicle) -> Iterator[Problem]:
    for axle in (Axle.FRONT, Axle.REAR):
        facts = facts_of(vehicle, axle)
        if facts.layout not in book.layouts:
            yield Problem("unknown_layout", f"{axle}.layout", {"layout": facts.layout})
        elif ground_of(book, facts) is None:
            yield Problem("place_missing", f"{axle}.place", {"layout": book.layouts[facts.layout].name})
        for key, value in facts.facts:
            if key not in book.facts or value not in book.facts[key].choices:
                yield Problem("fact_unknown", f"{axle}.{key}", {"fact": key, "value": value})


def _line_problems(lines: tuple[JobLine, ...]) -> Iterator[Problem]:
    if not lines:
        yield Problem("lines_missing", "lines")
    seen: set[tuple[object, ...]] = set()
    ids = {OPENING_LINE, CLOSING_LINE}
    for line in lines:
        key = (line.procedure, line.axle, line.corner, tuple(sorted(line.options)))
        if key in seen or line.id in ids:
            yield Problem("line_twice", line.id, {"procedure": line.procedure})
        seen.add(key)
        ids.add(line.id)


def _place_problems(procedure: Procedure, line: JobLine) -> Iterator[Problem]:
    if (line.axle is Axle.BOTH) is not (procedure.scope == "vehicle"):
        yield Problem("axle_wrong", line.id, {"procedure": line.procedure, "scope": procedure.scope})
    if procedure.scope == "corner" and line.corner not in SIDES:
        yield Problem("corner_missing", line.id, {"procedure": line.procedure})
    if procedure.scope != "corner" and line.corner:
        yield Problem("corner_unneeded", line.id, {"procedure": line.procedure})


def _option_problems(procedure: Procedure, asked: Sequence[str], line: JobLine) -> Iterator[Problem]:
    given = dict(line.options)
    for name in asked:
        option = procedure.options[name]
        if not given.get(name):
            yield Problem("option_missing", f"{line.id}.{name}", {"ask": option.ask})
        elif given[name] not in option.choices:
            yield Problem("option_unknown", f"{line.id}.{name}", {"value": given[name]})
    for name in given:
        if name not in asked:
            yield Problem("option_unknown", f"{line.id}.{name}", {"value": given[name]})


def _frame(book: Book, order: Order, plans: tuple[Plan, ...]) -> tuple[Plan, ...]:
    """Put opening and closing round the lines of work, for the axles and sides these concern."""
    work = [plan for plan in plans if plan.procedure.is_work]
    if not work:
        return plans
    sides = tuple(dict.fromkeys(side for plan in work for side in plan.sides))
    sides = tuple(sorted(sides, key=lambda spot: (spot.axle is not Axle.FRONT, spot.side)))
    axles = distinct(side.axle for side in sides)
    axle = Axle(axles[0]) if len(axles) == 1 else Axle.BOTH

    def framed(line_id: str, procedure: Procedure | None) -> tuple[Plan, ...]:
        if procedure is None:
            return ()
        line = Line(line_id, procedure.procedure, procedure.version, procedure.title, axle)
        return (Plan(line, procedure, Spot(axle), sides, {}),)

    return (*framed(OPENING_LINE, book.opening), *plans, *framed(CLOSING_LINE, book.closing))


# --- Steps and gates -----------------------------------------------------------------------------------------------


GateAsk: TypeAlias = tuple[str, Spot, Subject, Mapping[str, str]]


@dataclass
class _Compiler:
    """Compiles the steps of all lines, and collects the gates they ask for and the facts that are missing."""

    book: Book
    order: Order
    plans: tuple[Plan, ...]
    problems: list[Problem] = field(default_factory=list)
    asked: dict[str, GateAsk] = field(default_factory=dict)
    late_work: bool = False
    _known: dict[tuple[str, Spot, str], tuple[Subject, dict[str, str]]] = field(default_factory=dict)

    # What is known --------------------------------------------------------------------------------------------

    @cached_property
    def subjects(self) -> Mapping[Axle, Subject]:
        vehicle = self.order.vehicle
        work = [plan for plan in self.plans if plan.procedure.is_work]
        inspected = any(plan.goes_before(one) for plan in self.plans for one in work)
        shared: dict[str, tuple[str, ...]] = {
            "high_voltage": ("yes" if vehicle.high_voltage else "no",),
            "inspected": ("yes" if inspected else "no",),
        }
        parts = {axle: axle_subject(self.book, facts_of(vehicle, axle)) for axle in (Axle.FRONT, Axle.REAR)}
        for key, kind in self.book.facts.items():
            if kind.of == "vehicle":
                said = distinct(v for part in parts.values() for v in part.known.get(key, ()))
                # One axle's yes is the vehicle's yes, whatever the other axle's record says.
                if said:
                    shared[key] = ("yes",) if "yes" in said else said
        of_axle = {axle: Subject({**part.known, **shared, "axle": (str(axle),)}) for axle, part in parts.items()}
        return {**of_axle, Axle.BOTH: merged_subject(self.book, tuple(of_axle.values()))}

    def known(self, plan: Plan, spot: Spot, joint: str | None = None) -> tuple[Subject, dict[str, str]]:
        """What conditions may ask, and the words for placeholders, at one spot of a line."""
        position = joint or _position(plan)
        key = (plan.line.id, spot, position)
        if key not in self._known:
            subject = self._subject(plan, spot, position)
            self._known[key] = subject, self.words(plan, spot, subject)
        return self._known[key]

    def _subject(self, plan: Plan, spot: Spot, position: str) -> Subject:
        subject = with_options(self.subjects[spot.axle], plan.procedure, plan.options)
        if spot.axle is Axle.BOTH:
            return subject
        if position == "upper":
            # A fact recorded for the upper joint apart answers here for the one both share.
            uppers = {kind.upper_of: subject.known.get(key) for key, kind in self.book.facts.items() if kind.upper_of}
            subject = subject.with_values(**{key: values for key, values in uppers.items() if values})
        ground = ground_of(self.book, facts_of(self.order.vehicle, spot.axle))
        return subject if ground is None else subject.with_values(joint_is=joint_is(ground, position))

    def words(self, plan: Plan, spot: Spot, subject: Subject | None = None) -> dict[str, str]:
        axles = (Axle.FRONT, Axle.REAR) if spot.axle is Axle.BOTH else (spot.axle,)
        grounds = [(axle, ground_of(self.book, facts_of(self.order.vehicle, axle))) for axle in axles]
        words = {
            name: for_each(((axle, word_of(ground)) for axle, ground in grounds if ground is not None))
            for name, word_of in LAYOUT_WORDS.items()
        }
        words |= {
            "axle": str(spot.axle),
            "axle_word": "front and rear" if spot.axle is Axle.BOTH else str(spot.axle),
            "side": spot.side,
            "corner_word": spot.word,
            "joint_is_words": JOINT_IS_WORDS.get(subject.first("joint_is") if subject else "", ""),
            "retorque_km": str(self.order.shop.retorque_km),
        }
        for name, option in plan.procedure.options.items():
            chosen = plan.options.get(name, "")
            words[name] = chosen
            words[f"{name}_word"] = option.choices.get(chosen, "")
        return words

    def holds(self, condition: object, subject: Subject, spot: Spot) -> bool:
        truth = judge(condition, subject)  # type: ignore[arg-type]
        for fact in sorted(truth.missing):
            self.ask_for(fact, spot)
        return bool(truth.value)

    def ask_for(self, fact: str, spot: Spot) -> None:
        kind = self.book.facts.get(fact)
        if kind is None:
            raise BookFault(f"a condition asks for {fact}, which is not known at {spot.word}")
        axles = (Axle.FRONT, Axle.REAR) if spot.axle is Axle.BOTH else (spot.axle,)
        for axle in axles:
            if fact not in self.subjects[axle].known:
                self.problems.append(Problem("fact_missing", f"{axle}.{fact}", {"ask": kind.ask, "axle": str(axle)}))

    # Steps ----------------------------------------------------------------------------------------------------

    def drafts(self) -> Mapping[str, tuple[Draft, ...]]:
        """Every line's steps by line id. Facts that are missing are left in `problems`."""
        done = {}
        for plan in self.plans:
            for fact in plan.procedure.needs_facts:
                for axle in distinct(side.axle for side in plan.sides):
                    if fact not in self.subjects[Axle(axle)].known:
                        self.ask_for(fact, Spot(Axle(axle)))
            done[plan.line.id] = self._line(plan)
        return done

    def _line(self, plan: Plan) -> tuple[Draft, ...]:
        present: dict[str, dict[Spot, str]] = {}
        texts = {text.key: text for text in plan.procedure.steps}
        for text in plan.procedure.steps:
            present[text.key] = {
                spot: _step_id(plan, text, spot)
                for spot in self._spots(plan, text)
                if self.holds(text.when, self.known(plan, spot, text.joint)[0], spot)
            }
        befores = Befores(plan, present, texts)
        return tuple(
            self._draft(plan, texts[key], spot, step_id, befores.of(key, spot))
            for key, spots in present.items()
            for spot, step_id in spots.items()
        )

    def _spots(self, plan: Plan, text: StepText) -> tuple[Spot, ...]:
        if text.per_side:
            return plan.sides
        if text.per_axle:
            return tuple(Spot(Axle(axle)) for axle in distinct(side.axle for side in plan.sides))
        return (plan.spot,)

    def _draft(self, plan: Plan, text: StepText, spot: Spot, step_id: str, after: tuple[str, ...]) -> Draft:
        subject, words = self.known(plan, spot, text.joint)
        supports = self._supports(text.support, spot)
        step = Step(
            id=step_id,
            line=plan.line.id,
            key=text.key,
            title=fill(text.title, words),
            do=fill(text.do, words),
            why=fill(text.why, words),
            axle=spot.axle,
            supports=supports,
            corner=spot.side,
            caution=fill(text.caution, words),
            gates=self._gates(text, step_id, spot, subject, words, supports),
            measures=tuple(
                self._measure(one, plan, spot, words) for one in text.measures if self.holds(one.when, subject, spot)
            ),
            fasteners=tuple(
                self._fastener(one, spot, words, supports)
                for one in text.fasteners
                if self.holds(one.when, subject, spot)
            ),
            one_time=tuple(
                OneTime(one.id, fill(one.what, words)) for one in text.one_time if self.holds(one.when, subject, spot)
            ),
            tools=tuple(fill(tool, words) for tool in text.tools),
            trial=self._trial(text, step_id, spot, subject, words),
            after=after,
            countersign=text.countersign,
            photo=fill(text.photo, words),
            reckoned=_lines(self._reckon(name, spot.axle) for name in text.reckon),
        )
        return Draft(step, text, plan, spot)

    def _supports(self, support: str | tuple[Support, ...], spot: Spot) -> tuple[Support, ...]:
        if not isinstance(support, str):
            return support
        if support in ("any", "bench"):
            return tuple(Support)
        if support in ("hanging", "ride_height"):
            return HANGING if support == "hanging" else RIDE_HEIGHT
        axles = (Axle.FRONT, Axle.REAR) if spot.axle is Axle.BOTH else (spot.axle,)
        grounds = [ground_of(self.book, facts_of(self.order.vehicle, axle)) for axle in axles]
        states = {
            state
            for ground in grounds
            if ground is not None
            for states, named in ((ground.place.work_support, "work"), (ground.place.joint_support, "joint"))
            if support in (named, "held")
            for state in states
        }
        return tuple(state for state in Support if state in states)

    def _measure(self, text: MeasureText, plan: Plan, spot: Spot, words: Mapping[str, str]) -> Measure:
        key = fill(text.id, words)
        window = self.order.windows.get(f"{spot.axle}/{plan.procedure.family}/{key}")
        low = parse_quantity(text.at_least, text.dimension).value if text.at_least else None
        high = parse_quantity(text.at_most, text.dimension).value if text.at_most else None
        measure = Measure(
            key, fill(text.ask, words), str(text.dimension), text.unit, text.must, text.required, low, high
        )
        if window is None:
            return replace(measure, window_text=_window_text(text), source=text.source)
        if window.low is None and window.high is None:
            # It judges nothing; what the procedure itself asks for still does.
            said = "; ".join(part for part in (_window_text(text), window.text) if part)
            sources = "; ".join(part for part in (text.source, window.source) if part)
            return replace(measure, window_text=said, source=sources)
        return replace(measure, low=window.low, high=window.high, window_text=window.text, source=window.source)

    def _fastener(
        self, text: FastenerText, spot: Spot, words: Mapping[str, str], supports: tuple[Support, ...]
    ) -> Fastener:
        key = fill(text.figure, words)
        figure = self.order.figures.get(f"{spot.axle}/{key}")
        load = supports if text.load == "step" else self._supports(text.load, spot)
        return Fastener(
            id=text.id,
            place=fill(text.place, words),
            tighten=text.tighten,
            load_states=load,
            figure_key=key,
            thread=figure.thread if figure else "",
            strength=figure.strength if figure else "",
            lubrication=figure.lubrication if figure else "",
            one_time=text.one_time or (figure is not None and figure.one_time),
            critical=text.critical or (figure is not None and figure.critical),
            castellated=text.castellated,
            # A snug pass has no figure: it only draws the parts together.
            figure=figure if text.tighten is Pass.FINAL else None,
        )

    def _trial(
        self, text: StepText, step_id: str, spot: Spot, subject: Subject, words: Mapping[str, str]
    ) -> Trial | None:
        if text.trial is None:
            return None
        choices = self._choices(text.trial.choices, spot, subject, words)
        return Trial(step_id, fill(text.trial.part, words), choices, fill(text.trial.against, words))

    def _choices(
        self, texts: tuple[ChoiceText, ...], spot: Spot, subject: Subject, words: Mapping[str, str]
    ) -> tuple[Choice, ...]:
        return tuple(
            Choice(
                text.key,
                fill(text.words, words),
                text.passes if isinstance(text.passes, bool) else self.holds(text.passes, subject, spot),
            )
            for text in texts
            if self.holds(text.when, subject, spot)
        )

    # Gates ----------------------------------------------------------------------------------------------------

    def _gates(
        self,
        text: StepText,
        step_id: str,
        spot: Spot,
        subject: Subject,
        words: Mapping[str, str],
        supports: tuple[Support, ...],
    ) -> tuple[str, ...]:
        ids = []
        for key in _with_brought(self.book, text.gates):
            gate = self.book.gates[key]
            if gate.supports and not set(gate.supports) & set(supports):
                continue
            if not self.holds(gate.when, subject, spot):
                continue
            gate_id = {"axle": f"{key}:{spot.axle}", "sheet": key, "step": f"{key}:{step_id}"}[gate.scope]
            self.asked.setdefault(gate_id, (key, spot, subject, words))
            ids.append(gate_id)
        return tuple(ids)

    def gates(self) -> tuple[Gate, ...]:
        return tuple(self._gate(gate_id, *ask) for gate_id, ask in self.asked.items())

    def _gate(self, gate_id: str, key: str, spot: Spot, subject: Subject, words: Mapping[str, str]) -> Gate:
        text = self.book.gates[key]
        known = subject.with_values(late_work="yes" if self.late_work else "no")
        axle = Axle.BOTH if text.scope == "sheet" else spot.axle
        kinds = {tool.kind for tool in self.order.tools}
        checks = [
            one for one in text.checks if self.holds(one.when, known, spot) and (one.tool is None or one.tool in kinds)
        ]
        names = [*text.shows, *(name for one in checks for name in _reckon_names(one))]
        return Gate(
            id=gate_id,
            key=key,
            title=text.title,
            signal=text.signal,
            symbol=text.symbol,
            intro=fill(text.intro, words),
            checks=tuple(self._check(one, axle, spot, known, words) for one in checks),
            stale_after_s=(self.order.shop.gate_minutes if text.stale == "shop" else text.stale) * 60,
            follows_support=text.follows_support,
            reckoned=_lines(self._reckon(name, axle) for name in names),
            supports=text.supports,
        )

    def _check(self, text: CheckText, axle: Axle, spot: Spot, subject: Subject, words: Mapping[str, str]) -> Check:
        low, high = self._limit(text, text.at_least, axle), self._limit(text, text.at_most, axle)
        choices, would_do = self._choices(text.choices, spot, subject, words), ""
        if text.tool is not None and text.bears is not None:
            tools = tuple(tool for tool in self.order.tools if tool.kind == text.tool)
            choices, would_do = tool_choices(tools, self._reckon(text.bears, axle).value)
        return Check(
            id=text.id,
            kind=text.kind,
            ask=fill(text.ask, words),
            otherwise=f"{fill(text.otherwise, words)} {would_do}".strip(),
            choices=choices,
            dimension=str(text.dimension or ""),
            unit=text.unit,
            at_least=low.value if low else None,
            at_most=high.value if high else None,
            halve_unless=text.halve_unless,
            limit_text=" and ".join(
                f"{word} {limit.text}" for word, limit in (("at least", low), ("at most", high)) if limit and limit.text
            ),
            needs_input=next((limit.needs for limit in (low, high) if limit and limit.needs), ""),
        )

    def _limit(self, text: CheckText, limit: str | Reckon | None, axle: Axle) -> Reckoning | None:
        if limit is None or text.dimension is None:
            return None
        if isinstance(limit, Reckon):
            return self._reckon(limit.reckon, axle)
        return Reckoning(text.dimension, parse_quantity(limit, text.dimension).value)

    def _reckon(self, name: str, axle: Axle) -> Reckoning:
        return reckon(name, self.order.vehicle, axle, self.order.shop)


def _packet(
    book: Book, order: Order, plans: tuple[Plan, ...], steps: tuple[Step, ...], gates: tuple[Gate, ...]
) -> Packet:
    vehicle = order.vehicle
    keys = distinct(plan.line.procedure for plan in plans)
    return Packet(
        v=PACKET_FORM,
        job=order.job,
        number=order.number,
        edition=order.edition,
        vehicle=_vehicle_words(vehicle),
        layouts=_layout_keys(vehicle),
        lines=tuple(plan.line for plan in plans),
        steps=_revised(steps, order.previous),
        gates=gates,
        wrenches=tuple(sorted(order.wrenches, key=lambda wrench: wrench.tag)),
        procedures={key: f"{book.procedures[key].version}:{book.digests.get(key, '')}" for key in keys},
        missing=_missing(steps, gates),
    )


def _position(plan: Plan) -> str:
    """Which joint a line is about: its own option where it has one, else the lower."""
    for name in ("joint_position", "arm"):
        if plan.options.get(name) in ("lower", "upper"):
            return plan.options[name]
    return "lower"


def _step_id(plan: Plan, text: StepText, spot: Spot) -> str:
    if text.per_side:
        place = spot.side if plan.procedure.scope == "axle" else f"{spot.axle}_{spot.side}"
        return f"{plan.line.id}.{text.key}.{place}"
    return f"{plan.line.id}.{text.key}.{spot.axle}" if text.per_axle else f"{plan.line.id}.{text.key}"


# --- Finishing ----------------------------------------------------------------------------------------------------


def _each_final_once(steps: tuple[Step, ...]) -> None:
    """Every joint is brought to its figure exactly once in its line, and never before it was drawn up.

    Raises: BookFault naming the joint.
    """
    finals: dict[tuple[str, str, str, str], int] = {}
    snugs: set[tuple[str, str, str, str]] = set()
    for step in steps:
        for fastener in step.fasteners:
            key = (step.line, str(step.axle), step.corner, fastener.figure_key)
            if fastener.tighten is Pass.FINAL:
                finals[key] = finals.get(key, 0) + 1
            else:
                snugs.add(key)
    for key in sorted(snugs - finals.keys()):
        raise BookFault(f"{key[3]} is drawn up in line {key[0]} and never brought to its figure")
    for key, times in finals.items():
        if times > 1:
            raise BookFault(f"{key[3]} is brought to its figure {times} times in line {key[0]}")


def _revised(steps: tuple[Step, ...], previous: Packet | None) -> tuple[Step, ...]:
    if previous is None:
        return steps
    before = previous.step_by_id
    revised = []
    for step in steps:
        old = before.get(step.id)
        same = old is not None and replace(old, revision=step.revision) == step
        revised.append(step if old is None else replace(step, revision=old.revision if same else old.revision + 1))
    return tuple(revised)


def _missing(steps: tuple[Step, ...], gates: tuple[Gate, ...]) -> tuple[str, ...]:
    """What the desk still has to give: `figure:front/…` for a torque, `input:…` (in words) for a sum at a gate."""
    figures = {
        f"figure:{step.axle}/{fastener.figure_key}"
        for step in steps
        for fastener in step.fasteners
        if fastener.tighten is Pass.FINAL and fastener.figure is None
    }
    inputs = {f"input:{check.needs_input}" for gate in gates for check in gate.checks if check.needs_input}
    return (*sorted(figures), *sorted(inputs))


def _vehicle_words(vehicle: Vehicle) -> dict[str, str]:
    return {
        "plate": vehicle.plate,
        "vin": vehicle.vin,
        "model": vehicle.model,
        "year": "" if vehicle.year is None else str(vehicle.year),
        "colour": vehicle.colour,
        "tyre_front": vehicle.tyre_front,
        "tyre_rear": vehicle.tyre_rear,
    }


def _layout_keys(vehicle: Vehicle) -> dict[str, str]:
    """`front`, `rear`: the layout; `front_place`, `rear_place`: what an air spring stands in for, where it is one."""
    keys = {"front": vehicle.front.layout, "rear": vehicle.rear.layout}
    places = {"front_place": vehicle.front.place, "rear_place": vehicle.rear.place}
    return {**keys, **{key: place for key, place in places.items() if place}}


def _once(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple({(p.code, p.field): p for p in problems}.values())


def _with_brought(book: Book, keys: Iterable[str]) -> tuple[str, ...]:
    """The gates a step names, each followed by those that come with it."""
    found: dict[str, None] = {}

    def bring(key: str) -> None:
        if key not in found:
            found[key] = None
            for brought in book.gates[key].brings:
                bring(brought)

    for key in keys:
        bring(key)
    return tuple(found)


def _reckon_names(check: CheckText) -> Iterator[str]:
    for limit in (check.at_least, check.at_most):
        if isinstance(limit, Reckon):
            yield limit.reckon


def _lines(reckonings: Iterable[Reckoning]) -> tuple[Reckoned, ...]:
    return tuple(dict.fromkeys(line for one in reckonings for line in one.lines))


def _window_text(text: MeasureText) -> str:
    parts = (("at least", text.at_least), ("at most", text.at_most))
    return " and ".join(f"{word} {limit}" for word, limit in parts if limit)
