"""The server's OpenAPI 3.1 description, made from the table of operations and the types it uses."""

import re
from functools import cache
from typing import Any

import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from twobowls import __version__
from twobowls.web.access import COOKIE
from twobowls.web.api_operations import OPERATIONS, Answer, Field, Operation

REFERENCE = "#/components/schemas/{name}"
REFUSALS = {
    400: "Something that was given cannot be used.",
    403: "This is for the host, or the request came from another site's page.",
    404: "There is no such thing.",
    408: "The request took too long to arrive.",
    409: "Not now, or the name is taken.",
    411: "The length of the body was not given.",
    413: "The body is too long.",
    421: "The address carries a name that is not this server's.",
    429: "Too many seats were taken from this address; wait a little.",
    431: "The address and the headers are too long.",
    503: "The store cannot be used now, or too many connections are open; try again later.",
}
PATH_NAMES = {
    "id": "The id of a coffee or a tasting.",
    "key": "The key of a seat.",
    "seat": "The id of a seat.",
}
_LONGEST, _LONGEST_ID, _MOST_IDS = 5000, 40, 50


class RefusedView(msgspec.Struct, frozen=True):
    """What was wrong: the field, if it was one, and a sentence for a person."""

    field: str
    message: str


class RefusalView(msgspec.Struct, frozen=True):
    """How programs are refused."""

    error: RefusedView


@cache
def document() -> dict[str, Any]:
    """Return the description as plain dictionaries and lists."""
    types: list[Any] = [RefusalView]
    types += [each.body for each in OPERATIONS if each.body is not None]
    types += [a.body for each in OPERATIONS for a in each.answers if a.body is not None]
    _schemas, components = msgspec.json.schema_components(types, ref_template=REFERENCE)
    paths: dict[str, Any] = {}
    for each in OPERATIONS:
        paths.setdefault(each.path, {})[each.method] = _operation(each)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "twobowls",
            "version": __version__,
            "description": "What a running twobowls answers to the host and to the seats.",
        },
        "paths": paths,
        "components": {
            "schemas": {name: _without_pairs(each) for name, each in components.items()},
            "responses": {f"refused-{status}": _refusal(status) for status in REFUSALS},
            "securitySchemes": {"host": {"type": "apiKey", "in": "cookie", "name": COOKIE}},
        },
    }


def _operation(operation: Operation) -> dict[str, Any]:
    described: dict[str, Any] = {
        "operationId": _name(operation),
        "summary": operation.text,
        "tags": [operation.who],
        "parameters": [*_path_parameters(operation.path), *map(_parameter, operation.query)],
        "responses": _responses(operation),
    }
    if operation.who == "host":
        described["security"] = [{"host": []}]
    if operation.body is not None:
        content = {"application/json": {"schema": _schema(operation.body)}}
        described["requestBody"] = {"required": True, "content": content}
    elif operation.form:
        described["requestBody"] = {"content": _form(operation.form)}
    return described


def _name(operation: Operation) -> str:
    words = re.findall(r"\w+", operation.path) or ["home"]
    return "_".join([operation.method, *words])


def _path_parameters(path: str) -> list[dict[str, Any]]:
    return [
        {
            "name": name,
            "in": "path",
            "required": True,
            "description": PATH_NAMES[name],
            "schema": {"type": "string", "minLength": 1},
        }
        for name in re.findall(r"{(\w+)}", path)
    ]


def _parameter(field: Field) -> dict[str, Any]:
    return {
        "name": field.name,
        "in": "query",
        "required": field.required,
        "description": field.text,
        "schema": _field(field),
    }


def _field(field: Field) -> dict[str, Any]:
    if field.many:
        one = {"type": "string", "maxLength": _LONGEST_ID}
        return {"type": "array", "items": one, "maxItems": _MOST_IDS}
    return {"type": "string", "maxLength": _LONGEST}


def _form(fields: tuple[Field, ...]) -> dict[str, Any]:
    properties = {each.name: {**_field(each), "description": each.text} for each in fields}
    required = [each.name for each in fields if each.required]
    schema = {"type": "object", "properties": properties, "required": required}
    has_file = any(each.file for each in fields)
    return {
        "multipart/form-data" if has_file else "application/x-www-form-urlencoded": {
            "schema": schema
        }
    }


def _responses(operation: Operation) -> dict[str, Any]:
    answers = {str(each.status): _answer(each) for each in operation.answers}
    return answers | {
        str(status): {"$ref": f"#/components/responses/refused-{status}"}
        for status in sorted(_refusals(operation))
    }


def _answer(answer: Answer) -> dict[str, Any]:
    described: dict[str, Any] = {"description": answer.text}
    if answer.media:
        # a stream is not one JSON text: its schema belongs to the data of each event
        as_json = answer.body is not None and answer.media == "application/json"
        schema = _schema(answer.body) if as_json else {"type": "string"}
        described["content"] = {answer.media: {"schema": schema}}
    if answer.status == 303:
        described["headers"] = {"location": {"schema": {"type": "string"}, "required": True}}
    return described


def _refusal(status: int) -> dict[str, Any]:
    content = {
        "application/json": {"schema": _schema(RefusalView)},
        "text/html": {"schema": {"type": "string"}},
    }
    return {"description": REFUSALS[status], "content": content}


def _refusals(operation: Operation) -> set[int]:
    refusals = {408, 421, 431, 503, *operation.refusals}
    if operation.who == "host":
        refusals.add(403)
    if "{" in operation.path:
        refusals.add(404)
    if operation.method == "post":
        refusals |= {400, 403, 411, 413}
    return refusals


def _schema(body: Any) -> dict[str, Any]:
    (schema,), _components = msgspec.json.schema_components([body], ref_template=REFERENCE)
    return schema


def _without_pairs(schema: Any) -> Any:
    """Describe a pair as a list of two; few readers of OpenAPI know tuples of unlike parts."""
    if isinstance(schema, list):
        return [_without_pairs(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    plain = {name: _without_pairs(each) for name, each in schema.items()}
    parts = plain.pop("prefixItems", None)
    if parts is not None:
        plain["items"] = {"anyOf": [p for n, p in enumerate(parts) if p not in parts[:n]]}
    return plain


def describe(_request: Request) -> Response:
    """Give the description."""
    body = msgspec.json.encode(document())
    return Response(body, headers={"cache-control": "no-cache"}, media_type="application/json")


routes = [Route("/api/openapi.json", describe)]
