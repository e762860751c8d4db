"""Every text a person can see can be said in another language: nothing in a template or a page stands outside `_`."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from email import message_from_bytes
from email.policy import default
from html.parser import HTMLParser

import pytest
from babel.messages.catalog import Catalog
from jinja2 import DictLoader, TemplateSyntaxError, nodes
from starlette.testclient import TestClient

from app.bootstrap import every_text, letter_of, table_in
from app.bundle.compile import MARK, NotInSubset, compile_all, module_of, names_in, text_apart
from app.domain.problems import Problem
from app.domain.records import OutgoingMessage
from app.language.catalogue import ENGLISH, LANGUAGES, PROCEDURES, read, texts_in
from app.language.gather import said_in, said_in_template
from app.language.speech import speak, speaking
from app.language.templates import SpeakingEnvironment
from app.mail.compose import compose
from app.ports import Sender
from app.texts import say_ruling, sentence, table, word
from app.use_cases.handback_letter import handback_facts
from app.web.rendering import environment
from tests.js_engine import Engine
from tests.lived_in import lived_in
from tests.offices import ADA, FAY, Workshop, a_visitor, an_app, an_office
from tests.unit.mail_cast import CUSTOMER, JOB, SHOP, VEHICLE, a_closed_sheet

# Read by people who work on the product, in the language it is written in.
OURS = frozenset(("patterns.html",))
NAMES = tuple(name for name in environment().list_templates() if name.endswith((".html", ".svg")) and name not in OURS)
# What people read of a tag besides its text. `data-label` names a cell where a table is too narrow for a head.
READ = frozenset(("title", "aria-label", "aria-description", "placeholder", "alt", "data-label", "label"))
UNREAD = frozenset(("code", "kbd", "pre", "script", "style"))
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
    markup = "".join(_shown(piece) for piece in pieces)
    reader.feed(markup.replace("<…", "<p").replace("</…", "</p"))
    reader.close()
    texts = dict.fromkeys(one.strip() for one in (*reader.read, *_worded(tree)))
    return [
        one
        for one in texts
        if LETTERS.search(one) and not MARKUP.fullmatch(one) and one.strip(" …·\n") not in SAME_EVERYWHERE
    ]


def _shown(piece: nodes.Node) -> str:
    """What a piece may put out of itself: its own text, the texts it chooses between, "…" for what it was given."""
    if isinstance(piece, nodes.TemplateData):
        return piece.data
    if isinstance(piece, nodes.CondExpr):
        return " ".join(_shown(one) for one in (piece.expr1, piece.expr2) if one is not None)
    return piece.value if isinstance(piece, nodes.Const) and isinstance(piece.value, str) else "…"


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
        ('<p>{{ page.count }} {{ "line" if page.count == 1 else "lines" }}</p>', ["… line lines"]),
        ('<p class="{{ "out" if page.old else "in" }}">{{ page.name }}</p>', []),
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


# --- The catalogues ---------------------------------------------------------------------------------------------------

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
    for one in filter(lambda one: one.id, catalogue):
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


# --- Whose language a page is in --------------------------------------------------------------------------------------


@pytest.fixture
def here() -> Workshop:
    return an_office()


def browser(here: Workshop) -> TestClient:
    return TestClient(an_app(here), base_url="http://office.test", raise_server_exceptions=False)


def test_before_signing_in_the_page_is_in_the_workshops_language_or_the_one_chosen_there(here: Workshop) -> None:
    somebody = browser(here)
    assert '<html lang="en">' in somebody.get("/sign-in").text

    sent = {"language": "es", "after": "/work"}
    chosen = somebody.post("/sign-in/language", data=sent, follow_redirects=False)
    assert (chosen.status_code, chosen.headers["location"]) == (303, "/sign-in?after=/work")
    page = somebody.get("/sign-in").text
    assert '<html lang="es">' in page
    assert "¿Quién es usted?" in page
    assert ">English</button>" in page

    strange = somebody.post(
        "/sign-in/language", data={"language": "xx", "after": "//elsewhere"}, follow_redirects=False
    )
    assert strange.headers["location"] == "/sign-in?after=/"
    assert '<html lang="en">' in somebody.get("/sign-in").text


def test_the_workshops_language_is_everyones_and_a_persons_own_comes_before_it(here: Workshop) -> None:
    ada, fay = a_visitor(an_app(here), ADA), a_visitor(an_app(here), FAY)
    assert "<h1>My work</h1>" in ada.client.get("/work").text

    (shop,) = here.all("shops")
    here.save("shops", replace(shop, language="es"))
    assert "<h1>Mi trabajo</h1>" in ada.client.get("/work").text
    assert "Salir" in fay.client.get("/floor").text
    assert "¿Quién es usted?" in browser(here).get("/sign-in").text

    here.save("people", replace(here.get("people", FAY.id), language="en"))
    assert "Sign out" in fay.client.get("/floor").text
    assert "<h1>Mi trabajo</h1>" in ada.client.get("/work").text


def test_a_person_and_the_workshop_choose_their_language_at_the_desk(here: Workshop) -> None:
    fay = a_visitor(an_app(here), FAY)
    answer = fay.fills_in("/desk/workshop", "/desk/workshop", {"language": "es"})
    assert answer.status_code == 303
    assert '<html lang="es">' in fay.client.get("/desk/workshop").text

    answer = fay.fills_in(f"/desk/people/{ADA.id}", f"/desk/people/{ADA.id}", {"language": "en"})
    assert answer.status_code == 303
    assert here.get("people", ADA.id).language == "en"

    answer = fay.fills_in(f"/desk/people/{ADA.id}", f"/desk/people/{ADA.id}", {"language": "xx"})
    assert answer.status_code == 422
    assert "Elija un idioma de la lista." in answer.text
    assert here.get("people", ADA.id).language == "en"


def test_a_page_that_goes_wrong_says_so_in_the_persons_language(here: Workshop) -> None:
    here.save("people", replace(here.get("people", ADA.id), language="es"))
    ada = a_visitor(an_app(here), ADA)
    assert "Bajo esta dirección no hay nada" in ada.client.get("/nothing-here").text
    assert "Esta página es para otra función" in ada.client.get("/desk/people").text


def test_a_packet_is_the_same_whoever_has_it_made_in_whatever_language() -> None:
    """Packets, entries and hashes are data: the language somebody reads is no part of them."""
    hashes = set()
    for language in LANGUAGES:
        office = an_office()
        with speaking(language):
            job = office.opens()
        hashes.add(office.sheet(job).packet.hash)
    assert len(hashes) == 1


# --- Nothing is left in English ---------------------------------------------------------------------------------------


def test_no_page_shows_a_text_of_the_catalogue_in_english() -> None:
    """Every page of the invented workshop in Spanish, procedures and all. What people wrote stays as it is."""
    workshop = lived_in()
    with workshop.store.writing() as unit:
        for person in unit.people.all():
            unit.people.save(replace(person, language="es"))
        typed = {one.complaint for one in unit.jobs.all()} | {one.name for one in unit.tools.all()}
        unit.commit()
    spanish = {**texts_in("es"), **texts_in("es", PROCEDURES)}
    alike = {"No", "Total"} | {text for text, said in spanish.items() if text == said}
    english = {text for text in spanish if len(text) > 3 and not BLANKS.search(text)} - alike
    # What packets fill in, which stands within other texts.
    filled = re.compile(
        r"\b(front|rear) (left|right|axle)\b|, (left|right|lower|upper)$|\b(Ball joint|Control arm|Strut|Spring), "
        r"|at (least|most) \d|in date until|would do:|\d (Jan|Apr|Aug|Dec)\b"
    )
    app, clients, left = workshop.app(), {}, []
    for who, path in workshop.pages():
        if not who or path.endswith("/html"):
            continue  # a letter is in its customer's language
        client = clients.get(who) or clients.setdefault(who, workshop.signed_in(app, who))
        answer = client.get(path, follow_redirects=True)
        assert answer.status_code == (404 if path == "/nothing-here" else 200), path
        page = answer.text
        assert '<html lang="es">' in page, path
        reader = Reader()
        reader.feed(page)
        shown = [one.strip() for one in reader.read if not any(written in one for written in typed)]
        left += [(path, one) for one in shown if one in english or filled.search(one)]
    assert left == []


# --- On the tablet ----------------------------------------------------------------------------------------------------


def module_in(language: str) -> str:
    reading = environment(language)
    done, wrong = compile_all(reading, names_in(reading, "tablet"))
    assert wrong == []
    return module_of(done)


def test_the_tablet_has_one_script_for_all_languages_and_each_ones_text_beside_it() -> None:
    modules = {language: module_in(language) for language in LANGUAGES}
    script, pieces = text_apart(*modules.values())
    for module, said in zip(modules.values(), pieces, strict=True):
        together = re.sub(
            r"T\[(\d+)\]", lambda found, said=said: MARK + json.dumps(said[int(found[1])], ensure_ascii=False), script
        )
        assert together.startswith(module)
    assert any(one != other for one, other in zip(*pieces[:2], strict=True))


def test_two_blanks_in_another_order_are_told_before_a_tablet_gets_them() -> None:
    def read_as(text: str) -> str:
        sources = {"tablet/one.html": '{{ _("{a} of {b}", a=x.a, b=x.b) }}'}
        made = environment().overlay(loader=DictLoader(sources), cache_size=0)
        made.look_up = lambda _: text  # type: ignore[method-assign]
        return module_of(compile_all(made, ["tablet/one.html"])[0])

    script, pieces = text_apart(read_as("{a} of {b}"), read_as("{a} de {b}"))
    assert [" of " in pieces[0], " de " in pieces[1]] == [True, True]
    assert "useText" in script
    with pytest.raises(NotInSubset, match="another order"):
        text_apart(read_as("{a} of {b}"), read_as("{b}: {a}"))


def test_the_tablets_words_and_sentences_are_the_offices_in_each_language() -> None:
    for language in LANGUAGES:
        engine = Engine("texts.js", "dates.js")
        told = json.dumps(json.dumps(table_in(language)))
        engine.run(f"globalThis.texts = modules['texts.js'].textsOf(JSON.parse({told}));")
        with speaking(language):
            said = table()
            for key in said["words"]:
                assert engine.run(f"texts.word({json.dumps(key)})") == word(key)
            for code in said["sentences"]:
                blanks = {name: f"<{name}>" for name in BLANKS.findall(said["sentences"][code])}
                by_tablet = engine.run(f"texts.sentence({json.dumps(code)}, {json.dumps(blanks)})")
                assert by_tablet == sentence(code, **blanks)
            both = engine.run('texts.sayRuling("wrong_support", {now: "on_wheels", wanted: "on_ramp, lift_frame"})')
            assert both == say_ruling("wrong_support", {"now": "on_wheels", "wanted": "on_ramp, lift_frame"})
            assert engine.run('texts.sentence("nobody_knows", {})') == sentence("nobody_knows")


# --- Letters ----------------------------------------------------------------------------------------------------------


def test_a_customers_letter_is_in_the_customers_language_whoever_writes_it() -> None:
    customer = replace(CUSTOMER, language="es", email="mira@okonjo.example")
    with speaking("en"):
        letter = letter_of(handback_facts(SHOP, customer, VEHICLE, JOB, a_closed_sheet()))
    assert letter.language == "es"
    message = OutgoingMessage(
        id="m1", key="handback:j1:1", job=JOB.id, to=customer.email, subject=letter.subject,
        text=letter.text, html=letter.html,
        made_at=datetime(2026, 3, 12, 12, 0, tzinfo=UTC), message_id="<m1@office.example>",
    )  # fmt: skip
    sent = compose(message, Sender("Axle & Arm", "workshop@axle-arm.example", ""))
    assert not isinstance(sent, Problem)
    opened = message_from_bytes(sent.as_bytes(), policy=default)
    assert opened["subject"] == "MB 41 TK: qué hicimos, trabajo 2026-0117 (Axle & Arm Workshop)"
    text = opened.get_body(("plain",)).get_content()
    assert text.startswith(f"Hola, {customer.name},")
    for said in ("QUÉ NOS PIDIÓ", "QUÉ ENCONTRAMOS", "- CAMBIAR: ", "A QUÉ PAR", "Entregado para su devolución"):
        assert said in text
    assert "Clunks when I turn into the drive." in text  # the customer's own words
    html = opened.get_body(("html",)).get_content()
    assert '<html lang="es">' in html
    assert "Qué encontramos" in html


def test_a_customer_whose_language_is_not_here_gets_the_letter_in_english() -> None:
    letter = letter_of(handback_facts(SHOP, replace(CUSTOMER, language="fi"), VEHICLE, JOB, a_closed_sheet()))
    assert letter.language == "en"
    assert letter.text.startswith("Dear ")
