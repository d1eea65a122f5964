"""Spoilt files for every reader, thousands of each: only an error of our own, in time, and within memory.

    python tests/bench/fuzz_readers.py --runs 10000 [--only case log] [--seed 1]
    python tests/bench/fuzz_readers.py --runs 10000 --only log --guided     # by coverage, where atheris is installed

Every fault is printed once by the place it came from, with the seed that makes it again (`READERS[name].spoilt(seed)`).
"""

import argparse
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path
from types import FrameType

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

LONGEST = 20
"""An input of a few kilobytes that takes longer is a hang. [s]"""
MEMORY = 3_000_000_000
"""[byte]"""


class Hang(BaseException):
    pass


def _hangs(_number: int, _frame: FrameType | None) -> None:
    raise Hang


def _place(error: BaseException) -> str:
    last = [frame for frame in traceback.extract_tb(error.__traceback__) if "/decide/" in frame.filename]
    at = f"{Path(last[-1].filename).name}:{last[-1].lineno} {last[-1].name}" if last else "?"
    return f"{type(error).__name__} at {at}: {str(error)[:120]}"


def attempt(read: object, content: bytes) -> str | None:
    """What a reader made of an input: nothing amiss, or what came out that should not."""
    from decide.errors import DataError, MendpointError

    signal.alarm(LONGEST)
    try:
        read(content)  # type: ignore[operator]
    except DataError as error:
        return _place(error)
    except MendpointError as error:
        return None if len(str(error)) > 3 else f"says nothing: {_place(error)}"
    except (Exception, Hang) as error:
        return _place(error)
    finally:
        signal.alarm(0)
    return ""


def by_chance(name: str, runs: int, seed: int) -> bool:
    from fuzzing import READERS

    reader = READERS[name]
    for sample in reader.samples():
        reader.read(sample)  # the samples themselves are valid, or the mutations would try nothing
    found: Counter[str] = Counter()
    first: dict[str, int] = {}
    longest, whole, begun = 0.0, 0, time.perf_counter()
    for each in range(seed, seed + runs):
        content = reader.spoilt(each)
        before = time.perf_counter()
        refusal = attempt(reader.read, content)
        longest = max(longest, time.perf_counter() - before)
        whole += refusal == ""
        if refusal:
            found[refusal] += 1
            first.setdefault(refusal, each)
    took = time.perf_counter() - begun
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    print(f"{name}: {runs} inputs in {took:.0f} s, {whole} read, {runs - whole - sum(found.values())} refused, "
          f"{sum(found.values())} faults; longest {longest:.2f} s; peak memory {peak:.0f} MB", flush=True)  # fmt: skip
    for refusal, times in found.most_common():
        print(f"    {times} x {refusal}  (seed {first[refusal]})", flush=True)
    return not found


def guided(name: str, runs: int) -> None:
    """Mutations guided by which branches they reach; stops at the first fault, with its input."""
    import atheris

    with atheris.instrument_imports(include=["decide"]):
        from fuzzing import READERS
    reader = READERS[name]

    def one(content: bytes) -> None:
        refusal = attempt(reader.read, content)
        if refusal:
            raise RuntimeError(refusal)

    corpus = Path(tempfile.mkdtemp(prefix=f"fuzz-{name}"))
    for number, sample in enumerate(reader.samples()):
        (corpus / f"sample{number}").write_bytes(sample)
    atheris.Setup([sys.argv[0], str(corpus), f"-runs={runs}", "-max_len=4000", "-rss_limit_mb=3000"], one)
    atheris.Fuzz()


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--runs", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--only", nargs="*")
    asked.add_argument("--guided", action="store_true")
    options = asked.parse_args()
    warnings.simplefilter("error")
    signal.signal(signal.SIGALRM, _hangs)
    if options.guided:
        guided(options.only[0], options.runs)
    from fuzzing import READERS

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    well = [by_chance(name, options.runs, options.seed) for name in options.only or READERS]
    sys.exit(not all(well))


if __name__ == "__main__":
    main()
