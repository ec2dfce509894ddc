"""A dossier in which a wrench is found out: records of two joints, certificates, other tools."""

from __future__ import annotations

from evenpull.review import Found
from evenpull.store import services
from tests.equipment.files import EQUIPMENT
from tests.review.cases import FIRST, FOUND_AT, HEAD, LATER
from tests.store.samples import AUTHOR, MAPPING, file_of, furnish, row

TOOL = "TW-0301"


def tell(*more: str) -> None:
    """Eight pulls of KN-CW-008 with the wrench, six of another joint that nobody described, eight with another tool."""
    furnish("kn-cw-008", "kn-cw-009")
    services.add_equipment(EQUIPMENT, "equipment.toml", AUTHOR)
    services.add_certificates(HEAD + FIRST + LATER + "".join(more), "certificates.toml", AUTHOR, confirmed=True)
    add([row(1000 + n, bolt=n, tool=TOOL) for n in range(1, 9)])
    add([row(1010 + n, bolt=n, tool=TOOL, joint="KN-XX-1") for n in range(1, 7)], "b.csv")
    add([row(n, bolt=n, joint="KN-CW-009") for n in range(1, 9)], "c.csv")


def add(rows: list[str], name: str = "a.csv", kind: str = MAPPING) -> str:
    return services.commit_file(name, file_of(rows), kind, AUTHOR).sha256


def finding(**more: object) -> Found:
    given: dict[str, object] = {
        "kind": "out of tolerance", "serial": TOOL, "at": FOUND_AT, "words": "reads nine percent high",
        "certificate": "KNC-26-0900", "w_operator": 0.0,
    }  # fmt: skip
    return Found(**(given | more))  # type: ignore[arg-type]
