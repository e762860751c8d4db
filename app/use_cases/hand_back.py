"""Hand a job back: the foreman's release, and the customer's letter that follows from it."""

from __future__ import annotations

from app.domain.entry import Heard
from app.domain.problems import OursToMend
from app.domain.records import Job, OutgoingMessage
from app.domain.sheet import Sheet
from app.ports import Unit
from app.use_cases.handback_letter import handback_facts
from app.use_cases.office import Office, the_shop
from app.use_cases.send_post import queue_message

HANDBACK = "handback"


def queue_letter(office: Office, unit: Unit, job: Job, sheet: Sheet, heard: Heard) -> OutgoingMessage | None:
    """Queue the customer's letter for a sheet just handed back; `None` when the customer has no e-mail address.

    Runs inside the transaction of the handback, so that neither exists without the other.
    """
    customer = unit.customers.get(job.customer)
    vehicle = unit.vehicles.get(job.vehicle)
    if customer is None or vehicle is None:
        raise OursToMend(f"job {job.id} has no customer or vehicle")
    if not customer.email.strip():
        return None
    letter = office.write_letter(handback_facts(the_shop(unit), customer, vehicle, job, sheet))
    return queue_message(
        unit,
        key=letter_key(job),
        job=job.id,
        to=customer.email,
        letter=letter,
        now=office.clock(),
        new_id=office.new_id,
        domain=office.message_domain,
    )


def letter_key(job: Job) -> str:
    return f"{HANDBACK}:{job.id}:1"
