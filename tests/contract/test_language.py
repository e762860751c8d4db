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

NAMES = tuple(name for name in environment().list_templates() if name.endswith((".html", ".svg")))
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


# --- The catalogues ----------------------------------------------------------------------------------------------------

OTHERS = tuple(language for language in LANGUAGES if language != ENGLISH)
# What stands between braces of a text: names, or a turn's own text that only looks like one.
BLANKS = re.compile(r"\{(\w+)\}")


@pytest.fixture(scope="module", params=OTHERS)
def catalogue(request: pytest.FixtureRequest) -> Catalog:
    return read(request.param)


def test_the_catalogue_has_every_text_translated_and_nothing_in_doubt(catalogue: Catalog) -> None:
    said = {str(one.id): one for one in catalogue if one.id}
    assert sorted(every_text().keys() - said.keys()) == []
    assert sorted(text for text, one in said.items() if not one.string or one.fuzzy) == []


def test_a_translation_has_the_blanks_of_its_text(catalogue: Catalog) -> None:
    differing = [one.id for one in catalogue if set(BLANKS.findall(one.id)) != set(BLANKS.findall(one.string))]
    assert differing == []


def test_a_translation_brings_no_markup_that_its_text_does_not_have(catalogue: Catalog) -> None:
    """A text that stands by itself in a template is markup: a translation must not open a tag or end an attribute."""
    for one in catalogue:
        for mark in '<>"&':
            assert one.string.count(mark) <= one.id.count(mark), one.id


def test_a_translation_begins_and_ends_with_the_spaces_of_its_text(catalogue: Catalog) -> None:
    """Pieces that stand beside others keep their distance."""

    def edges(text: str) -> tuple[bool, bool]:
        return text.startswith(" "), text.endswith(" ")

    assert [one.id for one in catalogue if one.id and edges(one.id) != edges(one.string)] == []


def test_a_translation_ends_as_a_sentence_where_its_text_does(catalogue: Catalog) -> None:
    differing = [
        one.id for one in catalogue
        if one.id and one.id[-1] in ".?" and one.string[-1] not in ".?" and not one.id.endswith("}.")
    ]  # fmt: skip
    assert differing == []


def test_words_of_danger_are_those_of_spanish_practice() -> None:
    """The words of Spanish editions of ISO 3864-2 and ANSI Z535.4; from memory."""
    with speaking("es"):
        assert [word(f"signal.{one}") for one in ("danger", "warning", "caution")] == [
            "PELIGRO", "ADVERTENCIA", "ATENCIÓN",
        ]  # fmt: skip


def test_one_and_many_are_two_sentences_in_each_language() -> None:
    with speaking("es"):
        assert sentence("saved.here_one") == "Guardado en esta tableta · 1 por enviar"
        assert sentence("saved.office", count=3) == "Guardado en la oficina · 3 anotaciones"


@pytest.mark.parametrize("language", OTHERS)
def test_every_template_can_be_read_in_each_language(language: str) -> None:
    made = environment(language)
    for name in made.list_templates():
        made.parse(made.loader.get_source(made, name)[0], name)  # type: ignore[union-attr]


def test_what_nobody_asked_for_in_a_language_is_english_again() -> None:
    with speaking("xx"):
        assert sentence("name_missing") == "Enter a name."
    with speaking("es"):
        assert sentence("name_missing") == "Escriba un nombre."
        speak("en")
        assert sentence("name_missing") == "Enter a name."
    assert sentence("name_missing") == "Enter a name."


# --- Whose language a page is in ---------------------------------------------------------------------------------------


def test_before_signing_in_the_page_is_in_the_workshops_language_or_the_one_chosen_there() -> None:
    here = an_office()
    browser = here.browser()
    assert '<html lang="en">' in browser.get("/sign-in").text

    chosen = browser.post("/sign-in/language", data={"language": "es", "after": "/work"}, follow_redirects=False)
    assert (chosen.status_code, chosen.headers["location"]) == (303, "/sign-in?after=/work")
    page = browser.get("/sign-in").text
    assert '<html lang="es">' in page
    assert "¿Quién es usted?" in page
    assert ">English</button>" in page

    browser.post("/sign-in/language", data={"language": "xx", "after": "//elsewhere"}, follow_redirects=False)
    assert '<html lang="en">' in browser.get("/sign-in").text
