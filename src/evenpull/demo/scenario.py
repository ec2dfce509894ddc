"""Where the data of the scenario lie, and how they are read."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable

JOINTS = (
    "kn-cw-008", "kn-cw-009", "kn-cw-014", "kn-cw-026", "kn-st-003", "kn-tb-001", "kn-bh-021", "kn-gb-006", "kn-ga-030",
    "kn-ss-012",
)  # fmt: skip
CALCULATIONS = ("kn-cw-014-c1", "kn-tb-001-c1", "kn-bh-021-c1", "kn-st-003-c1")
STUDIES = ("kn-st-0219", "kn-ex-0207", "kn-mc-0031")
RINGS = ("kn-cw-014-r1", "kn-tb-001-r1")
MAPPINGS = ("semicolon-log", "foot-pound-list", "pump-list", "bench-book")


def _folder() -> Traversable:
    return files("evenpull.demo") / "kestrel_narrows"


def joint_text(name: str) -> str:
    """TOML text of one joint of the scenario, e.g. "kn-cw-014"."""
    return (_folder() / "joints" / f"{name}.toml").read_text(encoding="utf-8")


def calculation_text(name: str) -> str:
    """TOML text of one calculation of the scenario, e.g. "kn-cw-014-c1"."""
    return (_folder() / "calculations" / f"{name}.toml").read_text(encoding="utf-8")


def ring_text(name: str) -> str:
    """TOML text of one ring of the scenario, e.g. "kn-cw-014-r1"."""
    return (_folder() / "rings" / f"{name}.toml").read_text(encoding="utf-8")


def study_texts(name: str) -> tuple[str, tuple[str, str] | None]:
    """TOML text of one study of the scenario, e.g. "kn-st-0219", and its readings with the name of their file; None for
    one that is planned."""
    folder = _folder() / "studies"
    rows = folder / f"{name}.csv"
    text = (folder / f"{name}.toml").read_text(encoding="utf-8")
    return text, (rows.read_text(encoding="utf-8"), f"{name}.csv") if rows.is_file() else None


def shift_checks_text() -> str:
    """The checks of a spare wrench on a device, as CSV: moment, what was set, what the device showed."""
    return (_folder() / "studies" / "shift-checks-tw-0275.csv").read_text(encoding="utf-8")


def mapping_text(name: str) -> str:
    """TOML text of one mapping of the scenario, e.g. "semicolon-log"."""
    return (_folder() / "mappings" / f"{name}.toml").read_text(encoding="utf-8")


def tools_text() -> str:
    """TOML text of the tool register of the scenario."""
    return (_folder() / "tools.toml").read_text(encoding="utf-8")


def equipment_text(name: str) -> str:
    """A file of the tool keeper of the scenario: "equipment.toml", "certificates.toml", a laboratory's sheet."""
    return (_folder() / "equipment" / name).read_text(encoding="utf-8")


def certificates_text() -> str:
    """TOML text of the certificates by which a wrench is found out."""
    return (_folder() / "certificates.toml").read_text(encoding="utf-8")


def truth_text() -> str:
    """TOML text of the list of slips built into the records."""
    return (_folder() / "truth.toml").read_text(encoding="utf-8")
