"""Pure computations: plain values in, plain values out, no framework and no clock."""
