"""Customers as the desk types them."""

from __future__ import annotations

import pytest

from app.domain.problems import NotFound, Refused
from app.use_cases.keep_customer import CustomerWanted, add_customer, change_customer, seen_of
from tests.offices import CUSTOMER, an_office


def codes(caught: pytest.ExceptionInfo[Refused]) -> set[tuple[str, str]]:
    return {(one.field, one.code) for one in caught.value.problems}


@pytest.mark.parametrize("name", ["Mira Okonjo", "Ψίλα Καραβά", "王小明", "عائشة", "O’Brien-Ødegård"])
def test_a_name_in_any_script_is_kept_as_typed(name: str) -> None:
    here = an_office()

    made = add_customer(here.office, CustomerWanted(name))

    assert here.get("customers", made.id).name == name


def test_every_problem_is_told_at_once() -> None:
    here = an_office()

    with pytest.raises(Refused) as caught:
        add_customer(here.office, CustomerWanted(" ", "mira at okonjo", "none", "klingon"))

    assert codes(caught) == {
        ("name", "customer_name_missing"),
        ("email", "address_space"),
        ("phone", "phone_unclear"),
        ("language", "choose_one"),
    }
    assert len(here.all("customers")) == 1


def test_odd_but_legal_addresses_pass_and_none_at_all_does_too() -> None:
    here = an_office()

    for name, email in (("A", '"front desk"@garage.example'), ("B", "mira+car@okonjo.example"), ("C", "")):
        assert add_customer(here.office, CustomerWanted(name, email)).email == email


def test_the_same_customer_twice_is_refused_and_a_namesake_is_not() -> None:
    here = an_office()
    same = CustomerWanted(CUSTOMER.name, CUSTOMER.email, CUSTOMER.phone)

    with pytest.raises(Refused) as caught:
        add_customer(here.office, same)
    add_customer(here.office, CustomerWanted(CUSTOMER.name, "other@okonjo.example", ""))

    assert codes(caught) == {("name", "customer_twice")}
    assert len(here.all("customers")) == 2


def test_a_record_changed_by_someone_else_meanwhile_is_not_overwritten_unseen() -> None:
    here = an_office()
    seen = seen_of(CUSTOMER)
    change_customer(here.office, CUSTOMER.id, CustomerWanted("Mira Okonjo-Hale"), seen)

    with pytest.raises(Refused) as caught:
        change_customer(here.office, CUSTOMER.id, CustomerWanted("M. Okonjo"), seen)

    assert codes(caught) == {("", "changed_meanwhile")}
    assert here.get("customers", CUSTOMER.id).name == "Mira Okonjo-Hale"


def test_an_unknown_customer_is_not_made_by_changing_it() -> None:
    with pytest.raises(NotFound):
        change_customer(an_office().office, "nobody", CustomerWanted("Someone"))
