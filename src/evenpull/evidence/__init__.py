"""Evidence: canonical form, Merkle log, signed checkpoints, bundles and their stand-alone check. No database."""

from evenpull.evidence.bundle import BundleFact, Problem, Verification, verify, write
from evenpull.evidence.canonical import CanonicalError, canonical, digest
from evenpull.evidence.checkpoint import Checkpoint, make_checkpoint, moment, read_checkpoint, read_moment
from evenpull.evidence.fact import Envelope
from evenpull.evidence.merkle import Frontier, ProofError, Tree, verify_consistency, verify_inclusion
from evenpull.evidence.sign import KeyFileError, PublicKey, SecretKey, make_key_file, read_public_key, read_secret_key

__all__ = [
    "BundleFact", "CanonicalError", "Checkpoint", "Envelope", "Frontier", "KeyFileError", "Problem", "ProofError",
    "PublicKey", "SecretKey", "Tree", "Verification", "canonical", "digest", "make_checkpoint", "make_key_file",
    "moment", "read_checkpoint", "read_moment", "read_public_key", "read_secret_key", "verify", "verify_consistency",
    "verify_inclusion", "write",
]
