"""Run the tool: plan, taste and debrief in a browser."""

import argparse
import secrets
import socket
import sys
import threading
import webbrowser
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from twobowls.cli.stopping import stopped_by_signals
from twobowls.errors import InputError, StoreError, TwobowlsError
from twobowls.store import STORE_VARIABLE, Store, default_path, open_store
from twobowls.store.backup_keeper import BackupKeeper
from twobowls.store.lock import StoreLock
from twobowls.store.paths import resolved
from twobowls.store.settings_table import HOST_KEY, is_key
from twobowls.web.host_clock import HostClock
from twobowls.web.network import EVERYWHERE, LOOPBACK, address, lan_ip, own_names
from twobowls.web.settings import wall_clock_ms

if TYPE_CHECKING:
    from twobowls.web.tls import Tls

DEFAULT_PORT = 8417


def main(arguments: Sequence[str] | None = None) -> int:
    """Serve until stopped; return 0, or 2 when it could not begin."""
    given = _parser().parse_args(arguments)
    try:
        return run(given)
    except TwobowlsError as error:
        print(f"twobowls: {error}", file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="twobowls serve", description=__doc__)
    parser.add_argument(
        "--store",
        type=Path,
        metavar="FILE",
        help=f"where the tastings are kept (default: {STORE_VARIABLE}, or your data folder)",
    )
    parser.add_argument("--port", type=int, default=DEFAULT_PORT, help="default: %(default)s")
    parser.add_argument(
        "--lan", action="store_true", help="let phones in the same network reach the tool"
    )
    parser.add_argument(
        "--host", metavar="ADDRESS", help="the address to listen on (default: this computer only)"
    )
    parser.add_argument(
        "--name",
        action="append",
        default=[],
        metavar="NAME",
        help="a further host name that leads here; may be repeated",
    )
    parser.add_argument(
        "--tls-cert", type=Path, metavar="FILE", help="encrypt: a certificate (PEM), with --tls-key"
    )
    parser.add_argument(
        "--tls-key", type=Path, metavar="FILE", help="the certificate's private key (PEM)"
    )
    parser.add_argument(
        "--new-key",
        action="store_true",
        help="change the host's key: addresses and browsers that have the old one are out",
    )
    parser.add_argument(
        "--one-address",
        action="store_true",
        help="the phones come through one address, such as a second router's: do not pace it",
    )
    parser.add_argument("--open", action="store_true", help="open the tool in the browser")
    parser.add_argument(
        "--sample", action="store_true", help="load the sample tasting into an empty store"
    )
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Serve until stopped."""
    from twobowls.web.tls import read_tls

    tls = read_tls(arguments.tls_cert, arguments.tls_key)
    host = arguments.host or (EVERYWHERE if arguments.lan else LOOPBACK)
    path = resolved(arguments.store or default_path())
    with (
        stopped_by_signals(),
        listening(host, arguments.port) as listener,
        StoreLock(path),
        open_store(path) as store,
    ):
        clock = HostClock(store.latest_ms())
        store.on_trouble(tell_trouble)
        with BackupKeeper(store, clock, complain):
            if arguments.sample:
                load_sample(store)
            serve_open(arguments, store, listener, tls, clock)
    return 0


def serve_open(
    arguments: argparse.Namespace,
    store: Store,
    listener: socket.socket,
    tls: "Tls | None",
    clock: HostClock,
) -> None:
    """Say where the tool is, and serve an open store."""
    from twobowls.web.server import serve

    host, port = listener.getsockname()[:2]
    names = [*arguments.name, *(tls.names if tls else ())]
    phones = phone_address(host, port, tls is not None, names)
    if arguments.new_key:
        store.change_setting(HOST_KEY, new_key())
    key = store.setting(HOST_KEY, new_key)
    if not is_key(key):  # such as an empty one: everybody would be the host
        key = new_key()
        store.change_setting(HOST_KEY, key)
    root = host_address(host, port, tls is not None, phones)
    start = f"{root}/host?key={key}"
    ticket = new_key() if arguments.open else None
    by_ticket = f"{root}/host?ticket={ticket}"  # all users can list what a browser is started with
    tell(store.path, start, phones)
    serve(
        store,
        listener,
        host_key=key,
        phone_address=phones,
        names=frozenset({*names, *own_names()}),
        tls=tls.context if tls else None,
        now_ms=clock,
        one_address=arguments.one_address,
        ticket=ticket,
        when_ready=(lambda: open_browser(by_ticket)) if arguments.open else None,
    )


def new_key() -> str:
    """Draw a host's key."""
    return secrets.token_urlsafe(18)


def listening(host: str, port: int) -> socket.socket:
    """Return a socket that listens.

    Raises
    ------
    InputError
        The port is taken or out of range, or the address is not this computer's.
    """
    if not 0 <= port <= 65535:
        raise InputError("--port", f"{port} is not a port", "Give a number from 1024 to 65535")
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen()  # so that who opens the address at once waits instead of being refused
    except OSError as error:
        listener.close()
        raise _refusal(error, host, port) from error
    return listener


def _refusal(error: OSError, host: str, port: int) -> InputError:
    if isinstance(error, PermissionError):
        return InputError(
            "--port", f"{port} is not yours to use", "Give a number from 1024 to 65535"
        )
    if isinstance(error, socket.gaierror):
        return InputError(
            "--host", f"{host} is not an address of this computer", "Leave it out, or use --lan"
        )
    if error.errno in IN_USE:
        return InputError(
            "--port",
            f"{port} is in use, perhaps by another twobowls",
            f"Stop the other one, or try --port {port + 1}",
        )
    return InputError(
        "--host", f"cannot listen on {host} ({error.strerror})", "Leave it out, or use --lan"
    )


def phone_address(
    host: str, port: int, encrypted: bool = False, names: Sequence[str] = ()
) -> str | None:
    """Return the address that phones can use, or None when only this computer can reach us.

    An encrypted address carries a name, as certificates do.
    """
    if host in (LOOPBACK, "localhost", "::1"):
        return None
    if encrypted and names:
        return address(names[0], port, "https")
    ip = host if host != EVERYWHERE else lan_ip()
    return None if ip is None else address(ip, port, "https" if encrypted else "http")


def host_address(host: str, port: int, encrypted: bool, phones: str | None) -> str:
    """Return the address that the host opens on this computer."""
    if encrypted and phones is not None:
        return phones
    return address(LOOPBACK if host == EVERYWHERE else host, port, "https" if encrypted else "http")


def load_sample(store: Store) -> None:
    """Put the sample into an empty store."""
    from twobowls.demo import load_sample as load

    load(store, wall_clock_ms())


def tell(path: Path, start: str, phones: str | None) -> None:
    """Say where the tool is."""
    print(f"twobowls keeps its tastings in {path}")
    print(f"Host, open this:   {start}")
    if phones is None:
        print("Only this computer can reach it. To let phones join, start it with --lan.")
    else:
        print(f"Phones, open this: {phones}")
        encrypted = phones.startswith("https:")
        how = "" if encrypted else ", over a connection that is not encrypted"
        print(
            f"Careful: everybody in this network can reach the tool now{how}. Use it in a network "
            "that you trust; keep the host's address to yourself."
        )
    print("Stop it with Ctrl+C.", flush=True)


def tell_trouble(trouble: StoreError | None) -> None:
    """Tell the host that nothing can be saved, and that it can be again."""
    complain(str(trouble) if trouble else "Saving works again; the phones send what they kept.")


def complain(text: str) -> None:
    """Tell the host of something that does not stop the tasting."""
    with suppress(OSError):  # the terminal may have been closed
        print(f"twobowls: {text}", file=sys.stderr, flush=True)


def open_browser(url: str) -> None:
    """Open the browser, if there is one, without making the server wait for it."""
    threading.Thread(target=webbrowser.open, args=(url,), daemon=True).start()


IN_USE = (48, 98, 10048)  # EADDRINUSE on macOS, Linux and Windows
