"""What a bundle of the second form carries besides: keys, earlier states of the log, plain texts, time-stamps."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from evenpull.evidence.canonical import CanonicalError, canonical
from evenpull.evidence.checkpoint import Checkpoint, moment, read_checkpoint
from evenpull.evidence.history import Earlier, HistoryError, appended_only, read_earlier
from evenpull.evidence.layout import CONTENTS, EARLIER, FACTS, FACTS_TEXT, KEYS, MANIFEST, NEEDED, RAW
from evenpull.evidence.plain import same_facts, sums, wanted_sums
from evenpull.evidence.releases import RELEASE, ReleaseError, check_release
from evenpull.evidence.sign import PublicKey
from evenpull.evidence.succession import KIND, KeyChain, SuccessionError, key_chain, read_succession
from evenpull.evidence.timestamp import TimeStamp, TimeStampError, check_token

Content = Callable[[str], bytes | None]
Report = Callable[[str, str], None]  # file, what is wrong with it
Facts = Mapping[int, tuple[str, Any]]
STAMP = "time-stamp"


@dataclass(frozen=True)
class Second:
    """`keys` are fingerprints, the first key first; `earlier` the states from which the log is proven to have grown."""

    keys: tuple[str, ...] = ()
    earlier: tuple[Earlier, ...] = ()
    stamps: tuple[tuple[Checkpoint, TimeStamp], ...] = ()
    chain: KeyChain | None = None
    releases: int = 0  # whose own signature holds

    @property
    def renewals(self) -> int:
        """How often a key took over from another."""
        return max(len(self.keys) - 1, 0)

    @property
    def lines(self) -> tuple[str, ...]:
        """What is shown by it, in plain words."""
        found = []
        if self.renewals:
            found.append(f"the signing key was renewed {self.renewals} times, by statements of both: "
                         f"{', then '.join(self.keys)}")  # fmt: skip
        if self.earlier:
            first = self.earlier[0].checkpoint
            found.append(
                f"the log only grew since {len(self.earlier)} earlier signed states, the first one of {first.size} "
                f"facts at {first.time}"
            )
        if self.releases:
            found.append(f"{self.releases} signed releases: each by the key of the folder that was in force then")
        found += [f"the state of {state.size} facts {stamp.words}" for state, stamp in self.stamps]
        return tuple(found)


NOTHING = Second()


def check_second(
    content: Content,
    manifest: Mapping[str, Any],
    key: PublicKey | None,
    checkpoint: Checkpoint | None,
    facts: Facts,
    report: Report,
) -> Second:
    """Report everything in these files that does not hold; what does."""
    listed = {entry["name"] for entry in manifest["files"]}
    for name in NEEDED:
        if name not in listed:
            report(MANIFEST, f"does not name {name}, which every bundle of this form has")
    text, contents = content(FACTS_TEXT), content(CONTENTS)
    if text is not None and not same_facts(text, ((seq, digest, fact) for seq, (digest, fact) in facts.items())):
        report(FACTS_TEXT, f"does not say what {FACTS} says")
    if contents is not None and sums(contents) != wanted_sums(manifest["files"]):
        report(CONTENTS, "does not list what the manifest lists")
    if key is None or checkpoint is None:
        return NOTHING  # reported by the caller; without them none of what follows can be said
    chain = _chain(content(KEYS) or b"", key, facts, report)
    earlier = _earlier(content(EARLIER) or b"", checkpoint, chain or KeyChain(key), report)
    states = {(one.checkpoint.size, one.checkpoint.root) for one in earlier}
    for handed in chain.successions if chain else ():
        if (handed.size, handed.root) not in states:
            report(EARLIER, f"lacks the state of {handed.size} facts, after which a key took over")
    stamps = _stamps(content, [*(one.checkpoint for one in earlier), checkpoint], facts, report)
    keys = tuple(one.fingerprint for one in chain.keys) if chain else ()
    return Second(keys, earlier, stamps, chain, _releases(facts, chain, report) if chain else 0)


def _releases(facts: Facts, chain: KeyChain, report: Report) -> int:
    good = 0
    for seq, (_, fact) in facts.items():
        if not isinstance(fact, dict) or fact.get("kind") != RELEASE:
            continue
        try:
            check_release(seq, fact.get("joint"), fact.get("body"), chain)
        except ReleaseError as error:
            report(FACTS, f"fact {seq}, a release: {error}")
        else:
            good += 1
    return good


def _chain(text: bytes, key: PublicKey, facts: Facts, report: Report) -> KeyChain | None:
    try:
        found = []
        for line in text.splitlines(keepends=True):
            handed = read_succession(json.loads(line))
            fact = facts.get(handed.size, ("", None))[1]
            if handed.line != line:
                raise SuccessionError("a statement is not byte for byte in the form in which it is written")
            if not isinstance(fact, dict) or fact.get("kind") != KIND or fact.get("body") != handed.body:
                raise SuccessionError(f"fact {handed.size} of the log is not the statement that stands here")
            found.append(handed)
        return key_chain(found, key)
    except SuccessionError as error:
        report(KEYS, str(error))
    except (ValueError, RecursionError):
        report(KEYS, "cannot be read as statements of key succession")
    return None


def _earlier(text: bytes, checkpoint: Checkpoint, chain: KeyChain, report: Report) -> tuple[Earlier, ...]:
    found: list[Earlier] = []
    for number, line in enumerate(text.splitlines(keepends=True), start=1):
        try:
            one = read_earlier(line)
            if one.checkpoint.size >= checkpoint.size or (found and one.checkpoint.size <= found[-1].checkpoint.size):
                raise HistoryError(f"the state of {one.checkpoint.size} facts is out of its order")
            appended_only(one.checkpoint, checkpoint, one.path, chain)
        except HistoryError as error:
            report(EARLIER, f"line {number}: {error}")
        else:
            found.append(one)
    return tuple(found)


def _stamps(
    content: Content, states: list[Checkpoint], facts: Facts, report: Report
) -> tuple[tuple[Checkpoint, TimeStamp], ...]:
    found = []
    for seq, (_, fact) in facts.items():
        if not isinstance(fact, dict) or fact.get("kind") != STAMP:
            continue
        try:
            body = fact["body"]
            state, at, name = read_checkpoint(canonical(body["checkpoint"]) + b"\n"), body["at"], RAW + body["token"]
        except (KeyError, TypeError, ValueError, CanonicalError):
            report(FACTS, f"fact {seq}: cannot be read as a time-stamp")
            continue
        token = content(name)
        if state not in states:
            report(FACTS, f"fact {seq}: the state of {state.size} facts that it stamps is not in the bundle")
        elif token is None:
            report(name, f"is missing: fact {seq} names this time-stamp token")
        else:
            try:
                stamp = check_token(token, state.text)
                if moment(stamp.at) != at:
                    raise TimeStampError(f"it states {moment(stamp.at)}, fact {seq} says {at}")
            except TimeStampError as error:
                report(name, f"as time-stamp token of fact {seq}: {error}")
            else:
                found.append((state, stamp))
    return tuple(found)
