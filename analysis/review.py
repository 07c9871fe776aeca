"""The one road: read, align, calibrate, correct, derive, find."""
