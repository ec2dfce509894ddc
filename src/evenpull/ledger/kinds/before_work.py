"""Entries before anything is touched: identity, isolation, what was found."""

from __future__ import annotations

from evenpull.ledger.kinds.form import Field, Kind, choice, text

BEFORE_WORK = (
    Kind(
        "identity confirmed", "joint", "Identity of the joint, by two sources",
        "The tag as copied from the joint, with its check characters, and a second source that is not the tag.",
        (
            text("tag", "Tag, copied from the joint"),
            text("check", "Check characters on the tag or card"),
            choice("second_source", "Second source",
                   ("drawing", "line list", "photograph", "scan of the code", "second person")),
            text("second_text", "What the second source says"),
        ),
        caution="opening",
    ),
    Kind(
        "isolation confirmed", "joint", "Isolation and permit",
        "Under which permit and isolation, and how and by whom it was proven that no energy is left. The program "
        "records what was stated; whether work may begin is decided by the holder of the permit.",
        (
            text("permit", "Permit number"),
            text("isolation", "Isolation number"),
            text("proven_by", "No energy proven by"),
            text("how", "How it was proven"),
        ),
        caution="opening",
    ),
    Kind(
        "as found", "joint", "State as found", "What was seen before anything was touched.",
        (
            choice("leaking", "Leaking", ("yes", "no", "not seen")),
            choice("marks", "Witness marks", ("intact", "broken", "none", "not seen")),
            Field("loose", "Loose fasteners", "numbers", False, help="numbers, or none"),
            text("words", "In words", False),
        ),
        caution="opening",
    ),
)  # fmt: skip
