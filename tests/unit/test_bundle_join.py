"""Joining modules and styles into one file: what they give, in which order, and what is refused with its place."""

from __future__ import annotations

import pytest
from py_mini_racer import MiniRacer

from app.bundle.bundle import lean
from app.bundle.join import NotJoined, exported, join, join_styles

MODULES = {
    "tablet/start.js": 'import { page } from "../js/page.js";\nimport * as rules from "./rules.js";\n'
    "export const begin = (n) => page(n) + rules.twice(n);\nexport function end() {\n  return begin.name;\n}\n",
    "tablet/rules.js": 'import { own as theirs } from "./own.js";\nconst own = 2;\n'
    "export const twice = (n) => own * n + theirs;\n",
    "tablet/own.js": "const own = 100;\nexport { own };\n",
    "tablet/not-asked-for.js": "throw new Error('run');\n",
    "js/page.js": "const own = 1;\nexport function page(n) {\n  return own + n;\n}\n",
}


def run(script: str, expression: str) -> object:
    """The joined module as a plain script: its exports become plain names."""
    return MiniRacer().eval(script.replace("export const", "var") + f";{expression}")


def test_what_is_joined_gives_what_its_entry_gives():
    joined = join("tablet/start.js", MODULES)

    assert exported(joined) == ["begin", "end"]
    assert run(joined, "begin(10)") == 1 + 10 + 2 * 10 + 100


def test_names_of_one_module_are_not_seen_in_another_and_nothing_unasked_for_is_run():
    assert run(join("tablet/rules.js", MODULES), "typeof own + twice(1)") == "undefined102"


def test_what_is_joined_does_the_same_when_made_lean():
    joined = join("tablet/start.js", MODULES)
    made = lean("tablet/start.js", joined).decode()

    assert len(made) < len(joined) * 0.7
    assert exported(made.replace("export const ", "\nexport const ")) == ["begin", "end"]
    assert run(made, "begin(10)") == 131


def test_what_takes_something_apart_stays_behind_what_it_needs():
    script = "const f = (n) => { const one = [n]; const [two] = one; const { three } = { three: two }; return three; };"

    assert MiniRacer().eval(f"{lean('a.js', script).decode()};f(3)") == 3


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('const a = 1;\nimport x from "./a.js";\n', "static/a.js:2: imports or exports in a form"),
        ("export default 1;\n", "static/a.js:1: imports or exports in a form"),
        ("\n\nexport let a = 1;\n", "static/a.js:3: imports or exports in a form"),
        ('import { x } from "somewhere";\n', "only relative paths"),
        ('import { x } from "./gone.js";\n', "static/a.js:1: asks for gone.js, which the tablet does not carry"),
        ('import { x } from "./a.js";\n', "in a circle: a.js -> a.js"),
    ],
)
def test_what_cannot_be_joined_is_told_with_its_place(text: str, says: str):
    with pytest.raises(NotJoined) as told:
        join("a.js", {"a.js": text})

    assert says in str(told.value)


def test_a_style_takes_in_what_it_imports_in_its_place_and_layer():
    styles = {
        "css/main.css": '@layer base, parts;\n@import url("tokens.css");\n@import url("part.css") layer(parts);\n',
        "css/tokens.css": ":root { --ink: #111; }",
        "css/part.css": ".part { color: var(--ink); }",
    }

    assert join_styles("css/main.css", styles) == (
        "@layer base, parts;\n:root { --ink: #111; }\n@layer parts {\n.part { color: var(--ink); }\n}\n"
    )


def test_a_style_that_is_not_there_is_told():
    with pytest.raises(NotJoined, match=r"static/css/main\.css:1: asks for gone\.css"):
        join_styles("css/main.css", {"css/main.css": '@import url("gone.css");'})
