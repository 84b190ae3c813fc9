"""Abuse at the doors: floods of seats and of wrong codes, odd paths, other sites' pages."""

import time
from concurrent.futures import ThreadPoolExecutor

from scripts.abuse.caller import Caller, Finding, Target
from twobowls.web.limits import FREE_CODES, FREE_SEATS, HOLD_S, SEAT_EVERY_S

PATHS = (
    "/static/../../../../etc/passwd",
    "/static/%2e%2e/%2e%2e/templates/base.html",
    "/static/..%2f..%2fapp.py",
    "/static/~x/../../app.py",
    "/static//etc/passwd",
    "/seat/../../etc/passwd",
    "/api/seats/%2e%2e/records",
)


def join_flood(target: Target) -> Finding:
    """One address does not fill a table in no time."""
    caller, began = Caller(target), time.monotonic()
    with ThreadPoolExecutor(16) as pool:
        answers = list(pool.map(lambda n: caller.join(f"Flood {n}"), range(100)))
    seconds = time.monotonic() - began
    seats = sum(each.status == 303 for each in answers)
    paced = sum(each.status == 429 for each in answers)
    most = FREE_SEATS + seconds / SEAT_EVERY_S + 1
    held = seats <= most and seats + paced == 100 and Caller(target).join("Guest").status == 303
    return Finding(held, f"{seats} of 100 seats in {seconds:.1f} s; another address joins")


def wrong_codes(target: Target) -> Finding:
    """Wrong codes are slowed down, and shut out neither a right one nor the host."""
    caller = Caller(target)
    with ThreadPoolExecutor(60) as pool:
        tries = list(pool.map(lambda _: caller.join("Eve", "ZZZZZZ").took_s, range(60)))
        flood = [pool.submit(caller.join, "Eve", "ZZZZZZ") for _ in range(30)]
        elsewhere = Caller(target).join("Fay")
        same = caller.join("Gil")
        key = caller.form("/host", key=target.served.host_key)
        for each in flood:
            each.result()
    at_once = sum(each < HOLD_S for each in tries)
    held = (
        at_once <= FREE_CODES + 2  # one is forgiven every ten seconds
        and (elsewhere.status, same.status, key.status) == (303, 303, 303)
        and elsewhere.took_s < HOLD_S
        and same.took_s < HOLD_S + 5
        and key.took_s < HOLD_S
    )
    told = f"{at_once} of 60 tries at once; right code elsewhere {elsewhere.took_s:.1f} s,"
    return Finding(held, f"{told} from there {same.took_s:.1f} s; host's key {key.took_s:.1f} s")


def closed_door(target: Target) -> Finding:
    """With the door closed nobody new gets in, and those who sit go on."""
    caller = Caller(target)
    key = caller.seat("Sitter")
    bench, cookie = f"/tastings/{target.table.tasting_id}", f"twobowls_host={target.session}"
    caller.ask("POST", f"{bench}/close-door", b"", cookie=cookie)
    new, old = caller.join("Late"), caller.ask("GET", f"/api/seats/{key}")
    caller.ask("POST", f"{bench}/open-door", b"", cookie=cookie)
    return Finding(
        (new.status, old.status) == (409, 200), f"new guest {new.status}, seat {old.status}"
    )


def odd_paths(target: Target) -> Finding:
    """No path leads to a file that is not ours to give."""
    statuses = [Caller(target).ask("GET", path).status for path in PATHS]
    return Finding(all(400 <= each < 500 for each in statuses), _told(statuses))


def other_sites(target: Target) -> Finding:
    """Pages of other sites can neither call us by their name nor send our forms."""
    caller, cookie = Caller(target), f"twobowls_host={target.session}"
    path = f"/tastings/{target.table.tasting_id}/close"
    statuses = [
        caller.ask("POST", path, b"", cookie=cookie, sec_fetch_site="cross-site").status,
        caller.ask("POST", path, b"", cookie=cookie, origin="http://elsewhere.example").status,
        caller.ask("GET", "/", cookie=cookie, host="rebound.example").status,
    ]
    return Finding(statuses == [403, 403, 421], _told(statuses))


def _told(statuses: list[int]) -> str:
    return "answered " + ", ".join(str(each) for each in sorted(set(statuses)))
