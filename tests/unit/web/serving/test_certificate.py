"""The home's own certificate: whom it is for, how long it holds, who signed it, and what its authority may sign."""

import hashlib
import ipaddress
import ssl
import stat
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from gramrise.web.serving.certificate import private_certificate

NOW = datetime(2026, 3, 2, tzinfo=UTC)


def read(file):
    return x509.load_pem_x509_certificate(file.read_bytes())


def test_it_is_for_its_host_and_the_machine_and_ends_within_398_days(tmp_path):
    known = read(private_certificate(tmp_path, "192.168.1.20", NOW).certificate)
    names = known.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert "192.168.1.20" in map(str, names.get_values_for_type(x509.IPAddress))
    assert "localhost" in names.get_values_for_type(x509.DNSName)
    # CA/Browser Forum, baseline requirements, section 6.3.2: at most 398 days since 2020-09-01.
    assert known.not_valid_after_utc - known.not_valid_before_utc <= timedelta(days=398)


@pytest.mark.parametrize("host", ["192.168.1.20", "home.lan"])
def test_whoever_trusts_its_authority_takes_it_by_the_rules_of_the_web(tmp_path, host):
    """Checked by the path validation of RFC 5280 that the library `cryptography` brings, name constraints and all."""
    made = private_certificate(tmp_path, host, NOW)
    name = x509.IPAddress(ipaddress.ip_address(host)) if host[0].isdigit() else x509.DNSName(host)
    trusted = PolicyBuilder().store(Store([read(made.authority)])).time(NOW)
    assert trusted.build_server_verifier(name).verify(read(made.certificate), [])
    with pytest.raises(VerificationError):
        trusted.build_server_verifier(x509.DNSName("bank.example")).verify(read(made.certificate), [])


def test_its_authority_may_sign_for_the_homes_own_names_alone(tmp_path):
    known = read(private_certificate(tmp_path, "home.lan", NOW).authority)
    constraints = known.extensions.get_extension_for_class(x509.NameConstraints)
    assert constraints.critical
    permitted = {str(name.value) for name in constraints.value.permitted_subtrees}
    assert permitted == {"home.lan", "localhost", "127.0.0.1/32"}


def test_a_second_start_keeps_both_so_that_fingerprints_stay(tmp_path):
    first = private_certificate(tmp_path, "home.lan", NOW)
    assert private_certificate(tmp_path, "home.lan", NOW + timedelta(days=300)) == first


def test_a_renewed_certificate_is_signed_by_the_authority_that_phones_trust(tmp_path):
    first = private_certificate(tmp_path, "home.lan", NOW)
    later = private_certificate(tmp_path, "home.lan", NOW + timedelta(days=380))
    assert later.fingerprint != first.fingerprint
    assert later.authority_fingerprint == first.authority_fingerprint
    read(later.certificate).verify_directly_issued_by(read(later.authority))


@pytest.mark.parametrize(("host", "days"), [("other.lan", 0), ("home.lan", 3600), ("home.lan", -9)])
def test_another_authority_is_made_for_another_host_near_its_end_and_before_its_time(tmp_path, host, days):
    first = private_certificate(tmp_path, "home.lan", NOW)
    later = private_certificate(tmp_path, host, NOW + timedelta(days=days))
    assert later.authority_fingerprint != first.authority_fingerprint


@pytest.mark.parametrize("damaged", ["authority.pem", "authority-key.pem", "certificate.pem", "certificate-key.pem"])
def test_one_that_is_damaged_is_made_anew_and_all_agree(tmp_path, damaged):
    private_certificate(tmp_path, "home.lan", NOW)
    (tmp_path / "tls" / damaged).write_text("nothing of use")
    made = private_certificate(tmp_path, "home.lan", NOW)
    read(made.certificate).verify_directly_issued_by(read(made.authority))  # raises where it was not
    assert read(made.certificate).issuer == read(made.authority).subject
    ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(made.certificate, made.key)


def test_nobody_else_reads_its_keys_and_the_fingerprint_is_that_of_the_certificate(tmp_path):
    made = private_certificate(tmp_path, "home.lan", NOW)
    keys = [made.key, made.authority.with_name("authority-key.pem")]
    assert [stat.S_IMODE(each.stat().st_mode) & 0o077 for each in keys] == [0, 0]
    seen = hashlib.sha256(ssl.PEM_cert_to_DER_cert(made.certificate.read_text())).hexdigest()
    assert made.fingerprint.replace(":", "").lower() == seen
