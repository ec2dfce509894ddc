"""What the words in the cells mean: plain ones are taken, all others asked one by one."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

from evenpull.intake.numbers import whole_number
from evenpull.intake.suggest.columns import Column
from evenpull.intake.suggest.model import LEAVE_OUT, Choice, Question
from evenpull.intake.suggest.pick import Draft, toml_text
from evenpull.intake.suggest.words import meaning
from evenpull.plan.values import is_line_text

_CHOICES: dict[str, dict[str, str]] = {
    "result": {"accepted": "accepted by the tool", "not_accepted": "not accepted by the tool"},
    "direction": {"tighten": "turned in the tightening direction", "loosen": "turned in the loosening direction"},
    "end_cause": {"reached": "ended because the target was reached", "stopped by user": "stopped by the user",
                  "limit": "ended at a limit before the target", "error": "ended with an error before the target"},
    "event": {"first": "first tightening", "step": "a step of the procedure", "check_pass": "check pass",
              "touch_up": "touch-up", "re_tighten": "re-tighten after service", "loosen": "loosened",
              "remove": "removed", "replace": "tightened with a replaced part", "residual_check": "residual check",
              "check_device_pull": "pull on the check device", "unstated": "the kind of event is not stated"},
}
MOST_ASKED = 12  # words of one column that are asked; a column with more is no column of words


def find_meanings(draft: Draft) -> None:
    """Fills [meaning] for result, direction, end cause and event."""
    for kind, choices in _CHOICES.items():
        use = draft.uses.get(f"columns.{kind}")
        if use is None or use.column is None:
            continue
        table = {ours: list[str]() for ours in choices}
        for text, times in list(use.column.counts.items())[:MOST_ASKED]:
            if not is_line_text(text):  # no mapping can hold it: such rows get a remark
                continue
            ours = meaning(kind, text)
            if not ours:
                answer = draft.answers.ask(Question(
                    f"meaning.{kind}.{text}", f"{use.column.name}: what does {text!r} mean ({times} rows)?",
                    (*(Choice(key, says) for key, says in choices.items()),
                     Choice(LEAVE_OUT, "leave it out; such rows get a remark")),
                ))
                ours = answer if answer is not None and answer != LEAVE_OUT else ""
            if ours:
                table[ours].append(text)
        if any(table.values()):
            draft.words[kind] = table


def find_pass_words(draft: Draft) -> None:
    """A column of passes that holds small numbers and words beside them: each word is asked."""
    use = draft.uses.get("columns.pass")
    if use is None or use.column is None or use.value != toml_text(use.column.name):
        return
    words = _words(use.column)
    if not words:
        return
    numbers = sorted({n for n in use.column.numbers if n is not None})
    table = {
        text: str(int(text)) for text in use.column.counts
        if whole_number(text) is not None and is_line_text(text)
    }
    asked = 0
    for text in words:
        answer = draft.answers.ask(Question(
            f"pass.{text}", f"{use.column.name}: which pass does {text!r} stand for ({use.column.counts[text]} rows)?",
            (*(Choice(str(n), f"pass {n}") for n in range(1, max(numbers) + 3)),
             Choice(LEAVE_OUT, "it names no pass; the pass of such rows is not stated")),
        ))
        asked += answer is None
        if answer is not None and answer != LEAVE_OUT:
            table[text] = answer
    if not asked and len(table) > len(use.column.counts) - len(words):
        pairs = ", ".join(f"{toml_text(text)} = {toml_text(number)}" for text, number in table.items())
        value = f"{{ column = {toml_text(use.column.name)}, map = {{ {pairs} }} }}"
        draft.uses["columns.pass"] = replace(use, value=value, reason=use.reason + "; words as answered")


def _words(column: Column) -> list[str]:
    """Words of a column that a mapping can hold."""
    found = (text for text in column.counts if whole_number(text) is None and is_line_text(text))
    return list(islice(found, MOST_ASKED))
