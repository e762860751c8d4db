"""What eyes and gloved fingers need, measured in the browser on every page: sizes, contrast, colour, motion, names.

Sizes in CSS px on a tablet of 132 px to the inch: sign-offs 104 (20 mm), everything else a technician touches 64.
Contrast by WCAG 2.2, 1.4.6 (AAA); a link inside a sentence is exempt from target size by 2.5.5, a signal word from 7:1
by being large and bold, on the pair of colours that ANSI Z535.4 gives.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from PIL import Image, ImageChops
from playwright.sync_api import Browser, Page

from app.web.security import LANGUAGE_COOKIE
from tests.browser.conftest import served
from tests.browser.test_accessibility import SIDEWAYS, every_page, signed_in, spanish
from tests.browser.test_sheet_in_browser import on_sheet
from tests.furnished import ADA, TestOffice
from tests.lived_in import LivedIn, lived_in

pytestmark = pytest.mark.browser
TABLET = {"width": 1180, "height": 820}
TOUCH, SIGN = 64, 104
# How far apart the channels of a pixel may lie and still be grey: the tokens' own greys reach 16.
GREY = 24

# Every control that shows, with the box that takes the press: a radio's is its label's.
TARGETS = """() => {
    const seen = one => one.checkVisibility({visibilityProperty: true, opacityProperty: true})
        && !one.closest('.visually-hidden, .skip-link');
    const inSentence = one => {
        if (one.tagName !== 'A' || getComputedStyle(one).display !== 'inline') return false;
        return one.closest('p, li, dd, td, figcaption')?.textContent.trim() !== one.textContent.trim();
    };
    const ticked = one => one.type === 'radio' || one.type === 'checkbox';
    const boxOf = one => (ticked(one) ? one.closest('label') || one : one).getBoundingClientRect();
    return [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')]
        .filter(one => seen(one) && !inSentence(one))
        .map(one => {
            const box = boxOf(one);
            return {what: one.outerHTML.slice(0, 140), wide: box.width, high: box.height,
                    sign: one.classList.contains('button--sign'), field: one.matches('select, textarea, input')};
        })
        .filter(one => one.wide > 0 && one.high > 0);
}"""

# The contrast of each text that shows against what lies behind it; texts on a picture have no such number.
CONTRAST = """() => {
    const canvas = new OffscreenCanvas(1, 1).getContext('2d', {willReadFrequently: true});
    const rgba = colour => {
        canvas.clearRect(0, 0, 1, 1); canvas.fillStyle = colour; canvas.fillRect(0, 0, 1, 1);
        return [...canvas.getImageData(0, 0, 1, 1).data];
    };
    const over = (top, under) => [0, 1, 2].map(i => top[i] * top[3] / 255 + under[i] * (1 - top[3] / 255)).concat(255);
    const light = colour => colour.slice(0, 3).map(one => one / 255)
        .map(one => one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4)
        .reduce((sum, one, i) => sum + one * [0.2126, 0.7152, 0.0722][i], 0);
    const ground = one => {
        if (!one) return rgba(getComputedStyle(document.documentElement).getPropertyValue('--paper') || '#fff');
        const own = rgba(getComputedStyle(one).backgroundColor);
        return own[3] === 255 ? own : over(own, ground(one.parentElement));
    };
    const found = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const one = walk.currentNode.parentElement;
        if (!walk.currentNode.data.trim()) continue;
        if (!one.checkVisibility({visibilityProperty: true, opacityProperty: true})) continue;
        if (one.closest('title, desc, script, style, .visually-hidden, .skip-link, .hand__body--behind')) continue;
        const style = getComputedStyle(one), behind = ground(one);
        const ink = over(rgba(one.closest('svg') && one.tagName === 'text' ? style.fill : style.color), behind);
        const [a, b] = [light(ink), light(behind)].sort((x, y) => y - x);
        const least = one.closest('.hazard__word, .hold-tag__word') ? 4.5 : 7;
        const ratio = (a + 0.05) / (b + 0.05);
        const words = walk.currentNode.data.trim().slice(0, 40);
        if (ratio < least) found.push(`${ratio.toFixed(2)} for “${words}” in ${one.outerHTML.slice(0, 120)}`);
    }
    return found.slice(0, 5);
}"""

# Where colour is allowed: what warns, and photographs.
COLOURED = ".hazard, .caution-line, .hold-tag, img, iframe"
BOXES = """(selector) => [...document.querySelectorAll(selector)].map(one => one.getBoundingClientRect())
    .map(box => [box.left + scrollX, box.top + scrollY, box.right + scrollX, box.bottom + scrollY])"""

MOVING = """(longest) => [...document.querySelectorAll('*')].flatMap(one => ['', '::before', '::after'].map(part => {
    const style = getComputedStyle(one, part || null);
    const one_ms = each => parseFloat(each) * (each.trim().endsWith('ms') ? 1 : 1000);
    const ms = text => Math.max(...text.split(',').map(one_ms));
    const turn = style.transitionProperty === 'none' ? 0 : ms(style.transitionDuration) + ms(style.transitionDelay);
    const took = Math.max(turn, style.animationName === 'none' ? 0 : ms(style.animationDuration));
    return took > longest ? `${took} ms: ${one.outerHTML.slice(0, 120)} ${part}` : '';
})).filter(Boolean).slice(0, 3)"""


@pytest.fixture(scope="module")
def here() -> LivedIn:
    return lived_in()


@pytest.fixture(scope="module")
def address(here: LivedIn) -> Iterator[str]:
    with served(here.app()) as base:
        yield base


def technicians(path: str) -> bool:
    """What a technician works with, in gloves."""
    parts = path.split("?")[0].split("/")
    return parts[1] in ("work", "sign-in", "tools", "reckoner") or parts[-1] == "sheet"


@pytest.mark.parametrize("size", [TABLET, {"width": 390, "height": 844}], ids=["tablet", "phone"])
def test_what_a_technician_touches_is_large_enough_for_gloves(
    browser: Browser, here: LivedIn, address: str, size: Any
) -> None:
    found: dict[str, str] = {}
    signing = 0
    for page, path in every_page(browser, here, address, viewport=size):
        if not technicians(path):
            continue
        for one in page.evaluate(TARGETS):
            signing += one["sign"]
            if one_too_small(one):
                found.setdefault(one["what"], f"{path}: {one['wide']:.0f} × {one['high']:.0f}: {one['what']}")
    assert not found, "\n".join(found.values())
    assert signing > 20


def one_too_small(one: dict[str, Any]) -> bool:
    least = SIGN if one["sign"] else TOUCH
    # A tenth of a pixel is what rounding on a scaled screen may take.
    return bool(one["high"] < least - 0.1 or one["wide"] < min(least, TOUCH) - 0.1)


def test_every_text_stands_out_seven_to_one(browser: Browser, here: LivedIn, address: str) -> None:
    found = [
        f"{scheme}, {path}: {one}"
        for page, path in every_page(browser, here, address)
        for scheme in by_day_and_by_night(page)
        if not path.endswith("/html")
        for one in page.evaluate(CONTRAST)
    ]
    assert not found, "\n".join(found)


def test_all_of_it_holds_in_spanish_too(browser: Browser) -> None:
    """Targets, contrast, and nothing sideways at 320 px, on a phone and at 200 % zoom: each page is opened once.

    Words are longer, so that rows wrap and buttons grow; the colours are the same, and are measured again.
    """
    there = spanish()
    found: dict[str, str] = {}
    signing = measured = 0
    with served(there.app()) as base:
        for page, path in every_page(browser, there, base, viewport=TABLET):
            measured += 1
            page.set_viewport_size(TABLET)  # type: ignore[arg-type]
            if path.startswith("/sign-in"):
                page.context.add_cookies([{"name": LANGUAGE_COOKIE, "value": "es", "url": base}])
                page.reload()
            assert page.locator("html").get_attribute("lang") == "es" or path.endswith("/html"), path
            for scheme in by_day_and_by_night(page) if not path.endswith("/html") else ():
                for one in page.evaluate(CONTRAST):
                    found.setdefault(one, f"{scheme}, {path}: {one}")
            for width in (1180, 390):
                page.set_viewport_size({"width": width, "height": 820})
                for one in page.evaluate(TARGETS) if technicians(path) else ():
                    signing += one["sign"]
                    if one_too_small(one):
                        found.setdefault(one["what"], f"{path} at {width}: {one['wide']:.0f} × {one['high']:.0f}")
            for width in (590, 320):
                page.set_viewport_size({"width": width, "height": 600})
                for one in page.evaluate(SIDEWAYS):
                    found.setdefault(one.partition(">")[0], f"{path} at {width}: {one}")
    assert not found, "\n".join(f"{words}: {what}" for what, words in found.items())
    assert measured > 40
    assert signing > 20


def test_in_spanish_the_focus_goes_on_to_the_next_thing_and_never_to_nowhere(browser: Browser) -> None:
    """A refusal, values, a step done, a note: after each the focus is on something; the page fits at 200 %."""
    made = TestOffice().furnish()
    with made.store.writing() as unit:
        unit.people.save(replace(ADA, language="es"))
        unit.commit()
    with served(made.app()) as base:
        page = on_sheet(browser, base, made.open())
        page.set_viewport_size({"width": 590, "height": 410})
        assert page.locator("html").get_attribute("lang") == "es"
        fields = page.locator("#in-hand .measure input[type=text]")
        record = page.locator("#in-hand form:has(.measure) button[type=submit]")
        fields.first.fill("abc")
        record.click()
        page.wait_for_function("() => document.activeElement.id === 'told'")
        for field in fields.all():
            field.fill("350")
        record.click()
        page.wait_for_function("() => document.activeElement.id === 'finish'")
        page.locator("#finish button[type=submit]").click()
        page.wait_for_function("() => document.activeElement !== document.body && !document.querySelector('.taken')")
        page.locator("#in-hand summary", has_text="Nota").click()
        page.fill("#step-note-text", "Óxido en el brazo")
        page.locator("form:has(#step-note-text) button[type=submit]").click()
        page.wait_for_function("() => document.querySelector('.note')?.textContent.includes('Óxido')")
        assert page.evaluate("document.activeElement !== document.body")
        assert page.evaluate(SIDEWAYS) == []
        page.context.close()


def by_day_and_by_night(page: Page) -> Iterator[str]:
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme="light" if scheme == "light" else "dark")
        yield scheme


def test_pale_text_and_small_buttons_would_be_found(browser: Browser) -> None:
    page = browser.new_page()
    page.set_content(
        "<body style='background:#fff'><p style='color:#666'>pale</p><button style='height:30px;color:#000'>Go</button>"
        "<label><input type=radio> one</label><p>in a <a href='#' style='color:#000'>sentence</a></p></body>"
    )
    assert "5.74" in page.evaluate(CONTRAST)[0]
    assert [round(one["high"]) for one in page.evaluate(TARGETS)] == [30, 17]
    assert coloured(page) == 0
    page.set_content("<body><p style='background:#3a6;height:40px'>green</p></body>")
    assert coloured(page) > 1000
    page.close()


def test_colour_means_danger_and_nothing_else_does(browser: Browser, here: LivedIn, address: str) -> None:
    """From pictures of the pages as they come: outside what warns, and photographs, there is ink and paper alone."""
    found = [
        f"{scheme}, {path}: {count} coloured pixels"
        for page, path in every_page(browser, here, address, viewport={"width": 820, "height": 900})
        for scheme in by_day_and_by_night(page)
        if (count := coloured(page))
    ]
    assert not found, "\n".join(found)


def coloured(page: Page) -> int:
    """How many pixels of the whole page are coloured without being part of something that may be."""
    boxes = page.evaluate(BOXES, COLOURED)
    with Image.open(io.BytesIO(page.screenshot(full_page=True))) as picture:
        red, green, blue = picture.convert("RGB").split()
    least = ImageChops.darker(ImageChops.darker(red, green), blue)
    most = ImageChops.lighter(ImageChops.lighter(red, green), blue)
    spread = ImageChops.subtract(most, least)
    for left, top, right, bottom in boxes:
        spread.paste(0, (max(0, int(left) - 1), max(0, int(top) - 1), int(right) + 2, int(bottom) + 2))
    return sum(spread.histogram()[GREY + 1 :])


def test_what_may_be_coloured_is_coloured(browser: Browser, here: LivedIn, address: str) -> None:
    """Hazards keep their colours, or the test above would say nothing."""
    page = signed_in(browser, address, "bram")
    found = 0
    for path in (path for who, path in here.pages() if who == "bram" and "sheet" in path):
        page.goto(address + path)
        for one in page.locator(".hazard__word").all()[:1]:
            with Image.open(io.BytesIO(one.screenshot())) as picture:
                corner = picture.convert("RGB").getpixel((3, 3))
                assert isinstance(corner, tuple)
                found += max(corner) - min(corner) > 100
    page.context.close()
    assert found > 3


def test_nothing_moves_for_long_and_nothing_where_no_motion_is_wanted(
    browser: Browser, here: LivedIn, address: str
) -> None:
    found: list[str] = []
    for page, path in every_page(browser, here, address):
        page.emulate_media(reduced_motion="no-preference")
        found += [f"{path}: {one}" for one in page.evaluate(MOVING, 150)]
        page.emulate_media(reduced_motion="reduce")
        found += [f"{path}, no motion wanted: {one}" for one in page.evaluate(MOVING, 0)]
    assert not found, "\n".join(found)


def test_forced_colours_are_kept_everywhere(browser: Browser, here: LivedIn, address: str) -> None:
    """A person's own two colours: every text can be read in them, drawings and symbols too."""
    found: list[str] = []
    for page, path in every_page(browser, here, address, forced_colors="active"):
        for scheme in by_day_and_by_night(page):
            found += [f"{scheme}, {path}: {one}" for one in ([] if path.endswith("/html") else page.evaluate(CONTRAST))]
            found += [f"{scheme}, {path}: {one}" for one in page.evaluate(DRAWN)]
    assert not found, "\n".join(found)


# What is drawn in the page and is neither the person's own ink nor their own ground.
DRAWN = """() => {
    const probe = document.createElement('i'); document.body.append(probe);
    const named = 'CanvasText Canvas GrayText LinkText ButtonText ButtonFace Highlight HighlightText VisitedText';
    const own = named.split(' ').map(name => { probe.style.color = name; return getComputedStyle(probe).color; });
    probe.remove();
    const others = '.hazard svg, .caution-line svg, .hold-tag svg, .paper-code svg, .label-card svg, .tablet-code svg';
    const shapes = ':is(path, circle, line, polyline, polygon, rect, text)';
    return [...document.querySelectorAll(`main svg:not(${others}) ${shapes}`)]
        .filter(one => one.checkVisibility())
        .flatMap(one => ['fill', 'stroke'].map(name => [one, name, getComputedStyle(one)[name]]))
        .filter(([, , colour]) => colour !== 'none' && !own.includes(colour))
        .map(([one, name, colour]) => `${name} ${colour}: ${one.outerHTML.slice(0, 120)}`).slice(0, 3);
}"""

LONG = "Wolfeschlegelsteinhausenbergerdorff-Llanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch"


def test_long_names_break_nothing(browser: Browser) -> None:
    """People, customers, vehicles, bays, tools and what customers say, all as one word of ninety letters."""
    there = lived_in()
    _lengthen(there)
    with served(there.app()) as base:
        found: dict[str, str] = {}
        for page, path in every_page(browser, there, base):
            for width in (1180, 820, 320):
                page.set_viewport_size({"width": width, "height": 700})
                for one in page.evaluate(SIDEWAYS):
                    found.setdefault(one.partition(">")[0], f"{path} at {width}: {one}")
    assert not found, "\n".join(found.values())


def _lengthen(there: LivedIn) -> None:
    with there.store.writing() as unit:
        for person in unit.people.all():
            unit.people.save(replace(person, name=f"{person.name} {LONG}"))
        for customer in unit.customers.all():
            unit.customers.save(replace(customer, name=LONG, email=f"{LONG[:60]}@{LONG[:60]}.example"))
        for vehicle in unit.vehicles.all():
            unit.vehicles.save(
                replace(vehicle, colour=LONG, tyre_front=LONG[:40], plate=f"{vehicle.plate} {LONG[:9].upper()}")
            )
        for bay in unit.bays.all():
            unit.bays.save(replace(bay, name=f"{bay.name} {LONG}"))
        for tool in unit.tools.all():
            unit.tools.save(replace(tool, name=LONG))
        for job in unit.jobs.all():
            unit.jobs.save(replace(job, complaint=LONG))
        unit.commit()
