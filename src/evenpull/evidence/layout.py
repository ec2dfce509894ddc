"""Names of the files of a bundle, shared by the one who writes it and the one who checks it."""

README, SEAL, MANIFEST, KEY = "README.txt", "seal.json", "manifest.json", "key.pem"
CHECKPOINT, FACTS, PROOFS, RAW, REPORTS = "checkpoint.json", "facts.jsonl", "proofs.jsonl", "raw/", "reports/"
CONTENTS, FACTS_TEXT, VERIFIER = "contents.txt", "facts.txt", "verify_bundle.py"
KEYS, EARLIER = "keys.jsonl", "earlier.jsonl"
MANIFEST_FORM, SEAL_FORM = "evenpull bundle 2", "evenpull seal 1"
FORMS = ("evenpull bundle 1", MANIFEST_FORM)  # the first one is still read
# What a bundle of the second form must have besides raw files and reports.
NEEDED = (README, CONTENTS, FACTS_TEXT, VERIFIER, KEY, KEYS, CHECKPOINT, EARLIER, FACTS, PROOFS)
MARK = 8  # hexadecimal characters of a block's mark


def block_size(size: int) -> int:
    """Length in bytes of the blocks in which a file of this size is marked, so that a change can be placed."""
    return 1024 if size <= 1 << 20 else 1 << 16
