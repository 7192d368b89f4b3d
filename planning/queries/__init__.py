"""From records to the plain values that the computations take: the only bridge."""
