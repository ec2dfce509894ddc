"""Who may do what: roles and acts as a table. docs/accounts.md is made from it; pages and HTTP interface ask it.

Without accounts (one person on the machine itself) everything is allowed.
"""

from __future__ import annotations

from typing import Literal, cast, get_args

from evenpull.ledger.kinds import KINDS

Role = Literal["tightening lead", "operator", "checker", "tool keeper", "auditor", "administrator"]
Act = Literal[
    "read", "describe", "issue", "take in", "withdraw", "enter", "check", "decide", "sign", "tools", "people", "study",
    "key", "settle", "export", "carry", "accounts",
]
ROLES: tuple[Role, ...] = get_args(Role)
ACTS: tuple[Act, ...] = get_args(Act)
MEANING: dict[Act, str] = {
    "read": "see joints, records, findings, audit",
    "describe": "write joints, mappings, calculations, predictions",
    "issue": "issue job cards",
    "take in": "take in files of records",
    "withdraw": "withdraw the reading of a file",
    "enter": "write entries on the work: opening, parts, locking, conditions, hand-over",
    "check": "write entries of a checker: check, test, follow-up done; say that an exception report was read",
    "decide": "decide on open points, and on joints and notices of a review; exceptions, corrections, changes of "
    "method, legal holds",
    "sign": "sign a release; close a review",
    "tools": "register tools; entries on tools and lots; open reviews of tools and say their cause",
    "people": "entries on persons: qualifications, duty",
    "study": "write studies of tools and persons, print their cards, type in their readings",
    "key": "key in pages of scanned cards, each person once and blind to the other",
    "settle": "decide as the third person where two keyed differently",
    "export": "take evidence bundles and raw files away",
    "carry": "make carriers and take them in, with all that is in them: joints, mappings, tools, certificates, cards, "
    "records",
    "accounts": "open and close accounts, give roles",
}
ALLOWED: dict[Role, frozenset[Act]] = {
    "tightening lead": frozenset(
        {"read", "describe", "issue", "take in", "withdraw", "enter", "check", "decide", "sign", "people", "study",
         "key", "settle", "export", "carry"}
    ),
    "operator": frozenset({"read", "take in", "enter", "key"}),
    "checker": frozenset({"read", "enter", "check", "key", "settle"}),
    "tool keeper": frozenset({"read", "take in", "tools", "study", "key"}),
    "auditor": frozenset({"read", "export"}),
    "administrator": frozenset({"read", "accounts", "people"}),
}
# A signature is the password given again in the same act, with its meaning in sight.
SIGNED: frozenset[Act] = frozenset({"withdraw", "check", "decide", "sign"})
SIGNATURE_MEANING: dict[Act, str] = {
    "withdraw": "Your password again signs that this reading is wrong as a whole, within your own authority.",
    "check": "Your password again signs that you have seen this yourself.",
    "decide": "Your password again signs that this is your decision, within your own authority.",
    "sign": "Your password again signs that you take responsibility for the state named here, within your own "
    "authority and the rules of the place.",
}


def may(role: str, act: Act) -> bool:
    """Whether an account of this role may do this. False for a role that is none."""
    return role in ALLOWED and act in ALLOWED[role]  # type: ignore[index]


def act_of_entry(kind: str) -> Act:
    """The act of writing an entry of this kind; "enter" for a kind that is none, whose entry is refused anyhow."""
    return cast(Act, KINDS[kind].act) if kind in KINDS else "enter"


def who_may(act: Act) -> tuple[Role, ...]:
    return tuple(role for role in ROLES if act in ALLOWED[role])


def table_rows() -> list[tuple[str, ...]]:
    """Act, meaning, and "yes" or "no" for each role: the rows of docs/accounts.md."""
    return [(act, MEANING[act], *("yes" if act in ALLOWED[role] else "no" for role in ROLES)) for act in ACTS]
