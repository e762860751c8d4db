"""Made-up templates of the subset on made-up view models: equal bytes from both ends, or refused by both.

What is made up is awkward on purpose: marks that take whitespace away, texts with every sign that is escaped, keys that
objects of JavaScript have by themselves, values of the wrong kind, names and keys that are not there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from jinja2 import DictLoader, Environment, UndefinedError

from app.bundle.compile import LOOP, compile_templates
from app.web.rendering import environment
from tests.tablet_js import Refused, Templates

MAIN, PART, INNER = "main.html", "part.html", "inner.html"
# What an object of a made-up model has, and what it may have besides: things that JavaScript's own objects have too.
KEYS = ("kind", "shown", "number", "rows", "part")
ODD_KEYS = ("constructor", "hasOwnProperty", "length", "__proto__", "gone")

TEXTS = st.text(st.sampled_from("ab Z0<>&'\"\\/`$é ß\u2028\U0001f529\n\t\0"), max_size=6)
WHOLE = st.integers(-3, 3) | st.integers(-(2**53) + 1, 2**53 - 1)
SCALARS = TEXTS | WHOLE | st.booleans()


def objects(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(
        {"kind": TEXTS, "shown": st.booleans(), "number": WHOLE, "rows": st.lists(inner, max_size=3), "part": inner},
        optional=dict.fromkeys(ODD_KEYS, inner),
    )


VALUES = st.recursive(SCALARS, lambda inner: st.lists(inner, max_size=3) | objects(inner), max_leaves=6)
MODELS = st.fixed_dictionaries({"a": objects(VALUES), "b": objects(objects(VALUES))}, optional={"toString": VALUES})

# --- Templates ----------------------------------------------------------------------------------------------------

Draw = Callable[[st.SearchStrategy[Any]], Any]
PLAIN = st.text(st.sampled_from("ab <>&'\"\\é\n \t$`-+"), max_size=8) | st.sampled_from(["\r\n", "\n  ", "\n\n", "{ }"])
LITERALS = st.text(st.sampled_from("ab<>&'é $`"), max_size=3).map(lambda text: f'"{text}"')


# What is known of a name: an object of plain values, an object of such objects, or nothing.
OBJECT, DEEP, ANY = "object", "deep", "any"


@dataclass
class Maker:
    """Makes one template's source. `includes` are those it may include; `names` those known here, and what they are.

    Mostly it makes what can be rendered; one expression in thirty is wild.
    """

    draw: Draw
    includes: tuple[str, ...]
    names: tuple[tuple[str, str], ...] = (("a", OBJECT), ("b", DEEP))
    loops: int = 0

    def pick(self, *choices: Any) -> Any:
        return self.draw(st.sampled_from(choices))

    def once_in(self, times: int) -> bool:
        return self.draw(st.integers(1, times)) == times

    def source(self) -> str:
        head = ""
        if self.once_in(4):
            value, kind = self.bindable()
            head = self.tag(f"set made = {value}")
            self.names = (*self.names, ("made", kind))
        return head + self.body(3)

    def body(self, depth: int) -> str:
        return "".join(self.piece(depth) for _ in range(self.draw(st.integers(1, 4))))

    def piece(self, depth: int) -> str:
        kinds = ["text", "output", "output", "output", "comment", "raw"]
        kinds += ["if", "for", "for", "with"] if depth else []
        kinds += ["include"] if self.includes else []
        return str(getattr(self, f"{self.pick(*kinds)}_")(depth))

    def tag(self, inner: str) -> str:
        return f"{{%{self.pick('', '', '-', '+')} {inner} {self.pick('', '', '-', '+')}%}}"

    def text_(self, _: int) -> str:
        return str(self.draw(PLAIN))

    def output_(self, _: int) -> str:
        inner = self.pick(self.scalar(), self.scalar(), self.scalar(), self.expression(2))
        return f"{{{{{self.pick('', '', '-')} {inner} {self.pick('', '', '-')}}}}}"

    def comment_(self, _: int) -> str:
        return f"{{#{self.pick('', '-')} {self.pick('a', '')} {self.pick('', '-')}#}}"

    def raw_(self, _: int) -> str:
        return f"{{% raw %}}{self.pick('{{ a }}', '{% x', '<', chr(10))}{{% endraw %}}"

    def include_(self, _: int) -> str:
        return self.tag(f'include "{self.pick(*self.includes)}"')

    def if_(self, depth: int) -> str:
        other = self.tag(f"elif {self.expression(2)}") + self.body(depth - 1) if self.once_in(3) else ""
        last = self.tag("else") + self.body(depth - 1) if self.once_in(2) else ""
        return self.tag(f"if {self.expression(2)}") + self.body(depth - 1) + other + last + self.tag("endif")

    def for_(self, depth: int) -> str:
        name, kind = self.pick(*self.names)
        seq = self.wild() if kind == ANY else f"{name}.{self.pick('rows', 'rows', 'rows', 'kind')}"
        target = self.pick("one", "two", "a")
        head = self.tag(f"for {target} in {seq}")
        names, self.loops = self.names, self.loops + 1
        self.bind(target, OBJECT if kind == DEEP and seq.endswith("rows") else ANY)
        body = self.body(depth - 1)
        self.names, self.loops = names, self.loops - 1
        last = self.tag("else") + self.body(depth - 1) if self.once_in(3) else ""
        return head + body + last + self.tag("endfor")

    def with_(self, depth: int) -> str:
        targets = self.draw(st.lists(st.sampled_from(["one", "two", "b"]), min_size=1, max_size=2, unique=True))
        values = [self.bindable() for _ in targets]
        head = self.tag(
            "with " + ", ".join(f"{one} = {value}" for one, (value, _) in zip(targets, values, strict=True))
        )
        names = self.names
        for target, (_, kind) in zip(targets, values, strict=True):
            self.bind(target, kind)
        body = self.body(depth - 1)
        self.names = names
        return head + body + self.tag("endwith")

    def bind(self, name: str, kind: str) -> None:
        self.names = (*((one, known) for one, known in self.names if one != name), (name, kind))

    def bindable(self) -> tuple[str, str]:
        name, kind = self.pick(*self.names)
        return self.pick((name, kind), (f"{name}.part", OBJECT) if kind == DEEP else (self.expression(1), ANY))

    def scalar(self) -> str:
        """Something that can be put out, as far as is known."""
        if self.once_in(30):
            return self.wild()
        if self.loops and self.once_in(5):
            return f"loop.{self.pick(*sorted(LOOP))}"
        name, kind = self.pick(*self.names)
        if kind == ANY:
            return str(self.pick("true", "0", "12", self.draw(LITERALS), f"({name} == {name})", name))
        return f"{name}.{self.pick('kind', 'kind', 'shown', 'number')}"

    def wild(self) -> str:
        name = self.pick(*(one for one, _ in self.names), "toString", "gone")
        return ".".join((name, *(self.pick(*KEYS, *ODD_KEYS) for _ in range(self.pick(0, 1, 1, 2)))))

    def whole(self) -> str:
        """A text or a list, as far as is known."""
        name, kind = self.pick(*self.names)
        return self.draw(LITERALS) if kind == ANY else f"{name}.{self.pick('rows', 'kind')}"

    def expression(self, depth: int) -> str:
        kind = self.draw(st.integers(0, 9 if depth else 4))
        if kind <= 3:
            return self.scalar()
        if kind == 4:
            return self.whole()
        left, right = self.expression(depth - 1), self.expression(depth - 1)
        return {
            5: f"({left}) {self.pick('and', 'or')} ({right})",
            6: f"not ({left})",
            7: f"({left}) {self.pick('==', '!=')} ({right})",
            8: f"({left}) {self.pick('in', 'not in')} ({self.whole()})",
            9: f"({self.whole()})|length",
        }[kind]


@st.composite
def templates(draw: Draw) -> dict[str, str]:
    return {
        MAIN: Maker(draw, (PART, INNER)).source(),
        PART: Maker(draw, (INNER,)).source(),
        INNER: Maker(draw, ()).source(),
    }


# --- The check ----------------------------------------------------------------------------------------------------

TABLET = Templates("const render = () => '';")


def of(sources: dict[str, str]) -> Environment:
    return environment().overlay(loader=DictLoader(sources), cache_size=10)


def at_both_ends(sources: dict[str, str], model: dict[str, Any]) -> tuple[str | None, str | None]:
    """What the office and the tablet make of it; None for refused."""
    jinja = of(sources)
    TABLET.load(compile_templates(jinja, [MAIN]))
    try:
        here: str | None = jinja.get_template(MAIN).render(model)
    except (UndefinedError, TypeError):
        here = None
    try:
        there: str | None = TABLET.render(MAIN, model)
    except Refused:
        there = None
    return here, there


def test_made_up_templates_give_equal_bytes_or_are_refused_by_both():
    outcomes = fuzz(250)

    # Templates that are all refused, or all empty, would agree for ever.
    assert outcomes["rendered"] > sum(outcomes.values()) // 4, outcomes
    assert outcomes["refused"] > 0, outcomes


def fuzz(examples: int) -> Counter[str]:
    """Try so many made-up templates, each on one or two models; how many gave text, nothing, or were refused."""
    outcomes: Counter[str] = Counter()

    @settings(
        max_examples=examples, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
    )
    @given(templates(), st.lists(MODELS, min_size=1, max_size=2))
    def check(sources: dict[str, str], models: list[dict[str, Any]]) -> None:
        for model in models:
            here, there = at_both_ends(sources, model)
            assert there == here
            outcomes["refused" if here is None else "rendered" if here.strip() else "empty"] += 1

    check()
    return outcomes


@pytest.mark.parametrize(
    ("source", "model", "rendered"),
    [
        ("{{ a }}", {"a": "<&>'\""}, "&lt;&amp;&gt;&#39;&#34;"),
        ("{{ a }} {{ not a }} {{ 7 }}", {"a": True}, "True False 7"),
        ("{{ a or b }}|{{ a and b }}", {"a": "", "b": 3}, "3|"),
        ("{% for x in a %}{% if x %}1{% else %}0{% endif %}{% endfor %}",
         {"a": ["", "0", 0, -1, False, True, [], [0], {}, {"x": 0}]}, "0101010101"),
        ("{{ a == 1 }}{{ a == '1' }}{{ b == 0 }}", {"a": True, "b": False}, "TrueFalseTrue"),
        ("{{ a == b }}{{ a != b }}", {"a": [1, {"x": [True]}], "b": [1, {"x": [1]}]}, "TrueFalse"),
        ("{{ 'b' in a }}{{ 'c' not in a }}{{ 1 in b }}", {"a": "abc", "b": [True]}, "TrueFalseTrue"),
        ("{{ 'toString' in a }}{{ 1 in a }}", {"a": {"x": 1}}, "FalseFalse"),
        ("{{ a|length }}{{ b|length }}", {"a": "\U0001f529é", "b": [1, 2, 3]}, "23"),
        ("{% for x in a %}{{ x }}{% if loop.last %}.{% else %}, {% endif %}{% endfor %}", {"a": [1, 2]}, "1, 2."),
        ("{% for x in a %}{% else %}none{% endfor %}", {"a": []}, "none"),
        ("{% for x in a %}{% for y in x %}{{ loop.index }}{% endfor %}{{ loop.index }} {% endfor %}",
         {"a": [[7, 7], [7]]}, "121 12 "),
        ("{% for x in a %}{% for y in x %}{{ y }}{% else %}-{% for z in b %}{{ loop.index }}{{ z }}{% endfor %}"
         "{{ loop.index }}{% endfor %}{% endfor %}", {"a": [[1], []], "b": [9]}, "1-192"),
        ("{% for x in a %}{{ x }}.{% endfor %}", {"a": "\U0001f529b"}, "\U0001f529.b."),
        ("{% for x in a %}{{ loop.index0 }}{{ loop.revindex }}{{ loop.revindex0 }}{{ loop.first }}{{ loop.length }} "
         "{% endfor %}", {"a": [7, 7]}, "021True2 110False2 "),
        ("{% for x in a %}{{ x }}{% endfor %}", {"a": {"z": 1, "y": 2}}, "zy"),
        ("{% with a = b, b = a %}{{ a }}{{ b }}{% endwith %}{{ a }}", {"a": 1, "b": 2}, "211"),
        ("{% if a %}\n  x\n{% endif %}\ny\n", {"a": {"x": 0}}, "  x\ny"),
        ("{% with x = a.gone %}fine{% endwith %}", {"a": {}}, "fine"),
        ("{{ a or b.gone.more }}", {"a": 1, "b": {}}, "1"),
        ("{{ a in b }}", {"b": []}, "False"),
        # Refused by both.
        ("{{ gone }}", {}, None),
        ("{{ a.gone }}", {"a": {}}, None),
        ("{{ a.toString }}{{ a.constructor }}", {"a": {}}, None),
        ("{% with x = a.constructor.name %}{% endwith %}", {"a": {}}, None),
        ("{% with x = toString.name %}{% endwith %}", {}, None),
        ("{% with x = a.gone.more %}{% endwith %}", {"a": {}}, None),
        ("{{ a.length }}", {"a": [1]}, None),
        ("{% if gone %}{% endif %}", {}, None),
        ("{% for x in gone %}{% endfor %}", {}, None),
        ("{% for x in a %}{% endfor %}", {"a": 3}, None),
        ("{{ gone == 1 }}", {}, None),
        ("{{ 'x' != gone }}", {}, None),
        ("{{ gone|length }}", {}, None),
        ("{{ a|length }}", {"a": 5}, None),
        ("{{ 1 in a }}", {"a": "1"}, None),
        ("{{ b in a }}", {"a": {}, "b": []}, None),
        ("{{ a }}", {"a": [1]}, None),
        ("{{ a }}", {"a": {"x": 1}}, None),
    ],
)  # fmt: skip
def test_what_each_construct_means(source: str, model: dict[str, Any], rendered: str | None):
    """By hand from Jinja2's and Python's documentation, so that both ends cannot be wrong together."""
    assert at_both_ends({MAIN: source}, model) == (rendered, rendered)


def test_what_is_included_sees_the_names_of_its_place_and_gives_none_back():
    sources = {
        MAIN: "{% for one in a %}{% with two = one %}{% include 'part.html' %}{% endwith %}{% endfor %}{{ made }}",
        PART: "{% set made = two %}{{ one }}{{ made }}{% include 'inner.html' %}",
        INNER: "{{ made }}{{ a|length }} ",
    }

    assert at_both_ends(sources, {"a": [1, 2], "made": 9}) == ("1112 2222 9", "1112 2222 9")


@pytest.mark.parametrize("value", [None, 1.5, 2**60])
def test_the_tablet_refuses_what_no_view_model_may_hold(value: Any):
    assert at_both_ends({MAIN: "{{ a }}"}, {"a": value})[1] is None


@example(made="")
@given(made=st.text(st.characters(codec="utf-8"), max_size=20))
def test_any_text_comes_through_escaped_alike(made: str):
    here, there = at_both_ends({MAIN: "{{ a }}"}, {"a": made})

    assert here is not None
    assert there == here
