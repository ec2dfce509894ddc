"""Four numbers side by side: what compiled code does often, written for the vector registers that every processor has.

The compiler may not change the order of a sum, so it adds one by one what four lanes could add at once; and a selection
by comparing hangs on branches that no processor can guess. Both are written here as operations on vectors of four
float64 (LLVM's, which any machine has in some width), in one order: the same to the bit on every machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial, reduce
from typing import Any

from llvmlite import ir
from numba.core import cgutils, types
from numba.core.errors import TypingError
from numba.extending import intrinsic

WIDTH = 4
ROWS = 16
BLOCK = 8  # values that are looked at together where something is sought
WHOLE = WIDTH * ROWS  # values that `upper_middle` takes
_INDEX, _LANE = ir.IntType(64), ir.IntType(32)
_FOUR = ir.VectorType(ir.DoubleType(), WIDTH)


def _compiled_in(typing: Callable[..., Any]) -> Any:
    """numba's `intrinsic`; compiled code calls what it gives as a function, which no type checker can know."""
    return intrinsic(typing)


@_compiled_in
def upper_middle(_: Any, values: Any) -> Any:
    """The 33rd smallest of exactly `WHOLE` = 64 float64 in one contiguous array, which is not changed. No nan.

    Sixteen rows of four lanes stay in registers: each lane is sorted by Batcher's odd-even merge sort (Knuth 5.3.4;
    from memory), two lanes each are merged by a bitonic merge to two sorted halves X and Y of 32, and the 33rd smallest
    of both is the least of max(X[i], Y[31 - i]). No step hangs on a value.
    """
    _refuse_other_than_rows(values)

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        data = _data(context, builder, signature, given, 0)
        rows = [_load(builder, data, ir.Constant(_INDEX, WIDTH * row)) for row in range(ROWS)]
        _put_through(builder, rows, odd_even_merge_sort(ROWS))
        for i in range(ROWS // 2):  # lanes 0 and 2 keep the lower 16 of lanes 0, 1 and 2, 3, lanes 1 and 3 the higher
            j = ROWS - 1 - i
            own, other = rows[i], rows[j]
            rows[i] = _lower_and_higher(builder, own, _shuffled(builder, other, (1, 0, 3, 2)))
            rows[j] = _lower_and_higher(builder, other, _shuffled(builder, own, (1, 0, 3, 2)))
        _put_through(builder, rows, bitonic_merge(ROWS))
        pairs = [_higher(builder, rows[i], _shuffled(builder, rows[ROWS - 1 - i], (3, 2, 1, 0)))
                 for i in range(ROWS // 2)]
        return _joined(builder, reduce(partial(_lower, builder), pairs), _lower)

    return types.float64(values), write


@_compiled_in
def sums(_: Any, w: Any, x: Any, y: Any, first: Any, fours: Any, x0: Any, y0: Any) -> Any:
    """Sums of w, w u, w v, w u u, w u v, w v v with u = x - x0, v = y - y0 over 4 `fours` values from `first` of
    contiguous arrays: lane j adds the values first + j, first + j + 4, ..., then (0 + 1) + (2 + 3). w None: 1."""
    _refuse_other_than_rows(x, y, *(() if isinstance(w, types.NoneType) else (w,)))

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        weights = None if isinstance(w, types.NoneType) else _data(context, builder, signature, given, 0)
        xs, ys = (_data(context, builder, signature, given, at) for at in (1, 2))
        u0, v0 = (_spread_out(builder, given[at]) for at in (5, 6))
        held = [_room(builder, ir.Constant(_FOUR, [0.0] * WIDTH)) for _ in range(6)]
        with cgutils.for_range(builder, given[4], intp=_INDEX) as loop:
            at = builder.add(given[3], builder.mul(loop.index, ir.Constant(_INDEX, WIDTH)))
            u, v = builder.fsub(_load(builder, xs, at), u0), builder.fsub(_load(builder, ys, at), v0)
            p = ir.Constant(_FOUR, [1.0] * WIDTH) if weights is None else _load(builder, weights, at)
            pu, pv = (u, v) if weights is None else (builder.fmul(p, u), builder.fmul(p, v))
            terms = (p, pu, pv, builder.fmul(pu, u), builder.fmul(pu, v), builder.fmul(pv, v))
            for place, term in zip(held, terms, strict=True):
                builder.store(builder.fadd(builder.load(place), term), place)
        added = [_joined(builder, builder.load(place), _plus) for place in held]
        return context.make_tuple(builder, signature.return_type, added)

    six: Any = types.UniTuple(types.float64, 6)  # type: ignore[no-untyped-call]
    return six(w, x, y, types.int64, types.int64, types.float64, types.float64), write


@_compiled_in
def trapezia(_: Any, x: Any, y: Any, first: Any, fours: Any) -> Any:
    """Sum of (y[i + 1] + y[i]) (x[i + 1] - x[i]) for 4 `fours` places i from `first`, in the lanes of `sums`."""
    _refuse_other_than_rows(x, y)

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        xs, ys = (_data(context, builder, signature, given, at) for at in (0, 1))
        held = _room(builder, ir.Constant(_FOUR, [0.0] * WIDTH))
        with cgutils.for_range(builder, given[3], intp=_INDEX) as loop:
            at = builder.add(given[2], builder.mul(loop.index, ir.Constant(_INDEX, WIDTH)))
            then = builder.add(at, ir.Constant(_INDEX, 1))
            height = builder.fadd(_load(builder, ys, then), _load(builder, ys, at))
            width = builder.fsub(_load(builder, xs, then), _load(builder, xs, at))
            builder.store(builder.fadd(builder.load(held), builder.fmul(height, width)), held)
        return _joined(builder, builder.load(held), _plus)

    return types.float64(x, y, types.int64, types.int64), write


@_compiled_in
def lowest_and_highest(_: Any, values: Any, fours: Any) -> Any:
    """Lowest and highest of the first 4 `fours` values (at least 4) of a contiguous array. No nan."""
    _refuse_other_than_rows(values)

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        data = _data(context, builder, signature, given, 0)
        start = _load(builder, data, ir.Constant(_INDEX, 0))
        low, high = _room(builder, start), _room(builder, start)
        with cgutils.for_range(builder, given[1], intp=_INDEX) as loop:
            four = _load(builder, data, builder.mul(loop.index, ir.Constant(_INDEX, WIDTH)))
            builder.store(_lower(builder, four, builder.load(low)), low)
            builder.store(_higher(builder, four, builder.load(high)), high)
        ends = [_joined(builder, builder.load(low), _lower), _joined(builder, builder.load(high), _higher)]
        return context.make_tuple(builder, signature.return_type, ends)

    two: Any = types.UniTuple(types.float64, 2)  # type: ignore[no-untyped-call]
    return two(values, types.int64), write


@_compiled_in
def blocks_below(_: Any, values: Any, first: Any, blocks: Any, level: Any) -> Any:
    """How many blocks of `BLOCK` = 8 values, from `first` on and at most `blocks`, hold no value at or above the
    level."""
    return _blocks_without(values, ">=", 1)


@_compiled_in
def blocks_rising(_: Any, values: Any, first: Any, blocks: Any) -> Any:
    """How many blocks of 8 values, from `first` (at least 1) on and at most `blocks`, hold no value at or below the one
    before it."""
    return _blocks_without(values, "<=", 1, level=False)


@_compiled_in
def blocks_above(_: Any, values: Any, last: Any, blocks: Any, level: Any) -> Any:
    """How many blocks of 8 values, back from `last` (taken in) and at most `blocks`, hold no value at or below the
    level."""
    return _blocks_without(values, "<=", -1)


def _blocks_without(values: Any, comparison: str, direction: int, *, level: bool = True) -> Any:
    """Compared with a level that is given as well, or with the value before."""
    _refuse_other_than_rows(values)

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        data = _data(context, builder, signature, given, 0)
        stated = _spread_out(builder, given[3]) if level else None
        begin = given[1] if direction > 0 else builder.sub(given[1], ir.Constant(_INDEX, BLOCK - 1))
        done = _room(builder, ir.Constant(_INDEX, 0))
        more, look, on, end = (builder.append_basic_block(name) for name in ("more", "look", "on", "end"))
        builder.branch(more)
        builder.position_at_end(more)
        count = builder.load(done)
        builder.cbranch(builder.icmp_signed("<", count, given[2]), look, end)
        builder.position_at_end(look)
        at = builder.add(begin, builder.mul(count, ir.Constant(_INDEX, direction * BLOCK)))
        one, two = (
            builder.fcmp_ordered(comparison, _load(builder, data, place), stated if level else
                                 _load(builder, data, builder.sub(place, ir.Constant(_INDEX, 1))))
            for place in (at, builder.add(at, ir.Constant(_INDEX, WIDTH))))
        found = builder.bitcast(builder.or_(one, two), ir.IntType(WIDTH))
        builder.cbranch(builder.icmp_unsigned("==", found, ir.Constant(ir.IntType(WIDTH), 0)), on, end)
        builder.position_at_end(on)
        builder.store(builder.add(count, ir.Constant(_INDEX, 1)), done)
        builder.branch(more)
        builder.position_at_end(end)
        return builder.load(done)

    return types.int64(values, types.int64, types.int64, *((types.float64,) if level else ())), write


def _refuse_other_than_rows(*arrays: Any) -> None:
    """TypingError, when it is compiled, for what is not one row of float64 side by side: it would be read as if it
    were."""
    for given in arrays:
        if not (isinstance(given, types.Array) and given.dtype == types.float64 and given.ndim == 1
                and given.layout == "C"):
            raise TypingError(f"one row of float64 without gaps is needed, not {given}")


def odd_even_merge_sort(n: int) -> Iterator[tuple[int, int]]:
    """Places (lower, higher) to be compared one after the other, so that n values, a power of two, end sorted."""
    size = 1
    while size < n:
        apart = size
        while apart:
            for first in range(apart % size, n - apart, 2 * apart):
                for i in range(first, min(first + apart, n - apart)):
                    if i // (2 * size) == (i + apart) // (2 * size):
                        yield i, i + apart
            apart //= 2
        size *= 2


def bitonic_merge(n: int) -> Iterator[tuple[int, int]]:
    """Places to be compared so that n values that rise and then fall, or the other way, end sorted; n a power of 2."""
    apart = n // 2
    while apart:
        yield from ((i, i + apart) for i in range(n) if not i & apart)
        apart //= 2


def _data(context: Any, builder: Any, signature: Any, given: Any, at: int) -> Any:
    return context.make_array(signature.args[at])(context, builder, given[at]).data


def _room(builder: Any, value: Any) -> Any:
    """A place that holds the value to begin with; the compiler makes a register of it."""
    return cgutils.alloca_once_value(builder, value)  # type: ignore[no-untyped-call]


def _load(builder: Any, data: Any, at: Any) -> Any:
    return builder.load(builder.bitcast(builder.gep(data, [at]), _FOUR.as_pointer()), align=8)


def _plus(builder: Any, one: Any, two: Any) -> Any:
    return builder.fadd(one, two)


def _lower(builder: Any, one: Any, two: Any) -> Any:
    return builder.select(builder.fcmp_ordered("<", one, two), one, two)


def _higher(builder: Any, one: Any, two: Any) -> Any:
    return builder.select(builder.fcmp_ordered(">", one, two), one, two)


def _lower_and_higher(builder: Any, one: Any, two: Any) -> Any:
    """The lower in lanes 0 and 2, the higher in lanes 1 and 3."""
    return _shuffled(builder, _lower(builder, one, two), (0, 5, 2, 7), _higher(builder, one, two))


def _shuffled(builder: Any, one: Any, order: tuple[int, ...], two: Any = None) -> Any:
    mask = ir.Constant(ir.VectorType(_LANE, WIDTH), [ir.Constant(_LANE, lane) for lane in order])
    return builder.shuffle_vector(one, one if two is None else two, mask)


def _spread_out(builder: Any, value: Any) -> Any:
    out = ir.Constant(_FOUR, ir.Undefined)
    for lane in range(WIDTH):
        out = builder.insert_element(out, value, ir.Constant(_LANE, lane))
    return out


def _joined(builder: Any, vector: Any, join: Callable[[Any, Any, Any], Any]) -> Any:
    """One value of the four lanes: (0 with 1) with (2 with 3)."""
    a, b, c, d = (builder.extract_element(vector, ir.Constant(_LANE, lane)) for lane in range(WIDTH))
    return join(builder, join(builder, a, b), join(builder, c, d))


def _put_through(builder: Any, rows: list[Any], network: Iterable[tuple[int, int]]) -> None:
    """Compares the rows, lane by lane, as the network says."""
    for i, j in network:
        rows[i], rows[j] = _lower(builder, rows[i], rows[j]), _higher(builder, rows[i], rows[j])
