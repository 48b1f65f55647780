"""Lanes for the compiler: each operation as the vector instructions that it stands for. Use through `replay.lanes`."""

from __future__ import annotations

import operator
from typing import Any

from llvmlite import ir
from numba.core import cgutils, types
from numba.extending import intrinsic, lower_builtin, models, register_model, type_callable

from replay.lanes import LANES


class _Lanes(types.Type):
    def __init__(self) -> None:
        super().__init__("replay.Lanes")


class _Codes(types.Type):
    def __init__(self) -> None:
        super().__init__("replay.Codes")


_LANES = _Lanes()
_CODES = _Codes()
_VECTOR = ir.VectorType(ir.DoubleType(), LANES)
_WORD = ir.IntType(32)
_WORDS = ir.VectorType(_WORD, LANES)


@register_model(_Lanes)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, _VECTOR)


@register_model(_Codes)
class _CodesModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, _WORDS)


def _address(context: Any, builder: Any, array_type: Any, array: Any, row: Any) -> Any:
    data = context.make_array(array_type)(context, builder, array).data
    first = builder.gep(data, [builder.mul(row, ir.Constant(row.type, LANES))])
    return builder.bitcast(first, _VECTOR.as_pointer())


def _load(typing: Any, array: Any, row: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        address = _address(context, builder, signature.args[0], arguments[0], arguments[1])
        return builder.load(address, align=8)

    return _LANES(array, types.intp), code


def _store(typing: Any, array: Any, row: Any, value: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        address = _address(context, builder, signature.args[0], arguments[0], arguments[1])
        builder.store(arguments[2], address, align=8)
        return context.get_dummy_value()

    return types.void(array, types.intp, _LANES), code


def _splat(typing: Any, value: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        undefined = ir.Constant(_VECTOR, ir.Undefined)
        first = builder.insert_element(undefined, arguments[0], ir.Constant(ir.IntType(32), 0))
        return builder.shuffle_vector(first, undefined, ir.Constant(ir.VectorType(ir.IntType(32), LANES), [0] * LANES))

    return _LANES(types.float64), code


def _maximum(typing: Any, left: Any, right: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        greater = builder.fcmp_ordered(">", arguments[0], arguments[1])
        return builder.select(greater, arguments[0], arguments[1])

    return _LANES(_LANES, _LANES), code


def _magnitude(typing: Any, value: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        kind = ir.FunctionType(_VECTOR, [_VECTOR])
        function = cgutils.get_or_insert_function(builder.module, kind, f"llvm.fabs.v{LANES}f64")
        return builder.call(function, arguments)

    return _LANES(_LANES), code


def _word(context: Any, builder: Any, raw_type: Any, raw: Any, offset: Any, kind: Any) -> Any:
    data = context.make_array(raw_type)(context, builder, raw).data
    return builder.load(builder.bitcast(builder.gep(data, [offset]), kind.as_pointer()), align=1)


def _fetch(width: int) -> Any:
    """Eight codes of `width` bytes. Three-byte codes are read as four, the byte before them masked off."""

    def fetch(typing: Any, raw: Any, offsets: Any, step: Any) -> Any:
        def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            raw_array, places, step_value = arguments
            place = context.make_array(signature.args[1])(context, builder, places).data
            values = ir.Constant(_WORDS, ir.Undefined)
            for lane in range(LANES):
                offset = builder.load(builder.gep(place, [ir.Constant(ir.IntType(64), lane)]))
                offset = builder.add(offset, step_value)
                if width == 3:
                    offset = builder.sub(offset, ir.Constant(offset.type, 1))
                word = _word(
                    context, builder, signature.args[0], raw_array, offset, ir.IntType(8 * (width + width % 2))
                )
                if width == 2:
                    word = builder.zext(word, _WORD)
                values = builder.insert_element(values, word, ir.Constant(_WORD, lane))
            if width == 3:
                values = builder.and_(values, ir.Constant(_WORDS, [-256] * LANES))
            if width == 2:
                values = builder.shl(values, ir.Constant(_WORDS, [16] * LANES))
            return values

        return _CODES(raw, offsets, types.int64), code

    return fetch


def _as_samples(typing: Any, codes: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.fmul(builder.sitofp(arguments[0], _VECTOR), ir.Constant(_VECTOR, [2.0**-31] * LANES))

    return _LANES(_CODES), code


def _no_codes(typing: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return ir.Constant(_WORDS, [0] * LANES)

    return _CODES(), code


def _join(typing: Any, left: Any, right: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.or_(arguments[0], arguments[1])

    return _CODES(_CODES, _CODES), code


def _keep_codes(typing: Any, target: Any, codes: Any) -> Any:
    """Or eight codes into an int64 (8,) array, as unsigned 32-bit values."""

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        data = context.make_array(signature.args[0])(context, builder, arguments[0]).data
        for lane in range(LANES):
            place = builder.gep(data, [ir.Constant(ir.IntType(64), lane)])
            word = builder.zext(builder.extract_element(arguments[1], ir.Constant(_WORD, lane)), ir.IntType(64))
            builder.store(builder.or_(builder.load(place), word), place)
        return context.get_dummy_value()

    return types.void(target, _CODES), code


def _scalar(kind: Any, result: Any) -> Any:
    """One number from any byte offset of raw bytes, little-endian as the machine is."""

    def read(typing: Any, raw: Any, offset: Any) -> Any:
        def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            return _word(context, builder, signature.args[0], arguments[0], arguments[1], kind)

        return result(raw, types.int64), code

    return read


def _operator(python_operator: Any, instruction: str) -> None:
    def typer(context: Any) -> Any:
        def result(left: Any, right: Any) -> Any:
            return _LANES if isinstance(left, _Lanes) and isinstance(right, _Lanes) else None

        return result

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return getattr(builder, instruction)(*arguments)

    type_callable(python_operator)(typer)
    lower_builtin(python_operator, _Lanes, _Lanes)(code)


for _python_operator, _instruction in ((operator.add, "fadd"), (operator.sub, "fsub"), (operator.mul, "fmul")):
    _operator(_python_operator, _instruction)

load = intrinsic(_load)
store = intrinsic(_store)
splat = intrinsic(_splat)
maximum = intrinsic(_maximum)
magnitude = intrinsic(_magnitude)
codes16, codes24, codes32 = intrinsic(_fetch(2)), intrinsic(_fetch(3)), intrinsic(_fetch(4))
as_samples = intrinsic(_as_samples)
no_codes = intrinsic(_no_codes)
join = intrinsic(_join)
keep_codes = intrinsic(_keep_codes)
int16_at = intrinsic(_scalar(ir.IntType(16), types.int16))
int32_at = intrinsic(_scalar(_WORD, types.int32))
float32_at = intrinsic(_scalar(ir.FloatType(), types.float32))
float64_at = intrinsic(_scalar(ir.DoubleType(), types.float64))
