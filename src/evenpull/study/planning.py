"""How many persons, parts and repeats, and how wide the limits will be: told before anybody pulls.

A plan is as good as the scatter that is expected; it is a guess until the study is done.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from evenpull.statistics.capability import index_needed, spread_limits, values_needed
from evenpull.statistics.person_bias import bias_half_width, pulls_needed
from evenpull.statistics.repeatability_plan import Aim, Expected, StudyPlan, degrees_needed, plan_study, planned
from evenpull.statistics.tolerance import ordered_least
from evenpull.study.model import Guess, Study
from evenpull.study.result import Figure, Outcome, Table
from evenpull.study.words import between, counted, number, percent, with_unit

AIMS: tuple[Aim, ...] = ("measurement", "repeatability", "reproducibility", "operator", "part")
SERIES = (10, 20, 30, 50, 75, 100, 125, 200)  # pulls that a table of capability shows
GUESSED = "A plan rests on the scatter that is expected, which is a guess until the study is done."


def expect(study: Study) -> Outcome:
    """What a study without readings may be expected to show; without a guess only how many readings it asks for."""
    n = len(study.places)
    says = [f"{counted(n, 'reading')} to be taken: {_design(study)}"]
    if study.guess is None:
        return Outcome(says=tuple(says), says_not=("How wide its limits will be cannot be said: [expected] states no "
                                                   "scatter.",))
    try:
        tables, words, figures = _expected(study, study.guess)
    except ValueError as error:
        return Outcome(says=tuple(says), remarks=(f"Not planned: {error}.",))
    return Outcome(tuple(figures), tuple(tables), says=(*says, *words), says_not=(GUESSED,))


def _design(study: Study) -> str:
    parts = []
    if study.persons:
        parts.append(counted(len(study.persons), "person"))
    if study.parts:
        parts.append(counted(len(study.parts), study.part_word))
    parts.append(counted(study.replicates, "pull") if not study.parts else counted(study.replicates, "repeat"))
    return " x ".join(parts)


def _expected(study: Study, guess: Guess) -> tuple[list[Table], list[str], list[Figure]]:
    if study.kind == "repeatability and reproducibility":
        return _repeatability(study, guess)
    if study.kind == "operator exercise":
        return _exercise(study, guess)
    return _capability(study, guess)


def _repeatability(study: Study, guess: Guess) -> tuple[list[Table], list[str], list[Figure]]:
    if not study.parts:
        groups, words = _groups_words(study)
        return [groups], words, []
    expected = expected_of(guess)
    table = widths(expected, len(study.parts), len(study.persons), study.replicates, study.confidence)
    found = planned(expected, len(study.parts), len(study.persons), study.replicates, confidence=study.confidence)
    return [table], [f"All of measuring: {factor_words(found)}."], [
        Figure("expected low", "lower limit of all of measuring over its s", found.low, None, None, ""),
        Figure("expected high", "upper limit of all of measuring over its s", found.high, None, None, "")]


def _groups_words(study: Study) -> tuple[Table, list[str]]:
    persons = len(study.persons)
    df = persons * (study.replicates - 1)
    rows = (("within persons", str(df), between(*_deviation_limits(df, study.confidence))),
            ("between persons, mean square", str(persons - 1), between(*_deviation_limits(persons - 1,
                                                                                        study.confidence))))
    return (Table("Expected limits of each root mean square, over itself", ("which", "degrees of freedom", "limits"),
                  rows, (1, 2)),
            [f"What differs between persons rests on {counted(persons - 1, 'degree')} of freedom."])


def _deviation_limits(df: int, confidence: float) -> tuple[float, float]:
    """Limits of a standard deviation over the one found: what an index of 1 has as limits, turned round."""
    _, low, high = spread_limits(1.0, df, confidence)
    return 1 / high, 1 / low


def expected_of(guess: Guess) -> Expected:
    return Expected(guess.part, guess.operator, guess.interaction, guess.repeat)


def factor_words(found: StudyPlan) -> str:
    """"limits are to be expected at 0.71 to 1.9 times the scatter itself"."""
    return f"limits are to be expected at {number(found.low, 3)} to {number(found.high, 3)} times the scatter itself"


def widths(expected: Expected, parts: int, persons: int, repeats: int, confidence: float = 0.95) -> Table:
    """Expected limits of each component, as shares of its standard deviation. ValueError for a design that is none."""
    rows = []
    for aim in AIMS:
        try:
            found = planned(expected, parts, persons, repeats, aim=aim, confidence=confidence)
        except ValueError as error:
            if "expected to be zero" not in str(error):
                raise
            rows.append((aim, "expected to be zero", ""))
            continue
        rows.append((aim, number(found.low, 3), number(found.high, 3)))
    return Table(
        "Expected limits, over the standard deviation itself", ("what", "lower", "upper"), tuple(rows), (1, 2),
        f"{counted(persons, 'person')}, {counted(parts, 'part')}, {counted(repeats, 'repeat')}: "
        f"{parts * persons * repeats} readings, at {percent(confidence)} confidence.",
    )  # fmt: skip


def alternatives(
    expected: Expected, parts: int, *, aim: Aim = "measurement", confidence: float = 0.95,
    persons: Iterable[int] = (2, 3, 4, 5, 6, 8, 10), repeats: Iterable[int] = (2, 3, 5),
) -> Table:
    """Upper limit of the standard deviation asked for, over itself, for designs side by side."""
    tried = tuple(repeats)
    rows = tuple(
        (str(o), *(number(planned(expected, parts, o, r, aim=aim, confidence=confidence).high, 3) for r in tried))
        for o in persons
    )
    return Table(
        f"Upper limit of {aim}, over itself, with {counted(parts, 'part')}",
        ("persons", *(counted(r, "repeat") for r in tried)), rows, tuple(range(1, len(tried) + 1)),
        "More persons narrow what differs between persons; more repeats hardly do.",
    )  # fmt: skip


def fewest(expected: Expected, parts: int, wanted: float, *, aim: Aim = "measurement", confidence: float = 0.95) -> str:
    """The study with the fewest readings that reaches a wanted upper limit, in words; ValueError where none does."""
    found = plan_study(expected, parts, wanted, aim=aim, confidence=confidence)
    return (f"{counted(found.operators, 'person')} and {counted(found.repeats, 'repeat')} on {counted(parts, 'part')}: "
            f"{found.readings} readings. Of {aim}, {factor_words(found)}.")


def persons_for(wanted: float, confidence: float = 0.95) -> str:
    """How many persons a wanted upper limit of what differs between them takes, whatever is expected."""
    n = degrees_needed(wanted, confidence) + 1
    return (f"Whatever is expected: the standard deviation between {counted(n, 'person')}, each known exactly, has an "
            f"upper limit of {number(wanted, 3)} times itself.")


# capability ----------------------------------------------------------------------------------------------------------


def _capability(study: Study, guess: Guess) -> tuple[list[Table], list[str], list[Figure]]:
    n = len(study.places)
    df = n - 1 if study.kind == "machine capability" else len(study.parts) * (study.replicates - 1)
    low, high = _deviation_limits(df, study.confidence)
    words = [f"The scatter of {counted(n, 'value')} will have limits of {number(low, 3)} to {number(high, 3)} times "
             "itself."]
    figures = [Figure("expected low", "lower limit of s over s", low, None, None, ""),
               Figure("expected high", "upper limit of s over s", high, None, None, "")]
    if study.demands.index is None:
        return [], words, figures
    words += capability_words(study.demands.index, guess.index, study.confidence)
    return [capability_table(study.demands.index, study.confidence)], words, figures


def capability_words(demanded: float, expected: float | None, confidence: float = 0.95) -> list[str]:
    """How many values show a demanded index when a given one comes out."""
    if expected is None:
        return [f"Without an expected index: the table says what has to be found so that {number(demanded)} is shown."]
    try:
        n = values_needed(demanded, expected, confidence)
    except ValueError as error:
        return [f"An index of {number(expected)} shows no {number(demanded)}: {error}."]
    return [f"If the index comes out as {number(expected)}, {counted(n, 'value')} show {number(demanded)} at "
            f"{percent(confidence)} confidence."]


def capability_table(demanded: float, confidence: float = 0.95) -> Table:
    """What an index has to come out as so that its lower confidence limit reaches the demand."""
    rows = []
    for n in SERIES:
        low, high = _deviation_limits(n - 1, confidence)
        rows.append((str(n), number(index_needed(demanded, n, confidence), 3), between(low, high)))
    return Table(
        f"So that {number(demanded)} is shown", ("values", "index that has to be found", "limits of s, over s"),
        tuple(rows), (1, 2), f"At {percent(confidence)} confidence, one limit of the window near, normal values.",
    )  # fmt: skip


def tolerance_words(content: float, confidence: float) -> str:
    """How many values a tolerance interval needs that takes no distribution."""
    n = ordered_least(content, confidence)
    return (f"{counted(n, 'value')} hold {percent(content)} of all between their extremes with {percent(confidence)} "
            "confidence, whatever their distribution.")


# exercise ------------------------------------------------------------------------------------------------------------


def _exercise(study: Study, guess: Guess) -> tuple[list[Table], list[str], list[Figure]]:
    persons, targets = len(study.persons), len(study.part_names)
    n, s = (study.replicates, guess.repeat) if targets == 1 else (
        targets, math.hypot(guess.interaction, guess.repeat / math.sqrt(study.replicates)))
    if s <= 0:
        raise ValueError("with several targets [expected] has to say how a person differs from target to target")
    half = bias_half_width(s, n, persons, confidence=study.confidence)
    words = [f"The limits of each person's bias will lie about {with_unit(half, study.scale_unit, 3)} to either side "
             "of it."]
    if study.demands.bias is not None and targets == 1:
        words += exercise_words(s, study.demands.bias, persons, study.scale_unit, study.confidence)
    return [], words, [Figure("half width", "half the width of the limits of a bias", half, None, None,
                              study.scale_unit)]


def exercise_words(s: float, wanted: float, persons: int, unit: str, confidence: float = 0.95) -> list[str]:
    """How many pulls of each person a wanted width of the limits takes."""
    n = pulls_needed(s, wanted, persons, confidence=confidence)
    return [f"{counted(n, 'pull')} of each of {counted(persons, 'person')} bring the limits within "
            f"{with_unit(wanted, unit, 3)} to either side, if pulls scatter with s = {with_unit(s, unit, 3)}."]


def exercise_table(s: float, persons: int, unit: str, confidence: float = 0.95) -> Table:
    """Half the width of the limits of a bias after so many pulls."""
    rows = tuple((str(n), number(bias_half_width(s, n, persons, confidence=confidence), 3)) for n in (3, 5, 8, 10, 15,
                                                                                                     20, 30, 50))
    return Table("Limits of each person's bias", ("pulls of each", f"to either side, {unit}" if unit else
                                                  "to either side"), rows, (1,),
                 f"{counted(persons, 'person')} judged together, s = {with_unit(s, unit, 3)}, {percent(confidence)} "
                 "confidence.")
