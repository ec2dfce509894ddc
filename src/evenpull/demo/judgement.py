"""The chapters of the demo from the judgement on: decisions, releases, bundle, what was found."""

from __future__ import annotations

from pathlib import Path

from evenpull.demo import scenario
from evenpull.demo.decisions import DECISIONS, SIGNATURES
from evenpull.demo.teller import Teller
from evenpull.evidence import verify
from evenpull.proof.model import Proof
from evenpull.proof.texts import counted
from evenpull.store import services


def decisions(tell: Teller) -> None:
    """People decide on some flags, each with name and reason; a decision made in an earlier run stays as it is."""
    tell.chapter("People decide, with name and reason")
    for decision in DECISIONS:
        proof = services.joint(decision.joint).proof
        decided = {d.flag_key for d in proof.dispositions}
        for flag in proof.flags:
            if not flag.blocking or not decision.concerns(flag):
                continue
            tell.say(f"{decision.joint}: {flag.text}", 2, 4)
            tell.say(f"{decision.by} decided, {decision.action!r}: {decision.reason}", 4)
            if flag.key not in decided:
                services.dispose(decision.joint, flag.key, decision.action, decision.reason, decision.by)


def releases(tell: Teller, home: Path) -> None:
    """Sign what may be signed, show what may not, write all reports and the bundle, verify the bundle."""
    tell.chapter("Releases, reports and the bundle of evidence")
    for joint, signer, statement in SIGNATURES:
        view = services.joint(joint)
        if any(view.covers(row) for row in view.releases):
            tell.say(f"{joint}: signed before by {view.releases[-1].author}, {view.releases[-1].state}")
            continue
        try:
            row = services.sign_release(joint, signer, statement)
        except services.Refused as refusal:
            tell.say(f"{joint}: not signed. {refusal}", 2, 4)
        else:
            tell.say(f"{joint}: {row.state}, signed by {signer}")
    folder = home / "reports"
    folder.mkdir(exist_ok=True)
    for name in tell.each(scenario.JOINTS, "reports", len(scenario.JOINTS)):
        joint = name.upper()
        signed = services.joint(joint).releases
        (folder / f"{joint}.pdf").write_bytes(services.release_pdf(joint, signed[-1].id if signed else None))
    tell.say(f"Written to {folder}")
    bundles = home / "bundles"
    bundles.mkdir(exist_ok=True)
    for subject in (SIGNATURES[0][0], None):
        path = services.export_bundle(subject, bundles / f"{subject or 'all-joints'}.bundle.zip")
        found = verify(path)
        if not found.ok:
            raise RuntimeError(f"{path} was written a moment ago and does not verify: {found.lines}")
        tell.say(
            f"bundle {path.name}: verified without the database, nothing was changed; {found.facts} facts of "
            f"{found.log_size} in the log, {found.files} files", 2, 4,
        )  # fmt: skip


def _open(proof: Proof) -> str:
    return f"{counted(len(proof.open_flags), 'point')} open" if proof.open_flags else "nothing open"


def findings(tell: Teller, home: Path) -> None:
    """Each joint with its state, its reasons and what is to be followed up."""
    tell.chapter("What was found, joint by joint")
    for name in scenario.JOINTS:
        view = services.joint(name.upper())
        spec, proof, decision = view.plan.spec, view.proof, view.decision
        tell.line()
        tell.line(f"  {spec.id}  {spec.name}", style="bold")
        tell.say(f"{view.standing.upper()}: {counted(proof.records, 'record')}, {_open(proof)}")
        for reason in decision.reasons:
            tell.point(reason, 4)
        for text in decision.follow_ups:
            tell.point(f"to follow up: {text}", 4)
        for flag in proof.flags:
            if not flag.blocking:
                tell.point(f"noted: {flag.text}", 4)
    stray = services.unplaced()
    if stray:
        tell.line()
        tell.line("  Records of no known joint", style="bold")
        for row in stray:
            near = f"; near: {', '.join(row.near)}" if row.near else ""
            tell.point(f"{row.file}, row {row.row}: joint {row.joint}, fastener {row.fastener}{near}", 4)
    tell.line()
    status = services.log_status()
    tell.say(f"{status.size} facts stand in the log, the last checkpoint is signed by key {status.key_id[:16]}.")
    tell.say(f"Everything is in {home}. The slips built into the records are listed in docs/demo-truth.md.")
