"""Arrays in, arrays out: least squares, likelihoods, boxes, random streams (NumPy and SciPy)."""
