"""What every room stands on: errors, units, defaults, draws, arrays, files."""
