"""The home's own certificate: whom it is for, how long it holds, and that a browser's library takes it."""

import hashlib
import ssl
import stat
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509

from gramrise.web.serving.certificate import private_certificate

NOW = datetime(2026, 3, 2, tzinfo=UTC)


def read(made):
    return x509.load_pem_x509_certificate(made.certificate.read_bytes())


def test_it_is_for_its_host_and_the_machine_and_ends_within_398_days(tmp_path):
    known = read(private_certificate(tmp_path, "192.168.1.20", NOW))
    names = known.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert "192.168.1.20" in map(str, names.get_values_for_type(x509.IPAddress))
    assert "localhost" in names.get_values_for_type(x509.DNSName)
    # CA/Browser Forum, baseline requirements, section 6.3.2: at most 398 days since 2020-09-01.
    assert known.not_valid_after_utc - known.not_valid_before_utc <= timedelta(days=398)


def test_a_second_start_keeps_it_so_that_its_fingerprint_stays(tmp_path):
    first = private_certificate(tmp_path, "home.lan", NOW)
    assert private_certificate(tmp_path, "home.lan", NOW + timedelta(days=300)) == first


@pytest.mark.parametrize(("host", "days"), [("other.lan", 0), ("home.lan", 380), ("home.lan", -9)])
def test_another_is_made_for_another_host_near_its_end_and_before_its_time(tmp_path, host, days):
    first = private_certificate(tmp_path, "home.lan", NOW)
    assert private_certificate(tmp_path, host, NOW + timedelta(days=days)).fingerprint != first.fingerprint


def test_one_that_is_damaged_is_made_anew(tmp_path):
    first = private_certificate(tmp_path, "home.lan", NOW)
    first.certificate.write_text("nothing of use")
    assert private_certificate(tmp_path, "home.lan", NOW).fingerprint != first.fingerprint


def test_nobody_else_reads_its_key_and_the_tls_library_takes_both(tmp_path):
    made = private_certificate(tmp_path, "home.lan", NOW)
    assert stat.S_IMODE(made.key.stat().st_mode) & 0o077 == 0
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(made.certificate, made.key)
    seen = hashlib.sha256(ssl.PEM_cert_to_DER_cert(made.certificate.read_text())).hexdigest()
    assert made.fingerprint.replace(":", "").lower() == seen
