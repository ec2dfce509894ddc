"""Append-only Merkle log: tree hash, inclusion and consistency proofs after RFC 6962, checked after RFC 9162.

Hashes are 32 bytes (SHA-256). A leaf is hashed with the prefix 0x00, a node with 0x01, so that neither can pass for
the other. The tree of n leaves splits at k, the largest power of two below n.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from itertools import islice

EMPTY_ROOT = sha256(b"").digest()  # RFC 6962 2.1: MTH({}) = SHA-256()


class ProofError(ValueError):
    """A proof that does not show what it should; the message says which step fails."""


def leaf_hash(data: bytes) -> bytes:
    """SHA-256(0x00 || data), RFC 6962 2.1."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256(0x01 || left || right), RFC 6962 2.1."""
    return sha256(b"\x01" + left + right).digest()


@dataclass(frozen=True)
class Frontier:
    """What must be remembered of a log to append to it: its size and the roots of its perfect subtrees, largest first.

    A tree of n leaves has one perfect subtree for each bit set in n, so appending and the root cost O(log n).
    """

    size: int = 0
    hashes: tuple[bytes, ...] = ()

    def __post_init__(self) -> None:
        if self.size < 0 or self.size.bit_count() != len(self.hashes):
            raise ValueError(f"{len(self.hashes)} subtree roots do not fit a log of {self.size} leaves")

    def extended(self, leaves: Iterable[bytes]) -> Frontier:
        """The frontier after appending leaf data in order."""
        size, hashes = self.size, list(self.hashes)
        for data in leaves:
            node, rest = leaf_hash(data), size
            while rest & 1:
                node = node_hash(hashes.pop(), node)
                rest >>= 1
            hashes.append(node)
            size += 1
        return Frontier(size, tuple(hashes))

    @property
    def root(self) -> bytes:
        """Merkle tree hash of all leaves so far."""
        if not self.hashes:
            return EMPTY_ROOT
        node = self.hashes[-1]
        for left in reversed(self.hashes[:-1]):
            node = node_hash(left, node)
        return node


def consistency_ranges(earlier: int, size: int) -> tuple[tuple[int, int], ...]:
    """Leaves start ... end - 1 under each node of PROOF(earlier, D[size]) in its order, RFC 6962 2.1.2."""
    if not 0 < earlier <= size:
        raise ValueError(f"a log of {size} leaves has no earlier state of {earlier} leaves to be proven from")
    start, end, whole, rest = 0, size, True, earlier
    path: list[tuple[int, int]] = []
    while rest != end - start:
        middle = start + _split(end - start)
        if rest <= middle - start:
            path.append((middle, end))
            end = middle
        else:
            path.append((start, middle))
            rest -= middle - start
            start, whole = middle, False
    if not whole:
        path.append((start, end))
    return tuple(reversed(path))


def consistency_of_stream(leaves: Iterable[bytes], earlier: int, size: int) -> tuple[bytes, bytes, tuple[bytes, ...]]:
    """(root of the first `earlier` leaves, root of the first `size`, proof between them), reading leaf data once.

    The nodes of the proof part the log, so each is hashed as it passes; memory grows with the logarithm of `size` only.
    Raises ValueError when there are fewer leaves than `size`, or no such earlier state.
    """
    ranges = consistency_ranges(earlier, size)
    parts = sorted(ranges if ranges and min(ranges)[0] == 0 else [(0, earlier), *ranges])
    stream, nodes = iter(leaves), {}
    for start, end in parts:
        part = Frontier().extended(islice(stream, end - start))
        if part.size != end - start:
            raise ValueError(f"the log has {start + part.size} leaves, not {size}")
        nodes[start, end] = part.root

    def root(start: int, end: int) -> bytes:
        if (start, end) in nodes:
            return nodes[start, end]
        middle = start + _split(end - start)
        return node_hash(root(start, middle), root(middle, end))

    return root(0, earlier), root(0, size), tuple(nodes[pair] for pair in ranges)


class Tree:
    """All perfect subtrees of a log, for proofs. `leaves` is the leaf data in order; memory about 64 bytes a leaf."""

    def __init__(self, leaves: Iterable[bytes]) -> None:
        level = [leaf_hash(data) for data in leaves]
        self.size = len(level)
        self._levels = [level]
        while len(level) > 1:
            level = [node_hash(level[i], level[i + 1]) for i in range(0, len(level) - 1, 2)]
            self._levels.append(level)

    def root(self, size: int | None = None) -> bytes:
        """Merkle tree hash of the first `size` leaves (all if None)."""
        wanted = self._checked(self.size if size is None else size)
        return EMPTY_ROOT if wanted == 0 else self._range(0, wanted)

    def inclusion(self, index: int, size: int | None = None) -> tuple[bytes, ...]:
        """PATH(index, D[size]), RFC 6962 2.1.1: from the leaf upwards."""
        wanted = self._checked(self.size if size is None else size)
        if not 0 <= index < wanted:
            raise ValueError(f"leaf {index} is not in a log of {wanted} leaves")
        start, end, path = 0, wanted, []
        while end - start > 1:
            middle = start + _split(end - start)
            if index < middle:
                path.append(self._range(middle, end))
                end = middle
            else:
                path.append(self._range(start, middle))
                start = middle
        return tuple(reversed(path))

    def consistency(self, earlier: int, size: int | None = None) -> tuple[bytes, ...]:
        """PROOF(earlier, D[size]), RFC 6962 2.1.2; empty for earlier = size."""
        wanted = self._checked(self.size if size is None else size)
        return tuple(self._range(start, end) for start, end in consistency_ranges(earlier, wanted))

    def _checked(self, size: int) -> int:
        if not 0 <= size <= self.size:
            raise ValueError(f"the log has {self.size} leaves, not {size}")
        return size

    def _range(self, start: int, end: int) -> bytes:
        """MTH of leaves start ... end - 1; `start` is a multiple of the subtree's power of two."""
        width = end - start
        if width & (width - 1) == 0:
            return self._levels[width.bit_length() - 1][start // width]
        middle = start + _split(width)
        return node_hash(self._range(start, middle), self._range(middle, end))


def _split(width: int) -> int:
    """Largest power of two below `width` (width > 1)."""
    return 1 << ((width - 1).bit_length() - 1)


def root_from_inclusion(data: bytes, index: int, size: int, path: Sequence[bytes]) -> bytes:
    """The root that an inclusion proof leads to (RFC 9162 2.1.3.2). Raises ProofError when its length is wrong."""
    if not 0 <= index < size:
        raise ProofError(f"leaf {index} cannot be in a log of {size} leaves")
    place, last, node = index, size - 1, leaf_hash(data)
    for step in path:
        if last == 0:
            raise ProofError(f"the proof of leaf {index} is too long")
        if place & 1 or place == last:
            node = node_hash(step, node)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            node = node_hash(node, step)
        place, last = place >> 1, last >> 1
    if last:
        raise ProofError(f"the proof of leaf {index} is too short")
    return node


def verify_inclusion(data: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> None:
    """Raise ProofError unless `data` is leaf `index` of the log with `size` leaves and this root."""
    if root_from_inclusion(data, index, size, path) != root:
        raise ProofError(f"leaf {index} does not lead to the root of the log of {size} leaves")


def verify_consistency(
    earlier: int, earlier_root: bytes, size: int, root: bytes, path: Sequence[bytes]
) -> None:
    """Raise ProofError unless the log of `size` leaves only appended to the earlier one (RFC 9162 2.1.4.2)."""
    if not 0 < earlier <= size:
        raise ProofError(f"a log of {size} leaves cannot have grown from {earlier} leaves")
    if earlier == size:
        if path or earlier_root != root:
            raise ProofError(f"two logs of {size} leaves with different roots")
        return
    steps = list(path)
    if earlier & (earlier - 1) == 0:
        steps.insert(0, earlier_root)
    if not steps:
        raise ProofError("the consistency proof is too short")
    place, last = earlier - 1, size - 1
    while place & 1:
        place, last = place >> 1, last >> 1
    old = new = steps[0]
    for step in steps[1:]:
        if last == 0:
            raise ProofError("the consistency proof is too long")
        if place & 1 or place == last:
            old, new = node_hash(step, old), node_hash(step, new)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            new = node_hash(new, step)
        place, last = place >> 1, last >> 1
    if last:
        raise ProofError("the consistency proof is too short")
    if old != earlier_root:
        raise ProofError(f"the log of {size} leaves does not begin with the earlier {earlier} leaves")
    if new != root:
        raise ProofError(f"the consistency proof does not lead to the root of the log of {size} leaves")
