"""The drawings of a letter: the templates the pages have too, each made to stand by itself, with its words.

A drawing in a page takes line weights from the page's styles; here the same looks are written into it, ink on white.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from jinja2 import Environment

from app.domain.drawing import Asked, picture_of
from app.domain.drawing_compared import Pair, compared_view
from app.domain.handback import Drawn
from app.domain.packet import Support
from app.texts import word
from app.use_cases.before_after import HEIGHTS, Compared
from app.use_cases.handback_letter import AxleFact, HandbackFacts
from app.use_cases.shims import shims_drawn

# The looks of static/css/drawing.css in plain ink: typst and mail programs know no custom properties.
_LOOKS = """
.drawn{fill:none;stroke:#000;stroke-width:2;stroke-linejoin:round;stroke-linecap:round}
.drawn--part,.drawn--joint,.drawn--pad,.drawn--stand,.drawn--balloon,.drawn--wheel-else,.drawn--body,.drawn--bellows{fill:#fff}
.drawn--tyre,.drawn--frame{fill:#eee}.drawn--tyre{stroke-width:3}
.drawn--body,.drawn--thin,.drawn--middle{stroke:#666;stroke-width:1.5}
.drawn--hidden{stroke-dasharray:6 5;stroke-width:1.5}.drawn--middle{stroke-dasharray:22 5 4 5}
.drawn--spring,.drawn--bellows,.drawn--pad,.drawn--stand,.drawn--after{stroke-width:3}.drawn--rod{stroke-width:5}
.drawn--floor,.drawn--ring{stroke-width:4}.drawn--load{stroke-width:8;stroke-linecap:butt}
.drawn--spring-loaded{stroke-width:6}.drawn--leader{stroke-width:1.25}
.drawn--dot,.drawn--solid,.drawn--wheel-here{fill:#000;stroke:none}
text{fill:#000;font-family:"Atkinson Hyperlegible Next",Arial,Helvetica,sans-serif}
.drawn__number,.drawn__load{font-size:20px;font-weight:700}.drawn__number{dominant-baseline:central}
.drawn__load{font-size:22px}.drawn__label{font-size:16px}.drawn__label--strong{font-weight:700}
"""


def letter_drawings(environment: Environment, facts: HandbackFacts) -> tuple[Drawn, ...]:
    """Where was worked, then heights and alignment before and after, in the order the letter shows them."""
    shims = (_shims(environment, facts),) if facts.shims else ()
    return (*_axles(environment, facts), *(_compared(environment, one) for one in facts.compared), *shims)


def _axles(environment: Environment, facts: HandbackFacts) -> Iterator[Drawn]:
    for one in facts.axles:
        drawing = _axle(one)
        if drawing["picture"]["shown"]:
            words = f"{drawing['axle_words']}, {drawing['picture']['side']}: {drawing['layout_words']}."
            legend = "; ".join(f"{part['number']} {part['words']}" for part in drawing["picture"]["legend"])
            svg = environment.get_template("drawings/_axle.html").render(drawing=drawing)
            yield Drawn(one.drawing, _alone(svg), f"{_capital(words)} {legend}.")


def _axle(one: AxleFact) -> dict[str, Any]:
    asked = Asked(
        layout=one.layout, place=one.place, axle=one.axle, both_axles=False, corner=one.corner,
        support=str(Support.ON_WHEELS),
    )  # fmt: skip
    return {
        "axle_words": word(f"axle.{one.axle}"),
        "layout_words": word(f"layout.{one.layout}"),
        "picture": picture_of(asked, lambda group, key: word(f"{group}.{key}")),
    }


def _compared(environment: Environment, group: Compared) -> Drawn:
    pairs = {row.key: Pair(row.before_small, row.after_small, row.before, row.after) for row in group.rows}
    names = {row.key: row.what for row in group.rows}
    drawing = compared_view(group.kind == HEIGHTS, pairs, names, lambda kind, key: word(f"{kind}.{key}"))
    template = "drawings/_heights.html" if drawing["is_heights"] else "drawings/_alignment.html"
    return Drawn(group.drawing, _alone(environment.get_template(template).render(drawing)), f"{drawing['words']}.")


def _shims(environment: Environment, facts: HandbackFacts) -> Drawn:
    shims = shims_drawn(facts.shims, lambda kind, key: word(f"{kind}.{key}"))
    return Drawn("shims", _alone(environment.get_template("drawings/_shims.html").render(shims=shims)), shims["words"])


def _alone(svg: str) -> str:
    """A page's drawing as a file of its own: its namespace and its looks within."""
    svg = svg.strip()
    if 'xmlns="' not in svg.partition(">")[0]:
        svg = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    head, _, rest = svg.partition(">")
    return f"{head}><style>{_LOOKS}</style>{rest}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
