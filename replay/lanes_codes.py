"""Codes for the compiler: integers from raw bytes to samples. Use through `replay.lanes`."""

from __future__ import annotations

from typing import Any

from llvmlite import ir
from numba.core import types
from numba.extending import intrinsic

from replay.lanes import LANES
from replay.lanes_types import CODES_TYPE, LANES_TYPE, VECTOR, WORD, WORDS, address


def _word(context: Any, builder: Any, raw_type: Any, raw: Any, offset: Any, kind: Any) -> Any:
    data = context.make_array(raw_type)(context, builder, raw).data
    return builder.load(builder.bitcast(builder.gep(data, [offset]), kind.as_pointer()), align=1)


def _fetch(width: int) -> Any:
    """Eight codes of `width` bytes. Three-byte codes are read as four, the byte before them masked off."""

    def fetch(typing: Any, raw: Any, offsets: Any, step: Any) -> Any:
        def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            raw_array, places, step_value = arguments
            place = context.make_array(signature.args[1])(context, builder, places).data
            values = ir.Constant(WORDS, ir.Undefined)
            for lane in range(LANES):
                offset = builder.load(builder.gep(place, [ir.Constant(ir.IntType(64), lane)]))
                offset = builder.add(offset, step_value)
                if width == 3:
                    offset = builder.sub(offset, ir.Constant(offset.type, 1))
                word = _word(
                    context, builder, signature.args[0], raw_array, offset, ir.IntType(8 * (width + width % 2))
                )
                if width == 2:
                    word = builder.zext(word, WORD)
                values = builder.insert_element(values, word, ir.Constant(WORD, lane))
            if width == 3:
                values = builder.and_(values, ir.Constant(WORDS, [-256] * LANES))
            if width == 2:
                values = builder.shl(values, ir.Constant(WORDS, [16] * LANES))
            return values

        return CODES_TYPE(raw, offsets, types.int64), code

    return fetch


def _left_justified(builder: Any, raw: Any, offset: Any, width: int) -> Any:
    """Eight codes of `width` bytes that lie in a row, from a byte offset on. Three-byte codes are read with the eight
    bytes behind them."""
    read = 32 if width == 3 else 8 * width
    kind = ir.VectorType(ir.IntType(8), read)
    codes = builder.load(builder.bitcast(builder.gep(raw, [offset]), kind.as_pointer()), align=1)
    # Byte by byte into words, behind as many zeros (the second operand's bytes) as are missing.
    picked = [width * k + byte - (4 - width) if byte >= 4 - width else read for k in range(LANES) for byte in range(4)]
    places = ir.Constant(ir.VectorType(WORD, 4 * LANES), picked)
    return builder.bitcast(builder.shuffle_vector(codes, ir.Constant(kind, [0] * read), places), WORDS)


def _turned(builder: Any, words: list[Any]) -> list[Any]:
    """Eight values of eight codes, rows and columns exchanged."""
    for apart in (4, 2, 1):
        turned = list(words)
        for k in range(LANES):
            if k & apart == 0:
                low = [i if i & apart == 0 else LANES + i - apart for i in range(LANES)]
                high = [i + apart if i & apart == 0 else LANES + i for i in range(LANES)]
                pair = words[k], words[k + apart]
                turned[k] = builder.shuffle_vector(*pair, ir.Constant(WORDS, low))
                turned[k + apart] = builder.shuffle_vector(*pair, ir.Constant(WORDS, high))
        words = turned
    return words


def _keep_row(context: Any, builder: Any, array_type: Any, array: Any, row: Any, words: Any) -> None:
    samples = builder.fmul(builder.sitofp(words, VECTOR), ir.Constant(VECTOR, [2.0**-31] * LANES))
    builder.store(samples, address(context, builder, array_type, array, row), align=8)


def _eight_rows(width: int) -> Any:
    def rows(typing: Any, raw: Any, offsets: Any, step: Any, samples: Any, row: Any) -> Any:
        def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            raw_array, places, step_value, samples_array, row_value = arguments
            bytes_ = context.make_array(signature.args[0])(context, builder, raw_array).data
            place = context.make_array(signature.args[1])(context, builder, places).data
            words = []
            for lane in range(LANES):
                offset = builder.load(builder.gep(place, [ir.Constant(ir.IntType(64), lane)]))
                words.append(_left_justified(builder, bytes_, builder.add(offset, step_value), width))
            seen = ir.Constant(WORDS, [0] * LANES)
            for k, found in enumerate(_turned(builder, words)):
                seen = builder.or_(seen, found)
                here = builder.add(row_value, ir.Constant(row_value.type, k))
                _keep_row(context, builder, signature.args[3], samples_array, here, found)
            return seen

        return CODES_TYPE(raw, offsets, types.int64, samples, types.intp), code

    return rows


def _row_together(width: int) -> Any:
    def together(typing: Any, raw: Any, offset: Any, samples: Any, row: Any) -> Any:
        def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            raw_array, offset_value, samples_array, row_value = arguments
            bytes_ = context.make_array(signature.args[0])(context, builder, raw_array).data
            found = _left_justified(builder, bytes_, offset_value, width)
            _keep_row(context, builder, signature.args[2], samples_array, row_value, found)
            return found

        return CODES_TYPE(raw, types.int64, samples, types.intp), code

    return together


def _as_samples(typing: Any, codes: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.fmul(builder.sitofp(arguments[0], VECTOR), ir.Constant(VECTOR, [2.0**-31] * LANES))

    return LANES_TYPE(CODES_TYPE), code


def _no_codes(typing: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return ir.Constant(WORDS, [0] * LANES)

    return CODES_TYPE(), code


def _join(typing: Any, left: Any, right: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.or_(arguments[0], arguments[1])

    return CODES_TYPE(CODES_TYPE, CODES_TYPE), code


def _keep_codes(typing: Any, target: Any, codes: Any) -> Any:
    """Or eight codes into an int64 (8,) array, as unsigned 32-bit values."""

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        data = context.make_array(signature.args[0])(context, builder, arguments[0]).data
        for lane in range(LANES):
            place = builder.gep(data, [ir.Constant(ir.IntType(64), lane)])
            word = builder.zext(builder.extract_element(arguments[1], ir.Constant(WORD, lane)), ir.IntType(64))
            builder.store(builder.or_(builder.load(place), word), place)
        return context.get_dummy_value()

    return types.void(target, CODES_TYPE), code


def _scalar(kind: Any, result: Any) -> Any:
    """One number from any byte offset of raw bytes, little-endian as the machine is."""

    def read(typing: Any, raw: Any, offset: Any) -> Any:
        def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            return _word(context, builder, signature.args[0], arguments[0], arguments[1], kind)

        return result(raw, types.int64), code

    return read


codes16, codes24, codes32 = intrinsic(_fetch(2)), intrinsic(_fetch(3)), intrinsic(_fetch(4))
eight_rows16, eight_rows24, eight_rows32 = (
    intrinsic(_eight_rows(2)),
    intrinsic(_eight_rows(3)),
    intrinsic(_eight_rows(4)),
)
together16, together24, together32 = (
    intrinsic(_row_together(2)),
    intrinsic(_row_together(3)),
    intrinsic(_row_together(4)),
)
as_samples = intrinsic(_as_samples)
no_codes = intrinsic(_no_codes)
join = intrinsic(_join)
keep_codes = intrinsic(_keep_codes)
int16_at = intrinsic(_scalar(ir.IntType(16), types.int16))
int32_at = intrinsic(_scalar(WORD, types.int32))
float32_at = intrinsic(_scalar(ir.FloatType(), types.float32))
float64_at = intrinsic(_scalar(ir.DoubleType(), types.float64))
