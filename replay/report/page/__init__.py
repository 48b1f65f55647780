"""The parts of the page: what stands in it is chosen and worded here, how it looks is in the templates beside.

Everything shown goes through `ink.environment`, which escapes markup and makes names harmless in one place.
"""
