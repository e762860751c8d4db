"""`enrol.js`: where a device becomes a tablet, what it keeps, and what it says when nothing comes of it."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.js_engine import Engine

PLAY = """
(() => {
  const kept = [], sent = [];
  const pocket = {
    tablet: async () => given.before,
    keepTablet: async (tablet) => { if (given.full) throw new Error("quota"); kept.push(tablet); },
  };
  const post = async (body, headers) => {
    sent.push([JSON.parse(body), headers]);
    if (given.status === 0) throw new TypeError("no answer");
    return { status: given.status, json: async () => given.answer };
  };
  globalThis.outcome = null;
  modules["enrol.js"].enrol(pocket, post, "ABCDE-23456", "Bench").then((found) => {
    globalThis.outcome = { found, kept, sent };
  });
})();
"""
ANSWER = {"tablet": {"id": "t-1", "name": "Bench"}, "secret": "s3"}


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine("enrol.js")


def outcome(engine: Engine, **given: Any) -> Any:
    given = {"before": None, "status": 200, "answer": ANSWER, "full": False, **given}
    engine.run(f"globalThis.given = {json.dumps(given)}; {PLAY}")
    return json.loads(engine.run("JSON.stringify(globalThis.outcome)"))


def test_the_credential_is_kept_before_it_is_done(engine: Engine) -> None:
    done = outcome(engine)

    assert done["sent"] == [[{"code": "ABCDE-23456", "name": "Bench"}, {}]]
    assert done["kept"] == [{"id": "t-1", "name": "Bench", "secret": "s3"}]
    assert done["found"] == {"id": "t-1", "says": "", "words": ""}


def test_a_device_that_was_a_tablet_says_so(engine: Engine) -> None:
    done = outcome(engine, before={"id": "t-1", "secret": "old"})

    assert done["sent"][0][1] == {"Authorization": "Tablet t-1.old"}


@pytest.mark.parametrize("status", [0, 500, 502])
def test_an_office_that_does_not_answer_leaves_all_as_it_was(engine: Engine, status: int) -> None:
    done = outcome(engine, status=status)

    assert (done["kept"], done["found"]) == ([], {"id": "", "says": "away", "words": ""})


def test_a_refusal_is_said_in_the_office_s_words(engine: Engine) -> None:
    done = outcome(engine, status=422, answer={"problem": "enrol_code_unknown", "words": "This code cannot be used."})

    assert (done["kept"], done["found"]) == ([], {"id": "", "says": "", "words": "This code cannot be used."})


def test_a_tablet_that_cannot_keep_it_says_so(engine: Engine) -> None:
    assert outcome(engine, full=True)["found"] == {"id": "", "says": "unkept", "words": ""}


@pytest.mark.parametrize(
    ("hostname", "secure", "why"),
    [
        ("office.larkfield.test", True, ""),
        ("localhost", True, ""),
        ("office.larkfield.test", False, "insecure"),
        ("192.168.1.20", True, "address"),
        ("192.168.1.20", False, "address"),
        ("[fd00::1]", True, "address"),
        ("10.example", True, ""),
    ],
)
def test_where_a_tablet_could_not_work_it_is_not_made(engine: Engine, hostname: str, secure: bool, why: str) -> None:
    assert engine.call("enrol.js", "whyNot", hostname, secure) == why
