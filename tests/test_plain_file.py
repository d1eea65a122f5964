"""Files that the commands write and read, as a user meets them: full disks, kills, pipes, odd names."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from decide.errors import ReadError
from decide.load.files.plain_file import content_of, new_file, open_plain, write_file

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data" / "demo"
CASE = str(DEMO / "refrigerator.toml")
BOOK = (str(DEMO / "jobs.csv"), "--mapping", str(DEMO / "jobs.toml"))
SMALL_DISK = (
    "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000));"
    " from decide.show.cli.main import main; main()"
)
WRITERS = {
    "handout.pdf": ("handout", CASE, "--out"),
    "handout.txt": ("handout", CASE, "--out"),
    "card.pdf": ("card", "--classes", "oven_electric", "--out"),
    "card.csv": ("card", "--classes", "oven_electric,refrigerator", "--out"),
    "figures.csv": ("records", *BOOK, "--shop", "An invented shop", "--save"),
    "counts.json": ("records", *BOOK, "--save-counts"),
    "rows.csv": ("jobs", *BOOK, "--out"),
    "rows.xlsx": ("jobs", *BOOK, "--out"),
    "rows.parquet": ("jobs", *BOOK, "--out"),
}
"""A file, and the command that writes it with its name behind."""


def run(*arguments: str, folder: Path, code: str = "", **how: object) -> subprocess.CompletedProcess[str]:
    begin = ["-c", code] if code else ["-m", "decide"]
    return subprocess.run(
        [sys.executable, *begin, *arguments], cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.DEVNULL, timeout=60, **{"capture_output": True, "text": True, **how},
    )  # fmt: skip


def one_sentence(done: subprocess.CompletedProcess[str]) -> str:
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1, done.stderr
    assert done.stderr.isprintable() or done.stderr[:-1].replace("\u00a0", "").isprintable()
    return done.stderr


def names(folder: Path) -> set[str]:
    return {each.name for each in folder.iterdir()}


# the commands


@pytest.mark.slow
@pytest.mark.parametrize("name", WRITERS)
def test_a_file_that_is_there_is_written_over_by_force_only_and_survives_a_full_disk(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"old")
    assert "is there already; with --force" in one_sentence(run(*WRITERS[name], name, folder=tmp_path))
    full = run(*WRITERS[name], name, "--force", folder=tmp_path, code=SMALL_DISK)
    assert (full.returncode, "File too large" in full.stderr, "Traceback" in full.stderr) == (2, True, False)
    assert "Exception ignored" not in full.stderr
    assert (tmp_path / name).read_bytes() == b"old"
    assert names(tmp_path) == {name}
    done = run(*WRITERS[name], name, "--force", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert len((tmp_path / name).read_bytes()) > 200
    assert names(tmp_path) <= {name, "rows.set-apart.csv"}


@pytest.mark.slow
def test_no_file_is_written_over_by_the_mapping_that_is_saved_nor_by_the_hand_out_beside_its_case(
    tmp_path: Path,
) -> None:
    (tmp_path / "case.toml").write_bytes(Path(CASE).read_bytes())
    assert run("handout", "case.toml", folder=tmp_path).returncode == 0
    assert "is there already" in one_sentence(run("handout", "case.toml", folder=tmp_path))
    (tmp_path / "map.toml").write_bytes((DEMO / "jobs.toml").read_bytes())
    book = ("jobs", BOOK[0], "--mapping", "map.toml", "--save-mapping", "map.toml", "--force")
    assert "is a file that is read here" in one_sentence(run(*book, folder=tmp_path))
    twice = ("jobs", *BOOK, "--out", "a.csv", "--words", "./a.csv", "--force")
    assert "is named for two files" in one_sentence(run(*twice, folder=tmp_path))


@pytest.mark.slow
def test_new_asks_before_it_writes_over_a_case_and_force_answers_for_it(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text("old")
    answers = "US\nrefrigerator\n12\nother\n\n\n\n\n\n"
    begin = [sys.executable, "-m", "decide", "new", "case.toml"]
    how = {"cwd": tmp_path, "env": {**os.environ, "PYTHONPATH": str(ROOT)}, "capture_output": True, "text": True}
    kept = subprocess.run(begin, input="n\n", timeout=60, **how)
    assert (kept.returncode, (tmp_path / "case.toml").read_text()) == (1, "old")
    done = subprocess.run([*begin, "--force"], input=answers, timeout=60, **how)
    assert done.returncode == 0, done.stderr
    assert "refrigerator" in (tmp_path / "case.toml").read_text()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["handout.pdf", "card.csv", "figures.csv", "rows.csv"])
def test_what_is_no_place_for_a_file_is_refused_in_one_sentence(tmp_path: Path, name: str) -> None:
    kind = Path(name).suffix
    os.mkfifo(tmp_path / f"pipe{kind}")
    (tmp_path / f"folder{kind}").mkdir()
    (tmp_path / f"device{kind}").symlink_to("/dev/full")
    wanted = {
        f"pipe{kind}": "is no plain file", f"device{kind}": "is no plain file", f"folder{kind}": "Is a directory",
        f"none/a{kind}": "No such file", f"\x1b]0;pwn\x07{kind}": "a sign in its name that cannot be seen",
        f"{'x' * 300}{kind}": "File name too long",
    }  # fmt: skip
    before = names(tmp_path)
    for place, why in wanted.items():
        assert why in one_sentence(run(*WRITERS[name], place, "--force", folder=tmp_path)), place
    assert names(tmp_path) == before


@pytest.mark.slow
def test_a_disk_that_is_really_full_keeps_the_old_page(tmp_path: Path) -> None:
    """A disk of 64 kB in memory, mounted for one command where the machine lets us."""
    there = "mount -t tmpfs -o size=64k tmpfs . && cd . && printf old > page.pdf && head -c 70000 /dev/zero > fill;"
    there = there.replace("cd .", f"cd {tmp_path}").replace("tmpfs . ", f"tmpfs {tmp_path} ")
    tell = f'{sys.executable} -m decide handout {CASE} --out page.pdf --force; echo "rc $?"; cat page.pdf; ls -A'
    done = subprocess.run(
        ["unshare", "-rm", "sh", "-c", f"{there} {tell}"], env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    if "rc" not in done.stdout:
        pytest.skip(f"no disk can be mounted here: {done.stderr.strip()}")
    assert done.stdout.split() == ["rc", "2", "oldfill", "page.pdf"], done.stderr
    assert "No space left on device" in done.stderr


@pytest.mark.slow
def test_what_a_killed_run_leaves_is_cleared_by_the_next_of_the_same_name(tmp_path: Path) -> None:
    head, *rows = (DEMO / "jobs.csv").read_text("utf-8").splitlines(keepends=True)
    (tmp_path / "large.csv").write_text(head + "".join(rows) * 1_000)
    (tmp_path / "rows.csv").write_text("old")
    (tmp_path / ".rows.csv.mine.part").write_text("of somebody else")
    arguments = ("jobs", "large.csv", "--mapping", BOOK[2], "--out", "rows.csv", "--force")
    with subprocess.Popen(
        [sys.executable, "-m", "decide", *arguments], cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    ) as child:  # fmt: skip
        end = time.monotonic() + 60
        while time.monotonic() < end and not (left := list(tmp_path.glob(".rows.csv.????????.part"))):
            time.sleep(0.02)
        child.send_signal(signal.SIGKILL)
    assert left
    assert left[0].exists()
    assert (tmp_path / "rows.csv").read_text() == "old"
    assert run(*WRITERS["rows.csv"], "rows.csv", "--force", folder=tmp_path).returncode == 0
    assert not left[0].exists()
    assert (tmp_path / ".rows.csv.mine.part").read_text() == "of somebody else"


@pytest.mark.slow
def test_a_file_that_another_run_still_writes_is_not_cleared_away(tmp_path: Path) -> None:
    with new_file(tmp_path / "card.csv") as mine:
        mine.write(b"mine")
        assert run(*WRITERS["card.csv"], "card.csv", folder=tmp_path).returncode == 0
    assert (tmp_path / "card.csv").read_bytes() == b"mine"
    assert names(tmp_path) == {"card.csv"}


# the ways out


@pytest.mark.slow
@pytest.mark.parametrize("arguments", [("weigh", CASE), ("weigh", CASE, "--json"), ("sources",), ("--help",)])
def test_an_output_that_is_full_is_told_and_one_that_nobody_reads_is_not(
    tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    with Path("/dev/full").open("w") as full:
        done = run(*arguments, folder=tmp_path, capture_output=False, stdout=full, stderr=subprocess.PIPE)
    assert "The answer could not be written: No space left on device." in one_sentence(done)
    reading, writing = os.pipe()
    os.close(reading)
    done = run(*arguments, folder=tmp_path, capture_output=False, stdout=writing, stderr=subprocess.PIPE)
    os.close(writing)
    assert done.stderr == ""
    shell = f"{sys.executable} -m decide {' '.join(arguments)} | head -1"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    piped = subprocess.run(shell, shell=True, env=environment, capture_output=True, text=True, timeout=60)
    assert (piped.returncode, piped.stderr) == (0, "")


@pytest.mark.slow
def test_no_name_can_steer_the_terminal(tmp_path: Path) -> None:
    evil = "\x1b]0;pwn\x07\u202e.toml"
    (tmp_path / evil).write_text("[")
    (tmp_path / "case.toml").write_text(
        '[appliance]\nclass = "refrigerator"\nage = 9\nmeter = { file = "a\\u001Bb" }\n'
    )
    for arguments in (
        ("weigh", evil), ("weigh", f"none-{evil}"), ("jobs", evil),
        ("weigh", CASE, evil), ("weigh", CASE, f"--{evil}"), (evil,), ("weigh", CASE, "--figures", evil),
        ("weigh", "case.toml"), ("store", evil), ("weigh", CASE, "--set", evil),
    ):  # fmt: skip
        done = run(*arguments, folder=tmp_path)
        assert (done.returncode, "Traceback" in done.stderr) == (2, False), arguments
        assert not set(done.stderr + done.stdout) & set("\x1b\x07\u202e"), arguments
        assert "x1b" in (done.stderr + done.stdout).lower(), arguments


@pytest.mark.slow
def test_a_name_that_begins_with_a_dash_is_refused_or_taken_and_never_a_traceback(tmp_path: Path) -> None:
    (tmp_path / "-c.toml").write_bytes(Path(CASE).read_bytes())
    refused = run("weigh", "-c.toml", folder=tmp_path)
    assert (refused.returncode, "Traceback" in refused.stderr) == (2, False)
    assert "No such option" in refused.stderr
    assert run("weigh", "--", "-c.toml", folder=tmp_path).returncode == 0
    assert run("handout", "--out", "-page.txt", "--", "-c.toml", folder=tmp_path).returncode == 0
    assert names(tmp_path) == {"-c.toml", "-page.txt"}


# files that a case names


NAMED = {
    "log": '[appliance.meter]\nfile = "pipe"\nroom = 20\n',
    "tariff": '[household.electricity_tariff]\nfile = "pipe"\nbase_use = 3000\n',
    "intervals": '[household.electricity_tariff]\nfile = "tariff.toml"\ninterval_data = "pipe"\n',
}


@pytest.mark.parametrize("what", NAMED)
def test_a_pipe_that_a_case_names_is_refused_and_never_waited_for(tmp_path: Path, what: str) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "tariff.toml").write_text('commodity = "electricity"\nsource = "my bill"\nprice = 0.30\n')
    (tmp_path / "case.toml").write_text(f'[appliance]\nclass = "refrigerator"\nage = 9\n{NAMED[what]}')
    assert "must be a plain file" in one_sentence(run("weigh", "case.toml", folder=tmp_path))


@pytest.mark.parametrize("arguments", [("weigh", "pipe"), ("jobs", "pipe")])
def test_a_pipe_in_place_of_a_file_is_refused_and_never_waited_for(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "is no plain file" in one_sentence(run(*arguments, folder=tmp_path))


def test_a_file_that_becomes_a_pipe_after_it_was_looked_at_is_refused_where_it_is_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(ReadError, match="is no plain file"):
        open_plain(tmp_path / "pipe")
    with pytest.raises(ReadError, match="is no plain file"):
        content_of(Path("/dev/zero"), 10, "too large")


# the writer itself


def test_a_file_that_came_to_stand_there_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    def write_late() -> None:
        with new_file(tmp_path / "a.txt", over=False) as late:
            late.write(b"late")
            (tmp_path / "a.txt").write_text("first")

    with pytest.raises(ReadError, match="is there already"):
        write_late()
    assert (tmp_path / "a.txt").read_text() == "first"
    assert names(tmp_path) == {"a.txt"}


def test_a_link_stays_a_link_and_a_file_keeps_who_may_read_it(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "a.txt").write_text("old")
    (tmp_path / "kept" / "a.txt").chmod(0o600)
    (tmp_path / "link.txt").symlink_to("kept/a.txt")
    write_file(tmp_path / "link.txt", "new")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "kept" / "a.txt").read_text() == "new"
    assert (tmp_path / "kept" / "a.txt").stat().st_mode & 0o777 == 0o600
    write_file(tmp_path / "b.txt", "new")
    umask = os.umask(0)
    os.umask(umask)
    assert (tmp_path / "b.txt").stat().st_mode & 0o777 == 0o666 & ~umask


@pytest.mark.parametrize("name", ["x" * 255, "ü" * 127, "\N{FAMILY}" * 60])
def test_a_name_as_long_as_any_can_be_is_written(tmp_path: Path, name: str) -> None:
    write_file(tmp_path / name, "new")
    assert names(tmp_path) == {name}
