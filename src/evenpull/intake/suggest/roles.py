"""What the cells of a column must look like to be a joint, a fastener, a pass, a tool, a counter, a person, a word."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import pairwise

from evenpull.intake.sources import tidy
from evenpull.intake.suggest.columns import Column, unit_of
from evenpull.intake.suggest.pick import Draft, Fit, Role, Use, toml_text
from evenpull.intake.suggest.words import evidence, meaning, modifiers

PROVEN = 0.9  # share of cells that are known joints or tools, from which the values prove the column
NEARLY_ALL = 0.97
MOST_WORDS = 12  # different words of a column of words
MOST_PASS = 30
MOST_PLACE = 1000
NO = Fit(0)


def simple(draft: Draft) -> list[Role]:
    """All roles but torque, angle, times and what is a further field."""
    joints, tools = _folded(draft.known.joints), _folded(draft.known.tools)

    def joint(column: Column) -> Fit:
        return _listed(column, joints, "joints of the dossier")

    def tool(column: Column) -> Fit:
        return _listed(column, tools, "tools of the register")

    return [
        Role("columns.joint", "joint", "the id of the joint", joint, needed=True, most="likely"),
        Role("columns.tool", "tool", "the serial of the tool", tool, most="likely"),
        Role("columns.fastener", "fastener", "the number of the fastener", _fastener, needed=True),
        Role("columns.pass", "pass", "the number of the pass", _pass),
        Role("columns.result", "result", "the tool's own result", lambda c: _words("result", c)),
        Role("columns.direction", "direction", "the direction", lambda c: _words("direction", c), most="likely"),
        Role("columns.event", "event", "the kind of event", lambda c: _words("event", c), most="likely"),
        Role("columns.end_cause", "end_cause", "why the pull ended", lambda c: _words("end_cause", c), most="likely"),
        Role("columns.operator", "operator", "who worked", _person),
        Role("columns.epoch", "epoch", "the filling of the tool's memory", _few, most="likely"),
    ]


def _folded(names: Iterable[str]) -> frozenset[str]:
    return frozenset(tidy(name).casefold() for name in names)


def _listed(column: Column, known: frozenset[str], what: str) -> Fit:
    if not column.filled or column.typed_times > 0.5 or column.units("torque") > 0.5:
        return NO
    hits = sum(times for text, times in column.counts.items() if text.casefold() in known)
    if hits >= PROVEN * len(column.filled) and len(column.filled) >= PROVEN * len(column.texts):
        return Fit(3, why=f"{hits} of {len(column.filled)} cells are {what}")
    if hits:
        return Fit(2, why=f"{hits} of {len(column.filled)} cells are {what}")
    digits = sum(times for text, times in column.counts.items() if any(c.isdigit() for c in text))
    if digits < 0.8 * len(column.filled) or "other_part" in modifiers(column.heading):
        return NO
    crowded = len(column.counts) > max(4, len(column.filled) * 0.7)
    mixed = any(c in text for text in list(column.counts)[:50] for c in ",") or column.numeric > 0.9
    return Fit(1, why=f"none of its cells is one of the {what}") if not crowded and not mixed else NO


def extracted(column: Column) -> tuple[str, dict[str, int]]:
    """TOML of a whole number in nearly all cells, plain or behind the same words, and cell -> number; else "".

    Of several numbers in a cell ("pass 2 of 3") the first is meant.
    """
    if not column.filled:
        return "", {}
    if column.whole >= NEARLY_ALL:
        return toml_text(column.name), {text: int(text) for text in column.counts if text.isascii() and text.isdigit()}
    skeleton, times = column.skeletons.most_common(1)[0]
    if times < NEARLY_ALL * len(column.filled) or "0" not in skeleton:
        return "", {}
    if skeleton.count("0") > 2 or re.search(r"0[.,:-]0|^[+-]|%", skeleton):  # a decimal, time, date, negative, share
        return "", {}
    parts = [_plain(part) for part in skeleton.split("0")]
    pattern = f"^{parts[0]}([0-9]+){'[0-9]+'.join(parts[1:])}$"
    reader = re.compile(pattern)
    numbers = {text: int(found[1]) for text in column.counts if len(text) < 100 and (found := reader.fullmatch(text))}
    return f"{{ column = {toml_text(column.name)}, pattern = {toml_text(pattern)} }}", numbers


def _plain(text: str) -> str:
    """A text as a regular expression that matches it, without needless signs."""
    return re.sub(r"([\\^$.|?*+()\[\]{}])", r"\\\1", text)


def _fastener(column: Column) -> Fit:
    if modifiers(column.heading) & {"other_part", "other_date"} or column.unit.unit:
        return NO
    value, numbers = extracted(column)
    if not value or not numbers or min(numbers.values()) < 1 or max(numbers.values()) > MOST_PLACE:
        return NO
    if column.skeletons.most_common(1)[0][0].count("0") > 1 or len(set(numbers.values())) < 2:
        return NO
    plain = value == toml_text(column.name)
    in_order = [numbers[text] for text in column.filled if text in numbers]
    if len(in_order) > 2 and all(low < high for low, high in pairwise(in_order)) and evidence(
        "fastener", column.heading
    ) < 2:
        return Fit(1, value, "it only rises: a running number perhaps")
    seen = set(numbers.values())
    if len(seen) < 3 or max(seen) - min(seen) >= 3 * len(seen):
        return Fit(1, value, "few numbers, or far apart: a size perhaps")
    return Fit(2, value, "whole numbers" if plain else "a whole number behind the same words")


def _pass(column: Column) -> Fit:
    value, numbers = extracted(column)
    if column.unit.unit or "other_date" in modifiers(column.heading):
        return NO
    if value and numbers and min(numbers.values()) >= 1 and max(numbers.values()) <= MOST_PASS:
        few = len(set(numbers.values()))
        if few > max(6, len(column.filled) / 4):
            return NO
        return Fit(2 if few > 1 else 1, value, f"{few} different small numbers")
    if column.whole >= 0.5 and len(column.counts) <= MOST_WORDS:
        known = [n for n in column.numbers if n is not None]
        if known and max(known) <= MOST_PASS:
            return Fit(1, "", "small numbers, and words beside them")
    return NO


def _words(kind: str, column: Column) -> Fit:
    if not column.filled or len(column.counts) > MOST_WORDS or column.numeric > 0.2 or column.typed_times > 0:
        return NO
    if len(column.counts) > max(4, len(column.filled) / 3) or column.units("torque") > 0.5:
        return NO
    known = [bool(meaning(kind, text)) for text in column.counts]
    if all(known):
        return Fit(2, why="all its words are plain")
    return Fit(1, why=f"{known.count(False)} of its {len(known)} words need a meaning")


def _person(column: Column) -> Fit:
    if not column.filled or column.typed_times > 0 or len(column.counts) > max(4, len(column.filled) / 3):
        return NO
    if column.units("torque") > 0.5 or "other_date" in modifiers(column.heading) or evidence("result", column.heading):
        return NO
    named = sum(times for text, times in column.counts.items() if not any(c.isdigit() for c in text))
    if named >= NEARLY_ALL * len(column.filled):
        words = any(meaning(kind, text) for kind in ("result", "direction", "event") for text in column.counts)
        return NO if words else Fit(2, why="names or initials")
    return Fit(1, why="no names: numbers of people perhaps") if column.numeric > 0.9 and column.whole > 0.9 else NO


def _few(column: Column) -> Fit:
    if not column.filled or len(column.counts) > max(3, len(column.filled) / 10) or column.typed_times > 0:
        return NO
    return Fit(1) if not any(unit_of(text, "torque") for text in list(column.counts)[:5]) else NO


def counter(draft: Draft) -> Role:
    """The running number, judged once the tool is known: it rises from pull to pull of each tool."""
    tool = draft.uses.get("columns.tool")
    tools = tool.column.texts if tool is not None and tool.column is not None else ()

    def judge(column: Column) -> Fit:
        if column.whole < NEARLY_ALL or column.unit.unit or len(column.filled) < 2:
            return NO
        last: dict[str, int] = {}
        rising, seen = True, 0
        for at, number in enumerate(column.numbers):
            if number is None:
                continue
            name = tools[at] if tools else ""
            rising = rising and number > last.get(name, -1)
            last[name] = number
            seen += 1
        if not rising:
            return Fit(1, why="it does not rise throughout") if len(column.counts) > 0.8 * seen else NO
        present = [number for number in column.numbers if number is not None]
        if present == list(range(1, len(present) + 1)):
            return Fit(1, why="it counts 1, 2, 3 ... : perhaps only the lines of this list, not the tool's own number")
        return Fit(2, why="it rises from pull to pull" + (" of each tool" if tools else ""))

    return Role("columns.counter", "counter", "the tool's own running number (not the number of the line in this list)",
                judge)


def joined(draft: Draft) -> None:
    """Joint and fastener in one cell, as "KN-1 / 3": taken where known joints prove it, or both words stand above."""
    if "columns.joint" in draft.answers.given or "columns.fastener" in draft.answers.given:
        return
    known = _folded(draft.known.joints)
    for column in draft.free():
        tails = [re.fullmatch(r"(.*?[^\s/#|:;,])(\s*[/#|:;,]\s*[^\d\s]{0,12}\s*)([0-9]{1,4})", text)
                 for text in column.counts if len(text) < 200]
        good = [found for found in tails if found]
        if not good or len(good) < NEARLY_ALL * len(column.counts) or len({found[2] for found in good}) != 1:
            continue
        if re.search(r"[0-9][0-9.,:]*\s*[:,]\s*[0-9]", next(iter(column.counts))) and not known:
            continue
        proven = sum(found[1].casefold() in known for found in good) >= PROVEN * len(good)
        both = evidence("joint", column.heading) and evidence("fastener", column.heading)
        if not proven and not (both and len({found[3] for found in good}) > 1):
            continue
        gap = _plain(good[0][2])
        why = "joints of the dossier and a number in one cell" if proven else "the heading names joint and fastener"
        name = toml_text(column.name)
        for place, pattern in (("joint", f"^(.+?){gap}[0-9]+$"), ("fastener", f"^.+?{gap}([0-9]+)$")):
            draft.use(Use(f"columns.{place}", f"{{ column = {name}, pattern = {toml_text(pattern)} }}",
                          "sure" if proven else "likely", why, column))
        return


def whole_file(draft: Draft, banner: Iterable[str]) -> dict[str, list[str]]:
    """Known joints and tools that stand in the lines above the table, for questions."""
    text = " ".join(banner).casefold()
    found: dict[str, list[str]] = {}
    for place, names in (("columns.joint", draft.known.joints), ("columns.tool", draft.known.tools)):
        hits = [n for n in sorted(names) if re.search(rf"(?<!\w){re.escape(n.casefold())}(?![\w-])", text)]
        if hits and place not in draft.uses:
            found[place] = hits
    return found

