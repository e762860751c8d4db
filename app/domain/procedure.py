"""Reads procedures, gates and layouts from a folder, and says of every mistake where it stands and what is wrong.

The text form is YAML with less in it than YAML allows: one document, no anchors or aliases, no tags, no tabs, no key
twice, only `true` and `false` as truth values (so that `yes` and `no` stay the answers they are). What the texts mean
together (a gate that exists, steps that do not wait for each other) is checked here too, so that compiling may trust
a `Book`.
"""

from __future__ import annotations

import dataclasses
import difflib
import re
import string
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, ClassVar, TypeAlias, TypeVar

import yaml
from pydantic import BaseModel, ValidationError

from app.domain.canonical import digest
from app.domain.conditions import Condition, atoms
from app.domain.packet import CheckKind
from app.domain.problems import OursToMend
from app.domain.procedure_schema import (
    CheckText,
    FactKind,
    GatesFile,
    GateText,
    Layout,
    LayoutsFile,
    MeasureText,
    Procedure,
    StepText,
)
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension
from app.trade.units import parse_quantity, unit_symbols

FILE_LIMIT = 512_000
DEPTH_LIMIT = 16

Path_: TypeAlias = tuple[str | int, ...]
Lines: TypeAlias = dict[Path_, int]
Read = TypeVar("Read", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake: the file as seen from the folder, the line it stands on, a sentence."""

    file: str
    line: int
    sentence: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.sentence}"


class BookProblem(OursToMend):
    """The files hold mistakes; every one that was found is listed, as `file:line: sentence`."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = tuple(sorted(set(mistakes), key=lambda m: (m.file, m.line, m.sentence)))
        super().__init__("\n".join(str(mistake) for mistake in self.mistakes))


@dataclass(frozen=True)
class Book:
    """Everything procedures are made of, read and checked.

    digests: for each procedure the SHA-256 of what its file says, so that a packet can name what it was compiled from.
    """

    procedures: Mapping[str, Procedure]
    gates: Mapping[str, GateText]
    layouts: Mapping[str, Layout]
    facts: Mapping[str, FactKind]
    digests: Mapping[str, str] = dataclasses.field(default_factory=dict)

    @property
    def opening(self) -> Procedure | None:
        return next((p for p in self.procedures.values() if p.family == "opening"), None)

    @property
    def closing(self) -> Procedure | None:
        return next((p for p in self.procedures.values() if p.family == "closing"), None)


def load_book(folder: Path) -> Book:
    """Read `layouts.yaml`, `gates.yaml` and `procedures/*.yaml` of a folder.

    Raises: BookProblem listing every mistake found.
    """
    names = ["layouts.yaml", "gates.yaml"]
    names += sorted(f"procedures/{path.name}" for path in (folder / "procedures").glob("*.yaml"))
    texts: dict[str, bytes] = {}
    mistakes: list[Mistake] = []
    for name in names:
        try:
            texts[name] = (folder / name).read_bytes()
        except OSError as error:
            mistakes.append(Mistake(name, 1, f"cannot be read: {error.strerror or error}"))
    if mistakes:
        raise BookProblem(mistakes)
    return read_book(texts)


def read_book(texts: Mapping[str, bytes]) -> Book:
    """Read a book from its files' bytes, by name (`procedures/strut.yaml`).

    Raises: BookProblem listing every mistake found.
    """
    mistakes: list[Mistake] = []
    marked: dict[str, Lines] = {}
    said: dict[str, str] = {}
    layouts = _file(texts, "layouts.yaml", LayoutsFile, mistakes, marked, said)
    gates = _file(texts, "gates.yaml", GatesFile, mistakes, marked, said)
    procedures: dict[str, Procedure] = {}
    for name in sorted(texts):
        if name.startswith("procedures/"):
            procedure = _file(texts, name, Procedure, mistakes, marked, said)
            if procedure is not None:
                procedures[name] = procedure
    if layouts is None or gates is None:
        raise BookProblem(mistakes)
    by_key = {procedure.procedure: procedure for procedure in procedures.values()}
    digests = {procedure.procedure: said[name] for name, procedure in procedures.items()}
    book = Book(by_key, gates.gates, layouts.layouts, layouts.facts, digests)
    mistakes += _check_layouts(book, marked["layouts.yaml"])
    mistakes += _check_gates(book, marked["gates.yaml"])
    for name, procedure in procedures.items():
        mistakes += _ProcedureCheck(book, name, procedure, marked[name]).mistakes()
    if mistakes:
        raise BookProblem(mistakes)
    return book


def _file(
    texts: Mapping[str, bytes],
    name: str,
    shape: type[Read],
    mistakes: list[Mistake],
    marked: dict[str, Lines],
    said: dict[str, str],
) -> Read | None:
    if name not in texts:
        mistakes.append(Mistake(name, 1, "this file is missing"))
        return None
    try:
        data, lines = read_marked(texts[name])
    except _NotRead as error:
        mistakes.append(Mistake(name, error.line, error.sentence))
        return None
    marked[name], said[name] = lines, digest(data)
    try:
        return shape.model_validate(data)
    except ValidationError as error:
        mistakes += _all_said(name, lines, error, shape)
        return None


# --- YAML with its lines ------------------------------------------------------------------------------------------


class _NotRead(Exception):
    def __init__(self, line: int, sentence: str) -> None:
        super().__init__(sentence)
        self.line = line
        self.sentence = sentence


# LibYAML's parser when it is there: the same events, ten times sooner.
_Base: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class _Loader(_Base):  # type: ignore[misc]
    """A safe loader that knows text, whole numbers, `true`, `false` and nothing; everything else stays text."""

    yaml_implicit_resolvers: ClassVar[dict[str, list[tuple[str, re.Pattern[str]]]]] = {}


_Loader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile(r"^(?:true|false)$"), list("tf"))
_Loader.add_implicit_resolver("tag:yaml.org,2002:int", re.compile(r"^-?(?:0|[1-9][0-9]*)$"), list("-0123456789"))
_Loader.add_implicit_resolver("tag:yaml.org,2002:null", re.compile(r"^(?:~|null|)$"), ["~", "n", ""])


def read_marked(raw: bytes) -> tuple[Any, Lines]:
    """Give the data of one file and the line (from 1) at which each part of it begins.

    Raises: _NotRead with the line and a sentence.
    """
    text = _text_of(raw)
    _refuse_by_events(text)
    try:
        loader = _Loader(text)
        try:
            node = loader.get_single_node()
        finally:
            loader.dispose()
    except yaml.YAMLError as error:
        raise _not_yaml(error) from error
    if node is None:
        raise _NotRead(1, "this file is empty")
    lines: Lines = {}
    return _build(node, (), lines), lines


def _text_of(raw: bytes) -> str:
    if len(raw) > FILE_LIMIT:
        raise _NotRead(1, f"this file is larger than {FILE_LIMIT // 1000} kB; that is not a procedure")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise _NotRead(line, "this file is not text in UTF-8; save it as UTF-8") from error
    for number, line_text in enumerate(text.split("\n"), 1):
        if "\t" in line_text:
            raise _NotRead(number, "a tab character stands here; use spaces, two for each level")
        strange = next((c for c in line_text if ord(c) < 32 and c != "\r"), None)
        if strange is not None:
            raise _NotRead(number, f"a control character (U+{ord(strange):04X}) stands here; this is not a text file")
    return text


def _refuse_by_events(text: str) -> None:
    """Look at the stream before anything is built: aliases multiply, and deep nesting exhausts whoever follows it."""
    depth, documents = 0, 0
    try:
        for event in yaml.parse(text, Loader=_Loader):
            line = event.start_mark.line + 1 if event.start_mark else 1
            if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
                raise _NotRead(line, "anchors (&) and aliases (*) are not read here; write the text out")
            if isinstance(event, yaml.NodeEvent) and getattr(event, "tag", None) not in (None, "!"):
                raise _NotRead(line, f"the tag {getattr(event, 'tag', '')} is not read here; write plain text")
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise _NotRead(line, "a second document begins here (---); one file holds one")
            depth += isinstance(event, yaml.CollectionStartEvent)
            depth -= isinstance(event, yaml.CollectionEndEvent)
            if depth > DEPTH_LIMIT:
                raise _NotRead(line, _TOO_DEEP)
    except yaml.YAMLError as error:
        raise _not_yaml(error) from error


_TOO_DEEP = f"this is nested more than {DEPTH_LIMIT} deep; no procedure needs that"


def _not_yaml(error: yaml.YAMLError) -> _NotRead:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    line = mark.line + 1 if mark is not None else 1
    problem = str(getattr(error, "problem", None) or error).split("\n")[0]
    if "nesting depth" in problem:  # LibYAML's parser gives up by itself, further down than we do.
        return _NotRead(line, _TOO_DEEP)
    return _NotRead(line, f"this is not YAML: {problem}; look at the quotes, colons and spaces of this line")


def _build(node: yaml.Node, path: Path_, lines: Lines) -> Any:
    lines[path] = node.start_mark.line + 1
    if isinstance(node, yaml.MappingNode):
        return _build_mapping(node, path, lines)
    if isinstance(node, yaml.SequenceNode):
        return [_build(item, (*path, index), lines) for index, item in enumerate(node.value)]
    kind = node.tag.rsplit(":", 1)[-1]
    text = str(node.value)
    if kind == "bool":
        return text == "true"
    if kind == "int":
        if len(text) > 18:
            raise _NotRead(node.start_mark.line + 1, f"the number {text[:12]}… is too long")
        return int(text)
    return None if kind == "null" else text


def _build_mapping(node: yaml.MappingNode, path: Path_, lines: Lines) -> dict[str, Any]:
    built: dict[str, Any] = {}
    for key_node, value_node in node.value:
        line = key_node.start_mark.line + 1
        if not isinstance(key_node, yaml.ScalarNode) or not key_node.value:
            raise _NotRead(line, "a key has to be a word")
        key = str(key_node.value)
        if key in built:
            raise _NotRead(line, f"`{key}` stands here a second time; the first is on line {lines[(*path, key)]}")
        built[key] = _build(value_node, (*path, key), lines)
        lines[(*path, key)] = line
    return built


def _line(lines: Lines, path: Path_) -> int:
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


# --- What pydantic found, in words --------------------------------------------------------------------------------

_WANTED = {
    "string_type": "text; put it in quotes if it looks like something else",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "int_type": "a whole number",
    "tuple_type": "a list",
    "list_type": "a list",
    "dict_type": "a block of keys",
    "model_type": "a block of keys",
    "model_attributes_type": "a block of keys",
    "mapping_type": "a block of keys",
}


def _all_said(name: str, lines: Lines, error: ValidationError, shape: type[BaseModel]) -> list[Mistake]:
    """Each mistake once. Where a thing may be written in two ways, both ways complain: the nearer one is told."""
    found = [(_where(lines, tuple(problem["loc"])), problem) for problem in error.errors()]
    deepest = [at for at, _ in found]
    said: dict[Path_, list[Any]] = {}
    for at, problem in found:
        inner = any(other[: len(at)] == at and len(other) > len(at) for other in deepest)
        if not (inner and problem["type"] in _WANTED):
            said.setdefault(at, []).append(problem)
    return [mistake for at, problems in said.items() for mistake in _said(name, lines, at, problems, shape)]


def _said(name: str, lines: Lines, at: Path_, problems: list[Any], shape: type[BaseModel]) -> Iterator[Mistake]:
    of_type = [problem for problem in problems if problem["type"] in _WANTED]
    exact = [problem for problem in problems if problem["type"] not in _WANTED]
    if of_type and not all(problem["type"] in ("literal_error", "enum") for problem in exact):
        of_type = []
    choices = [str(problem["ctx"]["expected"]) for problem in exact if problem["type"] in ("literal_error", "enum")]
    if of_type or len(choices) > 1:
        types = sorted({_WANTED[problem["type"]] for problem in of_type}, key=len)
        wanted = " or ".join((*choices, *types))
        sentence = f"{_label(at) or 'this file'} is {_named(problems[0]['input'])}; it has to be {wanted}"
        yield Mistake(name, _line(lines, at), sentence)
        return
    for problem in exact:
        yield Mistake(name, _line(lines, at), _sentence(problem, at, shape))


def _sentence(problem: Any, at: Path_, shape: type[BaseModel]) -> str:
    kind, label, last = str(problem["type"]), _label(at), problem["loc"][-1]
    if kind == "missing":
        return f"{label or 'this file'} needs `{last}`"
    if kind == "extra_forbidden":
        return f"unknown key `{last}`{_nearest(str(last), shape)}"
    if kind in ("literal_error", "enum"):
        return f"{label} is {_named(problem['input'])}; it has to be {problem['ctx']['expected']}"
    if kind == "value_error":
        return f"{label}: {problem['ctx']['error']}"
    if kind == "string_pattern_mismatch":
        return f"{label} is {_named(problem['input'])}; use small letters, digits and _ only, beginning with a letter"
    if kind in ("string_too_short", "too_short"):
        return f"{label} is empty"
    return f"{label}: {problem['msg'][:1].lower()}{problem['msg'][1:]}"


def _where(lines: Lines, path: Path_) -> Path_:
    """The part of a path that stands in the file. What else is in it names pydantic's inner choices."""
    at: Path_ = ()
    for part in path:
        if (*at, part) in lines:
            at = (*at, part)
    return at


def _label(path: Path_) -> str:
    words = [str(part) for part in path if not isinstance(part, int)]
    number = next((f" {part + 1}" for part in reversed(path) if isinstance(part, int)), "")
    if not words:
        return ""
    return f"`{words[-1]}`" if not number or not isinstance(path[-1], int) else f"entry{number} of `{words[-1]}`"


def _named(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return "a block of keys"
    if isinstance(value, (list, tuple)):
        return "a list"
    text = str(value)
    return f"`{text[:40]}{'…' if len(text) > 40 else ''}`"


def _nearest(key: str, shape: type[BaseModel]) -> str:
    if key in _known_keys(shape):
        return "; it is known elsewhere, but not here"
    near = difflib.get_close_matches(key, sorted(_known_keys(shape)), n=1)
    return f"; is it `{near[0]}`?" if near else ""


def _known_keys(shape: type[BaseModel]) -> set[str]:
    return {field for model in (shape, *_models_in(shape)) for field in model.model_fields}


def _models_in(shape: type[BaseModel]) -> Iterator[type[BaseModel]]:
    for field in shape.model_fields.values():
        for model in _models_of(field.annotation):
            yield model
            yield from _models_in(model)


def _models_of(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from _models_of(inner)


# --- What the texts mean together ---------------------------------------------------------------------------------

# Keys a condition may ask for besides facts and options, with their values.
DERIVED: Mapping[str, tuple[str, ...]] = {
    "spring_on": ("lower_arm", "upper_arm", "strut", "axle", "beam", "link"),
    "spring_kind": ("coil", "torsion_bar", "leaf", "air"),
    "load_joint": ("lower", "upper", "none", "axle", "link_outer"),
    "kind": ("arms", "strut", "solid", "beam", "multilink", "air"),
    "joints": ("lower", "upper"),
    "joint_is": ("load", "follower"),
    "stands_under": ("stands_frame", "stands_arm", "stands_axle"),
    "high_voltage": ("yes", "no"),
    "axle": ("front", "rear"),
    "late_work": ("yes", "no"),
    "inspected": ("yes", "no"),
}
# Placeholders every text may use; a procedure's own options add `{option}` and `{option_word}`.
PLACEHOLDERS = frozenset(
    {
        "axle",
        "axle_word",
        "corner_word",
        "side",
        "layout_name",
        "joint_stand_words",
        "work_stand_words",
        "arm_stand_words",
        "spring_release_words",
        "joint_is_words",
        "load_joint_word",
        "follower_joint_word",
        "retorque_km",
    }
)


def placeholders(text: str) -> tuple[str, ...]:
    """The names in braces.

    Raises: ValueError for a brace that is not closed, or for anything but a plain name in braces.
    """
    found = []
    for _, name, spec, conversion in string.Formatter().parse(text):
        if name is None:
            continue
        if not re.fullmatch(r"[a-z_]+", name) or spec or conversion:
            raise ValueError("braces hold a placeholder's name and nothing else")
        found.append(name)
    return tuple(found)


@dataclass(frozen=True)
class _Naming:
    """Where mistakes of one file go, and what its conditions and texts may name."""

    book: Book
    file: str
    lines: Lines
    options: Mapping[str, tuple[str, ...]]

    def mistake(self, path: Path_, sentence: str) -> Mistake:
        return Mistake(self.file, _line(self.lines, path), sentence)

    def condition(self, condition: Condition | None, path: Path_) -> Iterator[Mistake]:
        for atom in atoms(condition):
            values = self._values(atom.key)
            if values is None:
                near = difflib.get_close_matches(atom.key, sorted(self._keys()), n=1)
                hint = f"; is it `{near[0]}`?" if near else ""
                yield self.mistake(path, f"unknown fact `{atom.key}` in a condition{hint}")
                continue
            for value in atom.values:
                if value not in values:
                    allowed = ", ".join(values)
                    yield self.mistake(path, f"`{atom.key}` is never `{value}`; it is one of {allowed}")

    def _keys(self) -> set[str]:
        return {"layout", *DERIVED, *self.book.facts, *self.options}

    def _values(self, key: str) -> tuple[str, ...] | None:
        if key in self.options:
            return self.options[key]
        if key in self.book.facts:
            return tuple(self.book.facts[key].choices)
        if key == "layout":
            return tuple(self.book.layouts)
        return DERIVED.get(key)

    def text(self, text: str, path: Path_, only: frozenset[str] | None = None) -> Iterator[Mistake]:
        allowed = only if only is not None else PLACEHOLDERS | self.option_words
        try:
            used = placeholders(text)
        except ValueError as error:
            yield self.mistake(path, f"the braces in this text cannot be read: {error}")
            return
        for name in used:
            if name not in allowed:
                near = difflib.get_close_matches(name, sorted(allowed), n=1)
                hint = f"; is it `{{{near[0]}}}`?" if near else ""
                yield self.mistake(path, f"unknown placeholder `{{{name}}}`{hint}")

    @property
    def option_words(self) -> frozenset[str]:
        return frozenset(word for option in self.options for word in (option, f"{option}_word"))

    def unit(self, unit: str, dimension: Dimension, path: Path_) -> Iterator[Mistake]:
        if unit not in unit_symbols(dimension):
            known = ", ".join(unit_symbols(dimension))
            yield self.mistake(path, f"`{unit}` is no unit of {dimension}; use one of {known}")

    def amount(self, text: str, dimension: Dimension, path: Path_) -> Iterator[Mistake]:
        try:
            parse_quantity(text, dimension)
        except TradeProblem as error:
            yield self.mistake(path, f"`{text}` cannot be read as a {dimension}: {error.message}")


def _check_layouts(book: Book, lines: Lines) -> Iterator[Mistake]:
    naming = _Naming(book, "layouts.yaml", lines, {})
    for key, layout in book.layouts.items():
        path: Path_ = ("layouts", key)
        if layout.spring_on == "as_place":
            continue
        for field in ("joint_support", "work_support", "joint_stand_words", "work_stand_words", "arm_stand_words"):
            if not getattr(layout, field):
                yield naming.mistake(path, f"the layout `{key}` needs `{field}`")
    for key, fact in book.facts.items():
        yield from naming.condition(fact.only, ("facts", key, "only"))
        if fact.upper_of is not None and fact.upper_of not in book.facts:
            yield naming.mistake(("facts", key, "upper_of"), f"unknown fact `{fact.upper_of}`")
        if key in DERIVED or key == "layout":
            yield naming.mistake(("facts", key), f"`{key}` is worked out from the layout; call this fact otherwise")


def _check_gates(book: Book, lines: Lines) -> Iterator[Mistake]:
    naming = _Naming(book, "gates.yaml", lines, {})
    sheet_wide = frozenset({"retorque_km"})
    for key, gate in book.gates.items():
        path: Path_ = ("gates", key)
        only = sheet_wide if gate.scope == "sheet" else None
        yield from naming.text(gate.intro, (*path, "intro"), only)
        yield from naming.condition(gate.when, (*path, "when"))
        for brought in gate.brings:
            if brought not in book.gates:
                yield naming.mistake((*path, "brings"), f"unknown gate `{brought}`")
        yield from _twice(naming, (check.id for check in gate.checks), (*path, "checks"), "check")
        for index, check in enumerate(gate.checks):
            yield from _check_check(naming, gate, check, (*path, "checks", index), only)


def _check_check(
    naming: _Naming, gate: GateText, check: CheckText, path: Path_, only: frozenset[str] | None
) -> Iterator[Mistake]:
    yield from naming.condition(check.when, (*path, "when"))
    yield from naming.text(check.ask, (*path, "ask"), only)
    yield from naming.text(check.otherwise, (*path, "otherwise"), only)
    for index, choice in enumerate(check.choices):
        at = (*path, "choices", index)
        yield from naming.text(choice.words, at, only)
        yield from naming.condition(choice.when, at)
        if not isinstance(choice.passes, bool):
            yield from naming.condition(choice.passes, at)
    yield from _twice(naming, (choice.key for choice in check.choices), (*path, "choices"), "choice")
    if check.tool is not None or check.bears is not None:
        if check.kind is not CheckKind.SEEN or check.choices or check.tool is None or check.bears is None:
            yield naming.mistake(path, f"the check `{check.id}` asks for a tool: kind seen, `bears`, and no choices")
    elif check.kind is CheckKind.SEEN:
        never = all(choice.passes is False for choice in check.choices)
        always = all(choice.passes is True for choice in check.choices)
        if never or always:
            what = "can pass" if never else "can fail"
            yield naming.mistake(path, f"no choice of the check `{check.id}` {what}; then it asks nothing")
    elif check.choices:
        yield naming.mistake((*path, "choices"), f"only a check of kind seen has choices; `{check.id}` is {check.kind}")
    if check.kind is CheckKind.VALUE:
        yield from _check_value(naming, gate, check, path)
    elif check.dimension or check.unit or check.at_least or check.at_most:
        yield naming.mistake(path, f"only a check of kind value has a number; `{check.id}` is {check.kind}")


def _check_value(naming: _Naming, gate: GateText, check: CheckText, path: Path_) -> Iterator[Mistake]:
    if check.dimension is None:
        yield naming.mistake(path, f"the check `{check.id}` asks for a value and needs `dimension` and `unit`")
        return
    yield from naming.unit(check.unit, check.dimension, (*path, "unit"))
    if check.at_least is None and check.at_most is None:
        yield naming.mistake(path, f"the check `{check.id}` needs `at_least` or `at_most`; else it cannot fail")
    for field in ("at_least", "at_most"):
        limit = getattr(check, field)
        if isinstance(limit, str):
            yield from naming.amount(limit, check.dimension, (*path, field))
    if check.halve_unless is not None:
        other = next((one for one in gate.checks if one.id == check.halve_unless[0]), None)
        if other is None or all(choice.key != check.halve_unless[1] for choice in other.choices):
            yield naming.mistake((*path, "halve_unless"), "this names a check or choice that this gate does not have")


def _twice(naming: _Naming, keys: Iterable[str], path: Path_, what: str) -> Iterator[Mistake]:
    seen: set[str] = set()
    for index, key in enumerate(keys):
        if key in seen:
            yield naming.mistake((*path, index), f"the {what} `{key}` stands here a second time")
        seen.add(key)


@dataclass(frozen=True)
class _ProcedureCheck:
    book: Book
    file: str
    procedure: Procedure
    lines: Lines

    @cached_property
    def naming(self) -> _Naming:
        options = {name: tuple(option.choices) for name, option in self.procedure.options.items()}
        return _Naming(self.book, self.file, self.lines, options)

    def mistakes(self) -> Iterator[Mistake]:
        p, naming = self.procedure, self.naming
        if self.file.rsplit("/", 1)[-1] != f"{p.procedure}.yaml":
            yield naming.mistake(("procedure",), f"the file of `{p.procedure}` has to be called {p.procedure}.yaml")
        yield from naming.text(p.title, ("title",))
        for name, option in p.options.items():
            yield from naming.condition(option.when, ("options", name, "when"))
            if name in self.book.facts or name in DERIVED or name in PLACEHOLDERS or name == "layout":
                yield naming.mistake(("options", name), f"`{name}` is a fact or layout key already; name it otherwise")
        for index, fact in enumerate(p.needs_facts):
            if fact not in self.book.facts:
                yield naming.mistake(("needs_facts", index), f"unknown fact `{fact}`")
        for index, refusal in enumerate(p.refuse):
            yield from naming.condition(refusal.when, ("refuse", index, "when"))
            yield from naming.text(refusal.says, ("refuse", index, "says"))
        yield from _twice(naming, (step.key for step in p.steps), ("steps",), "step")
        for index, step in enumerate(p.steps):
            yield from self._step(step, ("steps", index))
        yield from self._order()

    def _step(self, step: StepText, path: Path_) -> Iterator[Mistake]:
        naming = self.naming
        yield from naming.condition(step.when, (*path, "when"))
        whole = self.procedure.scope == "vehicle" and not (step.per_side or step.per_axle)
        for atom in atoms(step.when):
            if atom.key == "late_work":
                yield naming.mistake((*path, "when"), "only a gate may ask for `late_work`; here it is not known yet")
            if atom.key in ("joint_is", "axle") and whole:
                yield naming.mistake((*path, "when"), f"`{atom.key}` is not known of a whole vehicle; use `per_axle`")
        for field in ("title", "do", "why", "caution", "photo"):
            yield from naming.text(getattr(step, field), (*path, field))
        for index, tool in enumerate(step.tools):
            yield from naming.text(tool, (*path, "tools", index))
        for index, gate in enumerate(step.gates):
            if gate not in self.book.gates:
                near = difflib.get_close_matches(gate, sorted(self.book.gates), n=1)
                hint = f"; is it `{near[0]}`?" if near else ""
                yield naming.mistake((*path, "gates", index), f"unknown gate `{gate}`{hint}")
        if step.per_side and self.procedure.scope == "corner":
            yield naming.mistake((*path, "per_side"), "a line on one corner has one side; leave `per_side` out")
        if step.per_axle and self.procedure.scope != "vehicle":
            yield naming.mistake((*path, "per_axle"), "only a line on the whole vehicle has steps for each axle")
        yield from self._things(step, path)
        yield from self._trial(step, path)

    def _things(self, step: StepText, path: Path_) -> Iterator[Mistake]:
        naming = self.naming
        for index, measure in enumerate(step.measures):
            yield from self._measure(measure, (*path, "measures", index))
        for index, fastener in enumerate(step.fasteners):
            at = (*path, "fasteners", index)
            yield from naming.text(fastener.place, (*at, "place"))
            yield from naming.text(fastener.figure, (*at, "figure"), self._figure_words)
            yield from naming.condition(fastener.when, (*at, "when"))
        for index, part in enumerate(step.one_time):
            yield from naming.text(part.what, (*path, "one_time", index, "what"))
            yield from naming.condition(part.when, (*path, "one_time", index, "when"))
        yield from _twice(naming, (m.id for m in step.measures), (*path, "measures"), "measure")
        yield from _twice(naming, (f.id for f in step.fasteners), (*path, "fasteners"), "fastener")
        yield from _twice(naming, (o.id for o in step.one_time), (*path, "one_time"), "one-time part")

    @property
    def _figure_words(self) -> frozenset[str]:
        return frozenset(self.procedure.options)

    def _measure(self, measure: MeasureText, path: Path_) -> Iterator[Mistake]:
        naming = self.naming
        yield from naming.text(measure.ask, (*path, "ask"))
        yield from naming.text(measure.id, (*path, "id"), frozenset({"axle", "side"}) | self._figure_words)
        yield from naming.condition(measure.when, (*path, "when"))
        yield from naming.unit(measure.unit, measure.dimension, (*path, "unit"))
        for field in ("at_least", "at_most"):
            text = getattr(measure, field)
            if text is not None:
                yield from naming.amount(text, measure.dimension, (*path, field))
                if not measure.source:
                    yield naming.mistake((*path, field), f"`{measure.id}` has a limit and needs its `source`")

    def _trial(self, step: StepText, path: Path_) -> Iterator[Mistake]:
        if step.trial is None:
            return
        naming, at = self.naming, (*path, "trial")
        yield from naming.text(step.trial.part, (*at, "part"))
        yield from naming.text(step.trial.against, (*at, "against"))
        yield from _twice(naming, (c.key for c in step.trial.choices), (*at, "choices"), "choice")
        for index, choice in enumerate(step.trial.choices):
            yield from naming.text(choice.words, (*at, "choices", index))
            yield from naming.condition(choice.when, (*at, "choices", index))
            if not isinstance(choice.passes, bool):
                yield from naming.condition(choice.passes, (*at, "choices", index))

    def _order(self) -> Iterator[Mistake]:
        """`after` names steps of this procedure, and no step waits for itself round a corner."""
        steps = self.procedure.steps
        keys = [step.key for step in steps]
        waits: dict[str, tuple[str, ...]] = {}
        for index, step in enumerate(steps):
            default = (keys[index - 1],) if index else ()
            waits[step.key] = default if step.after is None else step.after
            for one in step.after or ():
                if one not in keys:
                    near = difflib.get_close_matches(one, keys, n=1)
                    hint = f"; is it `{near[0]}`?" if near else ""
                    yield self.naming.mistake(("steps", index, "after"), f"`after` names no step here: `{one}`{hint}")
        circle = _circle(waits)
        if circle:
            index = keys.index(circle[0])
            round_ = " → ".join((*circle, circle[0]))
            yield self.naming.mistake(("steps", index, "after"), f"these steps wait for each other: {round_}")


def _circle(waits: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """A ring of steps that wait for each other, or nothing."""
    free = dict(waits)
    while True:
        ready = [key for key, after in free.items() if not any(one in free for one in after)]
        if not ready:
            break
        for key in ready:
            del free[key]
    if not free:
        return ()
    walk = [next(iter(free))]
    while True:
        following = next(one for one in free[walk[-1]] if one in free)
        if following in walk:
            return tuple(reversed(walk[walk.index(following) :]))
        walk.append(following)
