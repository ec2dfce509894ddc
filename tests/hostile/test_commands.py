"""Files and names that no command is prepared for: one line, exit code 2, no traceback, nothing written."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from evenpull.demo import scenario
from evenpull.store import services
from tests.hostile.test_damage import call
from tests.store import samples

BY = ("--by", samples.AUTHOR)
MAPPED = ("-m", samples.MAPPING)


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        ("form = 'évenpull'".encode("cp1252"), "is not UTF-8 text"),
        ('form = "x"'.encode("utf-16"), "looks like UTF-16"),
        (b"%PDF-1.7\n\xff", "looks like a PDF"),
        (b"a=" + b"[" * 5000, "nested too deeply"),
        (b"a = " + b"9" * 6000, "TOML"),
        (b"", "form"),
        (b"#" * 9_000_000, "at most"),
    ],
)
def test_toml_files_that_are_none(unharmed: Path, tmp_path: Path, data: bytes, reason: str) -> None:
    file = tmp_path / "x.toml"
    file.write_bytes(data)
    said = call("add", file, *BY)
    assert said.startswith(str(file)) and reason in said
    assert call("check", file).startswith(str(file))
    assert str(file) in call("mapping", file)


@pytest.mark.parametrize("name", ["x" * 5000, "gone.csv", "/dev/null/x.csv", "a\nb.csv"])
def test_files_that_are_not_there(unharmed: Path, name: str) -> None:
    assert call("preview", name, *MAPPED).strip()


def test_a_file_name_that_cannot_be_printed(furnished: Path, tmp_path: Path) -> None:
    for number, name in enumerate([b'q"uo\nte<script>.csv', b"caf\xff.csv", b"\x1b[31mred.csv"], start=1):
        path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + name))
        path.write_bytes(samples.file_of([samples.row(number)]))
        assert "1 record" in call("import", path, *MAPPED, *BY, code=0)
    assert [row.name for row in services.files()] == [
        "\\x1b[31mred.csv", "caf\\udcff.csv", 'q"uo\\nte<script>.csv',
    ]  # fmt: skip
    assert services.check_log() == []


def test_a_bundle_takes_no_device_away(furnished: Path, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert "is no ordinary file" in call("bundle", "-o", pipe)
    assert pipe.is_fifo()
    assert "No such file" in call("bundle", "-o", tmp_path / "nowhere" / "b.zip")


def test_rows_that_cannot_be_trusted_are_kept_with_their_reason(furnished: Path, tmp_path: Path) -> None:
    rows = [
        samples.row(1, moment="NaN"), samples.row(2, moment="-41,2"), samples.row(3).replace(";Nm;", ";furlong;"),
        samples.row(4, moment="1e400"), samples.row(5, day="31.02.2026"),
        samples.row(6, joint="KN-CW-088"), samples.row(7, bolt=0), samples.row(8).replace("TW-0207", "TW\0"),
        samples.row(9, day="29.03.2026").replace(";09:00:09;", ";01:30:00;"), samples.row(10),
    ]  # fmt: skip
    file = tmp_path / "odd.csv"
    file.write_bytes(samples.file_of(rows))
    said = " ".join(call("preview", file, *MAPPED, code=0).split())
    for reason in (
        "row 2 unread: torque: 'NaN' is not a finite number", "row 3 unread: torque: '-41,2' is negative",
        "row 4 unread: torque: the unit 'furlong' is not known; allowed units: N.m", "row 5 unread", "row 8 unread",
        "no such date or time", "did not exist in Europe/London", "row 9 unread: the row holds NUL bytes",
        "no joint KN-CW-088 is known; near: KN-CW-008",
    ):  # fmt: skip
        assert reason in said
    call("import", file, *MAPPED, *BY, code=0)
    found = services.file(services.files()[0].sha256)
    assert (found.new, len(found.unread_rows)) == (4, 6), "every row is a record or an unread row"


def process(home: Path, *words: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    environment = os.environ | {"EVENPULL_HOME": str(home), "EVENPULL_BY": samples.AUTHOR}
    environment.pop("DJANGO_SETTINGS_MODULE", None)
    return subprocess.run([sys.executable, "-m", "evenpull.cli.main", *map(str, words)], env=environment, cwd=cwd,
                          capture_output=True, text=True, timeout=120)  # fmt: skip


def test_a_folder_that_cannot_be_one(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for home in (tmp_path / "file", Path("/dev/null/x"), Path("/proc/nothing-here")):
        done = process(home, "status", cwd=tmp_path)
        assert done.returncode == 2 and "Traceback" not in done.stderr
        assert str(home) in done.stderr


@pytest.mark.slow
def test_a_file_of_300_megabytes_is_refused_at_once_and_in_little_memory(tmp_path: Path) -> None:
    """Measured on two cores: the command 1 s to 5 s with its start, 101 MB at most; the pages 0.6 s."""
    (tmp_path / "m.toml").write_text(scenario.mapping_text("semicolon-log"), encoding="utf-8")
    home, big = tmp_path / "home", tmp_path / "big.csv"
    assert process(home, "add", "m.toml", cwd=tmp_path).returncode == 0
    line = (samples.row(1) + "\r\n").encode()
    block = line * 10_000
    with big.open("wb") as out:
        out.write((samples.HEAD + "\r\n").encode())
        while out.tell() < 300_000_000:
            out.write(block)
    code = (
        "import sys; from evenpull.cli.main import main\n"
        f"sys.argv = ['evenpull', '--home', {str(home)!r}, 'import', {str(big)!r}, '-m', {samples.MAPPING!r}, "
        "'--by', 'Ines Harrowgate']\n"
        "try:\n    main()\nfinally:\n    print([x for x in open('/proc/self/status') if x.startswith('VmHWM')][0])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 2, done.stderr
    assert "the file has 300 MB" in done.stderr or "the file has 301 MB" in done.stderr
    assert "268 MB" in done.stderr and "split the file" in done.stderr
    assert int(done.stdout.split()[-2]) < 250_000, "kilobytes at the peak"
    assert not any(path.is_file() for path in (home / "raw").rglob("*"))
