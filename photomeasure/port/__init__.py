"""A female port read through a collar: mouth, bore, pitch and hand from one slanted photo."""
