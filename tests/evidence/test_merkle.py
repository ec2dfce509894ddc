"""The log against published vectors, against the definition of RFC 6962 written out naively, and against forgeries."""

from __future__ import annotations

from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.evidence.merkle import (
    EMPTY_ROOT,
    Frontier,
    ProofError,
    Tree,
    consistency_of_stream,
    leaf_hash,
    node_hash,
    verify_consistency,
    verify_inclusion,
)

# The eight leaves and roots that the open-source implementations of RFC 6962 share as their test vectors.
# From memory, not re-read; a hash that comes out the same cannot have been remembered wrong.
LEAVES = [
    bytes.fromhex(text)
    for text in ("", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f")
]
ROOTS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]


@pytest.mark.parametrize("size", range(1, 9))
def test_published_roots(size: int) -> None:
    assert Tree(LEAVES[:size]).root().hex() == ROOTS[size - 1]
    assert Tree(LEAVES).root(size).hex() == ROOTS[size - 1]
    assert Frontier().extended(LEAVES[:size]).root.hex() == ROOTS[size - 1]


def test_empty_log() -> None:
    # RFC 6962 2.1: the hash of an empty list is the hash of an empty string.
    assert Tree([]).root() == Frontier().root == EMPTY_ROOT == sha256(b"").digest()


def test_proofs_of_the_example_with_seven_leaves() -> None:
    """RFC 6962 2.1.3, names of the nodes as in its drawing (from memory, not re-read)."""
    d = [bytes([i]) for i in range(7)]
    a, b, c, dd, e, f, j = (leaf_hash(x) for x in d)
    g, h, i = node_hash(a, b), node_hash(c, dd), node_hash(e, f)
    k, ll = node_hash(g, h), node_hash(i, j)
    tree = Tree(d)
    assert tree.root() == node_hash(k, ll)
    assert tree.inclusion(0) == (b, h, ll)
    assert tree.inclusion(3) == (c, g, ll)
    assert tree.inclusion(4) == (f, j, k)
    assert tree.inclusion(6) == (i, k)
    assert tree.consistency(3) == (c, dd, g, ll)
    assert tree.consistency(4) == (ll,)
    assert tree.consistency(6) == (i, j, k)


# The definition, word for word and without any cleverness.
def naive_root(d: list[bytes]) -> bytes:
    if not d:
        return sha256(b"").digest()
    if len(d) == 1:
        return sha256(b"\x00" + d[0]).digest()
    k = naive_split(len(d))
    return sha256(b"\x01" + naive_root(d[:k]) + naive_root(d[k:])).digest()


def naive_split(n: int) -> int:
    k = 1
    while k * 2 < n:
        k *= 2
    return k


def naive_path(m: int, d: list[bytes]) -> list[bytes]:
    if len(d) == 1:
        return []
    k = naive_split(len(d))
    if m < k:
        return [*naive_path(m, d[:k]), naive_root(d[k:])]
    return [*naive_path(m - k, d[k:]), naive_root(d[:k])]


def naive_subproof(m: int, d: list[bytes], whole: bool) -> list[bytes]:
    n = len(d)
    if m == n:
        return [] if whole else [naive_root(d)]
    k = naive_split(n)
    if m <= k:
        return [*naive_subproof(m, d[:k], whole), naive_root(d[k:])]
    return [*naive_subproof(m - k, d[k:], False), naive_root(d[:k])]


leaves = st.lists(st.binary(max_size=4), min_size=1, max_size=40)


@given(leaves, st.data())
def test_the_same_as_the_definition(d: list[bytes], data: st.DataObject) -> None:
    tree = Tree(d)
    size = data.draw(st.integers(1, len(d)))
    index = data.draw(st.integers(0, size - 1))
    earlier = data.draw(st.integers(1, size))
    root = naive_root(d[:size])
    assert tree.root(size) == root
    path = tree.inclusion(index, size)
    assert list(path) == naive_path(index, d[:size])
    verify_inclusion(d[index], index, size, path, root)
    proof = tree.consistency(earlier, size)
    assert list(proof) == naive_subproof(earlier, d[:size], True)
    verify_consistency(earlier, naive_root(d[:earlier]), size, root, proof)


@given(leaves, st.data())
def test_a_stream_gives_the_same_proof(d: list[bytes], data: st.DataObject) -> None:
    size = data.draw(st.integers(1, len(d)))
    earlier = data.draw(st.integers(1, size))
    old, new, proof = consistency_of_stream(iter(d), earlier, size)
    assert (old, new) == (naive_root(d[:earlier]), naive_root(d[:size]))
    assert list(proof) == naive_subproof(earlier, d[:size], True)
    with pytest.raises(ValueError):
        consistency_of_stream(iter(d), earlier, len(d) + 1)
    with pytest.raises(ValueError):
        consistency_of_stream(iter(d), size + 1, size)


@given(leaves, st.data())
def test_appending_in_pieces_is_the_same(d: list[bytes], data: st.DataObject) -> None:
    cut = data.draw(st.integers(0, len(d)))
    frontier = Frontier().extended(d[:cut])
    assert frontier.root == naive_root(d[:cut])
    assert len(frontier.hashes) <= max(cut, 1).bit_length()
    assert frontier.extended(d[cut:]) == Frontier().extended(d)


@given(st.lists(st.binary(max_size=4), min_size=2, max_size=40), st.data())
def test_forged_inclusion_is_refused(d: list[bytes], data: st.DataObject) -> None:
    size = len(d)
    index = data.draw(st.integers(0, size - 1))
    path, root = list(Tree(d).inclusion(index)), naive_root(d)
    with pytest.raises(ProofError):
        verify_inclusion(d[index] + b"x", index, size, path, root)
    with pytest.raises(ProofError):
        verify_inclusion(d[index], index, size, path[:-1], root)
    with pytest.raises(ProofError):
        verify_inclusion(d[index], index, size, [*path, bytes(32)], root)
    other = data.draw(st.integers(0, size - 1))
    if d[other] != d[index]:
        with pytest.raises(ProofError):
            verify_inclusion(d[other], index, size, path, root)
    step = data.draw(st.integers(0, len(path) - 1))
    path[step] = bytes([path[step][0] ^ 1]) + path[step][1:]
    with pytest.raises(ProofError):
        verify_inclusion(d[index], index, size, path, root)


@given(st.lists(st.binary(max_size=4), min_size=2, max_size=40), st.data())
def test_a_rewritten_past_is_refused(d: list[bytes], data: st.DataObject) -> None:
    earlier = data.draw(st.integers(1, len(d) - 1))
    changed = data.draw(st.integers(0, earlier - 1))
    rewritten = [*d[:changed], d[changed] + b"x", *d[changed + 1 :]]
    tree = Tree(rewritten)
    with pytest.raises(ProofError):
        verify_consistency(earlier, naive_root(d[:earlier]), len(d), tree.root(), tree.consistency(earlier))
    honest = Tree(d)
    with pytest.raises(ProofError):
        verify_consistency(earlier, naive_root(d[:earlier]), len(d), tree.root(), honest.consistency(earlier))
    proof = honest.consistency(earlier)
    for forged in ([*proof, b"x" * 32], proof[:-1], []):
        with pytest.raises(ProofError):
            verify_consistency(earlier, honest.root(earlier), len(d), honest.root(), forged)


def test_a_node_cannot_pass_for_a_leaf() -> None:
    """The prefixes keep a leaf made of two hashes apart from the node above them."""
    a, b = leaf_hash(b"a"), leaf_hash(b"b")
    assert Tree([a + b]).root() != Tree([b"a", b"b"]).root()


def test_nonsense_is_refused() -> None:
    tree = Tree([b"a", b"b", b"c"])
    for call in (lambda: tree.inclusion(3), lambda: tree.consistency(0), lambda: tree.root(4)):
        with pytest.raises(ValueError):
            call()
    with pytest.raises(ValueError):
        Frontier(3, (bytes(32),))


@pytest.mark.slow
def test_a_million_leaves_in_bounded_memory() -> None:
    """Streamed: the peak is that of a log a hundred times shorter, give or take, and far below the tree's 64 MB."""
    import tracemalloc

    def peak(size: int) -> int:
        leaves = (number.to_bytes(32, "big") for number in range(size))
        tracemalloc.start()
        try:
            old, new, proof = consistency_of_stream(leaves, size * 13 // 20, size)
            highest = tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()
        verify_consistency(size * 13 // 20, old, size, new, proof)
        return highest

    short, long = peak(10_000), peak(1_000_000)
    assert long < 2 * short + 20_000 and long < 200_000, (short, long)
