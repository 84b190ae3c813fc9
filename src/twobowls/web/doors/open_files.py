"""How many connections the system lets us keep: each one is an open file."""

import sys

if sys.platform != "win32":
    import resource

WANTED = 8192  # macOS allows 10,240 at the most
FOR_THE_STORE = 200  # the store's readers, its backups, templates, pictures
WITHOUT_LIMITS = 2000  # Windows counts no such files


def raise_limit() -> None:
    """Ask the system for as many open files as it lets us have, up to `WANTED`."""
    if sys.platform == "win32":
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = WANTED if hard == resource.RLIM_INFINITY else min(WANTED, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def room_for_connections() -> int:
    """Return how many connections leave enough files for the store."""
    if sys.platform == "win32":
        return WITHOUT_LIMITS
    soft, _hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    files = WANTED if soft == resource.RLIM_INFINITY else min(WANTED, soft)
    return max(files // 2, files - FOR_THE_STORE)
