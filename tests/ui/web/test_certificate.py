"""The certificate made on this machine: kept while it serves, and for its owner only."""

import ssl
import stat
import sys

import pytest
from cryptography import x509

from sitwell.ui.web.certificate import certificate_for, fingerprint


def test_it_is_for_the_address_and_loads_with_its_key(tmp_path):
    path = certificate_for(tmp_path, "192.168.7.2")
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(path, path)
    made = x509.load_pem_x509_certificate(path.read_bytes())
    names = made.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert [str(name) for name in names.get_values_for_type(x509.IPAddress)] == ["192.168.7.2"]
    # it can vouch for no other certificate, should a phone be told to trust it
    assert not made.extensions.get_extension_for_class(x509.BasicConstraints).value.ca


@pytest.mark.skipif(sys.platform == "win32", reason="Windows keeps no modes")
def test_only_its_owner_reads_the_key(tmp_path):
    assert stat.S_IMODE(certificate_for(tmp_path, "192.168.7.2").stat().st_mode) == 0o600


def test_it_stays_while_it_serves(tmp_path):
    path = certificate_for(tmp_path, "192.168.7.2")
    known = fingerprint(path)
    assert fingerprint(certificate_for(tmp_path, "192.168.7.2")) == known
    assert fingerprint(certificate_for(tmp_path, "192.168.7.3")) != known


def test_a_damaged_one_is_made_anew(tmp_path):
    path = certificate_for(tmp_path, "fd00::2")
    path.write_text("torn")
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate_for(tmp_path, "fd00::2"))
