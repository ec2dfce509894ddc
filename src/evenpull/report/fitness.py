"""Each tool that pulled, judged for the pulls of the plan on the days of its use: chain, certificates, uncertainty
against the window."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import Any

from evenpull.equipment.gate import Judged, PullValue, pull_values
from evenpull.instrument.fitness import percent
from evenpull.instrument.ranking import window_share
from evenpull.plan.model import Plan
from evenpull.proof.judging import days_of_use
from evenpull.proof.moments import moments
from evenpull.quantities import show
from evenpull.report.context import ReportContext
from evenpull.report.glyphs import NARROW, TIGHT, safe

REASONS = 4  # of one tool, printed; all of them stand in the attached proof


def fitness(plan: Plan, context: ReportContext) -> dict[str, Any]:
    """Each tool for the passes and fasteners that its records of a day name; a record that names no pass asks for all.

    `rows`: one for each tool and all days on which the same is said of it: serial, chain, certificates then in
    force, days, expanded uncertainty against the window, probability of a false acceptance, fit or why not. `notes`:
    what was not judged. Both empty where nothing is known of tools but their names.
    """
    fit, notes = context.around.fit, dict[str, dict[str, None]]()
    if fit is None:
        return {"rows": [], "notes": []}
    values, rows, used = pull_values(plan), list[list[str]](), _used(context)
    for serial in sorted(used):
        allowed = serial in plan.spec.tools_allowed
        same: dict[tuple[str, ...], list[date]] = {}
        for day, pulled in sorted(used[serial].items()):
            own = [v for v in values if _asked(v, pulled)]
            if not own:
                continue  # a number that the plan does not have: flagged, and nothing to be fit for
            one = fit.judged(serial, own, day, plan.spec.joint_class, allowed=allowed)
            numbers = " + ".join(dict.fromkeys(c.id for c in fit.certificates(serial, (day, day))))
            chain = fit.instrument(serial, day)
            told = (serial, "" if chain is None else chain.name, numbers or "NONE", *_uncertainty(one), _outcome(one))
            same.setdefault(told, []).append(day)
            for words in one.notes:
                notes.setdefault(words, {})[serial] = None
        rows += [_row(told, some) for told, some in same.items()]
    return {"rows": rows, "notes": [safe(f"{', '.join(tools)}: {words}.") for words, tools in notes.items()]}


def _used(context: ReportContext) -> dict[str, dict[date, set[tuple[int | None, int]]]]:
    """Tool -> day -> (pass, fastener) of its records; a record between two days counts for both."""
    at = moments(context.tightenings)
    found: dict[str, dict[date, set[tuple[int | None, int]]]] = defaultdict(lambda: defaultdict(set))
    for record in context.tightenings:
        for day in (days_of_use(record, at[record.key]) or ()) if record.tool else ():
            found[record.tool][day].add((record.pass_number, record.fastener))
    return found


def _asked(value: PullValue, pulled: set[tuple[int | None, int]]) -> bool:
    return any(
        number in (None, value.pass_number) and (not value.fasteners or fastener in value.fasteners)
        for number, fastener in pulled
    )


def _uncertainty(one: Judged) -> tuple[str, str]:
    """(expanded uncertainty where it is worst against the window, largest risk); words where it cannot be judged."""
    judged = [p for _, p in one.passes if p.risk is not None and p.u is not None]
    if one.fitness is None or not judged:
        return "cannot be judged", "cannot be judged"
    worst = max(judged, key=lambda p: (p.risk or 0.0, p.u or 0.0))
    share = f"{show(worst.U or 0.0, 'N.m', 3)} in {worst.value.name}; {100 * window_share(one.fitness):.3g} % of half"
    partly = "" if len(judged) == len(one.passes) else ", where it can be judged"
    return f"{share} the window at most{partly}", percent(worst.risk or 0.0) + partly


def _outcome(one: Judged) -> str:
    if one.fit:
        return "fit"
    more = len(one.refusals) - REASONS
    return "NOT FIT: " + "; ".join(one.refusals[:REASONS]) + (f"; and {more} more" if more > 0 else "")


def _row(told: tuple[str, ...], days: list[date]) -> list[str]:
    serial, chain, numbers, share, risk, outcome = told
    shown = str(days[0]) if len(days) == 1 else f"{days[0]} to {days[-1]} ({len(days)} days)"
    return [safe(serial, TIGHT), safe(chain, NARROW), safe(numbers, NARROW), shown, safe(share), risk, safe(outcome)]
