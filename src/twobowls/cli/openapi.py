"""Print the OpenAPI description of a running tool's pages and calls."""

import argparse
from collections.abc import Sequence

import msgspec


def main(arguments: Sequence[str] | None = None) -> int:
    """Print; return 0."""
    from twobowls.web.openapi import document

    argparse.ArgumentParser(prog="twobowls openapi", description=__doc__).parse_args(arguments)
    print(msgspec.json.format(msgspec.json.encode(document()).decode()))
    return 0
