"""Soak test of the page: `python3 start.py soak [MINUTES]`.

The program is started with a sample, in temporary folders, and used over this machine's loopback by
a builder, a second tab, guests and strangers. The soak prints a line each minute, and fails if a
resource has grown that must not.
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

_MINUTES, _MIN_MINUTES, _MAX_MINUTES = 15.0, 0.5, 600.0

_WARM_UP, _MAX_WARM_UP = 0.3, 5.0
"""Warm-up, which is ignored: a share of the time, and at most so many minutes."""

_FAULTS_FROM = 0.75
"""Share of the time after which workers are killed."""

_BETWEEN_KILLS = 75.0
"""Time between kills, s. The oldest worker is killed, so each of the three is killed once in 225 s.
The page gives up a worker that is lost more than three times in ten minutes."""

_SETTLE = 1.5
"""Rest before a sample, s."""

_START_TIMEOUT, _STOP_TIMEOUT = 60.0, 20.0
"""Timeouts of the program's start and end, s."""

_ADDRESS, _GUESTS = re.compile(r"http://\S+(?=\s)"), re.compile(r"https://\S+(?=\s)")
_FINGERPRINT = re.compile(r"^(?:[0-9A-F]{2}:){31}[0-9A-F]{2}(?=\s)", re.MULTILINE)

_RAISED = re.compile(r"^Traceback .*\n(?:[ \t].*\n)*(.*)$", re.MULTILINE)
"""A traceback, and its last line, which names the error."""


@dataclass(frozen=True, slots=True)
class Served:
    """A running program.

    Parameters
    ----------
    process : subprocess.Popen
    address : str
        Address for the builder, with a key.
    guests : URL
        Address for guests, with their key.
    fingerprint : bytes
        SHA-256 of the guests' certificate.
    watch : Watch
    log : Path
    temporary : Path
        Folder of its temporary files.
    """

    process: "subprocess.Popen[bytes]"
    address: str
    guests: URL
    fingerprint: bytes
    watch: Watch
    log: Path
    temporary: Path

    def stop(self) -> list[str]:
        """End the program as Ctrl-C does; return a clause for each thing left behind."""
        workers = self.watch.workers()
        self.process.send_signal(signal.SIGINT if os.name == "posix" else signal.SIGTERM)
        found = []
        try:
            self.process.wait(_STOP_TIMEOUT)
        except subprocess.TimeoutExpired:
            found.append(f"the program has not ended within {_STOP_TIMEOUT:g} s")
        _, alive = psutil.wait_procs(workers, timeout=_STOP_TIMEOUT)
        if alive:
            found.append(f"{len(alive)} of its processes have outlived the program")
        if left := [path.name for path in self.temporary.iterdir()]:
            found.append(f"left in the temporary folder: {', '.join(sorted(left)[:5])}")
        if raised := _RAISED.findall(self.log.read_text("utf-8", "replace")):
            found.append(f"{len(raised)} tracebacks in the log, the last of {raised[-1][:200]}")
        return found


@contextmanager
def _served(folder: Path) -> Iterator[Served]:
    """Start the program, with everything that it writes in a folder."""
    state, temporary, designs = (folder / name for name in ("state", "temporary", "designs"))
    for new_folder in (state, temporary, designs):
        new_folder.mkdir()
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
            # Ctrl-C reaches only this program, which then ends the other one.
            start_new_session=True,
        )
    try:
        watch = Watch(process.pid, (state, temporary), log)
        yield Served(process, *_addresses(process, log), watch, log, temporary)
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()


def _addresses(process: "subprocess.Popen[bytes]", log: Path) -> tuple[str, URL, bytes]:
    """Wait until the program has printed the addresses for builder and guests."""
    end = time.monotonic() + _START_TIMEOUT
    output = ""
    while time.monotonic() < end and process.poll() is None:
        output = log.read_text("utf-8", "replace")
        found = [pattern.search(output) for pattern in (_ADDRESS, _GUESTS, _FINGERPRINT)]
        if all(found):
            address, guests, fingerprint = (match[0] for match in found if match)
            # The soak stays on this machine.
            on_loopback = URL(guests).with_host("127.0.0.1")
            return address, on_loopback, bytes.fromhex(fingerprint.replace(":", ""))
        time.sleep(0.1)
    raise PageError(f"The page has not started: {output[-500:]}")


async def soak(minutes: float, served: Served) -> list[str]:
    """Use a program for some minutes, and print a line for each.

    Parameters
    ----------
    minutes : float
        Duration, min.
    served : Served
        The program.

    Returns
    -------
    list of str
        A clause for each resource that has grown.
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
            # A new connection each time, as from a tablet that wakes up.
            async with PageClient.open(http, origin) as tab:
                builder = Builder(tab)
                await builder.arrive()
                for _ in range(3):
                    number += 1
                    faults = elapsed() > _FAULTS_FROM * minutes
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
    return findings(seen, min(_WARM_UP * minutes, _MAX_WARM_UP))


@asynccontextmanager
async def _http(fingerprint: bytes | None = None) -> AsyncIterator[aiohttp.ClientSession]:
    """Open the client side of a session; a fingerprint admits only that certificate."""
    connector = aiohttp.TCPConnector(ssl=aiohttp.Fingerprint(fingerprint) if fingerprint else True)
    # By default, cookies of numeric addresses are dropped.
    jar = aiohttp.CookieJar(unsafe=True)
    async with aiohttp.ClientSession(connector=connector, cookie_jar=jar) as http:
        yield http


async def _kill_a_worker(watch: Watch, tab: PageClient) -> None:
    """Kill the oldest worker; the page must start another one and go on."""
    for worker in watch.workers()[:1]:
        with suppress(psutil.NoSuchProcess):
            worker.kill()
    before = tab.frames
    # Another exposure, so that a new picture must come.
    await tab.do("pic_look", {"exposure": 0.5}, False)
    before = await tab.picture(before)
    await tab.do("pic_look", {"exposure": 0.0}, False)
    await tab.picture(before)


class _Table:
    """Printed table with a line for each minute."""

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
        """Add a sample, and the delays of answers since the last one, which are cleared."""
        self._worst = max([self._worst, *delays])
        delays.clear()
        self._last = sample
        if sample.minute >= self._minute + 1:
            self._minute = int(sample.minute)
            self.end()

    def end(self) -> None:
        """Print a line for the samples since the last line."""
        if self._last is None:
            return
        sample, page = self._last, self._last.processes[PAGE]
        workers = [use.memory for name, use in sample.processes.items() if name != PAGE]
        self._print(
            f"{sample.minute:.1f}",
            f"{page.memory / 1e6:.1f}",
            " + ".join(f"{memory / 1e6:.0f}" for memory in workers) or "none",
            page.threads,
            page.files,
            sample.temporary_files,
            f"{sample.temporary_bytes / 1e6:.1f}",
            sample.log_lines,
            f"{self._worst:.2f}",
        )
        self._last, self._worst = None, 0.0

    def _print(self, *cells: object) -> None:
        sys.stdout.write(self._FORMAT.format(*cells) + "\n")
        sys.stdout.flush()


def minutes_of(arguments: Sequence[str]) -> float:
    """Read the duration from the arguments of the command, in minutes.

    Parameters
    ----------
    arguments : sequence of str
        Empty for the default.

    Raises
    ------
    ValueError
        If it is not a number in range; the message is one sentence.
    """
    if not arguments:
        return _MINUTES
    text = " ".join(arguments)
    try:
        minutes = float(text)
    except ValueError:
        minutes = 0.0
    # Written so that NaN is refused too.
    if not _MIN_MINUTES <= minutes <= _MAX_MINUTES:
        raise ValueError(
            f"minutes: {text!r} is not a number from {_MIN_MINUTES:g} to {_MAX_MINUTES:g}; give one"
            f", such as {_MINUTES:g}, or none."
        )
    return minutes


def main(arguments: Sequence[str]) -> int:
    """Run the soak and return the exit code: 1 if it failed, 2 if the duration is wrong.

    Parameters
    ----------
    arguments : sequence of str
        Of the command: nothing, or a number of minutes.
    """
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
