"""Templates in a language: `_("…")` is replaced by its translation when a template is read, not when it is shown.

What is left is an ordinary template, so the office and the tablet's compiler see the same tree and nothing is looked up
while a page is made. `{{ _("Only {name} takes it off.", name=tag.name) }}` puts the blank where the translation has it.
A text that stands by itself is markup, as the template's own text is; one handed to a macro is text, escaped there.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

from jinja2 import Environment, TemplateSyntaxError, nodes
from jinja2.visitor import NodeTransformer

from app.language.catalogue import ENGLISH, translated

BLANK = re.compile(r"\{(\w+)\}")


class SpeakingEnvironment(Environment):
    """A Jinja2 environment whose templates speak one language; `look_up` is given each English text."""

    language = ENGLISH

    def look_up(self, text: str) -> str:
        return translated(text, self.language)

    def _parse(self, source: str, name: str | None, filename: str | None) -> nodes.Template:
        tree = super()._parse(source, name, filename)
        _Says(self.look_up, name, filename).visit(tree)
        return tree


class _Says(NodeTransformer):
    def __init__(self, look_up: Callable[[str], str], name: str | None, filename: str | None) -> None:
        self.look_up, self.name, self.filename = look_up, name, filename

    def visit_Output(self, node: nodes.Output) -> nodes.Output:
        put: list[nodes.Expr] = []
        for child in node.nodes:
            for one in self.pieces(child) if _is_said(child) else (self.visit(child),):
                piece = nodes.TemplateData(one, lineno=child.lineno) if isinstance(one, str) else one
                if isinstance(piece, nodes.TemplateData) and put and isinstance(put[-1], nodes.TemplateData):
                    put[-1].data += piece.data
                else:
                    put.append(piece)
        node.nodes = put
        return node

    def visit_Call(self, node: nodes.Call) -> nodes.Expr:
        if not _is_said(node):
            return self.generic_visit(node)  # type: ignore[return-value]
        parts: list[nodes.Expr] = [_const(one, node) if isinstance(one, str) else one for one in self.pieces(node)]
        return parts[0] if len(parts) == 1 else nodes.Concat(parts, lineno=node.lineno)

    def pieces(self, node: Any) -> Iterator[str | nodes.Expr]:
        """The translation's own text and the blanks in it, by turns, beginning and ending with text."""
        english = node.args[0].value
        blanks = {one.key: self.visit(one.value) for one in node.kwargs}
        if len(node.args) != 1 or node.dyn_args is not None or node.dyn_kwargs is not None:
            self.refuse(node, "`_` takes one text, and its blanks by name")
        if set(BLANK.findall(english)) != set(blanks):
            self.refuse(node, f"the blanks of “{english}” are not those that are given")
        for place, one in enumerate(BLANK.split(self.look_up(english))):
            if place % 2 and one not in blanks:
                self.refuse(node, f"the translation of “{english}” has a blank {{{one}}} that nobody fills")
            yield blanks[one] if place % 2 else one

    def refuse(self, node: nodes.Node, words: str) -> None:
        raise TemplateSyntaxError(words, node.lineno, self.name, self.filename)


def _is_said(node: nodes.Node) -> bool:
    return (
        isinstance(node, nodes.Call)
        and isinstance(node.node, nodes.Name)
        and node.node.name == "_"
        and bool(node.args)
        and isinstance(node.args[0], nodes.Const)
    )


def _const(text: str, node: nodes.Node) -> nodes.Const:
    made = nodes.Const(text, lineno=node.lineno)
    # It differs from language to language; the tablet's compiler asks.
    made.is_said = True  # type: ignore[attr-defined]
    return made
