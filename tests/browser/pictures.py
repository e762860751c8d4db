"""Pictures of the main screens and of every part of the interface, taken the same way each time, and compared.

The workshop is the invented one at its fixed moment, the browser's clock stands at the same, typefaces are ours and
nothing moves. Pictures are kept at half their size in a few colours. Two are the same when each point lies between the
lightest and the darkest of the points around it in the other: another build of the browser draws edges a fraction of a
pixel elsewhere; a control that moved by four is somewhere else.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from fastapi import FastAPI
from PIL import Image, ImageFilter
from playwright.sync_api import Browser, BrowserContext, Page

from app.bootstrap import Wired, app_of
from app.mail.folder import FolderPostman
from app.settings import Settings
from app.storage.memory import MemoryStore
from app.web.hub import Hub
from demo import larkfield
from demo.examples.parts import examples
from demo.examples.states import NOW, workshop
from tests.browser.conftest import served
from tests.offices import PlainPins

APPROVED = Path(__file__).parent / "approved"
DIFFERENCES = Path(__file__).parent / "differences"
SIZES = {
    "tablet": {"width": 1180, "height": 820},
    "portrait": {"width": 820, "height": 1180},
    "phone": {"width": 390, "height": 844},
    "desk": {"width": 1440, "height": 900},
}
SCHEMES = ("light", "dark")
# Who looks, and where: what is seen without scrolling, and as much again below.
SCREENS: dict[str, tuple[str, str]] = {
    "sign-in": ("", "/sign-in"),
    "work": ("bram", "/work"),
    "sheet-gate": ("bram", "/jobs/26-0005/sheet?step=l1.carry_arm"),
    "sheet-torque": ("bram", "/jobs/26-0004/sheet?step=l1.centre_nut_on"),
    "sheet-finished": ("bram", "/jobs/26-0003/sheet"),
    "floor": ("foreman", "/floor"),
    "desk": ("maud", "/desk"),
    "job": ("foreman", "/jobs/26-0005"),
    "estimate": ("foreman", "/jobs/26-0012/estimate"),
    "spec-book": ("maud", "/desk/figures?model=Tallis+2.4+saloon"),
    "tools": ("bram", "/tools"),
    "tracing": ("maud", "/desk/tracing"),
    "reckoner": ("bram", "/reckoner"),
}
SMALLER, COLOURS = 2, 24
# The parts of /patterns at every size, by day and by night. Three are kept at half their size; the others, which show
# what another width or the night makes of the same part, at a third, or they would take as much room as all the rest.
FINE = frozenset({("tablet", "light"), ("tablet", "dark"), ("phone", "light")})
PART_SIZES = {(size, scheme): SMALLER if (size, scheme) in FINE else 3 for size in SIZES for scheme in SCHEMES}
PART_HIGH = 1_600
# How far a point may lie outside what is around it, and how many may.
APART, POINTS = 48, 6


@dataclass(frozen=True, slots=True)
class Picture:
    name: str
    image: Image.Image


@contextmanager
def the_workshop() -> Iterator[str]:
    with served(frozen_app()) as base:
        yield base


def frozen_app() -> FastAPI:
    """The invented workshop at its moment, over records of its own, with /patterns."""
    office = workshop()
    assert isinstance(office.store, MemoryStore)
    store = MemoryStore()
    store.publish(office.store._state)
    plain = PlainPins()
    with store.writing() as unit:
        for one in larkfield.PEOPLE:
            person = unit.people.get(one.key)
            assert person is not None
            unit.people.save(replace(person, pin_hash=plain.hash(one.pin)))
        unit.commit()
    settings = Settings(_env_file=None, development=True)
    return app_of(Wired(settings, replace(office, store=store, pins=plain), Hub(), FolderPostman(Path("unused"))))


def screens(browser: Browser, base: str, wanted: Callable[[str], bool] = lambda name: True) -> Iterator[Picture]:
    """Every main screen at every size, by day and by night."""
    for scheme in SCHEMES:
        for who in dict.fromkeys(who for who, _ in SCREENS.values()):
            with looking(browser, base, who, scheme) as page:
                for screen, (_, path) in ((name, one) for name, one in SCREENS.items() if one[0] == who):
                    for size, pixels in SIZES.items():
                        name = f"{screen}-{size}-{scheme}"
                        if wanted(name):
                            page.set_viewport_size(pixels)  # type: ignore[arg-type]
                            open_still(page, base + path)
                            yield Picture(name, taken(page, pixels["width"], 2 * pixels["height"]))


def parts(browser: Browser, base: str, wanted: Callable[[str], bool] = lambda name: True) -> Iterator[Picture]:
    """Every part of /patterns, as much of it as is not too high."""
    # Finding them takes longer than a browser waits.
    examples()
    with looking(browser, base, "", "light") as page:
        page.set_viewport_size({"width": SIZES["desk"]["width"], "height": PART_HIGH})
        open_still(page, f"{base}/patterns")
        groups = page.evaluate("[...document.querySelectorAll('.patterns-groups a')].map(one => one.pathname)")
        for group in groups:
            # Loaded once: these pages are long, and only width and light change.
            open_still(page, base + group)
            # On which page a state was found first is no matter of its looks, and changes with every page more.
            page.evaluate("document.querySelectorAll('.pattern__where').forEach(one => one.remove())")
            sections = [
                (one, part_name(one.locator("h2").first.inner_text())) for one in page.locator("section.pattern").all()
            ]
            for (size, scheme), smaller in PART_SIZES.items():
                page.set_viewport_size({"width": SIZES[size]["width"], "height": PART_HIGH})
                page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
                for section, part in sections:
                    name = f"{part}-{size}-{scheme}"
                    if wanted(name):
                        # The page is far too high to be pictured whole each time: it is scrolled there.
                        box = section.evaluate(
                            "one => { one.scrollIntoView({block: 'start', behavior: 'instant'});"
                            " const box = one.getBoundingClientRect();"
                            " return [box.left, box.top, box.width, box.height]; }"
                        )
                        high = min(box[3], PART_HIGH - box[1])
                        yield Picture(name, clipped(page, box[0], box[1], box[2], high, whole=False, smaller=smaller))


def part_name(title: str) -> str:
    part = title.replace("/", ".").replace(", ", ".").replace(".html", "").replace(" ", "-")
    return f"part-{part}"


@contextmanager
def looking(browser: Browser, base: str, who: str, scheme: str) -> Iterator[Page]:
    context: BrowserContext = browser.new_context(
        color_scheme="dark" if scheme == "dark" else "light", reduced_motion="reduce", device_scale_factor=1,
        locale="en-GB", timezone_id="Europe/London",
    )  # fmt: skip
    page = context.new_page()
    page.clock.set_fixed_time(NOW)
    if who:
        page.goto(f"{base}/sign-in")
        page.check(f'input[value="{who}"]')
        page.fill("#pin", next(one.pin for one in larkfield.PEOPLE if one.key == who))
        page.click("main button")
        page.wait_for_url(lambda address: "/sign-in" not in address)
    yield page
    context.close()


def open_still(page: Page, address: str) -> None:
    """Open it and wait until typefaces are there and nothing has the focus."""
    page.goto(address, wait_until="load")
    page.evaluate("document.fonts.ready.then(() => document.activeElement?.blur())")


def taken(page: Page, width: int, most: int) -> Image.Image:
    high = page.evaluate("document.documentElement.scrollHeight")
    return clipped(page, 0, 0, width, min(high, most))


def clipped(
    page: Page, x: float, y: float, width: float, height: float, *, whole: bool = True, smaller: int = SMALLER
) -> Image.Image:
    """This much of the page, so many times smaller."""
    clip = {"x": int(x), "y": int(y), "width": max(2, int(width)), "height": max(2, int(height))}
    # A browser writes days in the way of the machine it is on.
    days = page.locator("input[type=date], input[type=time], input[type=datetime-local]")
    data = page.screenshot(
        full_page=whole, clip=clip, animations="disabled", caret="hide", mask=[days], mask_color="#888888"
    )  # type: ignore[arg-type]
    with Image.open(io.BytesIO(data)) as image:
        return image.convert("RGB").reduce(smaller)


def kept(name: str) -> Path:
    return APPROVED / f"{name}.png"


def keep(picture: Picture) -> int:
    """Approve it; gives its size in bytes."""
    path = kept(picture.name)
    APPROVED.mkdir(exist_ok=True)
    for colours in (COLOURS, 4 * COLOURS, 256):
        few = picture.image.quantize(colours, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
        few.save(path, "PNG", optimize=True)
        # A fine edge may have no colour of its own among few: it would differ from itself.
        if difference(approved(path), picture.image) is None:
            break
    return path.stat().st_size


def approved(path: Path) -> Image.Image:
    with Image.open(path) as image:
        return image.convert("RGB")


def difference(before: Image.Image, now: Image.Image) -> Image.Image | None:
    """None if nothing to speak of differs; else both beside each other, and where."""
    if before.size != now.size:
        size = (max(before.width, now.width), max(before.height, now.height))
        marks = np.ones((size[1], size[0]), bool)
    else:
        marks = _outside(now, before) | _outside(before, now)
    return _beside(before, now, marks) if int(marks.sum()) > POINTS else None


def _outside(one: Image.Image, other: Image.Image) -> Any:
    """The points of one that lie clearly outside whatever is around them in the other."""
    low = np.asarray(other.filter(ImageFilter.MinFilter(3)), np.int16) - APART
    high = np.asarray(other.filter(ImageFilter.MaxFilter(3)), np.int16) + APART
    here = np.asarray(one, np.int16)
    return ((here < low) | (here > high)).any(axis=2)


def _beside(before: Image.Image, now: Image.Image, marks: Any) -> Image.Image:
    where = Image.fromarray((~marks * 255).astype("uint8"), "L").filter(ImageFilter.MinFilter(5)).convert("RGB")
    shown = Image.new("RGB", (before.width + now.width + where.width + 20, max(before.height, now.height)), "white")
    shown.paste(before, (0, 0))
    shown.paste(now, (before.width + 10, 0))
    shown.paste(where, (before.width + now.width + 20, 0))
    return shown


def compared(picture: Picture) -> str:
    """ "" if it is as approved; else what to do about it, with the difference written beside the tests."""
    path = kept(picture.name)
    DIFFERENCES.mkdir(exist_ok=True)
    if not path.exists():
        picture.image.save(DIFFERENCES / f"{picture.name}.png")
        return f"{picture.name}: nobody has approved it yet (see {DIFFERENCES / picture.name}.png)"
    found = difference(approved(path), picture.image)
    if found is None:
        return ""
    found.save(DIFFERENCES / f"{picture.name}.png")
    return f"{picture.name}: not as approved (approved, now, where: {DIFFERENCES / picture.name}.png)"
