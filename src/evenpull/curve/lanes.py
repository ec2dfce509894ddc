"""Four numbers side by side: what compiled code does often, written for the vector registers that every processor has.

The compiler may not change the order of a sum, so it adds one by one what four lanes could add at once; and a selection
by comparing hangs on branches that no processor can guess. Both are written here as operations on vectors of four
float64 (LLVM's, which any machine has in some width), in one order: the same to the bit on every machine.
"""

from __future__ import annotations

from collections.abc import Iterator
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


def _upper_middle(_: Any, values: Any) -> Any:
    """The 33rd smallest of exactly `WHOLE` = 64 float64 in one contiguous array, which is not changed. No nan.

    Sixteen rows of four lanes stay in registers: each lane is sorted by Batcher's odd-even merge sort (Knuth 5.3.4;
    from memory), two lanes each are merged by a bitonic merge to two sorted halves X and Y of 32, and the 33rd smallest
    of both is the least of max(X[i], Y[31 - i]). No step hangs on a value.
    """

    _refuse_other_than_rows(values)

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        data = _data(context, builder, signature, given, 0)
        rows = [_load(builder, data, ir.Constant(_INDEX, WIDTH * row)) for row in range(ROWS)]
        for i, j in odd_even_merge_sort(ROWS):
            rows[i], rows[j] = _lower(builder, rows[i], rows[j]), _higher(builder, rows[i], rows[j])
        for i in range(ROWS // 2):  # lanes 0 and 2 keep the lower 16 of lanes 0, 1 and 2, 3, lanes 1 and 3 the higher
            j = ROWS - 1 - i
            own, other = rows[i], rows[j]
            rows[i] = _lower_and_higher(builder, own, _shuffled(builder, other, (1, 0, 3, 2)))
            rows[j] = _lower_and_higher(builder, other, _shuffled(builder, own, (1, 0, 3, 2)))
        for i, j in bitonic_merge(ROWS):
            rows[i], rows[j] = _lower(builder, rows[i], rows[j]), _higher(builder, rows[i], rows[j])
        pairs = [_higher(builder, rows[i], _shuffled(builder, rows[ROWS - 1 - i], (3, 2, 1, 0)))
                 for i in range(ROWS // 2)]
        least = pairs[0]
        for pair in pairs[1:]:
            least = _lower(builder, least, pair)
        a, b, c, d = _apart(builder, least)
        return _lower(builder, _lower(builder, a, b), _lower(builder, c, d))

    return types.float64(values), write


upper_middle: Any = intrinsic(_upper_middle)


def _sums(_: Any, w: Any, x: Any, y: Any, first: Any, fours: Any, x0: Any, y0: Any) -> Any:
    """Sums of w, w u, w v, w u u, w u v, w v v with u = x - x0, v = y - y0 over 4 `fours` values from `first` of
    contiguous arrays: lane j adds the values first + j, first + j + 4, ..., then (0 + 1) + (2 + 3). w None: 1."""

    _refuse_other_than_rows(x, y, *(() if isinstance(w, types.NoneType) else (w,)))

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        weights = None if isinstance(w, types.NoneType) else _data(context, builder, signature, given, 0)
        xs, ys = (_data(context, builder, signature, given, at) for at in (1, 2))
        u0, v0 = (_spread_out(builder, given[at]) for at in (5, 6))
        nothing = ir.Constant(_FOUR, [0.0] * WIDTH)
        held = [cgutils.alloca_once_value(builder, nothing) for _ in range(6)]  # type: ignore[no-untyped-call]
        with cgutils.for_range(builder, given[4], intp=_INDEX) as loop:
            at = builder.add(given[3], builder.mul(loop.index, ir.Constant(_INDEX, WIDTH)))
            u, v = builder.fsub(_load(builder, xs, at), u0), builder.fsub(_load(builder, ys, at), v0)
            p = ir.Constant(_FOUR, [1.0] * WIDTH) if weights is None else _load(builder, weights, at)
            pu, pv = (u, v) if weights is None else (builder.fmul(p, u), builder.fmul(p, v))
            terms = (p, pu, pv, builder.fmul(pu, u), builder.fmul(pu, v), builder.fmul(pv, v))
            for place, term in zip(held, terms, strict=True):
                builder.store(builder.fadd(builder.load(place), term), place)
        return context.make_tuple(builder, signature.return_type, [_added(builder, place) for place in held])

    six: Any = types.UniTuple(types.float64, 6)  # type: ignore[no-untyped-call]
    return six(w, x, y, types.int64, types.int64, types.float64, types.float64), write


sums: Any = intrinsic(_sums)


def _trapezia(_: Any, x: Any, y: Any, first: Any, fours: Any) -> Any:
    """Sum of (y[i + 1] + y[i]) (x[i + 1] - x[i]) for 4 `fours` places i from `first`, in the lanes of `sums`."""
    _refuse_other_than_rows(x, y)

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        xs, ys = (_data(context, builder, signature, given, at) for at in (0, 1))
        held = cgutils.alloca_once_value(builder, ir.Constant(_FOUR, [0.0] * WIDTH))  # type: ignore[no-untyped-call]
        with cgutils.for_range(builder, given[3], intp=_INDEX) as loop:
            at = builder.add(given[2], builder.mul(loop.index, ir.Constant(_INDEX, WIDTH)))
            then = builder.add(at, ir.Constant(_INDEX, 1))
            height = builder.fadd(_load(builder, ys, then), _load(builder, ys, at))
            width = builder.fsub(_load(builder, xs, then), _load(builder, xs, at))
            builder.store(builder.fadd(builder.load(held), builder.fmul(height, width)), held)
        return _added(builder, held)

    return types.float64(x, y, types.int64, types.int64), write


trapezia: Any = intrinsic(_trapezia)


def _lowest_and_highest(_: Any, values: Any, fours: Any) -> Any:
    """Lowest and highest of the first 4 `fours` values (at least 4) of a contiguous array. No nan."""
    _refuse_other_than_rows(values)

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        data = _data(context, builder, signature, given, 0)
        start = _load(builder, data, ir.Constant(_INDEX, 0))
        low, high = (cgutils.alloca_once_value(builder, start) for _ in range(2))  # type: ignore[no-untyped-call]
        with cgutils.for_range(builder, given[1], intp=_INDEX) as loop:
            four = _load(builder, data, builder.mul(loop.index, ir.Constant(_INDEX, WIDTH)))
            builder.store(_lower(builder, four, builder.load(low)), low)
            builder.store(_higher(builder, four, builder.load(high)), high)
        ends = []
        for place, better in ((low, _lower), (high, _higher)):
            a, b, c, d = _apart(builder, builder.load(place))
            ends.append(better(builder, better(builder, a, b), better(builder, c, d)))
        return context.make_tuple(builder, signature.return_type, ends)

    two: Any = types.UniTuple(types.float64, 2)  # type: ignore[no-untyped-call]
    return two(values, types.int64), write


lowest_and_highest: Any = intrinsic(_lowest_and_highest)


def _blocks_below(_: Any, values: Any, first: Any, blocks: Any, level: Any) -> Any:
    """How many blocks of `BLOCK` = 8 values, from `first` on and at most `blocks`, hold no value at or above the
    level."""
    return _blocks_without(values, ">=", 1)


def _blocks_above(_: Any, values: Any, last: Any, blocks: Any, level: Any) -> Any:
    """How many blocks of 8 values, back from `last` (taken in) and at most `blocks`, hold no value at or below the
    level."""
    return _blocks_without(values, "<=", -1)


def _blocks_without(values: Any, comparison: str, direction: int) -> Any:
    _refuse_other_than_rows(values)

    def write(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        data, level = _data(context, builder, signature, given, 0), _spread_out(builder, given[3])
        begin = given[1] if direction > 0 else builder.sub(given[1], ir.Constant(_INDEX, BLOCK - 1))
        done = cgutils.alloca_once_value(builder, ir.Constant(_INDEX, 0))  # type: ignore[no-untyped-call]
        more, look, on, end = (builder.append_basic_block(name) for name in ("more", "look", "on", "end"))
        builder.branch(more)
        builder.position_at_end(more)
        count = builder.load(done)
        builder.cbranch(builder.icmp_signed("<", count, given[2]), look, end)
        builder.position_at_end(look)
        at = builder.add(begin, builder.mul(count, ir.Constant(_INDEX, direction * BLOCK)))
        one, two = (builder.fcmp_ordered(comparison, _load(builder, data, place), level)
                    for place in (at, builder.add(at, ir.Constant(_INDEX, WIDTH))))
        found = builder.bitcast(builder.or_(one, two), ir.IntType(WIDTH))
        builder.cbranch(builder.icmp_unsigned("==", found, ir.Constant(ir.IntType(WIDTH), 0)), on, end)
        builder.position_at_end(on)
        builder.store(builder.add(count, ir.Constant(_INDEX, 1)), done)
        builder.branch(more)
        builder.position_at_end(end)
        return builder.load(done)

    return types.int64(values, types.int64, types.int64, types.float64), write


blocks_below: Any = intrinsic(_blocks_below)
blocks_above: Any = intrinsic(_blocks_above)


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


def _load(builder: Any, data: Any, at: Any) -> Any:
    return builder.load(builder.bitcast(builder.gep(data, [at]), _FOUR.as_pointer()), align=8)


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


def _apart(builder: Any, vector: Any) -> list[Any]:
    return [builder.extract_element(vector, ir.Constant(_LANE, lane)) for lane in range(WIDTH)]


def _added(builder: Any, place: Any) -> Any:
    a, b, c, d = _apart(builder, builder.load(place))
    return builder.fadd(builder.fadd(a, b), builder.fadd(c, d))
