"""See a job's estimate: the edition asked for, every edition and answer there is, what may be charged, and what the
findings on its sheet propose.
"""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from app.domain.estimate import Charge, Estimate, ShopPrices, charges
from app.domain.problems import NotFound
from app.domain.records import Customer, Job, Vehicle
from app.domain.sheet import Sheet
from app.language.procedures import said
from app.use_cases.make_estimate import line_titles
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.price_lines import Priced, begun_lines, current_prices, price_job
from app.use_cases.propose_lines import Proposal, proposals
from app.use_cases.see_sheet import job_by_number


@dataclass(frozen=True)
class EstimateSeen:
    """edition: the one asked for, else the newest; None while there is none. titles, begun: by the job's lines."""

    job: Job
    vehicle: Vehicle
    customer: Customer
    prices: ShopPrices | None
    priced: Priced
    edition: Estimate | None
    zone: ZoneInfo
    charges: tuple[Charge, ...]
    titles: dict[str, str]
    begun: frozenset[str]
    proposals: tuple[Proposal, ...]


def see_estimate(office: Office, number: str, edition: int | None = None) -> EstimateSeen:
    """Raises: NotFound for an unknown job or edition."""
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        vehicle, customer = unit.vehicles.get(job.vehicle), unit.customers.get(job.customer)
        if vehicle is None or customer is None:
            raise NotFound("job", number)
        priced = price_job(unit, job)
        prices, titles = current_prices(unit), line_titles(unit, job)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        zone = zone_of(the_shop(unit))
    shown = priced.newest
    if edition is not None:
        shown = next((one for one in priced.estimates if one.edition == edition), None)
        if shown is None:
            raise NotFound("edition", str(edition))
    return EstimateSeen(
        job=job,
        vehicle=vehicle,
        customer=customer,
        prices=prices,
        priced=priced,
        edition=shown,
        zone=zone,
        charges=charges(priced.estimates, priced.answers, priced.standing),
        titles={line: said(title) for line, title in titles.items()},
        begun=begun_lines(sheet),
        proposals=proposals(office.book, vehicle, job, sheet),
    )
