"""The page of the log and the line about keeping: what they say of a whole log, a damaged one, a hold."""

from __future__ import annotations

from pathlib import Path

from django.db import connection
from django.test import Client

from evenpull.store import services
from tests.evidence.stamping import authority, pem
from tests.store.samples import AUTHOR, JOINT


def test_the_whole_log_is_read_only_when_asked_for(furnished: Path, person: Client) -> None:
    page = person.get("/log/").content.decode()
    assert 'href="?check=1"' in page and "state accepted" not in page and "None kept." in page
    assert "state accepted" in person.get("/log/?check=1").content.decode()
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        for (name,) in cursor.fetchall():
            cursor.execute(f"DROP TRIGGER {name}")
        cursor.execute("UPDATE fact SET author = '<b>Somebody</b>' WHERE seq = 1")
    page = person.get("/log/?check=1").content.decode()
    assert "not whole" in page and "fact 1 (" in page and "state accepted" not in page


def test_time_stamps_are_listed(furnished: Path, person: Client, tmp_path: Path) -> None:
    clock = authority(tmp_path / "clock", curve=True)
    request, state = services.request_stamp(AUTHOR)
    services.keep_stamp(clock.answer(request), AUTHOR, pem(clock.root))
    page = person.get("/log/").content.decode()
    assert "CN=Kestrel Narrows test clock" in page and "leads to the authority given" in page
    assert f'data-label="Facts">{state.size}<' in page


def test_a_hold_stands_on_the_page_of_its_joint(furnished: Path, person: Client) -> None:
    assert "Keeping of the records" in person.get(f"/joints/{JOINT}/").content.decode()
    services.add_entry("hold", JOINT, {"matter": "Claim <12>"}, AUTHOR, reason="asked for by the owner")
    page = person.get(f"/joints/{JOINT}/").content.decode()
    assert "state held" in page and "held since" in page.lower() and "Claim &lt;12&gt;" in page
    services.add_entry("hold lifted", JOINT, {"matter": "claim <12>"}, AUTHOR, reason="settled")
    assert "eld since" not in person.get(f"/joints/{JOINT}/").content.decode()
