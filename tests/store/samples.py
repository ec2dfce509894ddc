"""Small files of the scenario's store log, made to order."""

from __future__ import annotations

from collections.abc import Iterable

from evenpull.demo import scenario

MAPPING = "store log, semicolons"
AUTHOR = "Ines Harrowgate"
JOINT = "KN-CW-008"
HEAD = "Reading no;Wrench;Memory;Day;Clock;Tag;Bolt;Round;Moment;Unit;Turn deg;Hand;Stopped;By"


def row(counter: int, *, joint: str = JOINT, tool: str = "TW-0207", moment: str = "41,2", bolt: int = 1,
        memory: str = "A", day: str = "17.03.2026") -> str:  # fmt: skip
    clock = f"{9 + counter // 3600 % 10:02}:{counter // 60 % 60:02}:{counter % 60:02}"
    return f"{counter};{tool};{memory};{day};{clock};{joint};{bolt};1;{moment};Nm;12,0;right;at setting;J. Mwangale"


def file_of(rows: Iterable[str]) -> bytes:
    return ("\r\n".join([HEAD, *rows]) + "\r\n").encode()


def many(count: int, *, start: int = 1, joint: str = JOINT, tool: str = "TW-0207") -> bytes:
    return file_of(row(n, joint=joint, tool=tool, bolt=n % 8 + 1) for n in range(start, start + count))


def furnish(*joints: str) -> None:
    """Tools, the mapping, and joints of the scenario by the name of their file."""
    from evenpull.store import services

    services.add_tools(scenario.tools_text(), "tools.toml", AUTHOR)
    services.add_mapping(scenario.mapping_text("semicolon-log"), "semicolon-log.toml", AUTHOR)
    for name in joints or ("kn-cw-008",):
        services.add_joint(scenario.joint_text(name), f"{name}.toml", AUTHOR)
