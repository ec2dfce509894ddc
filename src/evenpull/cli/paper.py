"""Commands of cards that come back on paper: scans read, pages keyed by two and a third, what paper costs."""

from __future__ import annotations

import json
from pathlib import Path
from types import ModuleType
from typing import Annotated, Any

import typer

from evenpull.cli.dossier import author, services
from evenpull.cli.errors import RefusalError, read_text
from evenpull.cli.options import BY
from evenpull.scan.keying_cost import KeyingCost

app = typer.Typer(no_args_is_help=True, help="Cards that come back on paper: scans, keying by two and a third, cost.")
SCAN = Annotated[str, typer.Argument(metavar="SCAN", help="SHA-256 of the scan, as `paper pages` lists it.")]
PICTURE = Annotated[int, typer.Argument(metavar="PICTURE", help="Number of the picture in it, from 1.")]
SERIAL = Annotated[str, typer.Argument(metavar="SERIAL", help="Serial of the card.")]
ANSWERS = Annotated[
    Path, typer.Argument(metavar="ANSWERS", help='JSON: {"got.1.1": ["written", "90.5"], "got.2.1": ["empty", ""]}.')
]


def cards() -> ModuleType:
    services()
    from evenpull.store.services import paper_cards

    return paper_cards


def _keying() -> ModuleType:
    services()
    from evenpull.store.services import paper_keying

    return paper_keying


@app.command()
def scan(files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="PDF, PNG, JPEG, TIFF.")], by: BY) -> None:
    """Read scans, keep them with their pages, and say what could not be read."""
    services()
    from evenpull.store.services import paper_scans

    who = author(by)
    for file in files:
        row = paper_scans.take_scan(file.name, file.read_bytes(), who)
        again = "; it was there already" if row.already else ""
        typer.echo(f"{file}: {row.pages} pages of cards{again} ({row.sha256})")
        for fault in row.faults:
            typer.echo(f"  not read: {fault}")


@app.command()
def pages() -> None:
    """All scanned pages and how far each is keyed."""
    for row in cards().page_rows():
        page = row.kept.page
        said = f"refused: {row.refused}" if row.refused else row.state.stage
        said = _aside(row) or "another scan counts" if row.copy else said
        by = ", ".join(one.by for one in row.state.keyed) or "nobody"
        typer.echo(f"{page.scan} {page.picture}  {page.serial} page {page.page} of {page.pages}: {said}; keyed by "
                   f"{by}; records: {row.written or 0}")  # fmt: skip


@app.command()
def card(serial: SERIAL) -> None:
    """What came back of a card: pages, what does not fit, and how it stands against the memory of the tool."""
    view = cards().card_view(serial)
    for row in view.rows:
        said = _aside(row) or "another scan counts" if row.copy else row.refused or row.state.stage
        typer.echo(f"page {row.kept.page.page} of {view.pages}: {said}")
    typer.echo(f"missing pages: {', '.join(map(str, view.missing)) or 'none'}")
    for text in view.notes:
        typer.echo(f"does not fit: {text}")
    if view.crossed is not None:
        found = view.crossed
        typer.echo(f"card and tool: {len(found.agree)} agree, {len(found.differ)} differ, {len(found.only_paper)} only "
                   f"on paper, {len(found.only_tool)} only in the tool")  # fmt: skip


@app.command()
def boxes(scan: SCAN, picture: PICTURE) -> None:
    """The boxes of a page that are keyed: name, kind, what it is."""
    services()
    from evenpull.store.services import paper_scans

    for box in paper_scans.kept_page(scan, picture).page.to_key:
        typer.echo(f"{box.name}  {box.kind}  {box.words}")


@app.command()
def crop(scan: SCAN, picture: PICTURE, box: str, to: Annotated[Path, typer.Argument(help="PNG to write.")]) -> None:
    """Write the picture of one box."""
    services()
    from evenpull.store.services import paper_scans

    to.write_bytes(paper_scans.crop_png(scan, picture, box))


@app.command()
def key(scan: SCAN, picture: PICTURE, answers: ANSWERS, by: BY) -> None:
    """Key a page: every box once; the same person never twice. What two prove is written as records."""
    who, keying = author(by), _keying()
    try:
        state = keying.key_page(scan, picture, _answers(answers), who)
    except keying.AnswersError as error:
        raise RefusalError(f"{answers}: {error}. Nothing was written.") from error
    typer.echo(f"kept; the page is now: {state.stage}" + (f", {len(state.open)} boxes differ" if state.open else ""))
    _write(state.page.serial, who)


@app.command()
def settle(
    scan: SCAN, picture: PICTURE, answers: ANSWERS, by: BY,
    why: Annotated[str, typer.Option("--why", help="What the picture shows.")],
) -> None:  # fmt: skip
    """Decide as the third person on boxes in which two differ."""
    who, keying = author(by), _keying()
    try:
        state = keying.decide_keying(scan, picture, _answers(answers), why, who)
    except keying.AnswersError as error:
        raise RefusalError(f"{answers}: {error}. Nothing was written.") from error
    typer.echo(f"decided; {len(state.open)} boxes are left")
    _write(state.page.serial, who)


@app.command()
def admit(serial: SERIAL, by: BY, why: Annotated[str, typer.Option("--why", help="Why its work counts.")]) -> None:
    """Let a card be keyed that is refused for its revision or its time."""
    _keying().admit_card(serial, why, author(by))
    typer.echo(f"card {serial} may be keyed")


@app.command()
def aside(
    scan: SCAN, picture: PICTURE, by: BY,
    why: Annotated[str, typer.Option("--why", help="What is wrong with this scan.")],
) -> None:  # fmt: skip
    """Set a scanned page aside: another scan of the same page counts from then on and is keyed afresh by two."""
    services()
    from evenpull.store.services import paper_aside

    paper_aside.set_page_aside(scan, picture, why, author(by))
    typer.echo("set aside; the other scan of the page counts now")


@app.command()
def cost(serial: SERIAL) -> None:
    """Wrong values that stay after one person, or two, have keyed an issued card."""
    found = cards().cost_of_card(serial)
    if found is None:
        raise RefusalError(f"the boxes of card {serial} are not on record: it was not issued here, or by an earlier "
                           "version; scan it, and its page says the cost")  # fmt: skip
    for line in cost_lines(found):
        typer.echo(line)


def cost_lines(found: KeyingCost) -> list[str]:
    """What stays wrong after keying, for the lead."""
    both = (("one person", found.single), ("two people, a third decides", found.double))
    return [f"{found.fields} values to key, {name}: {one.expected:.4f} wrong ones stay as expected, {one.low} to "
            f"{one.high} with 95 %" for name, one in both] + [f"source: {found.source}"]  # fmt: skip


def _aside(row: Any) -> str:
    one = row.aside
    return "" if one is None else f"set aside by {one.by}, {one.at:%Y-%m-%d %H:%M} UTC: {one.why}"


def _answers(path: Path) -> dict[str, tuple[str, str]]:
    try:
        given = json.loads(read_text(path))
    except ValueError as error:
        raise RefusalError(f"{path}: no JSON: {error}") from error
    found = {}
    if not isinstance(given, dict):
        raise RefusalError(f"{path}: an object is needed, box by box, each with [state, text]")
    for name, one in given.items():
        if not (isinstance(one, list) and len(one) == 2 and all(isinstance(part, str) for part in one)):
            raise RefusalError(f"{path}: {name[:60]}: [state, text] is needed, both texts")
        found[name] = (one[0], one[1])
    return found


def _write(serial: str, who: str) -> None:
    new, stuck = _keying().write_records(serial, who)
    typer.echo(f"{new} records written")
    for text in stuck:
        typer.echo(f"proven, and no records yet: {text}")
