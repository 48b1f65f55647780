"""Lanes for the compiler: each operation as the vector instructions that it stands for. Use through `replay.lanes`."""

from __future__ import annotations

import operator
from typing import Any

from llvmlite import ir
from numba.core import cgutils, types
from numba.extending import intrinsic, lower_builtin, type_callable

from replay.lanes import LANES
from replay.lanes_codes import (
    as_samples,
    codes16,
    codes24,
    codes32,
    eight_rows16,
    eight_rows24,
    eight_rows32,
    float32_at,
    float64_at,
    int16_at,
    int32_at,
    join,
    keep_codes,
    no_codes,
    together16,
    together24,
    together32,
)
from replay.lanes_types import LANES_TYPE, VECTOR, WORD, LanesType, address, same

__all__ = [
    "LANES", "as_samples", "choose", "codes16", "codes24", "codes32", "eight_rows16", "eight_rows24", "eight_rows32",
    "float32_at", "float64_at", "int16_at", "int32_at", "join", "keep_codes", "largest", "load", "load_along",
    "magnitude", "maximum", "multiply_add", "no_codes", "splat", "spread", "store", "store_along", "together16",
    "together24", "together32",
]  # fmt: skip


def _load(typing: Any, array: Any, row: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        place = address(context, builder, signature.args[0], arguments[0], arguments[1])
        return builder.load(place, align=8)

    return LANES_TYPE(array, types.intp), code


def _store(typing: Any, array: Any, row: Any, value: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        place = address(context, builder, signature.args[0], arguments[0], arguments[1])
        builder.store(arguments[2], place, align=8)
        return context.get_dummy_value()

    return types.void(array, types.intp, LANES_TYPE), code


def _place(context: Any, builder: Any, array_type: Any, array: Any, at: Any) -> Any:
    data = context.make_array(array_type)(context, builder, array).data
    return builder.bitcast(builder.gep(data, [at]), VECTOR.as_pointer())


def _load_along(typing: Any, line: Any, at: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.load(_place(context, builder, signature.args[0], arguments[0], arguments[1]), align=8)

    return LANES_TYPE(line, types.intp), code


def _spread(typing: Any, line: Any, at: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        data = context.make_array(signature.args[0])(context, builder, arguments[0]).data
        return same(builder, builder.load(builder.gep(data, [arguments[1]])))

    return LANES_TYPE(line, types.intp), code


def _store_along(typing: Any, line: Any, at: Any, value: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        builder.store(arguments[2], _place(context, builder, signature.args[0], arguments[0], arguments[1]), align=8)
        return context.get_dummy_value()

    return types.void(line, types.intp, LANES_TYPE), code


def _splat(typing: Any, value: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return same(builder, arguments[0])

    return LANES_TYPE(types.float64), code


def _maximum(typing: Any, left: Any, right: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        greater = builder.fcmp_ordered(">", arguments[0], arguments[1])
        return builder.select(greater, arguments[0], arguments[1])

    return LANES_TYPE(LANES_TYPE, LANES_TYPE), code


def _choose(typing: Any, left: Any, right: Any, greater: Any, otherwise: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.select(builder.fcmp_ordered(">", arguments[0], arguments[1]), arguments[2], arguments[3])

    return LANES_TYPE(LANES_TYPE, LANES_TYPE, LANES_TYPE, LANES_TYPE), code


def _largest(typing: Any, value: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        (value,) = arguments
        for half in (4, 2, 1):
            low, high = (
                builder.shuffle_vector(value, value, ir.Constant(ir.VectorType(WORD, half), list(picked)))
                for picked in (range(half), range(half, 2 * half))
            )
            value = builder.select(builder.fcmp_ordered(">", low, high), low, high)
        return builder.extract_element(value, ir.Constant(WORD, 0))

    return types.float64(LANES_TYPE), code


def _magnitude(typing: Any, value: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        kind = ir.FunctionType(VECTOR, [VECTOR])
        function = cgutils.get_or_insert_function(builder.module, kind, f"llvm.fabs.v{LANES}f64")
        return builder.call(function, arguments)

    return LANES_TYPE(LANES_TYPE), code


def _multiply_add(typing: Any, left: Any, right: Any, added: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        # One rounding and one instruction where the processor has it (all since 2013), two where it has not.
        kind = ir.FunctionType(VECTOR, [VECTOR] * 3)
        function = cgutils.get_or_insert_function(builder.module, kind, f"llvm.fmuladd.v{LANES}f64")
        return builder.call(function, arguments)

    return LANES_TYPE(LANES_TYPE, LANES_TYPE, LANES_TYPE), code


def _operator(python_operator: Any, instruction: str) -> None:
    def typer(context: Any) -> Any:
        def result(left: Any, right: Any) -> Any:
            return LANES_TYPE if isinstance(left, LanesType) and isinstance(right, LanesType) else None

        return result

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return getattr(builder, instruction)(*arguments)

    type_callable(python_operator)(typer)
    lower_builtin(python_operator, LanesType, LanesType)(code)


for _python_operator, _instruction in (
    (operator.add, "fadd"),
    (operator.sub, "fsub"),
    (operator.mul, "fmul"),
    (operator.truediv, "fdiv"),
):
    _operator(_python_operator, _instruction)

load = intrinsic(_load)
store = intrinsic(_store)
load_along = intrinsic(_load_along)
store_along = intrinsic(_store_along)
splat = intrinsic(_splat)
spread = intrinsic(_spread)
maximum = intrinsic(_maximum)
magnitude = intrinsic(_magnitude)
multiply_add = intrinsic(_multiply_add)
choose = intrinsic(_choose)
largest = intrinsic(_largest)
