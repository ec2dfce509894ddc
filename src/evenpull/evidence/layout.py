"""Names of the files of a bundle, shared by the one who writes it and the one who checks it."""

README, SEAL, MANIFEST, KEY = "README.txt", "seal.json", "manifest.json", "key.pem"
CHECKPOINT, FACTS, PROOFS, RAW, REPORTS = "checkpoint.json", "facts.jsonl", "proofs.jsonl", "raw/", "reports/"
MANIFEST_FORM, SEAL_FORM = "evenpull bundle 1", "evenpull seal 1"
MARK = 8  # hexadecimal characters of a block's mark


def block_size(size: int) -> int:
    """Length in bytes of the blocks in which a file of this size is marked, so that a change can be placed."""
    return 1024 if size <= 1 << 20 else 1 << 16
