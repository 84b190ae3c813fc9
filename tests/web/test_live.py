"""What streams are told, and in which turn."""

import asyncio
from collections.abc import AsyncIterator

from twobowls.web.live import AT_A_TIME, RETRY, Live

MANY = 4 * AT_A_TIME + 1


async def _listening(live: Live) -> list[AsyncIterator[bytes]]:
    streams = [live.messages("table", lambda: b"first") for _ in range(MANY)]
    for stream in streams:
        assert await anext(stream) == RETRY + b"first"
    return streams


def test_everybody_hears_the_newest_once_however_many_listen() -> None:
    async def hear() -> None:
        live = Live()
        live.start()
        waiting = [asyncio.ensure_future(anext(each)) for each in await _listening(live)]
        await asyncio.sleep(0)
        live.send("table", "change", b"old")
        live.send("table", "change", b"new")
        assert set(await asyncio.gather(*waiting)) == {b"new"}

    asyncio.run(hear())


def test_what_was_sent_already_is_not_followed_by_an_empty_message() -> None:
    async def hear() -> None:
        live = Live()
        live.start()
        streams = await _listening(live)
        for text in (b"one", b"two"):  # while the first is still handed round, the second comes
            live.send("table", "change", text)
        assert {await anext(each) for each in streams} == {b"two"}
        waiting = [asyncio.ensure_future(anext(each)) for each in streams]
        for _ in range(3 * MANY):  # until nobody is left to be woken
            await asyncio.sleep(0)
        assert not any(each.done() for each in waiting)
        live.stop()
        assert set(await asyncio.gather(*waiting)) == {b""}

    asyncio.run(hear())


def test_requests_have_their_turn_while_many_are_told() -> None:
    async def hear() -> list[str]:
        live = Live()
        live.start()
        order: list[str] = []

        async def phone(stream: AsyncIterator[bytes]) -> None:
            await anext(stream)
            order.append("told")

        phones = [asyncio.ensure_future(phone(each)) for each in await _listening(live)]
        await asyncio.sleep(0)
        live.send("table", "change", b"new")
        while "told" not in order:
            await asyncio.sleep(0)
        order.append("request")  # as one that comes when the first phone has heard
        await asyncio.gather(*phones)
        return order

    assert asyncio.run(hear()).index("request") <= 2 * AT_A_TIME
