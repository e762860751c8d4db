"""Every text a person can see can be said in another language: nothing in a template or a page stands outside `_`."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from jinja2 import DictLoader, TemplateSyntaxError, nodes

from app.language.gather import said_in, said_in_template
from app.language.templates import SpeakingEnvironment
from app.web.rendering import environment

# Read by people who work on the product, in the language it is written in.
OURS = frozenset(("patterns.html",))
NAMES = tuple(name for name in environment().list_templates() if name.endswith((".html", ".svg")) and name not in OURS)
# What people read of a tag besides its text. `data-label` names a cell where a table is too narrow for a head.
READ = frozenset(("title", "aria-label", "aria-description", "placeholder", "alt", "data-label", "label"))
UNREAD = frozenset(("code", "kbd", "script", "style"))
# Names, which are the same in every language.
SAME_EVERYWHERE = frozenset((
    "Cotterpin", "Cotterpin workshop authority", "Android", "Windows", "macOS", "Linux", "iPadOS", "spec-book.csv",
    "/readiness",
))  # fmt: skip
LETTERS = re.compile(r"[A-Za-z]{2,}")
# Markup that stands alone in a block or macro: the classes of a page, what describes a field.
MARKUP = re.compile(r'page( page--\w+)*|(\s*aria-\w+="[^"]*")+')


class Reader(HTMLParser):
    """What is read of markup: texts, and the attributes that are spoken or shown."""

    def __init__(self) -> None:
        super().__init__()
        self.read: list[str] = []
        self.within: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.read += [value for name, value in attrs if name in READ and value]
        if tag in UNREAD:
            self.within.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self.within and self.within[-1] == tag:
            self.within.pop()

    def handle_data(self, data: str) -> None:
        if not self.within:
            self.read.append(data)


def unsaid(source: str) -> list[str]:
    """What of a template is read by people and is not in `_`: its own text, and texts in its expressions."""
    reading = environment().overlay(cache_size=0)
    reading.look_up = lambda text: ""  # type: ignore[method-assign]
    tree = reading.parse(source)
    reader = Reader()
    pieces = (piece for output in tree.find_all(nodes.Output) for piece in output.nodes)
    markup = "".join(piece.data if isinstance(piece, nodes.TemplateData) else "…" for piece in pieces)
    reader.feed(markup.replace("<…", "<p").replace("</…", "</p"))
    reader.close()
    texts = [*reader.read, *_worded(tree)]
    return [
        one.strip()
        for one in texts
        if LETTERS.search(one) and not MARKUP.fullmatch(one.strip()) and one.strip(" …·\n") not in SAME_EVERYWHERE
    ]


def _worded(tree: nodes.Node) -> Iterator[str]:
    """Texts in expressions that look like words to read: with a capital first, or with a space between letters."""
    known = {id(one) for kind in (nodes.Include, nodes.Extends, nodes.Import) for node in tree.find_all(kind)
             for one in node.find_all(nodes.Const)}  # fmt: skip
    for compared in tree.find_all(nodes.Compare):
        known |= {id(one) for one in compared.find_all(nodes.Const)}
    for const in tree.find_all(nodes.Const):
        text = const.value
        if isinstance(text, str) and id(const) not in known and re.match(r"[A-Z][a-z]|\w+ \w+", text):
            yield text


@pytest.mark.parametrize("name", NAMES)
def test_a_template_has_no_text_outside_the_catalogue(name: str) -> None:
    source = environment().loader.get_source(environment(), name)[0]  # type: ignore[union-attr]
    assert unsaid(source) == []


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("<p>Kept.</p>", ["Kept."]),
        ('<p>{{ _("Kept.") }} — {{ page.name }} 12 N</p>', []),
        ('<img alt="A nut">', ["A nut"]),
        ('<nav aria-label="{{ _("Places") }}" class="top bar">', []),
        ('{{ fields.text(page.form, "name", "Your name") }}', ["Your name"]),
        ('{{ "Keep" if page.is_new else _("Take in") }}', ["Keep"]),
        ('{% if name == "Vehicle" %}<code>python -m app</code>{% endif %}', []),
    ],
)
def test_a_text_outside_the_catalogue_is_found(source: str, found: list[str]) -> None:
    assert unsaid(source) == found


# --- What `_` in a template comes to ----------------------------------------------------------------------------------


def spoken(source: str, catalogue: dict[str, str], **names: object) -> str:
    made = environment().overlay(loader=DictLoader({"one.html": source}), cache_size=0)
    made.look_up = lambda text: catalogue.get(text, text)  # type: ignore[method-assign]
    return made.get_template("one.html").render(**names)


def test_a_text_is_said_as_the_catalogue_has_it_and_else_in_english() -> None:
    assert spoken('<b>{{ _("Yes") }} {{ _("No") }}</b>', {"Yes": "Sí"}) == "<b>Sí No</b>"


def test_a_blank_stands_where_the_translation_has_it_and_is_escaped() -> None:
    source = '{{ _("{name} took {tool}.", name=who, tool=what) }}'
    catalogue = {"{name} took {tool}.": "{tool}: lo lleva {name}."}
    assert spoken(source, catalogue, who="<Mira>", what="TW-1") == "TW-1: lo lleva &lt;Mira&gt;."


def test_a_text_handed_to_a_macro_is_escaped_there() -> None:
    source = '{% macro m(x) %}<p title="{{ x }}"></p>{% endmacro %}{{ m(_("Say {n}", n=1)) }}'
    assert spoken(source, {"Say {n}": 'Di "{n}"'}) == '<p title="Di &#34;1&#34;"></p>'


@pytest.mark.parametrize(
    ("source", "says"),
    [
        ('{{ _("{name} took it.") }}', "the blanks of “{name} took it.” are not those that are given"),
        ('{{ _("It is kept.", name=who) }}', "the blanks of “It is kept.” are not those that are given"),
        ('\n{{ _("One", "two") }}', "`_` takes one text, and its blanks by name"),
    ],
)
def test_blanks_that_do_not_fit_are_told_when_a_template_is_read(source: str, says: str) -> None:
    with pytest.raises(TemplateSyntaxError) as caught:
        environment().parse(source)
    assert caught.value.message == says
    assert caught.value.lineno == source.count("\n") + 1


def test_a_blank_that_only_the_translation_has_is_told() -> None:
    with pytest.raises(TemplateSyntaxError, match=r"a blank \{who\} that nobody fills"):
        spoken('{{ _("It is kept.") }}', {"It is kept.": "Lo guarda {who}."})


def test_a_language_has_an_environment_of_its_own() -> None:
    assert isinstance(environment("es"), SpeakingEnvironment)
    assert environment("es").language == "es"
    assert environment("es") is not environment()


def test_texts_are_gathered_where_they_are_said() -> None:
    source = '<p title="{{ _("A") }}">{{ m(_("B {x}", x=_("C"))) }}</p>'
    assert sorted(said_in_template(environment(), source)) == ["A", "B {x}", "C"]
    assert sorted(said_in('x = _("A"), N_("B"), other("C"), _(name)')) == ["A", "B"]
