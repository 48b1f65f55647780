"""Two recorders' recordings of one pass: which track is which (`match`), how they lie on each other (`align`, `slips`),
what differs to the sample (`compare`), and which one is whole (`answer`); as text and JSON."""
