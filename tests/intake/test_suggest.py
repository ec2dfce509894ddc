"""Suggested mappings, measured over the lists of made-up contractors: nothing sure is wrong, what is open is asked."""

from __future__ import annotations

from collections import Counter
from functools import cache
from importlib.resources import files
from zoneinfo import ZoneInfo

import pytest

from evenpull.demo.generate import scenario_plans
from evenpull.demo.story import record_files
from evenpull.intake import Reading, read_bytes, read_mapping
from evenpull.intake.record import IntakeError
from evenpull.intake.suggest import LEAVE_OUT, Known, Question, Suggestion, renamed, suggest
from tests.intake.contractors import HABITS, Made, make

SEEDS = range(300)
ZONE = "Europe/London"
DEMO_FILES = ("semicolon-log", "bench-book", "foot-pound-list", "pump-list")
ROLE = {"torque.column": "torque", "angle.column": "angle", "time.column": "date", "time.time_column": "time"}


@cache
def made(seed: int) -> tuple[Made, Suggestion]:
    file = make(seed)
    return file, suggest(file.name, file.data, known=Known(file.joints, file.tools, ZONE))


def test_nothing_sure_is_wrong_and_nearly_all_is_found() -> None:
    right: Counter[str] = Counter()
    wrong: list[tuple[object, ...]] = []
    wanted = found = 0
    for seed in SEEDS:
        file, suggestion = made(seed)
        belongs = {place for place in file.truth.values() if place}
        wanted += len(belongs)
        for guess in suggestion.columns:
            if guess.sureness not in ("sure", "likely") or not guess.field:
                continue
            if file.truth.get(guess.column, "") == guess.field:
                right[guess.sureness] += 1
                found += 1
            else:
                wrong.append((file.name, guess))
    assert [one for one in wrong if one[1].sureness == "sure"] == []  # type: ignore[attr-defined]
    share = right.total() / (right.total() + len(wrong))
    assert share >= 0.99, wrong
    assert right["sure"] > 2 * right["likely"]
    assert found / wanted >= 0.85  # the rest is asked or left out with a reason


def test_day_and_month_are_asked_exactly_where_no_row_settles_them() -> None:
    seen = Counter()  # type: ignore[var-annotated]
    for seed in SEEDS:
        file, suggestion = made(seed)
        asked = [question for question in suggestion.questions if question.key == "time.format"]
        assert bool(asked) == file.ambiguous, file.name
        assert ("[time]" in suggestion.text) == (not file.ambiguous), file.name
        seen[file.ambiguous] += 1
    assert min(seen[True], seen[False]) > 40


def answers_to(file: Made, questions: tuple[Question, ...]) -> dict[str, str]:
    """What a person who knows the contractor would say."""
    said = {}
    for question in questions:
        key, offered = question.key, [choice.value for choice in question.choices]
        if key == "time.format":
            said[key] = file.habit.day + (f" {file.habit.hour}" if file.habit.together else "")
        elif key == "torque.unit":
            said[key] = "N.m"
        elif key.startswith("meaning."):
            said[key] = LEAVE_OUT
        else:
            role = ROLE.get(key, key.removeprefix("columns."))
            said[key] = file.names.get(role, LEAVE_OUT)
        assert said[key] in offered, (file.name, question)
    return said


def settled(file: Made) -> tuple[Suggestion, Reading]:
    """Questions answered until none is left, then the file read."""
    answers: dict[str, str] = {}
    for _ in range(5):
        found = suggest(file.name, file.data, known=Known(file.joints, file.tools, ZONE), answers=answers)
        if not found.questions:
            return found, read_bytes(file.data, read_mapping(found.text, "suggested.toml"), file.name)
        answers |= answers_to(file, found.questions)
    raise AssertionError(f"{file.name}: questions without end")


@pytest.mark.parametrize("habit", range(len(HABITS)), ids=[habit.name for habit in HABITS])
def test_answered_suggestions_read_the_pulls_back(habit: int) -> None:
    for seed in range(habit, 6 * len(HABITS), len(HABITS)):
        file = make(seed)
        found, reading = settled(file)
        assert not reading.unread, (file.name, reading.unread[:2])
        assert len(reading.tightenings) == len(file.pulls)
        for one, pull in zip(reading.tightenings, file.pulls, strict=True):
            assert (one.joint, one.fastener) == (pull.joint, pull.fastener), file.name
            assert one.torque == pytest.approx(pull.newton_metres, rel=1e-9), file.name
            assert one.time is not None
            local = one.time.astimezone(ZoneInfo(ZONE)).replace(tzinfo=None)
            assert local.replace(second=0) == pull.at.replace(second=0), file.name
            for role, read in (("pass", one.pass_number == pull.stage), ("tool", one.tool == pull.tool),
                               ("counter", one.counter == pull.counter), ("operator", one.operator == pull.operator)):
                assert read or role not in file.names or f"\n{role} = " not in found.text, (file.name, role)
            if "result" in file.names:
                assert one.source_verdict == ("accepted" if pull.ok else "not accepted"), file.name


def demo_mapping(name: str) -> tuple[str, dict[str, set[str]]]:
    """The mapping of the demo by its name, and the places of each column under it."""
    folder = files("evenpull.demo") / "kestrel_narrows" / "mappings"
    for file in DEMO_FILES:
        text = (folder / f"{file}.toml").read_text(encoding="utf-8")
        mapping = read_mapping(text, file)
        if mapping.name == name:
            places: dict[str, set[str]] = {}
            for place, columns in mapping.columns_used().items():
                for column in columns:
                    places.setdefault(column, set()).add(place)
            return text, places
    raise AssertionError(name)


@pytest.mark.parametrize("at", range(5))
def test_the_files_of_the_demo(at: int) -> None:
    plans = scenario_plans()
    file = record_files(plans)[at]
    wrenches = "TW-0207 TW-0219 TW-0252 TW-0241 TW-0244 TW-0233 TW-0260 HW-0031 HW-0032"
    tools = frozenset(wrenches.split())
    known = Known(frozenset(plans), tools, ZONE)
    text, true = demo_mapping(file.mapping)
    first = suggest(file.name, file.data, known=known)
    for guess in first.columns:
        if guess.field and guess.sureness == "sure":
            assert guess.field in true.get(guess.column, ()), guess
    answers: dict[str, str] = {}
    found = first
    while found.questions:
        for question in found.questions:
            answers[question.key] = "lbf.ft" if question.key == "torque.unit" else LEAVE_OUT
            assert answers[question.key] in [choice.value for choice in question.choices], question
        found = suggest(file.name, file.data, known=known, answers=answers)
    reading = read_bytes(file.data, read_mapping(found.text, "s.toml"), file.name)
    ours = read_bytes(file.data, read_mapping(text, "m.toml"), file.name)
    assert len(reading.tightenings) == len(ours.tightenings) and len(reading.unread) == len(ours.unread)
    for one, other in zip(reading.tightenings, ours.tightenings, strict=True):
        assert (one.joint, one.fastener, one.torque, one.tool, one.counter) == (
            other.joint, other.fastener, other.torque, other.tool, other.counter)
        assert one.time == other.time


@pytest.mark.parametrize("spelled", ['name="first"', "  name = 'first'", '"name" = "first"', "name\t=\t'a'  # mine"])
def test_a_new_name_never_lands_on_a_particular(spelled: str) -> None:
    text = f'form = "x"\n{spelled}\n\n[columns]\njoint = "J"\n\n[[particular]]\nname = "work_order"\n'
    made = renamed(text, "heat")
    assert made.splitlines()[1] == 'name = "heat"' and made.endswith('\nname = "work_order"\n')
    assert renamed(text, " ") == text
    unnamed = '[[particular]]\nname = "work_order"\n'
    with pytest.raises(IntakeError, match="no line name = "):
        renamed(unnamed, "heat")
