"""Bad configuration is named at start, with the next step."""

from pathlib import Path

import pytest

from service import checks


def only(found):
    (message,) = found
    return message


def test_an_address_for_everywhere_is_no_public_address(settings):
    settings.PUBLIC_URL = "http://0.0.0.0:8000"
    assert "no phone can open it" in only(checks.public_url_is_an_address_to_go_to()).msg
    settings.PUBLIC_URL = "https://198.51.100.7:8000"
    assert checks.public_url_is_an_address_to_go_to() == []


def test_bind_without_a_port(settings):
    settings.BIND = "localhost"
    assert "BRACEBOOK_BIND is 'localhost'" in only(checks.bind_address_is_readable()).msg
    settings.BIND = "localhost:8000"
    assert checks.bind_address_is_readable() == []


def test_certificate_without_its_key(settings, tmp_path: Path):
    there = tmp_path / "certificate.pem"
    there.write_text("")
    settings.TLS_CERTIFICATE, settings.TLS_KEY = str(there), ""
    assert "BRACEBOOK_TLS_KEY is ''" in only(checks.certificate_has_its_key()).msg
    settings.TLS_KEY = str(tmp_path / "missing.pem")
    assert "missing.pem" in only(checks.certificate_has_its_key()).msg
    settings.TLS_KEY = str(there)
    assert checks.certificate_has_its_key() == []
    settings.TLS_CERTIFICATE = settings.TLS_KEY = ""
    assert checks.certificate_has_its_key() == []


@pytest.mark.parametrize(("length", "fits"), [(103, True), (104, False)])
def test_socket_path_of_a_deep_data_directory(settings, length, fits):
    path = "/" + "d" * (length - len("//broker.sock")) + "/broker.sock"
    settings.BROKER_SOCKET = Path(path)
    settings.EMBEDDED_BROKER_URL = settings.CELERY_BROKER_URL = f"redis+socket://{path}"
    found = checks.broker_socket_path_fits()
    assert found == [] if fits else "104 bytes" in only(found).msg
    settings.CELERY_BROKER_URL = "redis://broker:6379/0"
    assert checks.broker_socket_path_fits() == []
