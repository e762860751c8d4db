"""The invented workshop itself: what tests build on has to hold."""

from __future__ import annotations

from app.domain.standing import open_points
from app.use_cases.verify import verify
from tests.builders import FAY, whole_job
from tests.offices import a_small_job, a_visitor, an_app, an_office


def test_a_job_on_the_office_vehicle_opens_with_a_whole_packet() -> None:
    here = an_office()

    job = here.opens()

    assert len(here.sheet(job).packet.steps) > 20
    assert "floor" in here.announced


def test_a_played_job_comes_through_the_office_s_own_door_and_verifies() -> None:
    here = an_office()

    job = a_small_job(here, whole_job())

    assert open_points(here.sheet(job)) == ()
    assert verify(here.office).breaches == ()


def test_a_visitor_is_signed_in_and_holds_the_token_of_this_sign_in() -> None:
    visitor = a_visitor(an_app(an_office()), FAY)

    assert visitor.csrf
    assert visitor.sends("/sign-out").status_code == 303
    assert visitor.get("/").headers["location"] == "/sign-in"
