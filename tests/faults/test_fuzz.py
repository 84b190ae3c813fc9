"""Odd requests by the thousand, made from the tool's own OpenAPI description.

Whatever is sent, the answer must be one that the description allows: never a crash, never a shape
that nobody described. Keys, ids and codes are mostly real ones, so that requests get past the
door. `TWOBOWLS_FUZZ=300` sends more of them.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import CHECKS, load_all_checks
from tests.store.tables import add_table
from tests.web.running import HOST_KEY, Running, host_cookie, running

from twobowls.web.access import COOKIE
from twobowls.web.api_operations import OPERATIONS, Operation
from twobowls.web.openapi import document

load_all_checks()
# Not among them: whether data against the description is refused. Forms forgive much, and a batch
# with one spoilt record is taken but for that record.
HELD_TO: list[Any] = CHECKS.get_by_names(
    [
        "not_a_server_error",
        "status_code_conformance",
        "content_type_conformance",
        "response_headers_conformance",
        "response_schema_conformance",
        "unsupported_method",
        "allow_header_conformance",
    ]
)
EXAMPLES = int(os.environ.get("TWOBOWLS_FUZZ", "25"))
STREAMS = ("/api/seats/{key}/stream", "/tastings/{id}/stream")  # they would never end
schema = schemathesis.openapi.from_dict(document()).exclude(path=list(STREAMS))


@dataclass
class Target:
    """A running server with tastings in every state, and what in it is real."""

    server: Running
    real: dict[str, list[str]]
    random: Random

    def often(self, name: str, given: Any) -> Any:
        """Return a real value of that name four times in five."""
        return self.random.choice(self.real[name]) if self.random.random() < 0.8 else given


@pytest.fixture(scope="module")
def target(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Target]:
    folder: Path = tmp_path_factory.mktemp("fuzz")
    with running(folder / "store.sqlite3") as server:
        yield Target(server, _filled(server), Random(4))


def _filled(server: Running) -> dict[str, list[str]]:
    store, now = server.store, server.clock()
    real: dict[str, list[str]] = {name: [] for name in ("id", "key", "seat", "bowl", "code")}
    for number, state in enumerate(("planned", "open", "closed", "revealed", "late", "open")):
        tasting = add_table(store, seed=number, host_tastes=state == "late")
        real["id"] += [tasting.id, *tasting.setup.coffee_ids[:1]]
        real["bowl"] += [bowl.code for bowl in tasting.plan.bowls]
        real["code"].append(tasting.join_code)
        for name in ("Ana", "Ben"):
            seat, key = store.join(tasting.id, name, now)
            real["key"].append(key)
            real["seat"].append(seat.id)
        if state != "planned":
            store.open(tasting.id, now)
        if state in ("closed", "revealed", "late"):
            store.close(tasting.id, now)
        if state == "revealed":
            store.reveal(tasting.id, now)
    rounds = [each.key for each in store.tastings()[0].setup.rounds]
    return {**real, "round": rounds, "sensation": ["acidity", "verdict"], "coffee": real["id"]}


def _made_likely(body: Any, target: Target) -> Any:
    """Put real codes and keys in the places of made-up ones."""
    if isinstance(body, list):
        return [_made_likely(each, target) for each in body]
    if isinstance(body, dict):
        return {
            name: target.often(name.partition("_")[0], value)
            if name.partition("_")[0] in target.real and isinstance(value, str)
            else _made_likely(value, target)
            for name, value in body.items()
        }
    return body


@schema.parametrize()
@settings(
    max_examples=EXAMPLES,
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
)
def test_every_answer_is_one_that_was_described(
    case: "schemathesis.Case[Any]", target: Target
) -> None:
    for name in case.path_parameters:
        case.path_parameters[name] = target.often(name, case.path_parameters[name])
    case.body = _made_likely(case.body, target)
    if target.random.random() < 0.9:
        case.cookies = {**(case.cookies or {}), COOKIE: host_cookie()}
    target.server.clock.now_ms += 5000  # so that wrong guesses are forgiven now and then
    case.call_and_validate(base_url=target.server.address, timeout=60, checks=HELD_TO)


@pytest.mark.parametrize(
    "operation",
    [each for each in OPERATIONS if each.who == "host"],
    ids=lambda each: f"{each.method} {each.path}",
)
def test_nobody_but_the_host_gets_in(operation: Operation, target: Target) -> None:
    path = operation.path
    for name, values in target.real.items():
        path = path.replace(f"{{{name}}}", values[0])
    with httpx.Client(base_url=target.server.address, timeout=60, trust_env=False) as guest:
        for key in ("", "wrong", HOST_KEY, host_cookie()[:-1]):
            answer = guest.request(operation.method, path, headers={"cookie": f"{COOKIE}={key}"})
            if path == "/":
                assert (answer.status_code, answer.headers["location"]) == (303, "/join")
            else:
                assert answer.status_code == 403, path
