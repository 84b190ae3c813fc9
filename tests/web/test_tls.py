"""Certificates are made here with the openssl program, so that none lies about in the tree."""

import re
import shutil
import ssl
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from twobowls.cli import main
from twobowls.cli.serve import host_address, phone_address
from twobowls.errors import InputError
from twobowls.web.tls import read_tls

OPENSSL = shutil.which("openssl")
pytestmark = pytest.mark.skipif(OPENSSL is None, reason="needs the openssl program")


def openssl(*arguments: str, cwd: Path | None = None) -> None:
    subprocess.run([str(OPENSSL), *arguments], check=True, capture_output=True, cwd=cwd)


def make(folder: Path, name: str) -> tuple[Path, Path]:
    certificate, key = folder / f"{name}.pem", folder / f"{name}-key.pem"
    openssl(
        *("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"),
        *("-keyout", str(key), "-out", str(certificate), "-subj", "/CN=table.example"),
        *("-addext", "subjectAltName=DNS:table.example,DNS:*.table.example,IP:127.0.0.1"),
    )
    return certificate, key


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    return make(tmp_path_factory.mktemp("tls"), "table")


def problem(certificate: Path | None, key: Path | None) -> str:
    with pytest.raises(InputError) as refused:
        read_tls(certificate, key)
    return str(refused.value)


def test_a_certificate_tells_its_names(pair: tuple[Path, Path]) -> None:
    tls = read_tls(*pair)
    assert tls is not None
    assert tls.names == ("table.example",)
    assert read_tls(None, None) is None


def test_one_file_alone_is_refused(pair: tuple[Path, Path]) -> None:
    assert problem(pair[0], None) == (
        "--tls-key: it is missing. Name both the certificate and its key."
    )
    assert problem(None, pair[1]).startswith("--tls-cert: it is missing")


def test_a_missing_file_is_named(pair: tuple[Path, Path], tmp_path: Path) -> None:
    gone = tmp_path / "gone.pem"
    assert problem(gone, pair[1]) == (
        f"--tls-cert: {gone} cannot be read (No such file or directory). "
        "Check the path, and that you may read the file."
    )
    assert problem(pair[0], gone).startswith(f"--tls-key: {gone} cannot be read")


def test_files_that_hold_something_else_are_named(pair: tuple[Path, Path], tmp_path: Path) -> None:
    certificate, key = pair
    other = tmp_path / "other.pem"
    other.write_text("Dear diary")
    assert problem(other, key).startswith(f"--tls-cert: {other} holds no certificate.")
    assert problem(certificate, other).startswith(f"--tls-key: {other} holds no private key.")
    assert "holds no private key" in problem(certificate, certificate)


def test_a_key_of_another_certificate_is_refused(pair: tuple[Path, Path], tmp_path: Path) -> None:
    _other, key = make(tmp_path, "other")
    assert problem(pair[0], key) == (
        f"--tls-key: {key} is the key of another certificate. "
        f"Name the key that {pair[0]} was made with."
    )


def test_a_key_that_is_too_short_is_said_to_be_so(tmp_path: Path) -> None:
    certificate, key = tmp_path / "short.pem", tmp_path / "short-key.pem"
    openssl(
        *("req", "-x509", "-newkey", "rsa:1024", "-nodes", "-subj", "/CN=table.example"),
        *("-keyout", str(key), "-out", str(certificate)),
    )
    assert problem(certificate, key) == (
        f"--tls-cert: {certificate} is made with a key or a signature that is too weak to be "
        "trusted. Make another with a new key of at least 2048 bits (RSA) or 256 bits (EC)."
    )


def test_a_locked_key_is_refused_without_asking(pair: tuple[Path, Path], tmp_path: Path) -> None:
    locked = tmp_path / "locked.pem"
    openssl(
        *("pkey", "-in", str(pair[1]), "-aes256", "-passout", "pass:secret", "-out", str(locked))
    )
    assert problem(pair[0], locked) == (
        f"--tls-key: {locked} is locked with a password. "
        "Unlock it first with `openssl pkey -in LOCKED -out UNLOCKED`."
    )


# `openssl ca` is the one command of every version that takes dates. A certificate "for 0 days"
# would do only as long as the clock is not set back a second between making it and reading it.
CA = """
[ca]
default_ca = ours
[ours]
database = index.txt
new_certs_dir = .
serial = serial.txt
default_md = sha256
policy = names
[names]
commonName = supplied
"""


def make_for(folder: Path, key: Path, start: str, end: str) -> Path:
    """Make a certificate that is valid between two instants only."""
    for name, text in (("ca.cnf", CA), ("index.txt", ""), ("serial.txt", "01\n")):
        (folder / name).write_text(text)
    request, certificate = folder / "request.pem", folder / "dated.pem"
    openssl("req", "-new", "-key", str(key), "-subj", "/CN=table.example", "-out", str(request))
    sign = ("ca", "-batch", "-selfsign", "-config", "ca.cnf", "-keyfile", str(key), "-notext")
    dates = ("-startdate", start, "-enddate", end)
    openssl(*sign, *dates, "-in", str(request), "-out", str(certificate), cwd=folder)
    return certificate


@pytest.mark.parametrize(
    ("start", "end", "text"),
    [
        ("20200101000000Z", "20200201000000Z", "has expired"),
        ("20480101000000Z", "20490101000000Z", "is not valid yet (or this computer's clock is"),
    ],
    ids=["expired", "not yet valid"],
)
def test_a_certificate_for_another_day_is_refused(
    pair: tuple[Path, Path], tmp_path: Path, start: str, end: str, text: str
) -> None:
    dated = make_for(tmp_path, pair[1], start, end)
    told = problem(dated, pair[1])
    assert told.startswith(f"--tls-cert: {dated} {text}")
    assert told.endswith(". Renew the certificate.")


def test_the_command_says_it_too(
    pair: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["--store", str(tmp_path / "a.sqlite3"), "--tls-cert", str(pair[0])]
    assert main(["serve", *arguments]) == 2
    assert capsys.readouterr().err.startswith("twobowls: --tls-key: it is missing.")
    assert not (tmp_path / "a.sqlite3").exists()


def test_encrypted_addresses_carry_the_name_of_the_certificate(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("twobowls.cli.serve.lan_ip", lambda: "192.0.2.7")
    names = ["table.example"]
    assert phone_address("0.0.0.0", 8417, True, names) == "https://table.example:8417"
    assert phone_address("0.0.0.0", 8417, True, []) == "https://192.0.2.7:8417"
    assert phone_address("127.0.0.1", 8417, True, names) is None
    assert host_address("127.0.0.1", 8417, True, None) == "https://127.0.0.1:8417"
    assert host_address("0.0.0.0", 8417, True, "https://table.example:8417") == (
        "https://table.example:8417"
    )


def test_the_tool_is_served_encrypted_and_its_cookie_stays_so(
    pair: tuple[Path, Path], tmp_path: Path
) -> None:
    certificate, key = map(str, pair)
    command = [
        *(sys.executable, "-c", "from twobowls.cli import main; main()", "serve", "--port", "0"),
        *("--store", str(tmp_path / "a.sqlite3"), "--tls-cert", certificate, "--tls-key", key),
    ]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            address = next(
                found[1]
                for line in process.stdout
                if (found := re.search(r"(https://127\.0\.0\.1:\S+)", line))
            )
            trust = ssl.create_default_context(cafile=certificate)
            with httpx.Client(verify=trust, trust_env=False, timeout=60) as browser:
                answer = browser.get(address)
                assert answer.status_code == 303
                assert "secure" in answer.headers["set-cookie"].lower().split("; ")
                assert browser.get(address.partition("/host")[0]).status_code == 200
        finally:
            process.terminate()
