"""The examples in README.md, DEVELOPERS.md and docs/, run as they stand. How a page shows an example is told in
DEVELOPERS.md."""
