"""Four ways in which the demo tools write their records. All four are invented for this scenario.

Each writer takes pulls and gives the bytes of one file; the same pulls give the same bytes on every machine.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from datetime import datetime

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font

from evenpull.demo.pulls import Pull
from evenpull.quantities import from_si

# Written into every workbook in place of the clock, so that its bytes do not change from run to run.
_FIXED = datetime(2026, 3, 23, 17, 30, 0)


def semicolon_log(pulls: Sequence[Pull]) -> bytes:
    """Store log: UTF-8 with byte order mark, semicolons, decimal comma, day before month."""
    lines = ["Reading no;Wrench;Memory;Day;Clock;Tag;Bolt;Round;Moment;Unit;Turn deg;Hand;Stopped;By"]
    for pull in pulls:
        lines.append(
            ";".join(
                (
                    str(pull.counter),
                    pull.tool,
                    "A",
                    pull.written.get("day", pull.at.strftime("%d.%m.%Y")),
                    pull.at.strftime("%H:%M:%S"),
                    pull.written.get("joint", pull.joint),
                    str(pull.fastener),
                    "C" if pull.check else str(pull.pass_number),
                    pull.written.get("torque", f"{pull.torque:.1f}".replace(".", ",")),
                    "Nm",
                    f"{pull.angle:.1f}".replace(".", ","),
                    "left" if pull.loosening else "right",
                    "by hand" if pull.stopped_by_hand else "at setting",
                    pull.operator,
                )
            )
        )
    return b"\xef\xbb\xbf" + ("\r\n".join(lines) + "\r\n").encode()


def foot_pound_list(pulls: Sequence[Pull], sheet: str) -> bytes:
    """Crew list: month before day, twelve-hour clock, lbf.ft, joint and bolt in one cell, windows-1252."""
    lines = ["Line,Sheet,When,Joint / bolt,Stage,Torque,Thread turned,Ended,Wrench,Initials"]
    for pull in pulls:
        lines.append(
            ",".join(
                (
                    str(pull.counter),
                    sheet,
                    pull.at.strftime("%m/%d/%Y %I:%M:%S %p"),
                    f"{pull.written.get('joint', pull.joint)} / {pull.fastener}",
                    f"stage {pull.pass_number}",
                    pull.written.get("torque", f"{from_si(pull.torque, 'lbf.ft'):.1f}"),
                    "loose" if pull.loosening else "tight",
                    "let go" if pull.stopped_by_hand else "clean",
                    pull.tool,
                    pull.operator,
                )
            )
        )
    return ("\r\n".join(lines) + "\r\n").encode("cp1252")


def pump_list(pulls: Sequence[Pull], passes: int) -> bytes:
    """Pump panel: upright bars, ISO time, one row for each fastener in each pass, the panel's result as a sentence."""
    lines = ["stroke|card|stamp|ring|place|place in procedure|torque N.m|turned|what the panel says|wrench|crew"]
    for pull in pulls:
        lines.append(
            "|".join(
                (
                    str(pull.counter),
                    "2026-1",
                    pull.written.get("stamp", pull.at.strftime("%Y-%m-%dT%H:%M:%S")),
                    pull.joint,
                    f"nut {pull.fastener:02d}",
                    f"pass {pull.pass_number} of {passes}",
                    f"{pull.torque:.0f}",
                    "off" if pull.loosening else "on",
                    pull.written.get("result", "" if pull.loosening else "inside the panel limits"),
                    pull.tool,
                    pull.operator,
                )
            )
        )
    return ("\n".join(lines) + "\n").encode()


def bench_book(pulls: Sequence[Pull], title: str) -> bytes:
    """Workbook of the machine hall: title rows, two heading rows with merged cells, records, a footer with a total."""
    book = Workbook()
    sheet = book.active
    if sheet is None:
        raise RuntimeError("a new workbook has no sheet")
    sheet.title = "Pulls"
    sheet.append([title])
    sheet.append([f"Written {_FIXED:%Y-%m-%d %H:%M}"])
    sheet.append([])
    groups = ["Where", None, "Pull", None, None, None, None, "Tool", None, None, "When", None, "Who"]
    names = [
        "Joint", "Position", "Round", "Torque N.m", "Angle deg", "Sense", "End", "Serial", "Memory", "Count", "Date",
        "Clock", None,
    ]  # fmt: skip
    sheet.append(groups)
    sheet.append(names)
    for area in ("A4:B4", "C4:G4", "H4:J4", "K4:L4"):
        sheet.merge_cells(area)
    for row in sheet["A4:M5"]:
        for cell in row:
            cell.font = Font(bold=True)
            cell.alignment = Alignment(horizontal="center")
    for pull in pulls:
        kind = "check" if pull.check else "new screw" if pull.new_part else "step"
        sheet.append(
            [
                pull.joint,
                pull.fastener,
                f"{pull.pass_number} {kind}",
                round(pull.torque, 1),
                round(pull.angle, 1),
                "opening" if pull.loosening else "closing",
                "hand off" if pull.stopped_by_hand else "signal",
                pull.tool,
                "B",
                pull.counter,
                pull.at.strftime("%Y-%m-%d"),
                pull.at.strftime("%H:%M:%S"),
                pull.operator,
            ]
        )
    sheet.append([])
    sheet.append(["Pulls in total", len(pulls)])
    sheet.append(["Handed to the dossier clerk", "P. Achterberg-Lowe"])
    raw = io.BytesIO()
    book.save(raw)
    return _without_clock(raw.getvalue())


def contractor_sheet(pulls: Sequence[Pull]) -> bytes:
    """List of a contractor: banner line, one heading row, day before month, decimal point, no zone."""
    book = Workbook()
    sheet = book.active
    if sheet is None:
        raise RuntimeError("a new workbook has no sheet")
    sheet.title = "March"
    sheet.append(["Brae Skerry Fitters, list for the client"])
    sheet.append([])
    sheet.append([
        "Joint", "Bolt no.", "Pass", "Torque (Nm)", "Angle (deg)", "Wrench serial", "Reading no.", "Date", "Time",
        "Fitter",
    ])  # fmt: skip
    for pull in pulls:
        sheet.append([
            pull.joint, pull.fastener, pull.pass_number, round(pull.torque, 1), round(pull.angle, 1), pull.tool,
            pull.counter, pull.at.strftime("%d/%m/%Y"), pull.at.strftime("%H:%M:%S"), pull.operator,
        ])  # fmt: skip
    raw = io.BytesIO()
    book.save(raw)
    return _without_clock(raw.getvalue())


def _without_clock(workbook: bytes) -> bytes:
    """The same workbook with fixed times inside: the library writes the time of saving into it and into the archive.

    The parts are stored uncompressed, so that the bytes do not depend on the compressor either.
    """
    out = io.BytesIO()
    stamp = _FIXED.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with (
        zipfile.ZipFile(io.BytesIO(workbook)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as new,
    ):
        for name in sorted(old.namelist()):
            data = old.read(name)
            if name == "docProps/core.xml":
                data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", stamp, data)
            entry = zipfile.ZipInfo(name, date_time=_FIXED.timetuple()[:6])
            new.writestr(entry, data)
    return out.getvalue()
