"""Units, pressures, gas concentrations and plain geometry; each constant carries its reference."""
