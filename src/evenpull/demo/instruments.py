"""The chapter of the tool keeper: chains and devices, their certificates typed and from a laboratory's sheet."""

from __future__ import annotations

from datetime import UTC, date, datetime

from evenpull.demo import scenario
from evenpull.demo.teller import Teller
from evenpull.instrument.failure import failure_forms
from evenpull.proof.texts import counted
from evenpull.store import services

KEEPER = "V. Sunde-Farrow"
WRENCH, CHAIN, SET, DEVICE = "TW-0262", "CH-0012", "HS-0044", "CD-0003"
SHEET = "tw-0262-2026-03-09.csv"
DAY = date(2026, 3, 18)


def instruments(tell: Teller) -> None:
    """Register chains and devices, enter certificates, show what they say of one wrench and of two chains."""
    tell.chapter("Chains and devices, with their certificates")
    done = services.add_equipment(scenario.equipment_text("equipment.toml"), "equipment.toml", KEEPER)
    tell.say(f"{counted(done.items, 'item')} and {counted(done.assemblies, 'assembly', 'assemblies')}: a chain of "
             "several parts is one instrument with one uncertainty.")  # fmt: skip
    rows = services.add_certificates(scenario.equipment_text("certificates.toml"), "certificates.toml", KEEPER)
    tell.say(f"{counted(len(rows), 'certificate')} typed from paper, with as-found and as-left points")
    mapping = services.add_certificate_mapping(
        scenario.equipment_text("fathom-lane-sheet.toml"), "fathom-lane-sheet.toml", KEEPER)
    known = services.certificate_mapping(mapping.name)
    (row,) = services.add_certificate_table(SHEET, scenario.equipment_text(SHEET).encode(), known, {}, KEEPER)
    tell.say(f"certificate {row.number} of {row.serial}, read from {SHEET} with {mapping.name!r}")
    _entries()
    _wrench(tell)
    _chains(tell)


def _entries() -> None:
    """What happened to the wrench before and after its calibration."""
    services.add_entry(
        "tool repaired", WRENCH, {"what": "pointer slipped, spring changed", "done_by": "Fathom Lane Metrology",
                                  "adjusted": "yes"},
        KEEPER, at=datetime(2026, 3, 9, 9, 0, tzinfo=UTC), at_uncertainty=3600.0, basis="from paper",
        reason="copied from the laboratory's note when the wrench came back", once="demo-repaired",
    )  # fmt: skip
    services.add_entry("use count", WRENCH, {"counter": "2252"}, KEEPER, once="demo-use-count")
    services.add_entry(
        "shift check", WRENCH, {"set": "120 N.m", "device_value": "119.4 N.m", "device": DEVICE,
                                "result": "within limits"}, KEEPER, once="demo-shift-check",
    )  # fmt: skip


def _wrench(tell: Teller) -> None:
    """Its points by the agreed rule, before and after the adjustment."""
    (one,) = services.holdings().calibrations[WRENCH]
    for stage in ("as found", "as left"):
        judged = one.judged(stage)
        assert judged is not None
        worst = max(judged.points, key=lambda point: abs(point.point.a))
        verdict = "within the permissible deviation" if judged.accepted else "NOT within the permissible deviation"
        tell.point(f"{WRENCH} {stage}: {verdict} by {one.rule.name}; {worst.words}")
    forms = failure_forms([p for p in one.certificate.points if p.stage == "as found"], one.permissible or 1.0)
    tell.say(f"In which way it was out: {', '.join(f'{form.direction} {form.form}' for form in forms)}.")


def _chains(tell: Teller) -> None:
    """What is dialled on the multiplier chain and on the hydraulic set, and how sure that is."""
    from evenpull.instrument.assembly import budget_of, setting_of

    held = services.holdings()
    for serial in (CHAIN, SET):
        chain = held.chain(serial, DAY)
        setting, budget = setting_of(chain, 1500.0), budget_of(chain, 1500.0)
        tell.point(f"{serial}, {chain.name}: for 1500 N.m at the fastener dial {setting.digits} {setting.unit}; "
                   f"U = {100 * budget.U:.1f} % (k = {budget.k:.2f})")
    tell.say("Looked at with: evenpull tools list, tools show CH-0012, tools due; and on the pages under Tools.")
