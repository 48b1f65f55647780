"""The compiler's types behind `replay.lanes`: eight doubles and eight 32-bit codes, and where a row of them lies."""

from __future__ import annotations

from typing import Any

from llvmlite import ir
from numba.core import types
from numba.extending import models, register_model

from replay.lanes import LANES


class LanesType(types.Type):
    def __init__(self) -> None:
        super().__init__("replay.Lanes")


class CodesType(types.Type):
    def __init__(self) -> None:
        super().__init__("replay.Codes")


LANES_TYPE = LanesType()
CODES_TYPE = CodesType()
VECTOR = ir.VectorType(ir.DoubleType(), LANES)
WORD = ir.IntType(32)
WORDS = ir.VectorType(WORD, LANES)


@register_model(LanesType)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, VECTOR)


@register_model(CodesType)
class _CodesModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, WORDS)


def address(context: Any, builder: Any, array_type: Any, array: Any, row: Any) -> Any:
    data = context.make_array(array_type)(context, builder, array).data
    first = builder.gep(data, [builder.mul(row, ir.Constant(row.type, LANES))])
    return builder.bitcast(first, VECTOR.as_pointer())


def same(builder: Any, value: Any) -> Any:
    undefined = ir.Constant(VECTOR, ir.Undefined)
    first = builder.insert_element(undefined, value, ir.Constant(WORD, 0))
    return builder.shuffle_vector(first, undefined, ir.Constant(WORDS, [0] * LANES))
