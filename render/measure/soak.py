"""Whether the page holds for hours: `python3 start.py soak [MINUTES]`.

The program is started on a sample, in temporary folders, and driven over this machine's loopback
as its builder, a second tab, guests and strangers drive it. It prints a line each minute, and fails
when something has grown that must not.
"""

import asyncio
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import asynccontextmanager, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import aiohttp
import psutil
from yarl import URL

from render.measure.growth import Sample, findings
from render.measure.page_client import PageClient, PageError, Refusal, enter
from render.measure.processes import PAGE, Watch
from render.measure.visits import Builder, editing_guest, guest, second_tab, strangers
from scenes.files import samples

__all__ = ["Served", "main", "minutes_of", "soak"]

_MINUTES, _FEWEST, _MOST = 15.0, 0.5, 600.0

_WARM_UP, _LONGEST_WARM_UP = 0.3, 5.0
"""Share of the time, and minutes, that do not count."""

_FAULTS = 0.75
"""Share of the time after which workers are killed."""

_BETWEEN_KILLS = 75.0
"""Seconds. The oldest worker is killed, so each of the three is killed once in 225 s: the page
gives a worker up that is lost more than three times in ten minutes."""

_SETTLE = 1.5
"""Seconds of rest before a sample."""

_START, _STOP = 60.0, 20.0
"""Seconds in which the program must have started, and ended."""

_ADDRESS, _GUESTS = re.compile(r"http://\S+(?=\s)"), re.compile(r"https://\S+(?=\s)")
_FINGERPRINT = re.compile(r"^(?:[0-9A-F]{2}:){31}[0-9A-F]{2}(?=\s)", re.MULTILINE)

_RAISED = re.compile(r"^Traceback .*\n(?:[ \t].*\n)*(.*)$", re.MULTILINE)
"""A traceback, and the line in which it names what was raised."""


@dataclass(frozen=True, slots=True)
class Served:
    """The page's program while it runs.

    Parameters
    ----------
    process : subprocess.Popen
    address : str
        Of the builder's entrance, with a key.
    guests : URL
        Of the guests' entrance, with their key.
    fingerprint : bytes
        SHA-256 of the guests' certificate.
    watch : Watch
    log : Path
    temporary : Path
        Its folder for temporary files.
    """

    process: "subprocess.Popen[bytes]"
    address: str
    guests: URL
    fingerprint: bytes
    watch: Watch
    log: Path
    temporary: Path

    def stop(self) -> list[str]:
        """End it as Ctrl-C does, and say what is left behind that must not be."""
        workers = self.watch.workers()
        self.process.send_signal(signal.SIGINT if os.name == "posix" else signal.SIGTERM)
        found = []
        try:
            self.process.wait(_STOP)
        except subprocess.TimeoutExpired:
            found.append(f"the program has not ended within {_STOP:g} s")
        _, alive = psutil.wait_procs(workers, timeout=_STOP)
        if alive:
            found.append(f"{len(alive)} of its processes have outlived the program")
        if left := [one.name for one in self.temporary.iterdir()]:
            found.append(f"left in the temporary folder: {', '.join(sorted(left)[:5])}")
        if raised := _RAISED.findall(self.log.read_text("utf-8", "replace")):
            found.append(f"{len(raised)} tracebacks in the log, the last of {raised[-1][:200]}")
        return found


@contextmanager
def _served(folder: Path) -> Iterator[Served]:
    """Start the program with all that it writes in a folder."""
    state, temporary, designs = (folder / name for name in ("state", "temporary", "designs"))
    for one in (state, temporary, designs):
        one.mkdir()
    (designs / "mine.toml").write_text(samples.text("half-scale"), encoding="utf-8")
    log = folder / "log.txt"
    with log.open("wb") as output:
        process = subprocess.Popen(
            [sys.executable, "-m", "render", "open", "mine.toml", "--no-browser", "--share"],
            cwd=designs,
            env={
                **os.environ,
                "PYTHONPATH": os.pathsep.join(sys.path),
                "TURNLIGHT_STATE": str(state),
                **dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(temporary)),
            },
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            # Ctrl-C ends this program, and this one then ends that.
            start_new_session=True,
        )
    try:
        watch = Watch(process.pid, (state, temporary), log)
        yield Served(process, *_entrances(process, log), watch, log, temporary)
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()


def _entrances(process: "subprocess.Popen[bytes]", log: Path) -> tuple[str, URL, bytes]:
    """Wait until the program has said how the builder and guests come in."""
    end = time.monotonic() + _START
    said = ""
    while time.monotonic() < end and process.poll() is None:
        said = log.read_text("utf-8", "replace")
        found = [one.search(said) for one in (_ADDRESS, _GUESTS, _FINGERPRINT)]
        if all(found):
            address, guests, fingerprint = (one[0] for one in found if one)
            # The soak stays on this machine.
            on_loopback = URL(guests).with_host("127.0.0.1")
            return address, on_loopback, bytes.fromhex(fingerprint.replace(":", ""))
        time.sleep(0.1)
    raise PageError(f"The page has not started: {said[-500:]}")


async def soak(minutes: float, served: Served) -> list[str]:
    """Drive a program for some minutes, and print a line for each.

    Returns
    -------
    list of str
        A clause for each thing that does not hold.
    """
    begun = time.monotonic()

    def elapsed() -> float:
        return (time.monotonic() - begun) / 60

    seen: list[Sample] = []
    table = _Table()
    async with _http() as http, _http(served.fingerprint) as tablet:
        origin = await enter(http, served.address)
        guests = await enter(tablet, str(served.guests))
        number, killed = 0, 0.0
        while elapsed() < minutes:
            # A new connection each time, as a tablet that wakes up makes one.
            async with PageClient.open(http, origin) as tab:
                builder = Builder(tab)
                await builder.arrive()
                for _ in range(3):
                    number += 1
                    faults = elapsed() > _FAULTS * minutes
                    if number == 1 or (faults and time.monotonic() > killed + _BETWEEN_KILLS):
                        killed = time.monotonic()
                        await _kill_a_worker(served.watch, tab)
                    await builder.work(number)
                    await second_tab(http, origin)
                    await guest(tablet, guests)
                    await editing_guest(tab, tablet, guests)
                    await strangers(origin)
                    await asyncio.sleep(_SETTLE)
                    seen.append(served.watch.sample(elapsed(), faults=faults))
                    table.add(seen[-1], tab.delays)
    table.end()
    return findings(seen, min(_WARM_UP * minutes, _LONGEST_WARM_UP))


@asynccontextmanager
async def _http(fingerprint: bytes | None = None) -> AsyncIterator[aiohttp.ClientSession]:
    """Open a browser's half of a session; with a fingerprint, only that certificate will do."""
    connector = aiohttp.TCPConnector(ssl=aiohttp.Fingerprint(fingerprint) if fingerprint else True)
    # Cookies of addresses without a name are kept only if one asks for it.
    jar = aiohttp.CookieJar(unsafe=True)
    async with aiohttp.ClientSession(connector=connector, cookie_jar=jar) as http:
        yield http


async def _kill_a_worker(watch: Watch, tab: PageClient) -> None:
    """Kill the oldest worker; the page must start another and go on."""
    for worker in watch.workers()[:1]:
        with suppress(psutil.NoSuchProcess):
            worker.kill()
    before = tab.frames
    # Something else is to be seen, so that a picture must come.
    await tab.do("pic_look", {"exposure": 0.5}, False)
    before = await tab.picture(before)
    await tab.do("pic_look", {"exposure": 0.0}, False)
    await tab.picture(before)


class _Table:
    """A line for each minute."""

    _FORMAT = "{:>6} {:>8} {:>24} {:>8} {:>6} {:>6} {:>8} {:>6} {:>8}"

    def __init__(self) -> None:
        self._minute = 0
        self._last: Sample | None = None
        self._worst = 0.0
        self._print(
            *("minute", "page MB", "workers MB", "threads", "files", "temp", "temp MB", "log"),
            "worst s",
        )

    def add(self, sample: Sample, delays: list[float]) -> None:
        """Take a sample and the delays of answers since the last one, which are cleared."""
        self._worst = max([self._worst, *delays])
        delays.clear()
        self._last = sample
        if sample.minute >= self._minute + 1:
            self._minute = int(sample.minute)
            self.end()

    def end(self) -> None:
        """Print a line of what came since the last one."""
        if self._last is None:
            return
        one, page = self._last, self._last.processes[PAGE]
        workers = [use.memory for name, use in one.processes.items() if name != PAGE]
        self._print(
            f"{one.minute:.1f}",
            f"{page.memory / 1e6:.1f}",
            " + ".join(f"{memory / 1e6:.0f}" for memory in workers) or "none",
            page.threads,
            page.files,
            one.temporary_files,
            f"{one.temporary_bytes / 1e6:.1f}",
            one.log_lines,
            f"{self._worst:.2f}",
        )
        self._last, self._worst = None, 0.0

    def _print(self, *cells: object) -> None:
        sys.stdout.write(self._FORMAT.format(*cells) + "\n")
        sys.stdout.flush()


def minutes_of(arguments: Sequence[str]) -> float:
    """Read for how long.

    Raises
    ------
    ValueError
        If that is no number of minutes; the message is one sentence.
    """
    if not arguments:
        return _MINUTES
    text = " ".join(arguments)
    try:
        minutes = float(text)
    except ValueError:
        minutes = 0.0
    # Written so that NaN is refused too.
    if not _FEWEST <= minutes <= _MOST:
        raise ValueError(
            f"minutes: {text!r} is not a number from {_FEWEST:g} to {_MOST:g}; give one, such as "
            f"{_MINUTES:g}, or none."
        )
    return minutes


def main(arguments: Sequence[str]) -> int:
    """Soak, and give the exit code: 1 where something does not hold."""
    try:
        minutes = minutes_of(arguments)
    except ValueError as problem:
        sys.stderr.write(f"{problem}\n")
        return 2
    with tempfile.TemporaryDirectory(prefix="turnlight-soak-") as folder:
        try:
            with _served(Path(folder)) as served:
                try:
                    found = asyncio.run(soak(minutes, served))
                except (PageError, Refusal, aiohttp.ClientError, psutil.NoSuchProcess) as problem:
                    end = served.log.read_text("utf-8", "replace")[-2000:]
                    sys.stderr.write(f"{end}\nThe soak failed: {problem}\n")
                    return 1
                found += served.stop()
        except PageError as problem:
            sys.stderr.write(f"The soak failed: {problem}\n")
            return 1
        except KeyboardInterrupt:
            sys.stderr.write("Stopped.\n")
            return 130
    if found:
        sys.stderr.write(f"The soak failed: {'; '.join(found)}.\n")
        return 1
    sys.stdout.write(f"The soak held for {minutes:g} minutes.\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
