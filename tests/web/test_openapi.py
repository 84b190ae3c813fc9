import json
from typing import Any

import httpx
import pytest
from starlette.routing import Route

from twobowls.cli import main
from twobowls.web.app import _routes
from twobowls.web.openapi import document


def operation(path: str, method: str = "get") -> dict[str, Any]:
    found: dict[str, Any] = document()["paths"][path][method]
    return found


def test_every_route_is_described_and_nothing_else() -> None:
    served = {
        (route.path, method.lower())
        for route in _routes()
        if isinstance(route, Route)
        for method in route.methods or ()
        if method != "HEAD"
    }
    served.add(("/api/seats/{key}/records", "post"))  # answered around the router
    described = {(path, method) for path, each in document()["paths"].items() for method in each}
    assert described == served


def test_names_are_distinct_and_references_lead_somewhere() -> None:
    whole = document()
    names = [each["operationId"] for path in whole["paths"].values() for each in path.values()]
    assert len(set(names)) == len(names)
    text = json.dumps(whole)
    for kind, entries in whole["components"].items():
        used = {part.partition('"')[0] for part in text.split(f"#/components/{kind}/")[1:]}
        assert used <= set(entries)
        if kind == "responses":
            assert used == set(entries)


def test_records_are_described_by_the_types_that_read_them() -> None:
    body = operation("/api/seats/{key}/records", "post")["requestBody"]
    assert body["content"]["application/json"]["schema"]["$ref"] == "#/components/schemas/Batch"
    schemas = document()["components"]["schemas"]
    mark = schemas["MarkMessage"]["properties"]
    assert mark["id"] == {
        "type": "string",
        "minLength": 32,
        "maxLength": 32,
        "pattern": "^[0-9a-fA-F]{32}$",
    }
    assert mark["intensity"]["anyOf"][0] == {"type": "number", "minimum": 0, "maximum": 100}
    assert schemas["Batch"]["properties"]["records"]["maxItems"] == 500


def test_what_a_seat_is_answered_with_has_no_coffee() -> None:
    schemas = document()["components"]["schemas"]
    assert "coffee" not in json.dumps({name: schemas[name] for name in ("SeatView", "ChangeView")})


def test_the_host_is_told_from_the_others() -> None:
    assert operation("/shelf")["security"] == [{"host": []}]
    assert "security" not in operation("/join")
    assert "403" in operation("/shelf")["responses"]
    assert "403" not in operation("/join")["responses"]


def test_it_is_served_and_printed(guest: httpx.Client, capsys: pytest.CaptureFixture[str]) -> None:
    answer = guest.get("/api/openapi.json")
    assert answer.headers["content-type"] == "application/json"
    assert main(["openapi"]) == 0
    assert json.loads(capsys.readouterr().out) == answer.json() == document()
