"""A letter on paper, read by a PDF reader that had no part in making it: text, tags, language, title, typefaces.

No validator of PDF/UA is in the tests: that typst keeps to ISO 14289-1 is typst's own word, which it refuses to give
for a document that breaks it. What is asked here of the file's own structure is what can be read off it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject

from app.domain.handback import Drawn
from app.domain.problems import OursToMend
from app.domain.records import RECHECK
from app.mail.render import write_letter
from app.ports import Paper, Printed
from app.print.blocks import blocks_of
from app.print.printer import TypstPrinter
from app.use_cases.handback_letter import Beside, handback_facts
from app.web.rendering import environment
from demo.pictures import a_photo
from tests.unit.mail_cast import CUSTOMER, JOB, SHOP, VEHICLE, a_closed_sheet

NOON = datetime(2026, 3, 12, 12, tzinfo=UTC)
PRINTER = TypstPrinter(system_fonts=False)
PHOTO, BROKEN = "a" * 64, "b" * 64
DRAWING = Drawn(
    "bars",
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 100"><path d="M10 50H600" stroke="#000"/></svg>',
    "A line from left to right",
)


def a_paper(html: str, **over: Any) -> Paper:
    return replace(Paper("A title", "Axle & Arm", "en", html, (), {}, NOON), **over)


def the_letter(**over: Any) -> Paper:
    letter = write_letter(environment(), handback_facts(SHOP, CUSTOMER, VEHICLE, JOB, a_closed_sheet(), Beside()))
    return a_paper(letter.paper, title=letter.subject, drawings=letter.drawings, **over)


def read(printed: Printed) -> PdfReader:
    return PdfReader(BytesIO(printed.pdf), strict=True)


def text_of(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def tags(reader: PdfReader) -> list[DictionaryObject]:
    """Every element of the structure tree, whatever it holds."""
    return list(_elements(reader.root_object["/StructTreeRoot"]["/K"]))


def _elements(node: Any) -> Iterator[DictionaryObject]:
    node = node.get_object()
    if isinstance(node, ArrayObject):
        for one in node:
            yield from _elements(one)
    elif isinstance(node, DictionaryObject) and "/S" in node:
        yield node
        if "/K" in node:
            yield from _elements(node["/K"])


def kinds(reader: PdfReader) -> list[str]:
    return [str(one["/S"]) for one in tags(reader)]


def test_the_letter_says_on_paper_what_it_says_by_mail() -> None:
    """One content: every word of the mailed HTML's paragraphs, lists and tables is in the PDF."""
    paper = the_letter()
    words = text_of(read(PRINTER.pdf(paper)))

    for block in blocks_of(paper.html):
        cells = [one["runs"] for row in block.get("rows", []) for one in row]
        for runs in (*([block["runs"]] if "runs" in block else []), *block.get("items", []), *cells):
            if isinstance(runs, list):
                told = "".join(one.get("text", " ") for one in runs)
                # Lines are broken anew on paper, sometimes after a hyphen.
                assert told.replace(" ", "") in words.replace(" ", ""), told


def test_the_workshop_s_reason_to_call_a_vehicle_in_is_its_own_words_on_paper_too() -> None:
    job = replace(JOB, id=f"{RECHECK}0f", complaint="Wrench W15 read high.")
    letter = write_letter(environment(), handback_facts(SHOP, CUSTOMER, VEHICLE, job, a_closed_sheet(), Beside()))
    words = text_of(read(PRINTER.pdf(a_paper(letter.paper, title=letter.subject, drawings=letter.drawings))))

    assert "Why we asked you to come Brought in" in words
    assert f"In the words of the workshop, {SHOP.name}: Wrench W15 read high." in words
    assert "In your words" not in words


def test_the_file_says_what_it_is_in_which_language_and_that_it_is_tagged() -> None:
    printed = PRINTER.pdf(the_letter())
    reader = read(printed)
    root = reader.root_object

    assert printed.standard == "ua-1"
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata is not None
    assert reader.metadata.title == "MB 41 TK: what we did, job 2026-0117 (Axle & Arm Workshop)"
    assert reader.metadata.author == "Axle & Arm"
    assert "<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_object().get_data().decode()


def test_headings_lists_and_tables_are_tagged_as_what_they_are() -> None:
    found = kinds(read(PRINTER.pdf(the_letter())))

    assert found.count("/H1") == 1
    for kind in ("/H2", "/H3", "/P", "/L", "/LI", "/Table", "/TR", "/TH", "/TD"):
        assert kind in found, kind
    assert found.index("/H1") < found.index("/H2") < found.index("/H3")


def test_every_typeface_is_within_the_file() -> None:
    reader = read(PRINTER.pdf(the_letter()))
    seen = set()
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()
            descriptor = inner["/FontDescriptor"].get_object()
            assert any(name in descriptor for name in ("/FontFile2", "/FontFile3"))
            seen.add(str(font.get_object()["/BaseFont"]).partition("+")[2])

    assert any("AtkinsonHyperlegibleNext" in name for name in seen), seen


def test_a_drawing_is_a_figure_with_its_words() -> None:
    html = '<h1>Bars</h1><img src="cid:bars" alt="A line from left to right">'
    found = tags(read(PRINTER.pdf(a_paper(html, drawings=(DRAWING,)))))

    figures = [one for one in found if one["/S"] == "/Figure"]
    assert [one["/Alt"] for one in figures] == ["A line from left to right"]


def test_photos_are_in_it_with_their_words_and_a_broken_one_is_named() -> None:
    html = (
        f'<h1>Photos</h1><img src="photo:{PHOTO}" alt="Front left" title="Front left (lost)">'
        f'<img src="photo:{BROKEN}" alt="Rear" title="Rear (could not be printed)">'
        f'<img src="photo:{"c" * 64}" alt="Gone" title="Gone (could not be printed)">'
    )
    printed = PRINTER.pdf(a_paper(html, photos={PHOTO: a_photo(1), BROKEN: b"\x89PNG\r\n\x1a\n but no more"}))
    reader = read(printed)

    assert printed.left_out == (BROKEN, "c" * 64)
    assert [one["/Alt"] for one in tags(reader) if one["/S"] == "/Figure"] == ["Front left"]
    assert sum(len(page.images) for page in reader.pages) == 1
    words = text_of(reader)
    assert "Rear (could not be printed)" in words
    assert "Gone (could not be printed)" in words
    assert "(lost)" not in words


def test_the_same_paper_gives_the_same_bytes() -> None:
    assert PRINTER.pdf(the_letter()).pdf == PRINTER.pdf(the_letter()).pdf


@pytest.mark.parametrize("name", ["Søren Ødegård-Nuñez", "Łukasz Žižka", "Ψίλα Καραβά", "Иван Петров"])
def test_names_that_our_typefaces_have_are_printed_and_the_standard_is_kept(name: str) -> None:
    printed = PRINTER.pdf(a_paper(f"<h1>Dear {name}</h1>"))

    assert printed.standard == "ua-1"
    assert name in text_of(read(printed))


def test_a_name_no_typeface_has_costs_the_standard_and_not_the_letter() -> None:
    printed = PRINTER.pdf(a_paper("<h1>Dear 山田</h1><p>Your vehicle is ready.</p>"))

    assert printed.standard == ""
    assert "Your vehicle is ready." in text_of(read(printed))
    assert "/H1" in kinds(read(printed))


@pytest.mark.parametrize(
    "typed",
    ['#import "x"', "$a$", "= no heading", "*not bold*", "`raw`", "\\u{41}", "<label>", "@ref", "// gone", "[x]"],
)
def test_what_somebody_typed_is_never_read_as_markup(typed: str) -> None:
    escaped = typed.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
    reader = read(PRINTER.pdf(a_paper(f"<h1>Letter</h1><p>before {escaped} after</p>")))

    assert f"before {typed} after".replace(" ", "") in text_of(reader).replace(" ", "")
    assert kinds(reader).count("/H1") == 1


def test_a_drawing_is_a_png_of_its_own_size() -> None:
    png = PRINTER.png(DRAWING.svg)

    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = (int.from_bytes(png[at : at + 4], "big") for at in (16, 20))
    # 640 by 100 points with a margin of 8 all round, at 144 pixels to the inch.
    assert (width, height) == (1_312, 232)


# --- Reading our own HTML -------------------------------------------------------------------------------------------


def test_white_space_is_as_a_browser_shows_it() -> None:
    (block,) = blocks_of("<p>  one\n <b> two </b>three<br>\n four </p>")

    assert block["runs"] == [
        {"text": "one ", "bold": False},
        {"text": "two ", "bold": True},
        {"text": "three", "bold": False},
        {"break": True},
        {"text": "four", "bold": False},
    ]


@pytest.mark.parametrize(
    "html",
    [
        "<p>one<section>two</section></p>",
        "<script>1</script>",
        "words alone",
        "<p>one<p>two</p></p>",
        "<p>never shut",
        "<ul><li>one</ul>",
        '<img src="https://elsewhere.example/x.png">',
        "<table><tbody><tr><td>1</td><td>2</td></tr><tr><td>3</td></tr></tbody></table>",
        "<table><thead><tr><th>1</th><th>2</th></tr></thead><tbody><tr><td>3</td></tr></tbody></table>",
    ],
)
def test_html_that_could_lose_a_line_on_paper_is_a_mistake_that_is_told(html: str) -> None:
    with pytest.raises(OursToMend):
        blocks_of(html)


def test_a_letter_that_shows_a_drawing_it_does_not_have_is_a_mistake_that_is_told() -> None:
    with pytest.raises(OursToMend, match="bars"):
        PRINTER.pdf(a_paper('<h1>Bars</h1><img src="cid:bars" alt="bars">'))
