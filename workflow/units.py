"""Conversions for the reader: the trade speaks in gram-force."""

N_PER_GF = 9.80665e-3  # standard gravity, exact by definition
GF_PER_N = 1 / N_PER_GF
KPA_PER_MPA = 1e3
MM_PER_INCH = 25.4
