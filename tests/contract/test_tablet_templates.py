"""The promise of `templates/tablet`: only what two languages render alike.

Partials keep to a small part of Jinja2, checked on Jinja2's own syntax tree, so that the tablet can render them too.
The pages that stand around them (those that extend `base.html`) are the office's alone and are left out, with what only
they include.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from jinja2 import nodes

from app.web.rendering import TEMPLATES, environment

ALLOWED = (
    nodes.Template, nodes.Output, nodes.TemplateData, nodes.Name, nodes.Getattr, nodes.Const, nodes.If, nodes.For,
    nodes.Include, nodes.With, nodes.Assign, nodes.Compare, nodes.Operand, nodes.And, nodes.Or, nodes.Not,
)  # fmt: skip
# What a text, a list or an object has of its own in Python: there `one.count` would be the method and not the key.
OF_THEIR_OWN = {name for kind in (dict, list, str, int) for name in dir(kind)}
OFFICE_ONLY = {"tablet/_sheet.html", "tablet/_work.html", "tablet/_job_line.html"}


def partials() -> list[str]:
    """The partials that the tablet renders: all of the folder but whole pages and what only My work shows."""
    names = [f"tablet/{path.name}" for path in sorted((TEMPLATES / "tablet").glob("*.html"))]
    return [name for name in names if name not in OFFICE_ONLY and not _extends(name)]


def _extends(name: str) -> bool:
    return bool(list(tree(name).find_all(nodes.Extends)))


def tree(name: str) -> nodes.Template:
    return environment().parse(Path(TEMPLATES / name).read_text("utf-8"))


def breaches(name: str, template: nodes.Template) -> list[str]:
    """Everything in a template that is not in the subset, with its line."""
    found = []
    for node in template.find_all(nodes.Node):
        where = f"{name}:{node.lineno}"
        if not isinstance(node, ALLOWED):
            found.append(f"{where}: {type(node).__name__}")
        elif isinstance(node, nodes.Getattr) and node.attr in OF_THEIR_OWN:
            found.append(f"{where}: .{node.attr} is a method of every text, list or object")
        elif isinstance(node, nodes.Compare) and (len(node.ops) > 1 or node.ops[0].op not in ("eq", "ne")):
            found.append(f"{where}: only one comparison at a time, == or !=")
        elif isinstance(node, nodes.Const) and type(node.value) not in (str, int, bool):
            found.append(f"{where}: constant {node.value!r}")
        elif isinstance(node, nodes.For) and (
            node.test is not None or node.recursive or list(node.find_all(nodes.Assign))
        ):
            found.append(f"{where}: a plain loop, without a condition, recursion or set")
        elif isinstance(node, nodes.Include) and not (
            isinstance(node.template, nodes.Const) and node.with_context and not node.ignore_missing
        ):
            found.append(f"{where}: include one template by its name")
    return found


@pytest.mark.parametrize("name", partials())
def test_a_tablet_partial_keeps_to_what_both_ends_render_alike(name):
    """No filter, test, call, slice, float or inheritance; no key named like a method."""
    assert breaches(name, tree(name)) == []


@pytest.mark.parametrize("name", partials())
def test_a_tablet_partial_includes_only_tablet_partials_and_symbols(name):
    """What the tablet carries is closed: every include is there too."""
    wanted = [node.template.value for node in tree(name).find_all(nodes.Include)]

    assert [one for one in wanted if one not in partials() and not one.startswith(("symbols/", "drawings/"))] == []


@pytest.mark.parametrize(
    "source",
    [
        "{{ a|upper }}", "{{ a.items }}", "{{ a.count }}", "{{ a.title }}", "{{ a[0] }}", "{{ a() }}", "{{ 1.5 }}",
        "{% if 1 < a < 3 %}{% endif %}", "{% for x in a %}{% set y = x %}{% endfor %}",
        "{% if a is defined %}{% endif %}",
        "{% for x in a if x %}{% endfor %}", "{% extends 'base.html' %}", "{{ a ~ b }}", "{{ a + 1 }}",
        "{% include a %}", "{{ 'x' if a else 'y' }}", "{% macro m() %}{% endmacro %}",
    ],
)  # fmt: skip
def test_the_check_finds_what_is_not_in_the_subset(source):
    """The check itself can fail."""
    assert breaches("probe", environment().parse(source)) != []


def test_a_comment_on_top_says_what_a_partial_reads():
    """House rule: a partial lists its variables in a comment on top."""
    texts = {name: Path(TEMPLATES / name).read_text("utf-8") for name in partials()}

    assert [
        name for name, text in texts.items() if not text.startswith("{#") or "Reads" not in text.split("#}")[0]
    ] == []
