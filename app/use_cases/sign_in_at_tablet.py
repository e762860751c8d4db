"""Sign a person in at an enrolled tablet: as anywhere, and from then on the tablet carries their work."""

from __future__ import annotations

from app.domain.problems import NotFound, Problem
from app.use_cases.contact_tablet import keep_person
from app.use_cases.office import Office
from app.use_cases.sign_in import NewToken, SignedIn, sign_in
from app.use_cases.tablet_credential import tablet_in, tablet_of


def sign_in_at_tablet(
    office: Office, credential: str, person: str, pin: str, new_token: NewToken
) -> SignedIn | Problem:
    """Check a PIN and begin a sign-in, or say why not.

    Raises: NotFound for a credential that is no tablet's in use: there nobody's PIN is tried.
    """
    if tablet_of(office, credential) is None:
        raise NotFound("tablet", "")
    outcome = sign_in(office, person, pin, new_token)
    if isinstance(outcome, Problem):
        return outcome
    with office.store.writing() as unit:
        tablet = tablet_in(unit, credential)
        if tablet is not None:
            keep_person(unit, tablet.id, outcome.person.id, office.clock())
            unit.commit()
    return outcome
