"""The one pass over a take's samples: jobs of eight tracks, their histories on disk, and what is kept of them.

The meters (`replay.meters`) say what is measured; this says how a take is cut, who measures which part when, and where
the results go. It knows no patch.
"""
