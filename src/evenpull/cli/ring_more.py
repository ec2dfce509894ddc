"""Text of `ring --find` and `ring --angles`: procedures found by search, and what reading the angles would bring."""

from __future__ import annotations

from collections.abc import Iterator

from evenpull.cli.errors import RefusalError
from evenpull.cli.show import counted, wrap
from evenpull.prediction import RingResult
from evenpull.prediction.found import find_procedures
from evenpull.prediction.notes import INTERACTION_ONLY, TORQUE_CONTROL, notes
from evenpull.prediction.renewed import ASSEMBLIES, renewed_settings
from evenpull.ring.stepping import SteppingError


def found_text(result: RingResult) -> Iterator[str]:
    """The fewest pulls for the file's evenness, with every pull. RefusalError where the file wants none."""
    prediction = result.prediction
    if prediction.evenness is None:
        raise RefusalError(f"{prediction.file}: there is no [evenness] in the file, so there is nothing to search for; "
                           "evenpull ring --new shows its keys")  # fmt: skip
    try:
        procedures = find_procedures(result)
    except (ValueError, SteppingError) as error:
        raise RefusalError(f"{prediction.file}: nothing found: {error}") from error
    yield wrap(f"all figures: {INTERACTION_ONLY}", 2)
    for one in procedures:
        outcome = one.outcome
        yield ""
        yield f"{outcome.procedure.name}: {outcome.verdict}"
        for words in one.words:
            yield wrap(words, 2, 4)
        yield wrap(
            f"{counted(len(outcome.loads), 'pull')}, {outcome.walk:.0f} m round the ring; at the end: least "
            f"{outcome.least:.1%}, mean {outcome.mean:.1%}, most {outcome.most:.1%}; spread {outcome.spread:.1%}", 2, 4,
        )  # fmt: skip
        pulls = (
            " + ".join(f"{bolt} to {share:.1%}" for bolt, share in zip(pull.bolts, pull.shares, strict=True))
            for pull in outcome.procedure.pulls
        )
        yield wrap("pulls, % of the target: " + "; ".join(pulls), 2, 4)
    yield ""
    for note in notes():
        yield wrap(note, 0, 2)


def angles_text(result: RingResult) -> Iterator[str]:
    """How much of the friction part of the spread goes when each pull's angle is read. RefusalError without scatter."""
    prediction = result.prediction
    yield wrap(f"all figures: {TORQUE_CONTROL}; {ASSEMBLIES} assemblies, settings renewed after every angle", 2)
    yield wrap("CV: coefficient of variation of the loads in one assembly", 2)
    for outcome in result.outcomes:
        yield ""
        yield outcome.procedure.name
        yield "  angle   seat point  last pass   CV without  CV with   of friction's part removed"
        try:
            rows = renewed_settings(result, outcome.procedure)
        except (ValueError, SteppingError) as error:
            raise RefusalError(f"{prediction.file}: {error}") from error
        for row in rows:
            last = "by angle" if row.by_angle else "by torque"
            share = "not told: mostly interaction" if row.removed is None else f"{row.removed:6.0%} ± {row.error:.0%}"
            yield (
                f"  {f'±{row.angle:g}°':<7} {f'±{row.seat:g}°':<11} {last:<10}  {row.spread_without:8.1%}  "
                f"{row.spread_with:8.1%}   {share}"
            )
    yield ""
    for note in notes():
        yield wrap(note, 0, 2)
