"""The colours, reckoned from the tokens themselves: contrast by the formula of WCAG 2.2, and colour only for danger.

Formula: W3C, Web Content Accessibility Guidelines 2.2 (2023-10-05), definitions of relative luminance and of contrast
ratio; level AAA (1.4.6) wants 7:1 for text, 1.4.11 wants 3:1 for what a control is known by.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.settings import ROOT

CSS = ROOT / "static" / "css"
TOKENS = (CSS / "tokens.css").read_text("utf-8")
LIGHT, DARK = TOKENS.split("@media (prefers-color-scheme: dark)")
GROUNDS = ("paper", "sheet", "wash")
SAFETY = re.compile(r"var\(--(?:danger|warning|caution|notice|raw-safety)[\w-]*\)")
COLOUR = re.compile(r"#[0-9a-fA-F]{3,8}\b|\b(?:rgb|rgba|hsl|hsla|lab|lch|oklab|oklch|color|color-mix)\(")


def values(theme: str) -> dict[str, str]:
    """The raw tokens of a theme by name; the dark one changes some of the light one's."""
    light = dict(re.findall(r"--raw-([\w-]+): (#[0-9a-f]{6});", LIGHT))
    return light if theme == "light" else light | dict(re.findall(r"--raw-([\w-]+): (#[0-9a-f]{6});", DARK))


def channels(colour: str) -> tuple[int, int, int]:
    return (int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16))


def luminance(colour: str) -> float:
    parts = (one / 255 for one in channels(colour))
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # Black on white is 21:1 by the definition itself; the greys are the usual examples, from memory.
        ("#000000", "#ffffff", 21.0),
        ("#767676", "#ffffff", 4.54),
        ("#595959", "#ffffff", 7.0),
    ],
)
def test_the_formula_gives_the_published_ratios(one: str, other: str, ratio: float):
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("ink", ["ink", "ink-soft"])
def test_text_stands_out_seven_to_one_on_every_ground(theme: str, ground: str, ink: str):
    named = values(theme)

    assert contrast(named[ink], named[ground]) >= 7


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", GROUNDS)
def test_the_lines_that_bound_a_control_stand_out_three_to_one(theme: str, ground: str):
    named = values(theme)

    assert contrast(named["line-strong"], named[ground]) >= 3


@pytest.mark.parametrize("signal", ["danger", "warning", "caution"])
def test_a_signal_word_can_be_read_on_its_colour(signal: str):
    """ANSI Z535.4 gives the pairs: white on safety red, black on safety orange and yellow."""
    ground = {"danger": "red", "warning": "orange", "caution": "yellow"}[signal]
    ink = re.search(rf"--{signal}-ink: (#[0-9a-f]{{6}});", TOKENS)
    assert ink is not None

    # Signal words are large and bold, for which AAA asks 4.5:1.
    assert contrast(ink[1], values("light")[f"safety-{ground}"]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_only_the_safety_colours_are_saturated(theme: str):
    """Greys may be warm or cold by a few steps of 255, which no eye calls a colour; the safety colours are far off."""
    spread = {name: max(channels(one)) - min(channels(one)) for name, one in values(theme).items()}

    assert {name for name, wide in spread.items() if wide > 20} == {
        "safety-red", "safety-orange", "safety-yellow", "safety-blue",
    }  # fmt: skip


@pytest.mark.parametrize("path", sorted(CSS.glob("*.css")), ids=lambda path: path.name)
def test_no_component_has_a_colour_of_its_own(path: Path):
    """Black and white are the paper's and the stripes'; every other colour comes from the tokens."""
    if path.name == "tokens.css":
        return
    own = set(COLOUR.findall(path.read_text("utf-8"))) - {"#000000", "#ffffff"}

    assert own == set()


def test_only_the_hazard_components_use_the_safety_colours():
    using = {path.name for path in CSS.glob("*.css") if SAFETY.search(path.read_text("utf-8"))}

    assert using - {"tokens.css"} == {"hazard.css"}


def own_rules(path: Path) -> set[str]:
    """The classes a file styles by themselves, outside of any media query; `print.css` only takes away."""
    return set(re.findall(r"^\.([a-z][\w-]*) \{", _without_comments(path), flags=re.MULTILINE))


def test_a_component_has_its_rule_in_one_file():
    """Two that share a name by chance would each be dressed as the other."""
    places: dict[str, list[str]] = {}
    for path in sorted(CSS.glob("*.css")):
        for name in own_rules(path) if path.name != "print.css" else ():
            places.setdefault(name, []).append(path.name)

    assert places["signature__line"] == ["fastener.css"]
    assert {name: files for name, files in places.items() if len(files) > 1} == {}


def test_nothing_is_styled_by_what_stands_before_anything():
    """`* + *`, in whatever box, has a browser reckon all that stands around anew whenever something is put in."""
    found = [path.name for path in CSS.glob("*.css") if re.search(r"(?:^|[\s>{,])\* ?[+~]", _without_comments(path))]

    assert found == []


def _without_comments(path: Path) -> str:
    return re.sub(r"/\*.*?\*/", "", path.read_text("utf-8"), flags=re.DOTALL)
