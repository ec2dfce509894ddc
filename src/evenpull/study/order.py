"""The order in which a study is to be read: drawn, so that nothing that changes with time looks like a person or part.

Each round goes once through all persons in a drawn order and, with each, through all parts in a drawn order. The order
is the rising order of SHA-256 digests of the study's id, the word of its draw, round, person and part: anybody can draw
it again, with any program, and another word draws another one.
"""

from __future__ import annotations

from hashlib import sha256

from evenpull.study.model import Place, Study


def drawn_order(study: Study) -> tuple[Place, ...]:
    """Every place once. Groups of a process stand in their own order: they follow each other in time."""
    if study.kind in ("machine capability", "process capability"):
        return study.places
    found: list[Place] = []
    for repeat in range(1, study.replicates + 1):
        for person in _drawn(study, study.persons or ("",), str(repeat), "person"):
            found += [(person, part, repeat) for part in _drawn(study, study.part_names, str(repeat), person, "part")]
    return tuple(found)


def order_of_person(study: Study, person: str) -> tuple[Place, ...]:
    """The places of one person in the drawn order; all where `person` is ""."""
    return tuple(place for place in drawn_order(study) if not person or place[0] == person)


def _drawn(study: Study, names: tuple[str, ...], *where: str) -> list[str]:
    def lot(name: str) -> bytes:
        return sha256("\n".join((study.id, study.draw, *where, name)).encode()).digest()

    return sorted(names, key=lot)
