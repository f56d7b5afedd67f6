"""A self-signed certificate for the local network, so that phones get HTTPS without a public name.

A phone warns of it until its owner installs it; it is marked as an authority since phones install nothing else, but
one that is good for these very names and addresses only (name constraints, RFC 5280 4.2.1.10) and for a server.
"""

import ipaddress
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

# Phones refuse server certificates that last longer than 825 days; a year and a month is the habit of the web.
VALID_FOR = timedelta(days=397)
RENEW_BEFORE_END = timedelta(days=30)


def ensure(directory: Path, names: list[str], addresses: list[str], now: datetime) -> tuple[Path, Path]:
    """The paths of certificate and key, made anew if missing, about to end, or lacking one of these names."""
    certificate, key = directory / "certificate.pem", directory / "key.pem"
    if not (certificate.exists() and key.exists() and _still_good(certificate, names, addresses, now)):
        directory.mkdir(mode=0o700, parents=True, exist_ok=True)
        _write(certificate, key, names, addresses, now)
    return certificate, key


def _still_good(path: Path, names: list[str], addresses: list[str], now: datetime) -> bool:
    try:
        certificate = x509.load_pem_x509_certificate(path.read_bytes())
    except ValueError:
        return False
    if certificate.not_valid_after_utc - now < RENEW_BEFORE_END:
        return False
    carried = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    known = {str(item.value) for item in carried}
    return known.issuperset([*names, *addresses])


def _write(certificate: Path, key: Path, names: list[str], addresses: list[str], now: datetime) -> None:
    private = ec.generate_private_key(ec.SECP256R1())
    key.unlink(missing_ok=True)
    key.touch(mode=0o600)
    key.write_bytes(
        private.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
    signed = _description(names, addresses, now, private.public_key()).sign(private, hashes.SHA256())
    certificate.write_bytes(signed.public_bytes(serialization.Encoding.PEM))


def _description(
    names: list[str], addresses: list[str], now: datetime, public: ec.EllipticCurvePublicKey
) -> x509.CertificateBuilder:
    who = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Bracebook on {names[0]}"[:64])])
    numbers = [ipaddress.ip_address(address) for address in addresses]
    alternatives: list[x509.GeneralName] = [x509.DNSName(name) for name in names]
    alternatives += [x509.IPAddress(number) for number in numbers]
    permitted: list[x509.GeneralName] = [x509.DNSName(name) for name in names]
    permitted += [x509.IPAddress(ipaddress.ip_network(number)) for number in numbers]
    return (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + VALID_FOR)
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
    )
