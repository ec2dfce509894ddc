"""The chapters of the demo before the judgement: tools, joints, targets, cards, records. Only services are called."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from evenpull.demo import scenario
from evenpull.demo.decisions import CLERK, LEAD
from evenpull.demo.story import RecordFile
from evenpull.demo.teller import Teller
from evenpull.plan.model import Plan
from evenpull.prediction.notes import INTERACTION_ONLY, PREDICTED
from evenpull.proof.texts import counted
from evenpull.store import services


def tools_and_joints(tell: Teller) -> None:
    """Load the tool register, the mappings and the joints."""
    tell.chapter("Tools, mappings and joints are read from TOML files")
    count = services.add_tools(scenario.tools_text(), "tools.toml", LEAD)
    tell.say(f"{count} tools with range, certificate and adapter.")
    for name in scenario.MAPPINGS:
        row = services.add_mapping(scenario.mapping_text(name), f"{name}.toml", CLERK)
        tell.say(f"mapping {row.name!r}: how one kind of tool writes its records")
    for name in tell.each(scenario.JOINTS, "joints", len(scenario.JOINTS)):
        services.add_joint(scenario.joint_text(name), f"{name}.toml", LEAD)


def scenario_views() -> list[services.JointView]:
    """The joints of the invented station, in the order of the story."""
    wanted = [services.joint(name.upper()) for name in scenario.JOINTS]
    return wanted


def must_not_start(plan: Plan) -> bool:
    """Whether a problem of the plan stops the work before it begins."""
    return any(problem.severity == "stop" for problem in plan.problems)


def targets(tell: Teller) -> None:
    """Show each target with its load window, and the one that must not be used."""
    tell.chapter("Targets, before anyone works")
    tell.line("  joint      fasteners                      target N.m  load kN     % of yield")
    for view in scenario_views():
        spec, target = view.plan.spec, view.plan.target
        bolts = f"{spec.fasteners.count} x {spec.fasteners.thread} {spec.fasteners.strength_class}"
        load, used = target.load, target.utilisation_yield
        if load is None or used is None:
            raise RuntimeError(f"{spec.id}: every joint of the scenario states its thread")
        kn = f"{load.low / 1e3:.0f} to {load.high / 1e3:.0f}"
        share = f"{used.low * 100:.0f} to {used.high * 100:.0f}"
        tell.line(f"  {spec.id:<10} {bolts:<33} {target.torque:>6.1f}  {kn:<10}  {share}")
    for view in scenario_views():
        for problem in view.plan.problems:
            if problem.severity == "stop":
                tell.say(f"STOP {view.plan.spec.id}: {problem.text}", 2, 4)
    tell.say("The sheet of KN-CW-009 was copied from the line of a bigger bolt. No card is issued for it.")


def calculations(tell: Teller) -> None:
    """Calculate four joints under published rule sets, each by itself, and show what each of them says."""
    tell.chapter("Four joints calculated, each under several published rule sets")
    for name in scenario.CALCULATIONS:
        row = services.add_calculation(scenario.calculation_text(name), f"{name}.toml", LEAD)
        tell.say(f"{row.id}: {row.name}")
        for title, words in row.outcome:
            tell.say(f"{title}: {words}", 4, 6)


def rings(tell: Teller) -> None:
    """Predict two rings from their drawings: what interaction alone leaves in the bolts, procedure by procedure."""
    tell.chapter("Two rings predicted from their drawings, before anyone pulls")
    for name in scenario.RINGS:
        row = services.add_prediction(scenario.ring_text(name), f"{name}.toml", LEAD)
        tell.say(f"{row.id}: {row.name}")
        for kept in row.outcome:
            loads = f"least {kept.least:.1%}, most {kept.most:.1%}, spread {kept.spread:.1%}"
            tell.say(f"{kept.name}: {kept.verdict}; {kept.pulls} pulls, {loads}", 4, 6)
    tell.say(f"{PREDICTED} Shares of the target, {INTERACTION_ONLY}.")


def cards(tell: Teller, folder: Path) -> None:
    """Issue the cards that are not issued yet, in both paper sizes, and write them as PDF."""
    tell.chapter("Job cards, for places where no device may enter")
    folder.mkdir(parents=True, exist_ok=True)
    ready = [view for view in scenario_views() if not must_not_start(view.plan)]
    for view in tell.each(ready, "joints with a card in A4 and US letter", len(ready)):
        joint = view.plan.spec.id
        issued = {card.paper: card.serial for card in view.cards}
        for paper in ("a4", "us-letter"):
            if paper in issued:
                pdf = services.card_pdf(issued[paper])
            else:
                _, pdf = services.issue_card(joint, paper, LEAD)
            (folder / f"{joint}-{paper}.pdf").write_bytes(pdf)
    tell.say(f"Printed to {folder}")


def records_come_back(tell: Teller, files: Sequence[RecordFile]) -> None:
    """Preview each file, then take it in."""
    tell.chapter("Records come back, each tool in its own way")
    for file in files:
        seen = services.preview_file(file.name, file.data, file.mapping)
        reading = seen.reading
        tell.say(f"{file.name}, read as {file.mapping!r}")
        if not seen.already:
            aside = f"{counted(len(reading.set_aside), 'row')} set aside (heading, footer, blank)"
            tell.say(
                f"preview: {counted(len(reading.tightenings), 'record')}, {seen.new} new, {seen.repeated} known "
                f"already; {counted(len(reading.unread), 'row')} unread, {aside}",
                4,
                6,
            )
        for row in reading.unread:
            tell.say(f"row {row.row} cannot be read and is kept: {row.reason}", 4, 6)
        for doubt in sorted({t.time_doubt for t in reading.tightenings if t.time_doubt}):
            tell.say(f"time in doubt: {doubt}", 4, 6)
        for name, near in seen.unknown.items():
            hint = f"; near: {', '.join(near)}" if near else ""
            tell.say(f"no joint {name} is known{hint}", 4, 6)
        done = services.commit_file(file.name, file.data, file.mapping, CLERK)
        if done.already:
            tell.say("taken in before: nothing changed", 4)
        else:
            unread = counted(done.unread, "row")
            tell.say(f"taken in: {counted(done.new, 'record')}, {done.repeated} known already, {unread} unread", 4)


def again(tell: Teller, files: Sequence[RecordFile]) -> None:
    """Take one file in a second time."""
    tell.chapter("The same file a second time changes nothing")
    before = services.log_status()
    done = services.commit_file(files[0].name, files[0].data, files[0].mapping, CLERK)
    after = services.log_status()
    if not done.already or (before.size, before.root) != (after.size, after.root):
        raise RuntimeError(f"{files[0].name} was taken in twice: the log grew from {before.size} to {after.size} facts")
    tell.say(f"{files[0].name}: known by its SHA-256; the log holds {after.size} facts as before.")
