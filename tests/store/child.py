"""Imports in processes of their own, which may be made to die in the middle.

    python -m tests.store.child

reads one line of JSON after another: {"jobs": [{"home", "address", "file", "last", "after"}, ...]}. Each job is a
forked process that imports the file; all jobs of a line begin at the same moment. The answer is one line: for each job
{"status": exit code or minus the signal, "told": what was imported and how many moments there were}.

`last` N: the process kills itself by SIGKILL at its N-th moment. Moments are counted before and after every statement,
commit, fsync and rename, and every so many steps inside SQLite's own machine.
`commits`: only those before and after a commit are counted.
`after` T: the process is killed by SIGKILL after T seconds, wherever it is.
`free` B: the folder is copied to a disk of its own that has B bytes left; see `on_a_full_disk`.
"""

from __future__ import annotations

import ctypes
import json
import os
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

STEPS = 4_000  # of SQLite's machine between two moments


class Moments:
    def __init__(self, last: int | None) -> None:
        self.count, self.last = 0, last

    def tick(self, *_: object) -> int:
        self.count += 1
        if self.count == self.last:
            os.kill(os.getpid(), signal.SIGKILL)
        return 0

    def around(self, call: Callable[..., Any]) -> Callable[..., Any]:
        def wrapped(*arguments: Any, **named: Any) -> Any:
            self.tick()
            result = call(*arguments, **named)
            self.tick()
            return result

        return wrapped


def import_file(job: dict[str, Any]) -> dict[str, Any]:
    """What one process does; does not come back when it is told to die."""
    from django.conf import settings
    from django.db import connection

    from evenpull.store import services
    from tests import databases
    from tests.store.samples import AUTHOR

    home, path, moments = Path(job["home"]), Path(job["file"]), Moments(job.get("last"))
    settings.EVENPULL_HOME = home
    entry = databases.postgres(job["address"]) if job["address"] else databases.sqlite(home / "records.sqlite3")
    with databases.database(entry):
        connection.ensure_connection()
        connection._commit = moments.around(connection._commit)
        if not job.get("commits"):
            connection.execute_wrappers.append(lambda execute, *rest: moments.around(execute)(*rest))
            os.fsync = moments.around(os.fsync)
            Path.replace = moments.around(Path.replace)  # type: ignore[method-assign]
            if connection.vendor == "sqlite":
                connection.connection.set_progress_handler(moments.tick, STEPS)
        if "ahead" in job:
            _clock_set(job["ahead"])
        try:
            done = _act(job.get("act", "import"), path, job.get("who", AUTHOR))
        except services.Refused as error:
            done = {"refused": str(error)}
    return done | {"moments": moments.count}


def _act(act: str, path: Path, who: str) -> dict[str, Any]:
    """One act on the dossier by its services."""
    from evenpull.store import services
    from tests.store.samples import AUTHOR, MAPPING

    if act == "import":
        return asdict(services.commit_file(path.name, path, MAPPING, AUTHOR))
    if act == "curves":
        from evenpull.store.services import curves_taking
        from tests.store.curve_files import NAME, STEEL_JOINT

        return {"already": curves_taking.take(path.name, path, STEEL_JOINT, who, mapping=NAME).already}
    if act == "prepare":
        services.prepare()
        return {}
    if act == "dispose":
        flag = next(f for f in services.joint("KN-GB-006").proof.flags if f.code == "angle out of window")
        why = "the gearbox fitter replaced it"
        services.dispose("KN-GB-006", flag.key, "replace", why, who, once="decision-once-01")
        return {}
    if act == "enter":
        services.add_entry("disturbed", "KN-BH-021", {"why": "cable tray"}, who, fasteners=(2,), once="entry-once-01")
        return {}
    if act == "card":
        return {"card": services.issue_card("KN-GB-006", "a4", who)[0].serial}
    if act == "bundle":
        return {"bundle": services.export_bundle("KN-BH-021", services.home() / "out.zip").stat().st_size}
    if act == "account":
        from evenpull.store.services import accounts

        accounts.add_account("root.admin", "R. Admin-Halvorsen", "administrator", "seven tides at the narrows", who)
        return {}
    if act == "withdraw":
        if (found := services.file(services.file_named("first.csv"))).withdrawn is not None:
            return {"already": True}
        done = services.withdraw_reading(found.sha256, "the pass was taken from another column", who).withdrawn
        return {"already": False, "taken": done.taken}
    row = services.sign_release("KN-BH-021", who, "Tightened, checked and recorded as specified.")
    return {"release": row.id}


def on_a_full_disk(job: dict[str, Any]) -> dict[str, Any]:
    """The act on a disk with so many bytes left; what was said, whether all holds that was there, and, with room made
    again, the same act. The disk is a tmpfs that only this process sees, so that it goes with it.

    {"disk": why not} where this process may not mount one.
    """
    from evenpull.store.told import told

    free = job.pop("free")
    disk = Path(job["home"]).with_name("disk")
    disk.mkdir(exist_ok=True)
    try:
        _mount(disk)
    except OSError as error:
        return {"disk": str(error)}
    home = Path(shutil.copytree(job["home"], disk / "home"))
    job = job | {"home": str(home)}
    answer: dict[str, Any] = {"said": None, "before": _counted(job)}
    filler, space = disk / "filler", os.statvfs(disk)
    with filler.open("wb") as out:
        os.posix_fallocate(out.fileno(), 0, space.f_bavail * space.f_frsize - free)
    try:
        import_file(job)
    except Exception as error:  # noqa: BLE001 - the test says which it has to be
        answer |= {"said": told(error), "error": repr(error)}
    filler.unlink()
    answer["then"] = _counted(job)
    answer["left"] = sorted(p.name for p in home.rglob("*") if p.name.startswith((".", "out.zip")))
    if answer["said"] is not None:
        import_file(job)
    answer["after"] = _counted(job)
    return answer


def _mount(folder: Path) -> None:
    """A tmpfs in a mount namespace of this process. OSError where that is not allowed."""
    libc = ctypes.CDLL(None, use_errno=True)
    new_namespace, private = 0x00020000, 0x4000 | 0x40000  # CLONE_NEWNS; MS_REC | MS_PRIVATE
    for done in (
        lambda: libc.unshare(new_namespace),
        lambda: libc.mount(b"none", b"/", None, private, None),
        lambda: libc.mount(b"none", os.fsencode(folder), b"tmpfs", 0, b"size=64m"),
    ):
        if done() != 0:
            raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()))


def _counted(job: dict[str, Any]) -> dict[str, int]:
    """How many facts of each kind there are; AssertionError when one of them does not hold."""
    from django.conf import settings

    from evenpull.store import services
    from tests import databases
    from tests.store.mishandled import kinds, verified

    home = Path(job["home"])
    settings.EVENPULL_HOME = home
    with databases.database(databases.sqlite(home / "records.sqlite3")):
        verified(services, home, sealed=False)
        return dict(kinds())


def _clock_set(seconds: float) -> None:
    """The clock of the machine stands so much ahead (or behind), as the log sees it."""
    from datetime import datetime, timedelta

    from evenpull.store.services import log

    class Shifted(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> datetime:
            return datetime.now(tz) + timedelta(seconds=seconds)

    log.datetime = Shifted  # type: ignore[misc]


def forked(job: dict[str, Any], gate: int, out: Path) -> int:
    """Start a process for the job, which begins when the gate closes; its number."""
    pid = os.fork()
    if pid:
        return pid
    status = 1
    try:
        os.read(gate, 1)
        work = on_a_full_disk if "free" in job else import_file
        out.write_text(json.dumps(work(job)))
        status = 0
    except BaseException:
        traceback.print_exc()  # to be seen with the failure of the test
        raise
    finally:
        os._exit(status)  # nothing of the parent is flushed or closed twice


def ended(pid: int, after: float | None) -> int:
    """Status of the process when it is through; killed `after` so many seconds unless it was through before."""
    until = time.monotonic() + (after or 0.0)
    while after is not None and time.monotonic() < until:
        found, status = os.waitpid(pid, os.WNOHANG)
        if found:
            return status
        time.sleep(max(0.0, min(0.002, until - time.monotonic())))
    if after is not None:
        os.kill(pid, signal.SIGKILL)
    return os.waitpid(pid, 0)[1]


def run(jobs: list[dict[str, Any]]) -> list[dict[str, Any]]:
    with tempfile.TemporaryDirectory() as folder:
        outs = [Path(folder) / str(number) for number in range(len(jobs))]
        for out in outs:
            out.touch()
        gate, opener = os.pipe()
        os.set_inheritable(opener, False)
        children = []
        for job, out in zip(jobs, outs, strict=True):
            children.append(forked(job, gate, out))
        os.write(opener, b"g" * len(jobs))
        answers = []
        for job, out, pid in zip(jobs, outs, children, strict=True):
            status = os.waitstatus_to_exitcode(ended(pid, job.get("after")))
            text = out.read_text()
            answers.append({"status": status, "told": json.loads(text) if text else None})
        os.close(gate)
        os.close(opener)
        return answers


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "evenpull.store.settings")
    import django

    django.setup()
    import evenpull.store.services  # noqa: F401 - once here instead of once in every process

    for line in sys.stdin:
        print(json.dumps(run(json.loads(line)["jobs"])), flush=True)


if __name__ == "__main__":
    main()
