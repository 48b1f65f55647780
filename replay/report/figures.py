"""The figures of a recorded track that tables and JSON give, by their names in `desk.model.Levels`, in order."""

from __future__ import annotations

FIGURES = (
    "sample_peak_dbfs",
    "true_peak_dbtp",
    "true_peak_s",
    "played_peak_dbtp",
    "lone_peak_s",
    "integrated_lufs",
    "momentary_max_lufs",
    "short_term_max_lufs",
    "loudness_range_lu",
    "rms_dbfs",
    "crest_db",
    "noise_floor_dbfs",
    "dc_dbfs",
    "active_percent",
)
