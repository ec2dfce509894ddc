"""Commands of an audit that answer the checklist: the same answers as on the pages."""

from __future__ import annotations

from types import ModuleType
from typing import Annotated, Any

import typer

from evenpull.cli.audit import BEFORE, show_changes, show_json
from evenpull.cli.audit import app as app
from evenpull.cli.dossier import author, services
from evenpull.cli.options import BY, JsonFlag

PAGE = Annotated[int, typer.Option(min=1, help="Page of the list.")]
AFTER = Annotated[str, typer.Option(help="Go on after this tool.")]


def _service(name: str) -> ModuleType:
    from importlib import import_module

    services()
    return import_module(f"evenpull.store.services.{name}")


@app.command()
def checklist(as_json: JsonFlag = False) -> None:
    """What an auditor asks, the command that answers it, and how much is on record."""
    found = _service("audit_start").answers()
    if as_json:
        show_json(found)
        return
    group = ""
    for one in found:
        if one.group != group:
            group = one.group
            typer.echo(f"\n{group}")
        typer.echo(f"  {one.words}\n      {one.said}; evenpull audit {one.command}")


@app.command("list")
def listed(
    which: Annotated[str, typer.Argument(help="Name of the list; without one they are told.")] = "",
    before: BEFORE = None,
    as_json: JsonFlag = False,
) -> None:
    """One list: late entries, exceptions, corrections, what was blocked, decisions, back-ups and so on."""
    found = _service("audit_lists")
    if not which:
        for one in found.LISTS.values():
            typer.echo(f"{one.name}: {one.heading}, {found.count(one.name)}")
        return
    show_changes(found.page(which, before), as_json)


@app.command()
def read(
    which: Annotated[str, typer.Argument(help="Exception report; without one: who read which, and when.")] = "",
    upto: Annotated[int | None, typer.Option(help="Put on record that you read it up to this fact.")] = None,
    found: Annotated[str, typer.Option(help="What you found, in your own words.")] = "",
    by: BY = "",
    as_json: JsonFlag = False,
) -> None:
    """Who read the exception reports and when; with --upto, put on record that you have read one."""
    lists = _service("audit_lists")
    if upto is not None:
        done = lists.review(which, upto, found, author(by))
        typer.echo(f"on record: {lists.known(which).heading} read up to fact {done.upto}, {done.rows} new")
        return
    names = [lists.known(which).name] if which else [one.name for one in lists.READ]
    if as_json:
        show_json({name: [row.__dict__ for row in lists.reviews(name)] for name in names})
        return
    for name in names:
        rows = lists.reviews(name)
        typer.echo(f"{name}: {lists.unread(name)} not read yet" + ("" if rows else ", never read"))
        for row in rows if which else rows[:1]:
            typer.echo(f"  up to fact {row.upto} by {row.by}, {row.at:%Y-%m-%d %H:%M} UTC: {row.found}")


@app.command()
def fact(seq: Annotated[int, typer.Argument(help="Place of the fact in the log.")], as_json: JsonFlag = False) -> None:
    """One fact to the letter, its digest computed again, the signed state that holds it, what corrects it."""
    found = _service("audit_facts").fact(seq)
    if as_json:
        show_json(found)
    else:
        _fact(found)
    if not found.fits or not found.signed:
        raise typer.Exit(1)


def _fact(found: Any) -> None:
    row = found.row
    typer.echo(f"fact {row.seq}, {row.kind}{' of ' + row.joint if row.joint else ''}: {row.what}")
    received, written = (f"{at:%Y-%m-%d %H:%M:%S} UTC" for at in (row.received_at, row.written_at))
    typer.echo(f"by {row.author}, received {received}, written {written}")
    fits = "as computed again just now" if found.fits else "WHICH IS NOT THAT OF ITS CONTENT"
    typer.echo(f"digest {row.digest}, {fits}")
    typer.echo(f"signed in: {found.signed or 'NO SIGNED STATE THAT HOLDS'}")
    if found.record:
        typer.echo(f"name for corrections: {found.record}")
    for one in found.corrections:
        typer.echo(f"corrected by fact {one.seq}, {one.author}: {one.what}")
    for seq in found.names:
        typer.echo(f"about the record of fact {seq}")
    for line in found.lines:
        typer.echo(f"  {line}")


@app.command()
def revisions(
    joint: Annotated[str, typer.Argument(help="Joint; without one: those with more than one revision.")] = "",
    as_json: JsonFlag = False,
) -> None:
    """How a target changed from revision to revision, values side by side."""
    facts = _service("audit_facts")
    if not joint:
        rows = facts.revised()
        if as_json:
            show_json([{"joint": name, "revisions": n} for name, n in rows])
            return
        for name, n in rows:
            typer.echo(f"{name}: {n} revisions")
        if not rows:
            typer.echo("No joint has more than one revision.")
        return
    found = facts.history(joint)
    if as_json:
        show_json(found)
        return
    for place, one in enumerate(found.revisions, 1):
        typer.echo(
            f"{place}: revision {one.revision} of {one.document}, approved by {one.approved_by}, in force from "
            f"{one.in_force_from}, {one.torque}; written {one.written_at:%Y-%m-%d %H:%M} UTC by {one.author}, "
            f"fact {one.seq}"
        )
    for row in found.rows:
        typer.echo(f"{row.key}: {' | '.join(value or 'not stated' for value in row.values)}")


@app.command()
def counters(after: AFTER = "", as_json: JsonFlag = False) -> None:
    """Counters of tools reconciled: numbers, records, rows that could not be read, missing."""
    found = _service("audit_tools").memories(after)
    if as_json:
        show_json({"memories": [{**r.__dict__, "missing": r.missing} for r in found.rows], "after": found.after})
        return
    for r in found.rows:
        memory = f" of {r.epoch}" if r.epoch else ""
        found_of = f"{r.records} records, {r.unread} not read, {r.missing} missing"
        typer.echo(f"{r.tool}{memory}: {r.first} to {r.last}, {found_of}")
    typer.echo(f"further: --after {found.after}" if found.after else f"{len(found.rows)} memories")


@app.command()
def clocks(after: AFTER = "", as_json: JsonFlag = False) -> None:
    """Clocks of tools: how often read against a trusted clock, and what they showed last."""
    found = _service("audit_tools").clock_page(after)
    if as_json:
        show_json(found)
        return
    for r in found.rows:
        if r.contacts:
            last = f"last {r.last:%Y-%m-%d %H:%M} UTC, true less shown {r.offset:.1f} s"
            typer.echo(f"{r.tool}: read {r.contacts} x, {last}")
        else:
            typer.echo(f"{r.tool}: never read against a trusted clock")
    typer.echo(f"further: --after {found.after}" if found.after else f"{len(found.rows)} tools with records")


@app.command()
def training(page: PAGE = 1, as_json: JsonFlag = False) -> None:
    """Qualifications: who holds what, until when, and whether it holds today."""
    found = _service("audit_people").training(page)
    if as_json:
        show_json(found)
        return
    for r in found.rows:
        typer.echo(f"{r.person}: {'holds' if r.holds else 'DOES NOT HOLD'}: {r.why} (fact {r.seq})")
    typer.echo(f"{found.total} qualifications, page {found.number} of {found.pages}")


@app.command()
def drift(after: AFTER = "", as_json: JsonFlag = False) -> None:
    """Every tool that was pulled on a check device, and what its checks say; one of them: evenpull study drift."""
    found = _service("drifting").overview(after)
    if as_json:
        show_json(found)
        return
    for r in found.rows:
        typer.echo(f"{r.tool}: {r.finding}, {r.checks} checks, last {r.last:%Y-%m-%d %H:%M} UTC")
    typer.echo(f"further: --after {found.after!r}" if found.after else f"{len(found.rows)} tools checked")


@app.command()
def inspections(before: BEFORE = None, as_json: JsonFlag = False) -> None:
    """Independent checks: whether the checker is another person than those who tightened."""
    found = _service("audit_people").inspections(before)
    if as_json:
        show_json(found)
        return
    for r in found.rows:
        who = ", ".join(r.operators) or "nobody on record"
        state = "separate" if r.separate else "NOT SEPARATE"
        typer.echo(f"{r.joint}: checked by {r.checker} (fact {r.seq}), tightened by {who}: {state}")
        if r.sample:
            typer.echo(f"  {r.sample}")
    typer.echo(f"further back: --before {found.before}" if found.before is not None else f"{len(found.rows)} checks")


@app.command()
def barred(as_json: JsonFlag = False) -> None:
    """Tools, persons, lots and accounts that may not be used now, and what is on record of them since."""
    rows = _service("audit_people").barred()
    if as_json:
        show_json(rows)
        return
    for r in rows:
        pulls = f"; {r.pulls} records since" if r.what in ("tool", "person") else ""
        typer.echo(f"{r.what} {r.name}: {r.why}{pulls}")
        for seq, words in r.refused:
            typer.echo(f"  refused, fact {seq}: {words}")
    if not rows:
        typer.echo("Nothing and nobody is barred now. What was refused: evenpull audit list blocked")


@app.command()
def cards(
    joint: Annotated[str, typer.Argument(help="Joint; without one the whole dossier, the newest first.")] = "",
    state: Annotated[str, typer.Option(help="open, out, overdue, returned, unused, void or lost.")] = "",
    before: BEFORE = None,
    as_json: JsonFlag = False,
) -> None:
    """Paper cards counted out and in: issued, back, void, not found, missing."""
    register = _service("card_register")
    if joint:
        services().specification(joint)
        rows, more = register.of_joint(joint), None
        strange = register.strangers(joint)
    else:
        page = register.page(state, before)
        rows, more, strange = page.rows, page.before, ()
    if as_json:
        show_json({"cards": [_card(c) for c in rows], "before": more, "not_known": [s.__dict__ for s in strange]})
        return
    for c in rows:
        pages = f"{'-' if c.counted is None else c.counted} of {c.card.pages} pages back"
        lines = f"{c.typed} of {'?' if c.card.lines is None else c.card.lines} lines typed"
        issued = f"issued {c.card.issued_at:%Y-%m-%d %H:%M}, until {c.card.valid_until:%Y-%m-%d %H:%M} UTC"
        typer.echo(f"{c.card.serial}: {c.state}; {issued}; {pages}; {lines}{'; OPEN: ' + c.open if c.open else ''}")
    for s in strange:
        typer.echo(f"{s.serial}: named in facts {', '.join(map(str, s.seqs))}, and not printed for this joint")
    typer.echo(f"further back: --before {more}" if more is not None else f"{len(rows)} cards")


def _card(c: Any) -> dict[str, object]:
    card = c.card
    rest = {name: value for name, value in c.__dict__.items() if name != "card"}
    return {**card.__dict__, **rest}


@app.command()
def keeping(page: PAGE = 1, as_json: JsonFlag = False) -> None:
    """How long records are kept at least, and an old fact read again."""
    facts = _service("audit_facts")
    found, old = facts.kept(page), facts.oldest()
    if as_json:
        show_json({"rules": [r.__dict__ for r in found.rows], "pages": found.pages, "old_facts": old.count})
        return
    for r in found.rows:
        typer.echo(f"{r.joint}: {r.rule}")
    typer.echo(f"page {found.number} of {found.pages}")
    if old.old is not None:
        typer.echo(f"one of {old.count} facts that are {facts.OLD} years old or older:")
        _fact(old.old)
    elif old.first is not None:
        typer.echo(f"no fact is {facts.OLD} years old yet; the oldest one:")
        _fact(old.first)


@app.command()
def terms(as_json: JsonFlag = False) -> None:
    """What the words mean."""
    from evenpull.ledger.terms import TERMS

    if as_json:
        show_json(TERMS)
        return
    for one in TERMS:
        typer.echo(f"{one.word}: {one.meaning} [{one.source}]")
