"""Twenty phones on one shop's server, beside one phone alone, in one run: `pytest tests/bench/bench_phones.py -s`.

Each phone is a session of its own over loopback: it opens the page with the demonstration case in it, and changes the
quote again and again, as a technician does. A re-run is the time from a change sent to the page drawn anew. The phones
speak the page's own protocol, so that what is measured is the server, and not twenty browsers on the same computer.
"""

import json
import os
import statistics
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from conftest import served
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import ClientConnection, connect
from websockets.typing import Origin, Subprotocol

CASE = Path(__file__).resolve().parents[2] / "data" / "demo" / "refrigerator.toml"
PHONES = 20
CHANGES = 3
PAUSE = 3.0
"""Between two changes of one phone, where they are those of people. [s]"""
SUBPROTOCOLS = [Subprotocol("streamlit")]
LONGEST = 60.0
"""What any re-run may take. [s]"""


class Phone:
    """One session of the page: opens it, and changes a field by its label."""

    def __init__(self, line: ClientConnection) -> None:
        self.line = line
        self.fields: dict[str, str] = {}
        """Ids by label."""
        self.values: dict[str, str] = {}
        self.page = b""
        """What the last run sent, as it came: to take it apart would burden the computer that is measured."""
        self.seconds: list[float] = []

    def open(self) -> float:
        return self._run({})

    def change(self, label: str, text: str) -> float:
        field = next(each for name, each in self.fields.items() if label in name)
        spent = self._run({field: text})
        self.seconds.append(spent)
        return spent

    def _run(self, changed: dict[str, str]) -> float:
        self.values |= changed
        asked = BackMsg()
        asked.rerun_script.query_string = ""
        for field, text in self.values.items():
            state = asked.rerun_script.widget_states.widgets.add()
            state.id, state.string_value = field, text
        begun, found = time.perf_counter(), []
        self.line.send(asked.SerializeToString())
        while True:
            came = bytes(self.line.recv(timeout=LONGEST))  # type: ignore[arg-type]
            message = ForwardMsg.FromString(came)
            found.append(came)
            kind = message.WhichOneof("type")
            if kind == "delta" and message.delta.WhichOneof("type") == "new_element":
                element = message.delta.new_element
                if element.WhichOneof("type") == "text_input":
                    self.fields[element.text_input.label] = element.text_input.id
            if kind == "script_finished" and message.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY:
                self.page = b"".join(found)
                return time.perf_counter() - begun


def kept_in_memory(server: int) -> float:
    """Memory of a process. [MB]"""
    status = Path(f"/proc/{server}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in status if line.startswith("VmRSS")) / 1000


def server_of(url: str) -> int:
    """The child process that serves."""
    port = url.rpartition(":")[2]
    for each in Path("/proc").iterdir():
        try:
            words = (each / "cmdline").read_bytes().decode(errors="replace") if each.name.isdigit() else ""
        except OSError:
            continue
        if f"serve({port}," in words:
            return int(each.name)
    raise AssertionError("no server")


def used(url: str, phones: int, pause: float) -> tuple[list[Phone], list[float]]:
    """Open so many phones at once, and let each change its quote; gives the phones, and what the opening took."""
    ready = threading.Barrier(phones)

    def use(number: int) -> tuple[Phone, float]:
        address = url.replace("http://", "ws://") + "/_stcore/stream"
        with connect(
            address, origin=Origin(url), subprotocols=SUBPROTOCOLS, max_size=None, open_timeout=LONGEST
        ) as line:
            phone = Phone(line)
            ready.wait()
            opened = phone.open()
            for change in range(CHANGES):
                time.sleep(pause * (0.5 + ((number * 7 + change * 3) % 10) / 10))  # no two in step
                quote = f"{200 + number * CHANGES + change}.25"
                phone.change("Quote", quote)
                assert f"${quote}".encode() in phone.page, "each phone sees its own quote"
        return phone, opened

    with ThreadPoolExecutor(phones) as pool:
        done = list(pool.map(use, range(phones)))
    return [phone for phone, _ in done], [opened for _, opened in done]


def printed(what: str, phones: list[Phone], opened: list[float]) -> dict[str, Any]:
    runs = sorted(second for phone in phones for second in phone.seconds)
    figures = {
        "what": what, "re-runs": len(runs), "median_s": round(statistics.median(runs), 3),
        "p95_s": round(runs[int(0.95 * (len(runs) - 1))], 3), "longest_s": round(runs[-1], 3),
        "opening_median_s": round(statistics.median(opened), 2),
    }  # fmt: skip
    print(json.dumps(figures))
    return figures


def test_twenty_phones_beside_one_alone(tmp_path: Path) -> None:
    with served(tmp_path, CASE) as url:
        server, begun, own = server_of(url), time.perf_counter(), time.process_time()
        used(url, 1, 0.0)  # the first session loads what all of them need
        memory = [kept_in_memory(server)]
        alone = printed("one phone alone", *used(url, 1, 0.2))
        people = printed(f"{PHONES} phones, a change in {PAUSE:g} s each", *used(url, PHONES, PAUSE))
        memory.append(kept_in_memory(server))
        storm = printed(f"{PHONES} phones without a pause", *used(url, PHONES, 0.0))
        memory.append(kept_in_memory(server))
        print(
            f"memory of the server: {memory[0]:.0f} MB with one, {memory[1]:.0f} and {memory[2]:.0f} MB after {PHONES}"
        )
        times = [crowd["median_s"] / alone["median_s"] for crowd in (people, storm)]
        print(f"median, beside one alone: {times[0]:.1f} times, in a storm {times[1]:.1f} times")
        spent = f"{time.perf_counter() - begun:.0f} s in all, {time.process_time() - own:.0f} s the phones'"
        print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; {spent}")
