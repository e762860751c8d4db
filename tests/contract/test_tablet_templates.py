"""The promise of `templates/tablet`: both ends render the same bytes.

The subset is defined once, in `app/bundle/compile.py`. Here: that our partials keep to it, that what is outside it is
told with file and line, and that every real partial gives equal bytes from Jinja2 and from JavaScript, on the sheets of
the invented workshop after every entry of their ledgers, for every step and for people of every role.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from jinja2 import DictLoader, Environment, Template

from app.bundle.compile import NotInSubset, compile_all, compile_one, compile_templates, names_in
from app.language.templates import SpeakingEnvironment
from app.web.rendering import TEMPLATES, environment
from demo.examples.states import everything_shown, workshop
from tests.tablet_js import Templates

NAMES = tuple(names_in(environment(), "tablet"))


# --- The subset ---------------------------------------------------------------------------------------------------


def test_our_partials_keep_to_what_both_ends_render_alike():
    done, wrong = compile_all(environment(), NAMES)

    assert [str(one) for one in wrong] == []
    assert {"tablet/_sheet_view.html", "tablet/_fastener.html", "tablet/_gate.html"} <= set(done)


def test_a_tablet_partial_includes_only_tablet_partials_and_symbols():
    """What the tablet carries is closed: every include is there too, and none of it is the office's."""
    done, _ = compile_all(environment(), NAMES)

    frame = {"_frame_top.html", "_frame_end.html", "_top_bar.html", "_told.html"}
    others = {name for name in done if not name.startswith(("tablet/", "symbols/", "drawings/"))}
    assert others == frame


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("{{ a|upper }}", "`|upper`"),
        ("{{ a|safe }}", "`|safe`"),
        ("{{ a|length(1) }}", "`|length`"),
        ("{% filter upper %}a{% endfilter %}", "FilterBlock"),
        ("{{ a.items }}", "`.items`"),
        ("{{ a.count }}", "`.count`"),
        ("{{ a.title }}", "`.title`"),
        ("{{ a[0] }}", "Getitem"),
        ("{{ a['b'] }}", "Getitem"),
        ("{{ a[1:] }}", "Getitem"),
        ("{{ a() }}", "Call"),
        ("{{ a.b() }}", "Call"),
        ("{{ 1.5 }}", "constant 1.5"),
        ("{{ none }}", "constant None"),
        ("{{ 9007199254740992 }}", "constant 9007199254740992"),
        ("{{ -1 }}", "Neg"),
        ("{{ [a] }}", "List"),
        ("{{ (a, b) }}", "Tuple"),
        ("{{ {'a': b} }}", "Dict"),
        ("{{ a ~ b }}", "Concat"),
        ("{{ a + 1 }}", "Add"),
        ("{{ 'x' if a else 'y' }}", "CondExpr"),
        ("{% if 1 < a < 3 %}{% endif %}", "one comparison"),
        ("{% if a < 3 %}{% endif %}", "one comparison"),
        ("{% if a == b == c %}{% endif %}", "one comparison"),
        ("{% if a is defined %}{% endif %}", "Test"),
        ("{% for x in a %}{% set y = x %}{% endfor %}", "`set` stands"),
        ("{% if a %}{% set y = a %}{% endif %}", "`set` stands"),
        ("{% with b = a %}{% set y = b %}{% endwith %}", "`set` stands"),
        ("{{ y }}{% set y = a %}", "`set y`"),
        ("{% set y = y %}", "`set y`"),
        ("{% for y in a %}{% endfor %}{% set y = a %}", "`set y`"),
        ("{% set y %}a{% endset %}", "AssignBlock"),
        ("{% set a.b = 1 %}", "one plain name"),
        ("{% set a, b = c %}", "one plain name"),
        ("{% for x in a if x %}{% endfor %}", "a loop has neither"),
        ("{% for x in a recursive %}{% endfor %}", "a loop has neither"),
        ("{% for x, y in a %}{% endfor %}", "one plain name"),
        ("{{ loop.index }}", "`loop` is read"),
        ("{% for x in a %}{{ loop.cycle }}{% endfor %}", "`loop.cycle`"),
        ("{% for x in a %}{{ loop }}{% endfor %}", "`loop` has a meaning"),
        ("{% for x in a %}{% with loop = x %}{% endwith %}{% endfor %}", "`loop` has a meaning"),
        ("{% for x in a %}{% else %}{{ loop.index }}{% endfor %}", "`loop` is read"),
        ("{{ range }}", "`range` has a meaning"),
        ("{{ self }}", "`self` has a meaning"),
        ("{% with dict = a %}{% endwith %}", "`dict` has a meaning"),
        ("{{ _a }}", "plain letters"),
        ("{{ größe }}", "plain letters"),
        ("{% extends 'base.html' %}", "Extends"),
        ("{% block a %}{% endblock %}", "Block"),
        ("{% include a %}", "`include` names one"),
        ("{% include ['a.html', 'b.html'] %}", "`include` names one"),
        ("{% include 'a.html' ignore missing %}", "`include` has neither"),
        ("{% include 'a.html' without context %}", "`include` has neither"),
        ("{% import 'a.html' as a %}", "Import"),
        ("{% from 'a.html' import b %}", "FromImport"),
        ("{% macro m() %}{% endmacro %}", "Macro"),
        ("{% call a() %}{% endcall %}", "CallBlock"),
        ("{% autoescape false %}{% endautoescape %}", "ScopedEvalContextModifier"),
        ("{% if a %}", "Unexpected end of template"),
        ("{{ a| }}", "expected token"),
        ("{% frob %}", "Encountered unknown tag"),
    ],
)  # fmt: skip
def test_what_is_not_in_the_subset_is_told_with_file_and_line(source, words):
    """Two lines of something allowed stand before it, so that a line that is always 1 would be found."""
    found = compile_one(environment(), "tablet/probe.html", f"<p>\n{{{{ b.c }}}}</p>\n{source}").breaches

    assert any(str(one).startswith("templates/tablet/probe.html:3: ") and words in one.words for one in found), found


def test_a_template_that_is_not_escaped_is_refused():
    (found,) = compile_one(environment(), "tablet/probe.txt", "plain").breaches

    assert str(found).startswith("templates/tablet/probe.txt:1: is not escaped")


def test_an_include_of_what_is_not_there_is_told_where_it_stands():
    with pytest.raises(NotInSubset) as told:
        compile_templates(of({"a.html": "\n\n{% include 'gone.html' %}"}), ["a.html"])

    assert str(told.value) == "templates/a.html:3: includes gone.html, which is not there"


def test_every_breach_of_every_template_is_told_at_once():
    with pytest.raises(NotInSubset) as told:
        compile_templates(
            of({"a.html": "{{ x|e }}\n{{ 1.5 }}{% include 'b.html' %}", "b.html": "{{ y[0] }}"}), ["a.html"]
        )

    assert [str(one).rsplit(":", 1)[0].split(": ")[0] for one in told.value.breaches] == [
        "templates/a.html:1", "templates/a.html:2", "templates/b.html:1",
    ]  # fmt: skip


def test_a_comment_on_top_says_what_a_partial_reads():
    """House rule: a partial lists its variables in a comment on top."""
    texts = {name: Path(TEMPLATES / name).read_text("utf-8") for name in NAMES}

    assert [
        name for name, text in texts.items() if not text.startswith("{#") or "Reads" not in text.split("#}")[0]
    ] == []


def of(templates: dict[str, str]) -> Environment:
    """The product's own environment, on these templates."""
    return environment().overlay(loader=DictLoader(templates), cache_size=0)


# --- Equal bytes --------------------------------------------------------------------------------------------------


def test_every_partial_gives_equal_bytes_in_every_state_of_the_invented_workshop():
    rendered: set[str] = set()
    office_end, tablet_end = recording(rendered), Templates(compile_templates(environment(), NAMES))
    states = 0
    for shown in everything_shown(workshop()):
        states += 1
        here = office_end.get_template(shown.template).render(shown.context)
        assert tablet_end.render(shown.template, shown.context) == here, shown.where

    assert states > 1_000
    assert set(NAMES) - rendered == set(), "partials that no state shows"


def recording(rendered: set[str]) -> Environment:
    """The product's environment, noting each template it renders, included ones too."""

    class Recording(SpeakingEnvironment):
        def get_template(self, name: Any, *more: Any, **named: Any) -> Template:
            rendered.add(str(name))
            return super().get_template(name, *more, **named)

    made = environment().overlay(cache_size=-1)
    made.__class__ = Recording
    return made
