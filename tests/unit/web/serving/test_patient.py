"""A head that drips in, or never comes, costs its own connection alone; a quick one is answered."""

import asyncio

import pytest
import uvicorn

from gramrise.web.serving.patient import patient_for

HEAD = b"GET / HTTP/1.1\r\nHost: here\r\n\r\n"


async def answer(scope, receive, send):
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
    await send({"type": "http.response.body", "body": b"ok"})


def with_server(talk):
    """What a talk with a server of a tenth of a second's patience gives."""

    async def run():
        server = uvicorn.Server(uvicorn.Config(answer, port=0, http=patient_for(0.1), log_level="error"))
        serving = asyncio.create_task(server.serve())
        while not server.started:
            await asyncio.sleep(0.01)
        port = server.servers[0].sockets[0].getsockname()[1]
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        try:
            return await asyncio.wait_for(talk(reader, writer), 20)
        finally:
            writer.close()
            server.should_exit = True
            await serving

    return asyncio.run(run())


@pytest.mark.parametrize("sent", [b"", b"GET / HT"])
def test_a_head_that_does_not_come_ends_its_connection(sent):
    async def talk(reader, writer):
        writer.write(sent)
        return await reader.read()

    assert with_server(talk) == b""


def test_a_second_head_that_drips_ends_it_too_after_the_first_was_answered():
    async def talk(reader, writer):
        writer.write(HEAD)
        first = await reader.readuntil(b"ok")
        writer.write(b"GET")
        return first, await reader.read()

    first, rest = with_server(talk)
    assert first.startswith(b"HTTP/1.1 200")
    assert rest == b""
