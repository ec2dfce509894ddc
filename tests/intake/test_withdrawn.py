"""A reading withdrawn: its records stop counting as a set, nothing else does, and nothing that another file said too
is lost. Checked against a small dossier that is made anew from only those readings that count."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.intake.withdrawn import (
    Readings,
    Repeat,
    Taking,
    Withdrawal,
    counting,
    free_key,
    unfit,
    waiting,
    why_not_again,
)

AT = datetime(2026, 3, 24, 9, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Record:
    seq: int
    file_sha256: str
    key: str


def withdraw(taking: Taking, seq: int = -1, why: str = "the columns torque and target were swapped") -> Withdrawal:
    return Withdrawal(taking.seq, taking.file_sha256, taking.mapping_sha256, "P. Achterberg-Lowe", AT, why, seq)


@dataclass
class Dossier:
    """The least that a store does: `files` hold rows, a mapping gives each row a key."""

    files: Mapping[str, tuple[str, ...]]
    takings: list[Taking] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)
    withdrawals: list[Withdrawal] = field(default_factory=list)
    seq: int = 0

    def next(self) -> int:
        self.seq += 1
        return self.seq

    def readings(self) -> Readings:
        return Readings(self.takings, self.withdrawals)

    def take(self, file: str, mapping: str) -> bool:
        if why_not_again(file, self.readings()):
            return False
        seq = self.next()
        held = {record.key for record in counting(self.records, self.readings())}
        repeated = []
        for row, raw in enumerate(self.files[file]):
            key = f"{mapping}:{raw}"
            if key in held:
                repeated.append(Repeat(row, key))
            else:
                held.add(key)
                self.records.append(Record(self.next(), file, key))
        self.takings.append(Taking(seq, file, mapping, tuple(repeated)))
        return True

    def withdraw(self, file: str) -> bool:
        taking = self.readings().standing(file)
        if taking is None:
            return False
        assert unfit(withdraw(taking), self.readings()) == []
        self.withdrawals.append(withdraw(taking, self.next()))
        readings = self.readings()
        for place, rows in waiting(self.records, readings).items():
            one = readings.by_seq[place]
            for row in rows:
                self.records.append(
                    Record(self.next(), one.file_sha256, f"{one.mapping_sha256}:{self.files[one.file_sha256][row]}")
                )
        return True

    def counted(self) -> list[str]:
        return sorted(record.key for record in counting(self.records, self.readings()))


raws = st.sampled_from(["r1", "r2", "r3", "r4", "r5"])
all_files = st.fixed_dictionaries({name: st.lists(raws, max_size=5).map(tuple) for name in ("A", "B", "C")})
acts = st.lists(
    st.tuples(st.sampled_from(["take", "withdraw"]), st.sampled_from(["A", "B", "C"]), st.sampled_from(["m", "n"])),
    max_size=14,
)


@given(all_files, acts)
def test_what_counts_equals_a_dossier_made_anew_from_the_readings_that_count(
    files: dict[str, tuple[str, ...]], done: list[tuple[str, str, str]]
) -> None:
    dossier = Dossier(files)
    for act, file, mapping in done:
        before = len(dossier.records)
        if act == "take":
            dossier.take(file, mapping)
        else:
            dossier.withdraw(file)
        assert len(dossier.records) >= before  # nothing is ever taken out
    anew = Dossier(files)
    for name in files:
        standing = dossier.readings().standing(name)
        if standing is not None:
            assert anew.take(name, standing.mapping_sha256)
    assert dossier.counted() == anew.counted()
    assert len(set(dossier.counted())) == len(dossier.counted())
    assert not waiting(dossier.records, dossier.readings())


def test_withdrawing_one_file_keeps_what_another_file_repeated() -> None:
    dossier = Dossier({"A": ("r1", "r2"), "B": ("r2", "r3")})
    assert dossier.take("A", "m") and dossier.take("B", "m")
    assert dossier.counted() == ["m:r1", "m:r2", "m:r3"]
    assert dossier.withdraw("A")
    assert dossier.counted() == ["m:r2", "m:r3"]
    assert [r.key for r in dossier.records] == ["m:r1", "m:r2", "m:r3", "m:r2"]
    assert dossier.take("A", "n")
    assert dossier.counted() == ["m:r2", "m:r3", "n:r1", "n:r2"]


def test_a_file_that_counts_is_not_read_again() -> None:
    dossier = Dossier({"A": ("r1",)})
    assert dossier.take("A", "m")
    assert "counts" in why_not_again("A", dossier.readings())
    assert not dossier.take("A", "n")
    assert dossier.withdraw("A") and why_not_again("A", dossier.readings()) == ""


def test_what_speaks_against_a_withdrawal() -> None:
    taking = Taking(7, "A", "m")
    readings = Readings([taking], [])
    good = withdraw(taking)
    assert unfit(good, readings) == []
    assert [f[0] for f in unfit(replace(good, taking=8), readings)] == ["reading"]
    assert [f[0] for f in unfit(replace(good, mapping_sha256="n"), readings)] == ["reading"]
    assert [f[0] for f in unfit(replace(good, by=" ", why="wrong"), readings)] == ["by", "why"]
    again = Readings([taking], [withdraw(taking, 9)])
    assert "withdrawn before" in unfit(good, again)[0][1]


def test_records_before_their_file_and_withdrawals_of_nothing_are_errors() -> None:
    with pytest.raises(LookupError, match="no file before it"):
        Readings([Taking(7, "A", "m")], []).of(Record(7, "A", "k"))
    with pytest.raises(ValueError, match="no file was taken in at place 8"):
        Readings([Taking(7, "A", "m")], [replace(withdraw(Taking(8, "A", "m")), seq=9)])


def test_keys_of_withdrawn_records_stay_taken() -> None:
    assert [free_key("tightening:TW-1//4", n) for n in (0, 1, 2)] == [
        "tightening:TW-1//4", "tightening:TW-1//4~2", "tightening:TW-1//4~3",
    ]  # fmt: skip
