"""The whole main job on the scenario "Kestrel Narrows", through the services only.

Running it again in the same folder goes on where the first run ended and changes nothing.
"""

from __future__ import annotations

from pathlib import Path

from evenpull.demo import chapters, curves, found_out, instruments, judgement, opening, stated, studying
from evenpull.demo.generate import write_records
from evenpull.demo.teller import Teller
from evenpull.demo.thread_forming import real_records
from evenpull.store import services


def run(teller: Teller | None = None) -> None:
    """Tell and do the story in the folder of the dossier (which must be prepared: Django set up)."""
    tell = teller or Teller(chapters=19)
    home: Path = services.home()
    services.prepare()
    tell.line("Kestrel Narrows: the overhaul of unit 2 of an invented tidal power station", style="bold")
    tell.say("People, tools, lots and records are invented; the thread-forming records further down are real. "
             f"Everything is kept in the folder {home}.")  # fmt: skip
    chapters.tools_and_joints(tell)
    instruments.instruments(tell)
    chapters.targets(tell)
    chapters.calculations(tell)
    chapters.rings(tell)
    chapters.cards(tell, home / "cards")
    files = write_records(home / "exports")
    chapters.records_come_back(tell, files)
    chapters.again(tell, files)
    opening.contractors_list(tell)
    opening.typed_card(tell)
    opening.crews_paper(tell)
    real_records(tell, home / "reports")
    stated.entries(tell)
    studying.studies(tell, home / "studies")
    curves.curves(tell, home / "exports")
    found_out.review(tell, home)
    judgement.decisions(tell)
    judgement.releases(tell, home)
    stated.questions(tell)
    judgement.findings(tell, home)
