"""Serve a small application with few files to open, for `test_listener`.

Printed are the address, then each line of the log; standard input ends it.
"""

import asyncio
import logging
import resource
import sys
import tempfile
from pathlib import Path

from aiohttp import web

from render.page.server.access import Access
from render.page.server.guard import protect


async def main() -> None:
    app = web.Application()
    protect(app)

    async def answer(_: web.Request) -> web.Response:
        return web.Response(text="the page")

    app.add_routes([web.get("/", answer)])

    def say(sentence: str) -> None:
        sys.stdout.write(f"{sentence}\n")
        sys.stdout.flush()

    with tempfile.TemporaryDirectory() as folder:
        access = Access(0, shared=True, state=Path(folder), announce=say)
        await access.start(app)
        access.let_in(browser=False)
        say(access.sharing())
        await asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
        await access.close()


if __name__ == "__main__":
    most_files = int(sys.argv[1])
    resource.setrlimit(resource.RLIMIT_NOFILE, (most_files, most_files))
    logging.basicConfig(stream=sys.stderr, format="log: %(message)s")
    asyncio.run(main())
