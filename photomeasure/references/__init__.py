"""The printed references: as data, drawn, and found in a photo."""
