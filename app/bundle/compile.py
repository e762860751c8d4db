"""Compiles the tablet's templates to JavaScript. The one definition of the part of Jinja2 that both ends render alike.

Jinja2's own lexer and parser read the template, so whitespace and syntax are theirs. Each node of the tree that is
known here becomes JavaScript that does what Jinja2 does with it; every other node is a breach with its file and line.

The subset: text, `{{ }}`, `if`/`elif`/`else`, `for`/`else` over a list with `loop.index` and its like, `include` of one
template by its name, `with`, and `set` at the top of a template before the name is read. Expressions are names,
`a.b`, constants (text, whole number, true, false), `and`, `or`, `not`, one `==`, `!=`, `in` or `not in`, and `|length`.
What is missing fails when it is used and not before, as with `StrictUndefined`.

What is left out is left out because the two languages differ in it, or because a view model says it better as text.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from jinja2 import Environment, TemplateNotFound, TemplateSyntaxError, nodes

from app.domain.canonical import LARGEST_WHOLE
from app.domain.problems import OursToMend

# What a text, a list, a number or an object has of its own in Python: there `one.count` is the method, not the key.
OF_THEIR_OWN = frozenset(name for kind in (dict, list, str, int, float) for name in dir(kind))
# Names that Jinja2 gives a meaning of its own.
JINJAS_OWN = frozenset({"loop", "self", "super", "caller", "varargs", "kwargs"})

COMPARISONS = {"eq": "equal({}, {})", "ne": "!equal({}, {})", "in": "within({}, {})", "notin": "!within({}, {})"}
LOOP = {
    "index": "(i{0} + 1)",
    "index0": "i{0}",
    "revindex": "(n{0}.length - i{0})",
    "revindex0": "(n{0}.length - i{0} - 1)",
    "first": "(i{0} === 0)",
    "last": "(i{0} === n{0}.length - 1)",
    "length": "n{0}.length",
}
# Before a piece of a template's own text, so that it can be told from the names in the code.
MARK = "/*t*/"
_PIECE = re.compile(re.escape(MARK) + r'("(?:[^"\\]|\\.)*")')
RUNTIME = ("both", "child", "either", "equal", "get", "items", "length", "look", "root", "show", "truth", "within")


@dataclass(frozen=True, slots=True, order=True)
class Breach:
    """Something in a template that the tablet cannot render alike: where, and what about it."""

    template: str
    line: int
    words: str

    def __str__(self) -> str:
        return f"templates/{self.template}:{self.line}: {self.words}"


class NotInSubset(OursToMend):
    """Templates hold what the tablet cannot render; `breaches` names each place."""

    def __init__(self, breaches: Iterable[Breach]) -> None:
        self.breaches = tuple(sorted(set(breaches)))
        super().__init__("\n".join(str(one) for one in self.breaches))


@dataclass(frozen=True, slots=True)
class Compiled:
    """One template: its function in JavaScript, the templates it includes with the line, and what is wrong in it."""

    name: str
    code: str
    includes: tuple[tuple[str, int], ...]
    breaches: tuple[Breach, ...]


def compile_templates(environment: Environment, names: Iterable[str]) -> str:
    """Compile templates, and all they include, to one ES module that exports `render(name, context)`.

    Raises: NotInSubset with every breach in any of them.
    """
    done, wrong = compile_all(environment, names)
    if wrong:
        raise NotInSubset(wrong)
    return module_of(done)


def module_of(done: Mapping[str, Compiled]) -> str:
    """The ES module of compiled templates."""
    table = "".join(f"  {_text(name)}: {function_name(name)},\n" for name in sorted(done))
    return "\n".join(
        [
            "// @ts-nocheck",
            "// Made from templates/ by app/bundle/compile.py, which says what it means. Not to be changed by hand.",
            f'import {{ {", ".join(RUNTIME)} }} from "./runtime.js";',
            "",
            *(done[name].code for name in sorted(done)),
            f"/** @type {{Record<string, (s: object) => string>}} */\nexport const templates = {{\n{table}}};",
            "",
            "/** @param {string} name @param {object} context */",
            "export const render = (name, context) => templates[name](root(context));",
            "",
        ]
    )


def text_apart(*modules: str) -> tuple[str, list[list[str]]]:
    """One module of the same templates in several languages, and the text of each: markup is data, and not script.

    The module then has `useText(pieces)`, to be called with a language's text before anything is rendered in it.
    Raises: NotInSubset where languages differ in more than text, as when one has two blanks in another order.
    """
    codes = {_PIECE.sub("T", module) for module in modules}
    if len(codes) > 1:
        raise NotInSubset(_apart(modules))
    places: dict[tuple[str, ...], int] = {}
    said = zip(*(_PIECE.findall(module) for module in modules), strict=True)
    numbers = iter([places.setdefault(one, len(places)) for one in said])
    code = _PIECE.sub(lambda _: f"T[{next(numbers)}]", modules[0])
    head = "let T = [];\nexport const useText = (pieces) => {\n  T = pieces;\n};\n"
    return f"{code}\n{head}", [[json.loads(one[at]) for one in places] for at in range(len(modules))]


def _apart(modules: Sequence[str]) -> Iterator[Breach]:
    """The functions in which modules differ by more than text."""
    for functions in zip(*(_PIECE.sub("T", module).split("\nfunction ") for module in modules), strict=True):
        if len(set(functions)) > 1:
            name = functions[0].partition("(")[0].replace("$", "/")
            yield Breach(f"{name}.html", 1, "has its blanks in another order in one of the languages")


def compile_all(environment: Environment, names: Iterable[str]) -> tuple[dict[str, Compiled], list[Breach]]:
    """Compile templates and what they include, however deep; with every breach found on the way."""
    done: dict[str, Compiled] = {}
    wrong: list[Breach] = []
    waiting = [(name, Breach(name, 1, "there is no such template")) for name in sorted(names)]
    while waiting:
        name, otherwise = waiting.pop()
        if name in done:
            continue
        try:
            source = _source(environment, name)
        except TemplateNotFound:
            wrong.append(otherwise)
            continue
        done[name] = compile_one(environment, name, source)
        wrong += done[name].breaches
        waiting += [(one, Breach(name, line, f"includes {one}, which is not there")) for one, line in
                    done[name].includes]  # fmt: skip
    return done, wrong


def _source(environment: Environment, name: str) -> str:
    if environment.loader is None:
        raise TemplateNotFound(name)
    return environment.loader.get_source(environment, name)[0]


def compile_one(environment: Environment, name: str, source: str) -> Compiled:
    """Compile one template. A breach leaves a hole in the code, so that all of them are found at once."""
    try:
        tree = environment.parse(source, name)
    except TemplateSyntaxError as error:
        return Compiled(name, "", (), (Breach(name, error.lineno, error.message or "cannot be read"),))
    writer = _Writer(name, environment)
    code = writer.function(tree)
    return Compiled(name, code, tuple(writer.includes), tuple(sorted(set(writer.breaches))))


def function_name(template: str) -> str:
    """The JavaScript name of a template's function; it shows in stack traces. Different names stay different."""
    plain = template.removesuffix(".html").replace("/", "$")
    return re.sub(r"[^A-Za-z0-9_$]", lambda found: f"${ord(found[0]):x}$", plain)


def _text(value: str) -> str:
    """A text as a JavaScript literal. The two line separators end a line in older engines' literals."""
    return json.dumps(value, ensure_ascii=False).replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


@dataclass(slots=True)
class _Writer:
    """Writes one template's function. `scope` is the JavaScript variable that holds the names at this place.

    Variables are numbered by how deep they stand, not one by one: what repeats compresses (1 kB of our 13).
    """

    name: str
    environment: Environment
    lines: list[str] = field(default_factory=list)
    pieces: list[str] = field(default_factory=list)
    includes: list[tuple[str, int]] = field(default_factory=list)
    breaches: list[Breach] = field(default_factory=list)
    scope: str = "s"
    level: int = 0
    depth: int = 0
    loops: list[int] = field(default_factory=list)
    met: set[str] = field(default_factory=set)

    def function(self, tree: nodes.Template) -> str:
        escapes = self.environment.autoescape
        if not (escapes(self.name) if callable(escapes) else escapes):
            self.breach(tree, "is not escaped: only .html and .svg templates are for the tablet")
        self.body(tree.body)
        sets = any(isinstance(one, nodes.Assign) for one in tree.body)
        head = ["const s = child(outer);"] if sets else []
        inner = "\n".join(f"  {line}" for line in [*head, 'let o = "";', *self.lines, "return o;"])
        return f"function {function_name(self.name)}({'outer' if sets else 's'}) {{\n{inner}\n}}\n"

    def breach(self, node: nodes.Node, words: str) -> str:
        """Note a breach; what is returned stands in the code that will not be used."""
        self.breaches.append(Breach(self.name, node.lineno, words))
        return "undefined"

    # --- Statements -----------------------------------------------------------------------------------------------

    def body(self, statements: Sequence[nodes.Node]) -> None:
        for node in statements:
            self.statement(node)
        self.flush()

    def nested(self, statements: Sequence[nodes.Node], scope: str | None = None) -> None:
        """Statements of a block, indented, with their own scope when one is given."""
        before, self.scope = self.scope, scope or self.scope
        start, self.depth = len(self.lines), self.depth + 1
        self.body(statements)
        self.lines[start:] = [f"  {line}" for line in self.lines[start:]]
        self.scope, self.depth = before, self.depth - 1

    def line(self, code: str) -> None:
        self.flush()
        self.lines.append(code)

    def flush(self) -> None:
        """Write what has gathered to be put out, as one addition."""
        pieces, self.pieces = self.pieces, []
        if pieces:
            self.lines.append(f"o += {' + '.join(pieces)};")

    def statement(self, node: nodes.Node) -> None:
        match node:
            case nodes.Output():
                for child in node.nodes:
                    self.put(child)
            case nodes.If():
                self.if_(node)
            case nodes.For():
                self.for_(node)
            case nodes.With():
                self.with_(node)
            case nodes.Assign():
                self.set_(node)
            case nodes.Include():
                self.include(node)
            case nodes.Scope(body=[inner]):  # the parser's wrapping of an autoescape block; it has no line of its own
                self.unknown(inner)
            case _:
                self.unknown(node)

    def put(self, node: nodes.Expr) -> None:
        if isinstance(node, nodes.TemplateData):
            self.pieces.append(MARK + _text(node.data))
        else:
            self.pieces.append(f"show({self.value(node)})")

    def if_(self, node: nodes.If) -> None:
        self.line(f"if (truth({self.value(node.test)})) {{")
        self.nested(node.body)
        for other in node.elif_:
            self.line(f"}} else if (truth({self.value(other.test)})) {{")
            self.nested(other.body)
        if node.else_:
            self.line("} else {")
            self.nested(node.else_)
        self.line("}")

    def for_(self, node: nodes.For) -> None:
        if node.test is not None or node.recursive:
            self.breach(node, "a loop has neither a condition nor `recursive`")
        seq, target, outer = self.value(node.iter), self.bound(node.target), self.level
        self.level = at = outer + 1
        if node.else_:
            self.line("{")
            self.line(f"const n{at} = items({seq});")
            self.line(f"for (let i{at} = 0; i{at} < n{at}.length; i{at}++) {{")
        else:
            self.line(f"for (let n{at} = items({seq}), i{at} = 0; i{at} < n{at}.length; i{at}++) {{")
        self.lines.append(f"  const s{at} = child({self.scope});")
        self.lines.append(f"  s{at}[{target}] = n{at}[i{at}];")
        self.loops.append(at)
        self.nested(node.body, f"s{at}")
        self.loops.pop()
        self.level = outer
        self.line("}")
        if node.else_:
            self.line(f"if (n{at}.length === 0) {{")
            self.nested(node.else_)
            self.line("}")
            self.line("}")

    def with_(self, node: nodes.With) -> None:
        """The values are all read outside, so one of them cannot see another."""
        outer = self.level
        self.level = at = outer + 1
        values = [self.value(value) for value in node.values]
        self.line("{")
        self.lines.append(f"  const s{at} = child({self.scope});")
        for target, value in zip(node.targets, values, strict=True):
            self.lines.append(f"  s{at}[{self.bound(target)}] = {value};")
        self.nested(node.body, f"s{at}")
        self.level = outer
        self.line("}")

    def set_(self, node: nodes.Assign) -> None:
        """Only where Jinja2 and a plain assignment mean the same: at the top, before the name is read or bound."""
        value = self.value(node.node)
        if self.depth:
            self.breach(node, "`set` stands at the top of a template only; inside a block use `with`")
        if isinstance(node.target, nodes.Name) and node.target.name in self.met:
            self.breach(node, f"`set {node.target.name}` comes after the name was used; use `with`")
        self.line(f"s[{self.bound(node.target)}] = {value};")

    def include(self, node: nodes.Include) -> None:
        template = node.template
        if not isinstance(template, nodes.Const) or not isinstance(template.value, str):
            self.breach(node, "`include` names one template, as a text")
        elif not node.with_context or node.ignore_missing:
            self.breach(node, "`include` has neither `without context` nor `ignore missing`")
        else:
            self.includes.append((template.value, node.lineno))
            self.pieces.append(f"{function_name(template.value)}({self.scope})")

    def bound(self, target: nodes.Node) -> str:
        """The name that a loop, `with` or `set` gives, as a JavaScript key."""
        if not isinstance(target, nodes.Name):
            return self.breach(target, "one plain name is given at a time")
        self.check_name(target)
        return _text(target.name)

    def check_name(self, node: nodes.Name) -> None:
        self.met.add(node.name)
        if node.name in JINJAS_OWN or node.name in self.environment.globals:
            self.breach(node, f"`{node.name}` has a meaning of its own in Jinja2")
        elif node.name.startswith("_") or not node.name.isascii():
            self.breach(node, f"`{node.name}`: a name is of plain letters and does not begin with an underscore")

    def unknown(self, node: nodes.Node) -> str:
        return self.breach(node, f"{type(node).__name__} is not in the tablet's part of Jinja2")

    # --- Expressions ----------------------------------------------------------------------------------------------

    def value(self, node: nodes.Node) -> str:
        """The JavaScript expression for an expression."""
        match node:
            case nodes.Name():
                self.check_name(node)
                return f"look({self.scope}, {_text(node.name)})"
            case nodes.Const():
                return self.const(node)
            case nodes.Getattr():
                return self.attribute(node)
            case nodes.And():
                return f"both({self.value(node.left)}, () => {self.value(node.right)})"
            case nodes.Or():
                return f"either({self.value(node.left)}, () => {self.value(node.right)})"
            case nodes.Not():
                return f"!truth({self.value(node.node)})"
            case nodes.Compare():
                return self.comparison(node)
            case nodes.Filter(name="length", args=[], kwargs=[], dyn_args=None, dyn_kwargs=None) if node.node:
                return f"length({self.value(node.node)})"
            case nodes.Filter():
                return self.breach(node, f"`|{node.name}`: only `|length` is in the tablet's part of Jinja2")
            case _:
                return self.unknown(node)

    def const(self, node: nodes.Const) -> str:
        value = node.value
        if isinstance(value, bool):
            return "true" if value else "false"
        if isinstance(value, str):
            return (MARK if getattr(node, "is_said", False) else "") + _text(value)
        if isinstance(value, int) and value <= LARGEST_WHOLE:
            return str(value)
        return self.breach(node, f"constant {value!r}: only texts, whole numbers, true and false")

    def attribute(self, node: nodes.Getattr) -> str:
        if isinstance(node.node, nodes.Name) and node.node.name == "loop":
            if not self.loops:
                return self.breach(node, "`loop` is read in its own loop only, and not in what that includes")
            if node.attr not in LOOP:
                return self.breach(node, f"`loop.{node.attr}`: there are {', '.join(sorted(LOOP))}")
            return LOOP[node.attr].format(self.loops[-1])
        if node.attr in OF_THEIR_OWN:
            self.breach(node, f"`.{node.attr}` is a method of every text, list or object; name the key otherwise")
        return f"get({self.value(node.node)}, {_text(node.attr)})"

    def comparison(self, node: nodes.Compare) -> str:
        if len(node.ops) != 1 or node.ops[0].op not in COMPARISONS:
            return self.breach(node, "one comparison at a time, with ==, !=, in or not in")
        one = node.ops[0]
        return COMPARISONS[one.op].format(self.value(node.expr), self.value(one.expr))


def names_in(environment: Environment, folder: str) -> Iterator[str]:
    """The templates of a folder that the tablet renders: all but whole pages, which extend another."""
    for name in sorted(environment.list_templates()):
        if name.startswith(f"{folder}/") and name.endswith(".html") and not _is_page(environment, name):
            yield name


def _is_page(environment: Environment, name: str) -> bool:
    try:
        tree = environment.parse(_source(environment, name), name)
    except TemplateSyntaxError:
        return False
    return any(True for _ in tree.find_all(nodes.Extends))
