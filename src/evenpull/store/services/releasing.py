"""What leaves the dossier: draft and signed reports, evidence bundles."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.db import transaction

from evenpull import __version__
from evenpull.card.typesetting import TypesettingError
from evenpull.evidence import BundleFact, Tree, canonical, digest, moment
from evenpull.evidence import write as write_bundle
from evenpull.evidence.compare import CompareError
from evenpull.evidence.succession import SuccessionError
from evenpull.ledger.people import folded
from evenpull.proof.dispositions import deciders_refused
from evenpull.proof.model import RULES_VERSION
from evenpull.report import (
    CardIssued,
    FileReceived,
    LogState,
    ReportContext,
    Signature,
    SpecificationReceived,
    release_report,
    stated,
)
from evenpull.store.models import Checkpoint, Fact, Mention
from evenpull.store.services import (
    accounts,
    card_register,
    equipment,
    facts,
    judging,
    papers,
    readings,
    received,
    register,
    witness,
)
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import (
    CARD,
    CARRIED_IN,
    CARRIED_OUT,
    CERTIFICATE,
    CURVE_MAPPING,
    CURVES,
    EQUIPMENT,
    FILE,
    LEARNED,
    MAPPING,
    PACK,
    RECORD,
    REJUDGED,
    RELEASE,
    SCAN,
    SCANNED,
    STAMP,
    SUCCESSION,
    TOOLS,
    UNREAD,
)
from evenpull.store.services.log import (
    New,
    append,
    checked_author,
    log_status,
    make_checkpoint_from,
    writing,
)
from evenpull.store.services.place import checked_raw, keep_raw, read_raw, signing_key
from evenpull.store.services.rows import JointView, ReleaseRow

MEANING = (
    "The signer has read the reasons and follow-ups of this report and takes responsibility for the state it names, "
    "within the signer's own authority and the rules of the place."
)


def _context(view: JointView, at: datetime, signature: Signature | None) -> ReportContext:
    history = [
        SpecificationReceived(r.document, r.revision, r.received_at, r.author, r.digest) for r in view.revision_history
    ]
    log = log_status()
    return ReportContext(
        generated_at=at,
        versions={"evenpull": __version__, "judgement": RULES_VERSION},
        specification=history[-1],
        log=LogState(log.size, log.root, str(log.size) if log.size else ""),
        tightenings=view.tightenings,
        unread=view.unread,
        register=register.tools(),
        earlier_revisions=tuple(history[:-1]),
        files=tuple(
            FileReceived(f.name, f.sha256, f.size, f.received_at, f.author, f.mapping)
            for f in view.files if f.withdrawn is None
        ),
        cards=tuple(CardIssued(c.serial, c.issued_at, c.valid_until, c.author) for c in view.cards),
        signature=signature,
        around=view.around,
        notes=stated.notes(view.around, view.tightenings)
        | {"keeping": view.kept(at.date(), None if signature is None else at).text},
        tests=stated.tests(view.around),
        people=stated.people(view.plan, view.around, view.tightenings),
        late_entries=sum("late_basis" in t.particulars for t in view.tightenings),
        paper_entries=sum("card" in t.particulars for t in view.tightenings),
    )


def _check_files(view: JointView) -> None:
    """Refused when a file that the records came from is no longer what was received: no paper may rest on it."""
    for row in view.files:
        if row.withdrawn is not None:
            continue
        try:
            checked_raw(row.sha256)
        except (Refused, Unknown) as error:
            raise Refused(
                f"no report of {view.spec.id}: the file {row.name}, received {row.received_at:%Y-%m-%d %H:%M} UTC, is "
                f"not on the disk as it was received: {error}. Nothing was written."
            ) from error


def sign_release(
    joint_id: str, author: str, statement: str, *, seen: str | None = None, by_password: bool = False
) -> ReleaseRow:
    """Sign the decision as it stands now. Refused unless the decision may be signed.

    `seen` is the `proof_digest` of what the signer read; refused when records, decisions or the specification have
    changed it since. None only where reading and signing are one act.

    With accounts, nobody who tightened fasteners of a joint of class A signs its release. `by_password`: the signer
    gave the own password again in the same act; it is signed which of the two it was.

    What is signed: joint, state, reasons, follow-ups, statement, signer, time, specification, proof and log root.
    The report with the signature in it is kept byte for byte.
    """
    who, words = checked_author(author), " ".join(statement.split())
    if len(words) < 10:
        raise Refused("a release needs a statement in words (10 characters or more). Nothing was written.")
    with writing():
        view = judging.joint(joint_id)
        decision = view.decision
        if not decision.signable:
            first = decision.reasons[0] if decision.reasons else "its decision may not be signed"
            raise Refused(f"{joint_id} cannot be signed: {first}. Nothing was written.")
        held = next((r for r in view.releases if view.covers(r)), None)
        if held is not None:
            raise Refused(
                f"{joint_id} is signed already, by {held.author} on {held.signed_at:%Y-%m-%d %H:%M} UTC, and nothing "
                "has changed since. Nothing was written."
            )
        if seen is not None and seen != view.proof_digest:
            raise Refused(
                f"{joint_id} has changed since you read it: it is now {view.decision.state!r}. Read it again, then "
                "sign. Nothing was written."
            )
        if accounts.in_use() and folded(who) in deciders_refused(view.plan, view.tightenings):
            raise Refused(
                f"{who} tightened fasteners of {joint_id}, a joint of class A: another person has to sign. "
                "Nothing was written."
            )
        _check_files(view)
        now, log, key = datetime.now(UTC).replace(microsecond=0), log_status(), signing_key()
        signed: dict[str, Any] = {
            "form": "evenpull release 1",
            "joint": joint_id,
            "state": decision.state,
            "reasons": list(decision.reasons),
            "follow_ups": list(decision.follow_ups),
            "statement": words,
            "meaning": MEANING,
            "signer": who,
            "identity": accounts.identity(by_password),
            "signed_at": moment(now),
            "rules": RULES_VERSION,
            "program": __version__,
            "specification": view.spec.digest,
            "proof": view.proof_digest,
            "log": {"size": log.size, "root": log.root},
        }
        if missing := card_register.out_of(joint_id):
            signed["cards_out"] = list(missing)
        seal = key.sign(canonical(signed)).hex()
        known = signed["identity"]
        signature = Signature(who, MEANING, words, now, key.public.fingerprint, seal, digest(signed), known)
        try:
            pdf = release_report(view.plan, view.proof, decision, _context(view, now, signature))
        except TypesettingError as error:
            raise Refused(f"the report of {joint_id} cannot be set: {error}. Nothing was written.") from error
        body = {
            "signed": signed,
            "key": key.public.fingerprint,
            "signature": seal,
            "report_sha256": keep_raw(pdf),
        }
        append([New(RELEASE, f"{RELEASE}:{joint_id}:{log.size}", body, joint_id)], who)
    return papers.releases_of(joint_id)[-1]


def release_pdf(joint_id: str, release_id: str | None = None) -> bytes:
    """The report: as it stands now (a draft), or with `release_id` the signed one as kept."""
    if release_id is None:
        view = judging.joint(joint_id)
        _check_files(view)
        at = datetime.now(UTC).replace(microsecond=0)
        try:
            return release_report(view.plan, view.proof, view.decision, _context(view, at, None))
        except TypesettingError as error:
            raise Refused(f"the report of {joint_id} cannot be set: {error}") from error
    for row in papers.releases_of(joint_id):
        if row.id == release_id:
            return read_raw(row.report_sha256)
    raise Unknown(f"{joint_id} has no signed release {release_id!r}")


@transaction.atomic
def export_bundle(joint_id: str | None, path: Path, since: Sequence[bytes] = ()) -> Path:
    """Write facts with proofs, raw files and papers of one joint (or of all) to `path`, to be verified anywhere.

    It carries earlier signed states with the proof that the log only grew since; `since` are checkpoint receipts whose
    states must be among them. Refused for a receipt of another log.
    """
    if joint_id is not None:
        register.specification(joint_id)
    if path.exists() and not path.is_file():
        raise Refused(f"{path} is no ordinary file, and a bundle would take its place; choose another name")
    last = Checkpoint.objects.order_by("-size").first()
    if last is None:
        raise Refused("there is nothing to export yet")
    try:
        wanted = {witness.known_receipt(text) for text in since}
        handed = witness.successions()
        witness.keys_of_log()
    except (CompareError, SuccessionError) as error:
        raise Refused(f"no bundle: {error}. Nothing was written.") from error
    tree = Tree(witness.leaves())
    facts = _facts_of(joint_id)
    raw, named, called = [], {}, {}
    for fact in facts:
        body = fact.data
        if fact.kind == FILE:
            raw.append(checked_raw(body["sha256"]))
            called[body["sha256"]] = body["name"]
        elif fact.kind == CERTIFICATE:
            raw.append(checked_raw(body["raw"]))
            called[body["raw"]] = body["file"]
        elif fact.kind == SCANNED:  # the page straightened, of which the crops are parts, and the file as it came
            raw.append(checked_raw(body["straight_sha256"]))
            called[body["straight_sha256"]] = f"card {body['serial']} page {body['page']}.png"
        elif fact.kind == SCAN or (fact.kind == CURVES and body["sha256"] not in called):
            raw.append(checked_raw(body["sha256"]))
            called[body["sha256"]] = body["name"]
        elif fact.kind == REJUDGED and body["changes_sha256"] not in called:  # twice the same changes: none
            raw.append(checked_raw(body["changes_sha256"]))
            called[body["changes_sha256"]] = f"curves judged again {fact.seq}.parquet"
        elif fact.kind in (CARRIED_OUT, CARRIED_IN) and body["sha256"] not in called:  # one may have come back
            raw.append(checked_raw(body["sha256"]))
            called[body["sha256"]] = f"carrier {body['subject']}"
        elif fact.kind == STAMP:
            raw.append(checked_raw(body["token"]))
            called[body["token"]] = "time-stamp token"
            wanted.add(body["checkpoint"]["size"])
        elif fact.kind == CARD:
            named[f"card-{body['serial']}.pdf"] = checked_raw(body["pdf_sha256"])
        elif fact.kind == PACK:
            named[f"pack-{body['serial']}.pdf"] = checked_raw(body["pdf_sha256"])
        elif fact.kind == RELEASE:
            named[f"release-{fact.joint}-{fact.seq}.pdf"] = checked_raw(body["report_sha256"])
    wanted |= {statement.size for statement in handed}
    write_bundle(
        path,
        subject=joint_id or "all joints",
        facts=[BundleFact(f.seq, f.envelope().canonical(), f.digest) for f in facts],
        tree=tree,
        checkpoint=make_checkpoint_from(last),
        key=signing_key(),
        made_at=datetime.now(UTC),
        raw=raw,
        reports=named,
        earlier=witness.earlier_states(last.size, wanted),
        successions=handed,
        called=called,
    )
    return path


def _facts_of(joint_id: str | None) -> list[Fact]:
    """All facts, or those of a joint with the files, mappings, registers of tools and certificates they rest on,
    withdrawals of these files, keys and time-stamps."""
    if joint_id is None:
        return list(Fact.objects.order_by("seq"))
    shas = {f.sha256 for f in received.files_of(joint_id)}
    kinds = (TOOLS, EQUIPMENT, MAPPING, CURVE_MAPPING, FILE, SUCCESSION, STAMP)
    shared = Fact.objects.filter(kind__in=kinds, joint="")
    found = {f.seq: f for f in facts.of_joint(joint_id)}
    shas |= {f.data["file_sha256"] for f in found.values() if f.kind in (RECORD, UNREAD)}
    found |= {f.seq: f for f in readings.facts_about(shas)}
    found |= {f.seq: f for f in shared if f.kind != FILE or f.data["sha256"] in shas}
    scans = {f.data["scan"] for f in found.values() if f.kind == SCANNED}
    found |= {f.seq: f for f in Fact.objects.filter(key__in=[f"{SCAN}:{sha}" for sha in sorted(scans)])}
    windows = Mention.objects.filter(kind=LEARNED, fold=facts.fold(joint_id)).values_list("seq", flat=True)
    found |= {f.seq: f for f in facts.by_seq(windows)}
    named = {f.data["tool"] for f in found.values() if f.kind == RECORD}
    named |= set(register.specification(joint_id).tools_allowed)
    found |= {f.seq: f for f in equipment.certificate_facts(named)}
    return [found[seq] for seq in sorted(found)]
