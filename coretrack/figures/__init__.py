"""Pure computing: plain values in, plain values out; no clock, file, database or web."""
