"""Telephone numbers in contacts as they are written, to be touched and dialled."""

import pytest

from gramrise.web.views.contacts import called


@pytest.mark.parametrize(
    ("written", "shown", "dialled"),
    [
        ("Mama 0170 123 45 67", "0170 123 45 67", "tel:01701234567"),
        ("Clinic, +49 (30) 1234-5678, day and night", "+49 (30) 1234-5678", "tel:+493012345678"),
        ("School 2, room 14: 030/123456", "030/123456", "tel:030123456"),
    ],
)
def test_a_number_is_dialled_as_it_is_written(written, shown, dialled):
    (contact,) = called([written])
    assert (contact.number, contact.address) == (shown, dialled)
    assert contact.before + contact.number + contact.behind == written


@pytest.mark.parametrize("written", ["Mama", "Room 14, 2 doors on", "<a href=x>1"])
def test_what_is_no_number_stays_text(written):
    assert [(each.before, each.address) for each in called([written])] == [(written, "")]
